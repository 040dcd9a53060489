/* Options: `--name value`, `--name=value`, anywhere on the line; `--` ends them. */
#include "cli.h"

#include <pthread.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define COMMON (WITH(OPTION_JOBS) | WITH(OPTION_QUIET) | WITH(OPTION_COLOR) | WITH(OPTION_HELP) | WITH(OPTION_VERSION))

bool gw_cli_takes(const command *of, size_t option) {
    return ((of->options | COMMON) & WITH(option)) != 0;
}

static bool unknown_option(const command *of, const char *word, size_t length, gw_error *error) {
    const char *known[OPTION_COUNT + 1] = {NULL};
    size_t count = 0;
    for (size_t i = 0; i < OPTION_COUNT; i++)
        if (gw_cli_takes(of, i))
            known[count++] = gw_cli_options[i].name;
    char name[64] = {0};
    strncpy(name, word, length < sizeof name ? length : sizeof name - 1);
    const char *nearest = gw_word_nearest(name, known);
    if (nearest != NULL)
        return gw_error_set(error, NULL, 0, "unknown option '--%s', did you mean '--%s'?", name, nearest);
    return gw_error_set(error, NULL, 0, "unknown option '--%s', see 'gainwalk %s --help'", name, of->name);
}

static size_t find_option(const command *of, const char *name, size_t length) {
    for (size_t i = 0; i < OPTION_COUNT; i++)
        if (gw_cli_takes(of, i) && strlen(gw_cli_options[i].name) == length &&
            memcmp(gw_cli_options[i].name, name, length) == 0)
            return i;
    return OPTION_COUNT;
}

/* Reads the option at argv[*at], and its value behind it. */
static bool parse_option(const command *of, int argc, char **argv, int *at, arguments *out, gw_error *error) {
    const char *name = argv[*at] + 2;
    const char *equals = strchr(name, '=');
    size_t length = equals != NULL ? (size_t)(equals - name) : strlen(name);
    size_t option = find_option(of, name, length);
    if (option == OPTION_COUNT)
        return unknown_option(of, name, length, error);
    const option_info *info = &gw_cli_options[option];
    if (info->argument == NULL && equals != NULL)
        return gw_error_set(error, NULL, 0, "option '--%s' takes no value", info->name);
    if (out->values[option] != NULL)
        return gw_error_set(error, NULL, 0, "option '--%s' is given twice", info->name);
    if (info->argument == NULL)
        out->values[option] = "";
    else if (equals != NULL)
        out->values[option] = equals + 1;
    else if (*at + 1 < argc)
        out->values[option] = argv[++*at];
    else
        return gw_error_set(error, NULL, 0, "option '--%s' needs a value: %s", info->name, info->argument);
    return true;
}

bool gw_cli_parse(const command *of, int argc, char **argv, int from, arguments *out, gw_error *error) {
    *out = (arguments){.command = of};
    out->words = calloc((size_t)argc + 1, sizeof *out->words);
    if (out->words == NULL)
        return gw_error_memory(error);
    bool options = true;
    for (int at = from; at < argc; at++) {
        const char *word = argv[at];
        if (options && strcmp(word, "--") == 0)
            options = false;
        else if (options && strcmp(word, "-h") == 0)
            out->values[OPTION_HELP] = "";
        else if (options && strncmp(word, "--", 2) == 0) {
            if (!parse_option(of, argc, argv, &at, out, error))
                return false;
        } else if (options && word[0] == '-' && word[1] != '\0')
            return gw_error_set(error, NULL, 0, "unknown option '%s', see 'gainwalk %s --help'", word, of->name);
        else
            out->words[out->count++] = word;
    }
    return true;
}

enum { JOBS_MAX = 256 };

static void *wait_at(void *gate) {
    pthread_mutex_lock(gate);
    pthread_mutex_unlock(gate);
    return NULL;
}

/* How many threads the system lets work at once, this one included, up to `wanted`: OpenMP's runtime ends the program
 * where one that it asks for is refused. Twice as many must be had as work: one that has done its work may still be
 * there when the next begins. */
static int threads_to_be_had(int wanted) {
    pthread_t others[2 * JOBS_MAX];
    pthread_mutex_t gate = PTHREAD_MUTEX_INITIALIZER;
    int count = 0;
    pthread_mutex_lock(&gate);
    while (count < 2 * (wanted - 1) && pthread_create(&others[count], NULL, wait_at, &gate) == 0)
        count++;
    pthread_mutex_unlock(&gate);
    for (int i = 0; i < count; i++)
        pthread_join(others[i], NULL);
    return count / 2 + 1;
}

