/* Records: refused with a reason, or every report, a comparison and the record itself can be made of it again. */
#include "fuzz.h"

typedef bool walk_report(const gw_walk *const *, size_t, const gw_report_options *, gw_text *, gw_error *);
typedef bool comparison_report(const gw_comparison *const *, size_t, const gw_report_options *, gw_text *, gw_error *);

static void tell(const gw_walk *walk, const gw_report_options *options) {
    static walk_report *const reports[] = {gw_report_walk_text, gw_report_walk_json, gw_report_walk_csv,
                                           gw_report_walk_html};
    gw_error error = {0};
    for (size_t i = 0; i < sizeof reports / sizeof *reports; i++) {
        gw_text text = {0};
        MUST(reports[i](&walk, 1, options, &text, &error));
        gw_text_free(&text);
    }
}

static void compare(const gw_walk *before, const gw_walk *after, const gw_report_options *options) {
    static comparison_report *const reports[] = {gw_report_compare_text, gw_report_compare_json, gw_report_compare_csv,
                                                 gw_report_compare_html};
    gw_comparison *comparison = NULL;
    gw_error error = {0};
    MUST(gw_compare_run(before, after, &comparison, &error));
    const gw_comparison *one[] = {comparison};
    for (size_t i = 0; i < sizeof reports / sizeof *reports; i++) {
        gw_text text = {0};
        MUST(reports[i](one, 1, options, &text, &error));
        gw_text_free(&text);
    }
    gw_comparison_free(comparison);
}

/* What was read can be written, and read again. */
static void write_again(const gw_record *record) {
    gw_record_options options = {.program = "fuzz"};
    gw_text text = {0};
    gw_error error = {0};
    gw_record *again = NULL;
    const gw_walk **walks = calloc(record->walk_count + 1, sizeof *walks);
    MUST(walks != NULL);
    for (size_t i = 0; i < record->walk_count; i++)
        walks[i] = &record->walks[i];
    MUST(gw_record_write(walks, record->walk_count, &options, &text, &error));
    MUST(gw_record_parse(text.data, text.length, NULL, &again, &error));
    MUST(again->walk_count == record->walk_count);
    gw_record_free(again);
    gw_text_free(&text);
    free(walks);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length) {
    gw_report_options options = {.program = "fuzz"};
    gw_record *record = NULL;
    gw_error error = {0};
    char *text = string_of(bytes, length);
    if (gw_record_parse(text, length, "fuzz.json", &record, &error)) {
        for (size_t i = 0; i < record->walk_count && i < 3; i++) {
            tell(&record->walks[i], &options);
            compare(&record->walks[0], &record->walks[i], &options);
        }
        write_again(record);
    } else {
        must_tell(&error);
        MUST(record == NULL);
    }
    gw_record_free(record);
    free(text);
    return 0;
}
