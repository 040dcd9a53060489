/* CSV of `compare`: one row a point. */
#include "report/change.h"
#include "report/csv.h"

#include <stdio.h>

static const char *unit_of(gw_change_key key) {
    static const char *const units[] = {[GW_CHANGE_LEVEL] = "V", [GW_CHANGE_GAIN] = "dB", [GW_CHANGE_DC] = "V",
                                        [GW_CHANGE_THD] = "%",   [GW_CHANGE_NOISE] = "V", [GW_CHANGE_HUM] = "V"};
    return units[key];
}

static void put_headings(gw_csv *csv) {
    gw_csv_text(csv, "point");
    gw_csv_text(csv, "overall");
    gw_csv_text(csv, "before");
    gw_csv_text(csv, "after");
    gw_csv_text(csv, "volts in");
    for (int key = 0; key < GW_CHANGE_KEYS; key++) {
        bool ratio = key == GW_CHANGE_GAIN || key == GW_CHANGE_LEVEL;
        char name[32];
        snprintf(name, sizeof name, "%s before", gw_change_titles[key]);
        gw_csv_headings(csv, name, unit_of((gw_change_key)key));
        snprintf(name, sizeof name, "%s after", gw_change_titles[key]);
        gw_csv_headings(csv, name, unit_of((gw_change_key)key));
        snprintf(name, sizeof name, "%s change", gw_change_titles[key]);
        gw_csv_headings(csv, name, ratio ? "dB" : unit_of((gw_change_key)key));
        snprintf(name, sizeof name, "%s is", gw_change_titles[key]);
        gw_csv_text(csv, name);
    }
    gw_csv_end(csv);
}

static void put_row(gw_csv *csv, const gw_comparison *comparison, const gw_comparison_point *point) {
    gw_csv_text(csv, point->name);
    gw_csv_text(csv, gw_change_name(point->status));
    gw_csv_text(csv, gw_status_name(point->status_before));
    gw_csv_text(csv, gw_status_name(point->status_after));
    gw_csv_text(csv, gw_change_volts(comparison, point));
    for (int key = 0; key < GW_CHANGE_KEYS; key++) {
        gw_shown_change change = gw_shown_change_of(comparison, point, (gw_change_key)key);
        gw_shown difference = {
            .state = change.has_change ? GW_READING_VALUE : GW_READING_NONE, .value = change.change, .u95 = change.u95};
        gw_csv_shown(csv, &change.before);
        gw_csv_shown(csv, &change.after);
        gw_csv_shown(csv, &difference);
        gw_csv_text(csv, gw_change_name(change.status));
    }
    gw_csv_end(csv);
}

bool gw_report_compare_csv(const gw_comparison *const *comparisons, size_t count, const gw_report_options *options,
                           gw_text *out, gw_error *error) {
    (void)options;
    gw_csv csv = {.out = out};
    put_headings(&csv);
    for (size_t i = 0; i < count; i++)
        for (size_t k = 0; k < comparisons[i]->point_count; k++)
            put_row(&csv, comparisons[i], &comparisons[i]->points[k]);
    return !out->failed || gw_error_memory(error);
}
