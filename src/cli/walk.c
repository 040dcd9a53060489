/* gainwalk walk: the main job. */
#include "cli.h"

#include <stdlib.h>
#include <string.h>

static bool ends_with(const char *word, const char *end) {
    size_t length = strlen(word), tail = strlen(end);
    return length >= tail && gw_word_equal(word + length - tail, end);
}

/* A chain file, or a record of one. */
static bool is_chain_file(const char *word) {
    return gw_cli_is_standard(word) || ends_with(word, ".ini") ||
           (ends_with(word, ".json") && gw_record_recognise(word));
}

/* All words are chain files, or none is. */
static bool check_words(const arguments *given, bool *chains, gw_error *error) {
    size_t count = 0;
    for (size_t i = 0; i < given->count; i++)
        count += is_chain_file(given->words[i]);
    if (given->count == 0 && given->values[OPTION_SHARD] == NULL)
        return gw_error_set(error, NULL, 0, "no chain file and no captures given, see 'gainwalk walk --help'");
    if (count != 0 && count != given->count)
        return gw_error_set(error, NULL, 0, "chain files and captures together: a chain file names its own captures");
    *chains = count != 0 || given->count == 0;
    if (!*chains && (given->values[OPTION_SHARD] != NULL || given->values[OPTION_LINES] != NULL))
        return gw_error_set(error, NULL, 0, "'--%s' goes with chain files: captures are the points of one chain",
                            given->values[OPTION_SHARD] != NULL ? "shard" : "lines");
    if (!*chains)
        return true;
    static const option_id plain_only[] = {OPTION_GAIN,  OPTION_STIMULUS,   OPTION_CHANNEL,
                                           OPTION_PROBE, OPTION_FULL_SCALE, OPTION_ACCURACY,
                                           OPTION_MAINS, OPTION_BAND,       OPTION_RATE};
    for (size_t i = 0; i < sizeof plain_only / sizeof *plain_only; i++)
        if (given->values[plain_only[i]] != NULL)
            return gw_error_set(error, NULL, 0, "'--%s' goes with captures; a chain file states it itself",
                                gw_cli_options[plain_only[i]].name);
    return true;
}

bool gw_cli_plain_chain(const arguments *given, gw_chain **out, gw_error *error) {
    bench extra;
    if (!gw_cli_bench(given, &extra, error))
        return false;
    gw_chain_plain plain = {.captures = given->words,
                            .count = given->count,
                            .gains = given->values[OPTION_GAIN],
                            .stimulus = given->values[OPTION_STIMULUS],
                            .channel = given->values[OPTION_CHANNEL],
                            .mains = given->values[OPTION_MAINS],
                            .probe = given->values[OPTION_PROBE],
                            .accuracy = given->values[OPTION_ACCURACY]};
    if (!gw_chain_from_files(&plain, out, error))
        return false;
    (*out)->band_low_hz = extra.measure.band_low_hz;
    (*out)->band_high_hz = extra.measure.band_high_hz;
    for (size_t i = 0; i < (*out)->point_count; i++) {
        (*out)->points[i].full_scale_v = extra.capture.full_scale_v;
        (*out)->points[i].rate_hz = extra.capture.rate_hz;
    }
    return true;
}

/* Walks, where they came from, and the status of all, those that failed included. */
typedef struct batch {
    source *sources;
    size_t source_count;
    const gw_walk **walks;
    size_t count, capacity;
    int status;
} batch;

static void note_failure(batch *to, const gw_error *error) {
    to->status = gw_cli_worse(to->status, gw_cli_fail(error));
}

/* Takes over what was loaded. */
static void add_source(batch *to, source from) {
    to->sources[to->source_count++] = from;
    gw_cli_source_tell(&from);
    for (size_t i = 0; i < gw_cli_source_count(&from); i++) {
        gw_error error = {0};
        if (!GW_GROW(to->walks, to->count, to->capacity)) {
            gw_error_memory(&error);
            note_failure(to, &error);
            return;
        }
        to->walks[to->count] = gw_cli_source_walk(&from, i);
        to->status = gw_cli_worse(to->status, gw_walk_exit(to->walks[to->count++]));
    }
}

/* What came of one word. */
typedef struct result {
    source from;
    gw_error error;
} result;

static void load_chain(const arguments *given, size_t index, int jobs, result *out) {
    if (!gw_cli_source_load(given->words[index], jobs, &out->from, &out->error) && !out->error.set)
        gw_error_memory(&out->error);
}

static void take_result(batch *to, result *from) {
    if (from->error.set)
        note_failure(to, &from->error);
    else
        add_source(to, from->from);
}

/* Tells of one chain at once, and forgets it. */
static void put_line(const arguments *given, size_t index, result *from, line_queue *to, batch *sum) {
    char why[800];
    gw_report_options options = {.program = PROGRAM};
    gw_text line = {0};
    gw_error error = {0};
    source one = {0};
    batch own = {.sources = &one};
    take_result(&own, from);
    if (own.count < gw_cli_source_count(&one))
        gw_error_memory(&from->error);
    const char *failure = from->error.set ? gw_error_print(&from->error, why, sizeof why) : NULL;
    if (!gw_report_walk_line(given->words[index], failure, own.walks, own.count, given->shard + index * given->shards,
                             &options, &line, &error))
        note_failure(&own, &error);
    gw_cli_lines_put(to, index, &line);
#pragma omp critical(walk_status)
    sum->status = gw_cli_worse(sum->status, own.status);
    gw_cli_source_free(&from->from);
    free(own.walks);
}