bool gw_cli_jobs(const arguments *given, int *jobs, gw_error *error) {
    long processors = sysconf(_SC_NPROCESSORS_ONLN);
    long wanted = processors < 1 ? 1 : processors > JOBS_MAX ? JOBS_MAX : processors;
    const char *text = given->values[OPTION_JOBS];
    char *end = NULL;
    if (text != NULL)
        wanted = strtol(text, &end, 10);
    if (text != NULL && (end == text || *end != '\0' || wanted < 1 || wanted > JOBS_MAX))
        return gw_error_set(error, NULL, 0, "not a number of jobs from 1 to 256: '%s'", text);
    *jobs = threads_to_be_had((int)wanted);
    return true;
}

int gw_cli_side_by_side(size_t count, int jobs) {
    return count == 0 ? 1 : count < (size_t)jobs ? (int)count : jobs;
}

typedef struct wanted {
    option_id option;
    gw_dimension dimension;
    double *into;
    double low, high;
    const char *what;
} wanted;

static bool read_wanted(const arguments *given, const wanted *row, gw_error *error) {
    const char *text = given->values[row->option];
    gw_quantity read = {0};
    if (text == NULL)
        return true;
    char place[32] = "--";
    strncat(place, gw_cli_options[row->option].name, sizeof place - 3);
    if (!gw_quantity_parse(text, &read, place, 0, error))
        return false;
    bool fits = read.dimension == row->dimension || (read.dimension == GW_DIM_NONE && row->dimension == GW_DIM_HERTZ);
    if (!fits || !(read.value >= row->low && read.value <= row->high))
        return gw_error_set(error, place, 0, "not %s: '%s'", row->what, text);
    *row->into = read.value;
    return true;
}

/* `20Hz..20kHz` */
static bool read_band(const char *text, gw_measure_options *out, gw_error *error) {
    const char *dots = text != NULL ? strstr(text, "..") : NULL;
    if (text == NULL)
        return true;
    char low[64] = {0};
    if (dots == NULL || (size_t)(dots - text) >= sizeof low)
        return gw_error_set(error, "--band", 0, "not a band such as '20Hz..20kHz': '%s'", text);
    memcpy(low, text, (size_t)(dots - text));
    gw_quantity from = {0}, to = {0};
    if (!gw_quantity_parse(low, &from, "--band", 0, error) || !gw_quantity_parse(dots + 2, &to, "--band", 0, error))
        return false;
    if (from.dimension != GW_DIM_HERTZ || to.dimension != GW_DIM_HERTZ || from.value < 0 || to.value <= from.value)
        return gw_error_set(error, "--band", 0, "not a band such as '20Hz..20kHz': '%s'", text);
    out->band_low_hz = from.value;
    out->band_high_hz = to.value;
    return true;
}

bool gw_cli_bench(const arguments *given, bench *out, gw_error *error) {
    *out = (bench){.measure.accuracy = -1};
    const wanted rows[] = {
        {OPTION_PROBE, GW_DIM_NONE, &out->capture.probe, 1e-6, 1e6, "a probe factor such as 'x10'"},
        {OPTION_FULL_SCALE, GW_DIM_VOLT, &out->capture.full_scale_v, 1e-9, 1e9, "volts at full scale such as '1.95V'"},
        {OPTION_RATE, GW_DIM_HERTZ, &out->capture.rate_hz, 1e-6, 1e13, "a sample rate such as '48kHz'"},
        {OPTION_ACCURACY, GW_DIM_PERCENT, &out->measure.accuracy, 0, 1, "an accuracy such as '3%'"},
        {OPTION_MAINS, GW_DIM_HERTZ, &out->measure.mains_hz, 10, 1000, "a mains frequency such as '50Hz'"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        if (!read_wanted(given, &rows[i], error))
            return false;
    const char *stimulus = given->values[OPTION_STIMULUS];
    if (stimulus != NULL && !gw_stimulus_parse(stimulus, &out->measure.stimulus, "--stimulus", 0, error))
        return false;
    return read_band(given->values[OPTION_BAND], &out->measure, error);
}
