/* gainwalk compare: before and after the repair. */
#include "cli.h"

#include <stdlib.h>

typedef struct pairs {
    gw_comparison **items;
    size_t count;
} pairs;

static void free_pairs(pairs *of) {
    for (size_t i = 0; of->items != NULL && i < of->count; i++)
        gw_comparison_free(of->items[i]);
    free(of->items);
}

/* The chains of both sides in their order: the first with the first, and so on. */
static bool compare_all(const source *before, const source *after, const arguments *given, pairs *out,
                        gw_error *error) {
    size_t count = gw_cli_source_count(before);
    if (count != gw_cli_source_count(after))
        return gw_error_set(error, given->words[1], 0, "holds %zu chains, '%s' holds %zu", gw_cli_source_count(after),
                            given->words[0], count);
    out->items = calloc(count + 1, sizeof *out->items);
    if (out->items == NULL)
        return gw_error_memory(error);
    for (; out->count < count; out->count++)
        if (!gw_compare_run(gw_cli_source_walk(before, out->count), gw_cli_source_walk(after, out->count),
                            &out->items[out->count], error))
            return false;
    return true;
}

typedef bool compare_report(const gw_comparison *const *comparisons, size_t count, const gw_report_options *options,
                            gw_text *out, gw_error *error);

static bool put(compare_report *make, const pairs *from, const arguments *given, const char *path) {
    gw_report_options options;
    gw_text text = {0};
    gw_error error = {0};
    if (!gw_cli_report_options(given, &options))
        return false;
    bool made = make((const gw_comparison *const *)from->items, from->count, &options, &text, &error);
    return gw_cli_deliver(made, &text, &error, given, path);
}

static bool report(const pairs *from, const arguments *given) {
    bool done =
        gw_cli_output_taken(given) ||
        put(given->values[OPTION_JSON] != NULL ? gw_report_compare_json : gw_report_compare_text, from, given, NULL);
    if (given->values[OPTION_CSV] != NULL)
        done = put(gw_report_compare_csv, from, given, given->values[OPTION_CSV]) && done;
    if (given->values[OPTION_HTML] != NULL)
        done = put(gw_report_compare_html, from, given, given->values[OPTION_HTML]) && done;
    return done;
}

/* The state after the repair decides; what became worse is a fault, what cannot be compared leaves doubt. */
static int outcome(const pairs *from) {
    int status = EXIT_IN_ORDER;
    for (size_t i = 0; i < from->count; i++) {
        const gw_comparison *at = from->items[i];
        status = gw_cli_worse(status, gw_walk_exit(at->after));
        status = gw_cli_worse(status, at->worse > 0 ? EXIT_FAULT_FOUND : EXIT_IN_ORDER);
        status = gw_cli_worse(status, at->comparable ? EXIT_IN_ORDER : EXIT_UNSURE);
    }
    return status;
}

int gw_cli_compare(const arguments *given) {
    gw_error error = {0};
    int jobs = 1, status = EXIT_NOT_DONE;
    source before = {0}, after = {0};
    pairs all = {0};
    if (given->count != 2)
        gw_error_set(&error, NULL, 0,
                     "two records or chain files are compared, %zu given, see 'gainwalk compare --help'", given->count);
    bool done =
        !error.set && gw_cli_jobs(given, &jobs, &error) && gw_cli_source_load(given->words[0], jobs, &before, &error) &&
        gw_cli_source_load(given->words[1], jobs, &after, &error) && compare_all(&before, &after, given, &all, &error);
    if (!done) {
        gw_cli_fail(&error);
    } else {
        gw_cli_source_tell(&before);
        gw_cli_source_tell(&after);
        status = report(&all, given) ? outcome(&all) : EXIT_NOT_DONE;
    }
    free_pairs(&all);
    gw_cli_source_free(&before);
    gw_cli_source_free(&after);
    return status;
}
