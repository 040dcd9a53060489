/* gainwalk peek and gainwalk measure: captures by themselves, several at a time. */
#include "cli.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* What came of one file. */
typedef struct entry {
    gw_capture *capture;
    gw_readings **readings;
    size_t count;
    gw_pair *pairs; /* one a reading; NULL where no reference was named */
    int reference;  /* its number */
    gw_error error;
    char why[800];
    char kept[512]; /* temporary file with standard input; "" for others */
    int held;       /* its descriptor */
} entry;

/* From the reference to every channel that was measured, so many at a time as there are threads. */
static bool measure_pairs(entry *at, const bench *how, size_t first, size_t reference) {
    gw_error *errors = calloc(at->count + 1, sizeof *errors);
    if (errors == NULL)
        return gw_error_memory(&at->error);
#pragma omp parallel for schedule(dynamic) num_threads(how->measure.jobs > 1 ? how->measure.jobs : 1)
    for (size_t i = 0; i < at->count; i++)
        if (first + i != reference)
            gw_measure_pair(at->capture, reference, first + i, &at->pairs[i], &errors[i]);
    for (size_t i = at->count; i-- > 0;)
        if (errors[i].set)
            at->error = errors[i];
    free(errors);
    return !at->error.set;
}

/* The channel that --reference names. */
static bool find_reference(entry *at, const char *which, size_t *out) {
    if (which == NULL)
        return true;
    if (!gw_capture_channel(at->capture, which, out, &at->error))
        return false;
    at->reference = at->capture->channels[*out].number;
    at->pairs = calloc(at->capture->channel_count + 1, sizeof *at->pairs);
    return at->pairs != NULL || gw_error_memory(&at->error);
}

/* Every channel, or the one that was asked for. */
static bool measure_entry(entry *at, const bench *how, const arguments *given) {
    const char *which = given->values[OPTION_CHANNEL];
    size_t only = 0, reference = 0;
    at->readings = calloc(at->capture->channel_count + 1, sizeof *at->readings);
    if (at->readings == NULL)
        return gw_error_memory(&at->error);
    if (!find_reference(at, given->values[OPTION_REFERENCE], &reference))
        return false;
    if (which != NULL && !gw_capture_channel(at->capture, which, &only, &at->error))
        return false;
    bool done = which != NULL ? gw_measure_run(at->capture, only, &how->measure, at->readings, &at->error)
                              : gw_measure_all(at->capture, &how->measure, at->readings, &at->error);
    while (at->count < at->capture->channel_count && at->readings[at->count] != NULL)
        at->count++;
    return done && (at->pairs == NULL || measure_pairs(at, how, only, reference));
}

/* Standard input is kept in a file while it is read, and called `-` all the same. */
static bool read_input(entry *at, const bench *how) {
    if (!gw_cli_keep_input(INPUT_MAX, at->kept, sizeof at->kept, &at->held, &at->error)) {
        at->kept[0] = '\0';
        return false;
    }
    bool read = gw_capture_read(at->kept, &how->capture, &at->capture, &at->error);
    if (read)
        at->capture->file = "-";
    else
        memcpy(at->error.file, "-", 2);
    return read;
}

static void read_entry(entry *at, const char *path, const bench *how, const arguments *given, bool measure) {
    bool read =
        gw_cli_is_standard(path) ? read_input(at, how) : gw_capture_read(path, &how->capture, &at->capture, &at->error);
    if (read && measure) {
        measure_entry(at, how, given);
        gw_capture_free(at->capture);
        at->capture = NULL;
    }
    if (at->error.set)
        gw_error_print(&at->error, at->why, sizeof at->why);
}

static void free_entry(entry *at) {
    for (size_t k = 0; k < at->count; k++)
        gw_readings_free(at->readings[k]);
    free(at->readings);
    free(at->pairs);
    gw_capture_free(at->capture);
    if (at->kept[0] != '\0')
        gw_cli_drop_input(at->kept, at->held);
    *at = (entry){0};
}

static gw_report_capture shown_of(const entry *at, const char *path) {
    return (gw_report_capture){.file = path,
                               .error = at->error.set ? at->why : NULL,
                               .capture = at->capture,
                               .readings = (const gw_readings *const *)at->readings,
                               .readings_count = at->count,
                               .pairs = at->pairs,
                               .reference = at->reference};
}

/* Prints what came of one file, which is then forgotten; returns its exit status. */
static int put_line(line_queue *to, size_t index, entry *at) {
    const arguments *given = to->given;
    gw_report_options options = {.program = PROGRAM};
    gw_error error = {0};
    gw_text line = {0};
    gw_report_capture shown = shown_of(at, given->words[index]);
    int status = at->error.set ? gw_cli_fail(&at->error) : EXIT_IN_ORDER;
    if (!gw_report_measure_line(&shown, given->shard + index * given->shards, &options, &line, &error))
        status = gw_cli_fail(&error);
    gw_cli_lines_put(to, index, &line);
    free_entry(at);
    return status;
}

