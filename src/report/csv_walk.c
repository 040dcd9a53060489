/* CSV of `walk`: one row a point. */
#include "report/csv.h"
#include "report/odd.h"

#include <string.h>

/* The readings that have columns, in their order. */
static const gw_reading_key columns[] = {GW_LEVEL, GW_DC, GW_THD, GW_NOISE, GW_HUM, GW_FREQUENCY};
enum { COLUMNS = sizeof columns / sizeof *columns };

static const char *common_unit(const gw_walk *const *walks, size_t count) {
    const char *common = NULL;
    for (size_t i = 0; i < count; i++)
        for (size_t k = 0; k < walks[i]->point_count; k++) {
            const char *unit = gw_shown_volts(&walks[i]->points[k]);
            if (walks[i]->points[k].readings == NULL)
                continue;
            if (common != NULL && strcmp(common, unit) != 0)
                return "V or FS";
            common = unit;
        }
    return common != NULL ? common : "V";
}

static void put_headings(gw_csv *csv, const char *unit) {
    static const char *const first[] = {"chain", "title", "unit identity", "verdict", "point",   "kind",
                                        "what",  "after", "status",        "judged",  "volts in"};
    for (size_t i = 0; i < sizeof first / sizeof *first; i++)
        gw_csv_text(csv, first[i]);
    gw_csv_headings(csv, "gain", "dB");
    gw_csv_heading(csv, "gain expected", "dB");
    gw_csv_heading(csv, "gain tolerance", "dB");
    for (size_t i = 0; i < COLUMNS; i++)
        gw_csv_headings(csv, gw_reading_infos[columns[i]].name, gw_csv_unit(columns[i], unit));
    gw_csv_heading(csv, "DC expected", unit);
    gw_csv_heading(csv, "DC tolerance", unit);
    gw_csv_text(csv, "capture");
    gw_csv_text(csv, "channel");
    gw_csv_text(csv, "signal");
    gw_csv_heading(csv, "lower corner", "Hz");
    gw_csv_heading(csv, "upper corner", "Hz");
    gw_csv_end(csv);
}

static void put_judged(gw_csv *csv, const gw_judgement *judgement, bool figure, const char *unit) {
    gw_shown_judgement judged = {.figure = {.state = GW_READING_NONE}};
    if (judgement != NULL)
        judged = gw_shown_judge(judgement, unit);
    if (figure)
        gw_csv_shown(csv, &judged.figure);
    if (judged.has_expected) {
        gw_csv_number(csv, judged.expected);
        gw_csv_number(csv, judged.tolerance);
    } else {
        gw_csv_empty(csv);
        gw_csv_empty(csv);
    }
}

static void put_figures(gw_csv *csv, const gw_walk_point *point) {
    for (size_t i = 0; i < COLUMNS; i++) {
        gw_shown shown = gw_shown_at(point, columns[i]);
        gw_csv_shown(csv, &shown);
    }
}

static void put_capture(gw_csv *csv, const gw_readings *readings) {
    if (readings == NULL) {
        gw_csv_empty(csv);
        gw_csv_empty(csv);
        gw_csv_empty(csv);
        return;
    }
    gw_csv_text(csv, readings->source.file);
    gw_csv_number(csv, readings->source.channel);
    gw_csv_text(csv, gw_signal_name(readings->signal));
}

static void put_corner(gw_csv *csv, const gw_judgement *corner) {
    if (corner != NULL && corner->has_value)
        gw_csv_number(csv, corner->value);
    else
        gw_csv_empty(csv);
}

static void put_row(gw_csv *csv, const gw_walk *walk, bool rail, size_t index) {
    const gw_walk_point *point = rail ? &walk->rails[index] : &walk->points[index];
    const gw_walk_stage *stage = rail ? NULL : gw_shown_stage_to(walk, index);
    gw_text words = {0};
    gw_odd_words(walk, rail, index, &words);
    gw_csv_text(csv, walk->file);
    gw_csv_text(csv, walk->title);
    gw_csv_text(csv, walk->unit);
    gw_csv_text(csv, gw_verdict_name(walk->verdict.status));
    gw_csv_text(csv, point->name);
    gw_csv_text(csv, rail ? "rail" : stage != NULL ? stage->kind : NULL);
    gw_csv_text(csv, point->what);
    gw_csv_text(csv, rail ? NULL : gw_shown_point(walk, point->after));
    gw_csv_text(csv, gw_status_name(point->status));
    gw_csv_text(csv, gw_text_string(&words));
    gw_csv_text(csv, gw_shown_volts(point));
    put_judged(csv, stage != NULL ? &stage->gain : NULL, true, NULL);
    put_figures(csv, point);
    bool own = point->dc.has_expected || stage == NULL;
    put_judged(csv, own ? &point->dc : &stage->dc, false, gw_shown_volts(point));
    put_capture(csv, point->readings);
    put_corner(csv, stage != NULL ? &stage->low_corner : NULL);
    put_corner(csv, stage != NULL ? &stage->high_corner : NULL);
    gw_csv_end(csv);
    gw_text_part_free(csv->out, &words);
}

bool gw_report_walk_csv(const gw_walk *const *walks, size_t count, const gw_report_options *options, gw_text *out,
                        gw_error *error) {
    (void)options;
    gw_csv csv = {.out = out};
    put_headings(&csv, common_unit(walks, count));
    for (size_t i = 0; i < count; i++) {
        for (size_t k = 0; k < walks[i]->point_count; k++)
            put_row(&csv, walks[i], false, k);
        for (size_t k = 0; k < walks[i]->rail_count; k++)
            put_row(&csv, walks[i], true, k);
    }
    return !out->failed || gw_error_memory(error);
}
