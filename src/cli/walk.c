/* gainwalk walk: the main job. */
#include "cli.h"

#include <stdlib.h>
#include <string.h>

static bool is_chain_file(const char *word) {
    size_t length = strlen(word);
    return gw_cli_is_standard(word) || (length >= 4 && gw_word_equal(word + length - 4, ".ini"));
}

/* All words are chain files, or none is. */
static bool check_words(const arguments *given, bool *chains, gw_error *error) {
    size_t count = 0;
    for (size_t i = 0; i < given->count; i++)
        count += is_chain_file(given->words[i]);
    if (given->count == 0)
        return gw_error_set(error, NULL, 0, "no chain file and no captures given, see 'gainwalk walk --help'");
    if (count != 0 && count != given->count)
        return gw_error_set(error, NULL, 0, "chain files and captures together: a chain file names its own captures");
    *chains = count != 0;
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

static bool plain_chain(const arguments *given, gw_chain **out, gw_error *error) {
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

/* Jobs done, and the status of those that could not be. */
typedef struct batch {
    job **jobs;
    const gw_walk **walks;
    size_t count;
    int status;
} batch;

static void add_job(batch *to, gw_chain *chain, int jobs) {
    gw_error error = {0};
    job *done = NULL;
    if (!gw_cli_job_run(chain, jobs, &done, &error)) {
        to->status = gw_cli_worse(to->status, gw_cli_fail(&error));
        return;
    }
    to->jobs[to->count] = done;
    to->walks[to->count] = gw_cli_job_walk(done);
    to->status = gw_cli_worse(to->status, gw_walk_exit(to->walks[to->count]));
    to->count++;
}

static bool load_chain(const char *word, gw_chain **out, gw_error *error) {
    if (!gw_cli_is_standard(word))
        return gw_chain_load(word, out, error);
    gw_text text = {0};
    bool loaded =
        gw_cli_input_text(&text, error) && gw_chain_parse(gw_text_string(&text), text.length, "-", out, error);
    gw_text_free(&text);
    return loaded;
}

static void run_chains(const arguments *given, bool files, int jobs, batch *to) {
    for (size_t i = 0; i < (files ? given->count : 1); i++) {
        gw_chain *chain = NULL;
        gw_error error = {0};
        if (files ? load_chain(given->words[i], &chain, &error) : plain_chain(given, &chain, &error))
            add_job(to, chain, jobs);
        else
            to->status = gw_cli_worse(to->status, gw_cli_fail(&error));
    }
}

typedef bool walk_report(const gw_walk *const *walks, size_t count, const gw_report_options *options, gw_text *out,
                         gw_error *error);

/* Makes one report and puts it where `path` says (NULL: standard output). */
static bool put_report(walk_report *make, const batch *from, const gw_report_options *options, const char *path,
                       bool force) {
    gw_text text = {0};
    gw_error error = {0};
    bool made = make(from->walks, from->count, options, &text, &error);
    if (!made)
        gw_cli_fail(&error);
    bool put = made && (path == NULL ? gw_cli_print(&text) : gw_cli_write(path, &text, force));
    gw_text_free(&text);
    return put;
}

static bool report(const arguments *given, const batch *from) {
    gw_report_options options;
    bool force = given->values[OPTION_FORCE] != NULL;
    if (!gw_cli_report_options(given, &options))
        return false;
    walk_report *main_report = given->values[OPTION_JSON] != NULL ? gw_report_walk_json : gw_report_walk_text;
    bool done = put_report(main_report, from, &options, NULL, force);
    return done;
}

int gw_cli_walk(const arguments *given) {
    gw_error error = {0};
    bool files = false;
    int jobs = 1;
    if (!check_words(given, &files, &error) || !gw_cli_jobs(given, &jobs, &error))
        return gw_cli_fail(&error);
    batch all = {.jobs = calloc(given->count, sizeof *all.jobs), .walks = calloc(given->count, sizeof *all.walks)};
    if (all.jobs == NULL || all.walks == NULL) {
        gw_error_memory(&error);
        all.status = gw_cli_fail(&error);
    } else {
        run_chains(given, files, jobs, &all);
        if (all.count > 0 && !report(given, &all))
            all.status = EXIT_NOT_DONE;
    }
    for (size_t i = 0; i < all.count; i++)
        gw_cli_job_free(all.jobs[i]);
    free(all.jobs);
    free(all.walks);
    return all.status;
}