/* Every file; where `to` is not NULL each is told at once. Returns the status of those told. */
static int read_entries(entry *entries, const arguments *given, const bench *how, bool measure, int jobs,
                        line_queue *to) {
    progress state = gw_cli_progress_begin(given->count, given->values[OPTION_QUIET] != NULL);
    int status = EXIT_IN_ORDER, wide = gw_cli_side_by_side(given->count, jobs);
#pragma omp parallel for schedule(dynamic) num_threads(wide)
    for (size_t i = 0; i < given->count; i++) {
        read_entry(&entries[i], given->words[i], how, given, measure);
        int own = to != NULL ? put_line(to, i, &entries[i]) : EXIT_IN_ORDER;
#pragma omp critical(progress)
        {
            status = gw_cli_worse(status, own);
            gw_cli_progress_step(&state);
        }
    }
    gw_cli_progress_end(&state);
    return status;
}

typedef bool capture_report(const gw_report_capture *captures, size_t count, const gw_report_options *options,
                            gw_text *out, gw_error *error);

static bool put_report(capture_report *make, const gw_report_capture *captures, size_t count, const arguments *given,
                       const char *path) {
    gw_report_options options;
    gw_text text = {0};
    gw_error error = {0};
    if (!gw_cli_report_options(given, &options))
        return false;
    bool made = make(captures, count, &options, &text, &error);
    return gw_cli_deliver(made, &text, &error, given, path);
}

/* Tells what came of the files; errors of single files stand in the report and, for those who read only that, on
 * standard error. */
static int tell(entry *entries, const arguments *given, bool measure) {
    int status = EXIT_IN_ORDER;
    gw_report_capture *shown = calloc(given->count + 1, sizeof *shown);
    if (shown == NULL) {
        gw_error error = {0};
        gw_error_memory(&error);
        return gw_cli_fail(&error);
    }
    for (size_t i = 0; i < given->count; i++) {
        shown[i] = shown_of(&entries[i], given->words[i]);
        if (entries[i].error.set)
            status = gw_cli_fail(&entries[i].error);
    }
    bool json = given->values[OPTION_JSON] != NULL;
    capture_report *text = measure ? gw_report_measure_text : gw_report_peek_text;
    capture_report *machine = measure ? gw_report_measure_json : gw_report_peek_json;
    bool put = gw_cli_output_taken(given) || put_report(json ? machine : text, shown, given->count, given, NULL);
    if (given->values[OPTION_CSV] != NULL)
        put = put_report(gw_report_measure_csv, shown, given->count, given, given->values[OPTION_CSV]) && put;
    free(shown);
    return put ? status : EXIT_NOT_DONE;
}

static int read_and_tell(entry *entries, const arguments *given, const bench *how, bool measure, int jobs) {
    if (given->values[OPTION_LINES] == NULL) {
        read_entries(entries, given, how, measure, jobs, NULL);
        return tell(entries, given, measure);
    }
    gw_error error = {0};
    line_queue to;
    if (!gw_cli_lines_begin(&to, given, &error))
        return gw_cli_fail(&error);
    int status = read_entries(entries, given, how, measure, jobs, &to);
    return gw_cli_lines_end(&to) ? status : EXIT_NOT_DONE;
}

static int run(const arguments *given, bool measure) {
    gw_error error = {0};
    bench how;
    int jobs = 1;
    if (given->count == 0 && given->values[OPTION_SHARD] == NULL)
        gw_error_set(&error, NULL, 0, "no capture given, see 'gainwalk %s --help'", given->command->name);
    if (given->values[OPTION_LINES] != NULL && given->values[OPTION_CSV] != NULL)
        gw_error_set(&error, NULL, 0, "'--lines' prints each input by itself: no '--csv' with it");
    if (error.set || !gw_cli_bench(given, &how, &error) || !gw_cli_jobs(given, &jobs, &error))
        return gw_cli_fail(&error);
    entry *entries = calloc(given->count + 1, sizeof *entries);
    if (entries == NULL) {
        gw_error_memory(&error);
        return gw_cli_fail(&error);
    }
    how.measure.jobs = how.capture.jobs = jobs / gw_cli_side_by_side(given->count, jobs);
    if (how.measure.jobs > 1)
        gw_cli_memory_share();
    how.measure.figures_only = true; /* no report of these shows a picture */
    how.measure.kept = gw_measure_kept_new();
    how.capture.no_ranges = measure; /* these show none */
    int status = read_and_tell(entries, given, &how, measure, jobs);
    gw_measure_kept_free(how.measure.kept);
    for (size_t i = 0; i < given->count; i++)
        free_entry(&entries[i]);
    free(entries);
    return status;
}

int gw_cli_measure(const arguments *given) {
    return run(given, true);
}

int gw_cli_peek(const arguments *given) {
    return run(given, false);
}
