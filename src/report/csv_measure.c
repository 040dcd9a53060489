/* CSV of `measure`: one row a channel. */
#include "report/csv.h"

#include <string.h>

static const char *unit_of(const gw_readings *readings) {
    return readings->source.unit != NULL ? readings->source.unit : "V";
}

/* The unit that all captures share, or "V or FS" where they are mixed. */
static const char *common_unit(const gw_report_capture *captures, size_t count) {
    const char *common = NULL;
    for (size_t i = 0; i < count; i++)
        for (size_t k = 0; k < captures[i].readings_count; k++) {
            const char *unit = unit_of(captures[i].readings[k]);
            if (common != NULL && strcmp(common, unit) != 0)
                return "V or FS";
            common = unit;
        }
    return common != NULL ? common : "V";
}

static void put_headings(gw_csv *csv, const char *unit) {
    static const char *const first[] = {"file",   "channel",   "channel name", "unit",
                                        "signal", "rate (Hz)", "samples",      "duration (s)"};
    for (size_t i = 0; i < sizeof first / sizeof *first; i++)
        gw_csv_text(csv, first[i]);
    for (int key = 0; key < GW_READING_COUNT; key++)
        gw_csv_headings(csv, gw_reading_infos[key].name, gw_csv_unit((gw_reading_key)key, unit));
    gw_csv_text(csv, "remarks");
    gw_csv_end(csv);
}

static void put_remarks(gw_csv *csv, const gw_strings *remarks) {
    gw_text joined = {0};
    for (size_t i = 0; i < remarks->count; i++)
        gw_text_printf(&joined, "%s%s", i > 0 ? "; " : "", remarks->items[i]);
    gw_csv_text(csv, gw_text_string(&joined));
    gw_text_part_free(csv->out, &joined);
}

static void put_row(gw_csv *csv, const gw_readings *readings) {
    const gw_source *source = &readings->source;
    gw_csv_text(csv, source->file);
    gw_csv_number(csv, source->channel);
    gw_csv_text(csv, source->channel_name);
    gw_csv_text(csv, unit_of(readings));
    gw_csv_text(csv, gw_signal_name(readings->signal));
    gw_csv_number(csv, source->rate_hz);
    gw_csv_number(csv, (double)source->samples);
    gw_csv_number(csv, source->duration_s);
    for (int key = 0; key < GW_READING_COUNT; key++) {
        gw_shown shown = gw_shown_reading((gw_reading_key)key, &readings->values[key], source->unit);
        gw_csv_shown(csv, &shown);
    }
    put_remarks(csv, &readings->remarks);
    gw_csv_end(csv);
}

bool gw_report_measure_csv(const gw_report_capture *captures, size_t count, const gw_report_options *options,
                           gw_text *out, gw_error *error) {
    (void)options;
    gw_csv csv = {.out = out};
    put_headings(&csv, common_unit(captures, count));
    for (size_t i = 0; i < count; i++) {
        for (size_t k = 0; k < captures[i].readings_count; k++)
            put_row(&csv, captures[i].readings[k]);
        if (captures[i].error == NULL)
            continue;
        gw_csv_text(&csv, captures[i].file);
        gw_csv_text(&csv, captures[i].error);
        gw_csv_end(&csv);
    }
    return !out->failed || gw_error_memory(error);
}