/* Several chains side by side; of a few their captures are as well. */
static void run_chains(const arguments *given, int jobs, line_queue *to, batch *sum) {
    result *results = calloc(given->count + 1, sizeof *results);
    int wide = gw_cli_side_by_side(given->count, jobs), inner = jobs / wide;
    if (results == NULL) {
        gw_error error = {0};
        gw_error_memory(&error);
        note_failure(sum, &error);
        return;
    }
#pragma omp parallel for schedule(dynamic) num_threads(wide)
    for (size_t i = 0; i < given->count; i++) {
        load_chain(given, i, inner, &results[i]);
        if (to != NULL)
            put_line(given, i, &results[i], to, sum);
    }
    for (size_t i = 0; to == NULL && i < given->count; i++)
        take_result(sum, &results[i]);
    free(results);
}

static void run_plain(const arguments *given, int jobs, batch *to) {
    result one = {0};
    gw_chain *chain = NULL;
    if (!gw_cli_plain_chain(given, &chain, &one.error) || !gw_cli_job_run(chain, jobs, &one.from.judged, &one.error))
        one.error.set = true;
    take_result(to, &one);
}

typedef bool walk_report(const gw_walk *const *walks, size_t count, const gw_report_options *options, gw_text *out,
                         gw_error *error);

static bool put_report(walk_report *make, const arguments *given, const gw_walk *const *walks, size_t count,
                       const char *path) {
    gw_report_options options;
    gw_text text = {0};
    gw_error error = {0};
    if (!gw_cli_report_options(given, &options))
        return false;
    bool made = make(walks, count, &options, &text, &error);
    return gw_cli_deliver(made, &text, &error, given, path);
}

static bool save(const arguments *given, const gw_walk *const *walks, size_t count) {
    char created[32] = "";
    gw_error error = {0};
    gw_record_options options = {.program = PROGRAM,
                                 .created = gw_cli_now(created, sizeof created),
                                 .force = given->values[OPTION_FORCE] != NULL};
    return gw_record_save(given->values[OPTION_SAVE], walks, count, &options, &error) ||
           gw_cli_fail(&error) == EXIT_IN_ORDER;
}

bool gw_cli_report_walks(const arguments *given, const gw_walk *const *walks, size_t count) {
    gw_error error = {0};
    bool json = given->values[OPTION_JSON] != NULL;
    bool done = gw_cli_output_taken(given) ||
                put_report(json ? gw_report_walk_json : gw_report_walk_text, given, walks, count, NULL);
    if (!gw_cli_captures_apart(given, walks, count, &error))
        return gw_cli_fail(&error) == EXIT_IN_ORDER;
    if (given->values[OPTION_CSV] != NULL)
        done = put_report(gw_report_walk_csv, given, walks, count, given->values[OPTION_CSV]) && done;
    if (given->values[OPTION_HTML] != NULL)
        done = put_report(gw_report_walk_html, given, walks, count, given->values[OPTION_HTML]) && done;
    if (given->values[OPTION_SAVE] != NULL)
        done = save(given, walks, count) && done;
    return done;
}

/* Every walk is kept, then all are told together. */
static void walk_together(const arguments *given, bool files, int jobs, batch *all) {
    gw_error error = {0};
    all->sources = calloc(given->count + 1, sizeof *all->sources);
    if (all->sources == NULL) {
        gw_error_memory(&error);
        note_failure(all, &error);
        return;
    }
    if (files)
        run_chains(given, jobs, NULL, all);
    else
        run_plain(given, jobs, all);
    bool empty_shard = given->count == 0;
    if ((all->count > 0 || empty_shard) && !gw_cli_report_walks(given, all->walks, all->count))
        all->status = EXIT_NOT_DONE;
}

static void walk_by_lines(const arguments *given, int jobs, batch *all) {
    gw_error error = {0};
    line_queue to;
    if (!gw_cli_lines_begin(&to, given, &error)) {
        note_failure(all, &error);
        return;
    }
    run_chains(given, jobs, &to, all);
    if (!gw_cli_lines_end(&to))
        all->status = EXIT_NOT_DONE;
}

/* What --lines leaves no room for. */
static bool check_lines(const arguments *given, gw_error *error) {
    static const option_id whole[] = {OPTION_CSV, OPTION_HTML, OPTION_SAVE};
    for (size_t i = 0; given->values[OPTION_LINES] != NULL && i < sizeof whole / sizeof *whole; i++)
        if (given->values[whole[i]] != NULL)
            return gw_error_set(error, NULL, 0, "'--lines' prints each input by itself: no '--%s' with it",
                                gw_cli_options[whole[i]].name);
    return true;
}

int gw_cli_walk(const arguments *given) {
    gw_error error = {0};
    bool files = false;
    int jobs = 1;
    if (!check_words(given, &files, &error) || !check_lines(given, &error) || !gw_cli_jobs(given, &jobs, &error))
        return gw_cli_fail(&error);
    batch all = {0};
    if (given->values[OPTION_LINES] != NULL)
        walk_by_lines(given, jobs, &all);
    else
        walk_together(given, files, jobs, &all);
    for (size_t i = 0; i < all.source_count; i++)
        gw_cli_source_free(&all.sources[i]);
    free(all.sources);
    free(all.walks);
    return all.status;
}
