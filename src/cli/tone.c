/* gainwalk tone: a test signal as a WAV file. */
#include "cli.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* What is held in memory until it is written. */
static const uint64_t bytes_max = UINT64_C(256) << 20;
static const double usual_level_dbfs = -20; /* SMPTE RP 155's alignment level; every shape's peaks fit */
enum { BLOCK = 512, CHANNELS_MAX = 16 };

typedef struct order {
    const char *path;
    gw_test_signal signal;
    gw_wav_layout layout;
    bool dither;
    double full_scale_v; /* 0 unknown */
} order;

static bool bad(const arguments *given, option_id option, const char *wanted, gw_error *error) {
    char place[32] = "--";
    strncat(place, gw_cli_options[option].name, sizeof place - 3);
    return gw_error_set(error, place, 0, "not %s: '%s'", wanted, given->values[option]);
}

/* One value with its unit, or bare; the default where the option is not given. */
static bool read_value(const arguments *given, option_id option, gw_dimension dimension, double usual,
                       const double range[2], const char *wanted, double *out, gw_error *error) {
    gw_quantity read = {.value = usual, .dimension = dimension};
    gw_error ignored = {0};
    const char *text = given->values[option];
    bool fine = text == NULL || gw_quantity_parse(text, &read, NULL, 0, &ignored);
    *out = read.value;
    if (!fine || (read.dimension != dimension && read.dimension != GW_DIM_NONE) || !(read.value >= range[0]) ||
        !(read.value <= range[1]))
        return bad(given, option, wanted, error);
    return true;
}

static bool read_count(const arguments *given, option_id option, double usual, const double range[2],
                       const char *wanted, double *out, gw_error *error) {
    return read_value(given, option, GW_DIM_NONE, usual, range, wanted, out, error) &&
           (*out == floor(*out) || bad(given, option, wanted, error));
}

/* `-20dBFS`: a sine of 0 dBFS has its peak at full scale (AES17). */
static bool read_dbfs(const char *text, double *rms) {
    static const char unit[] = "dBFS";
    size_t length = strlen(text), tail = sizeof unit - 1;
    double level = 0;
    if (length <= tail || !gw_word_equal(text + length - tail, unit))
        return false;
    for (length -= tail; length > 0 && text[length - 1] == ' '; length--)
        ;
    if (!gw_number_parse(text, length, &level) || !(fabs(level) <= 200))
        return false;
    *rms = gw_ratio_from_db(level) * sqrt(0.5);
    return true;
}

static bool read_level(const arguments *given, order *out, gw_error *error) {
    const char *text = given->values[OPTION_LEVEL];
    gw_quantity read = {0};
    gw_error ignored = {0};
    out->signal.rms = gw_ratio_from_db(usual_level_dbfs) * sqrt(0.5);
    if (text == NULL || read_dbfs(text, &out->signal.rms))
        return true;
    if (!gw_quantity_parse(text, &read, NULL, 0, &ignored) || read.dimension != GW_DIM_VOLT || !(read.value > 0))
        return bad(given, OPTION_LEVEL, "a level such as '-20dBFS' or '100mV'", error);
    if (out->full_scale_v == 0)
        return gw_error_set(error, "--level", 0, "volts need '--full-scale': the volts that digital full scale makes");
    if (read.peak_to_peak && out->signal.shape != GW_TEST_SINE)
        return gw_error_set(error, "--level", 0, "this shape's level is stated in volts RMS");
    double rms_v = read.peak_to_peak ? read.value / sqrt(8) : read.value;
    out->signal.rms = rms_v / out->full_scale_v;
    return true;
}

/* `997Hz`, `60Hz+7kHz`, `20Hz..20kHz`. */
static bool read_frequencies(const arguments *given, gw_test_signal *out, gw_error *error) {
    const char *text = given->values[OPTION_FREQUENCY];
    const gw_test_shape_info *info = &gw_test_shapes[out->shape];
    const char *between = out->shape == GW_TEST_SWEEP ? ".." : "+";
    char first[64] = {0};
    gw_quantity one = {0}, other = {0};
    gw_error ignored = {0};
    if (text == NULL)
        return true;
    if (info->frequency_hz == 0)
        return gw_error_set(error, "--frequency", 0, "'%s' has no frequency", info->name);
    const char *at = info->second_hz > 0 ? strstr(text, between) : text + strlen(text);
    bool fine = at != NULL && (size_t)(at - text) < sizeof first;
    if (fine) {
        memcpy(first, text, (size_t)(at - text));
        fine = gw_quantity_parse(first, &one, NULL, 0, &ignored) && one.dimension == GW_DIM_HERTZ && one.value > 0;
    }
    if (fine && info->second_hz > 0)
        fine = gw_quantity_parse(at + strlen(between), &other, NULL, 0, &ignored) && other.dimension == GW_DIM_HERTZ &&
               other.value > one.value;
    if (!fine)
        return bad(given, OPTION_FREQUENCY,
                   info->second_hz == 0          ? "a frequency such as '997Hz'"
                   : out->shape == GW_TEST_SWEEP ? "a sweep upwards such as '20Hz..20kHz'"
                                                 : "two rising frequencies such as '60Hz+7kHz'",
                   error);
    out->frequency_hz = one.value;
    out->second_hz = other.value;
    return true;
}

static bool read_words(const arguments *given, order *out, gw_error *error) {
    const char *known[GW_TEST_SHAPE_COUNT + 1] = {NULL};
    if (given->count == 0)
        return gw_error_set(error, NULL, 0, "no file to write given, see 'gainwalk tone --help'");
    if (given->count > 2)
        return gw_error_set(error, NULL, 0, "more than a shape and a file: '%s'", given->words[2]);
    out->path = given->words[given->count - 1];
    for (size_t i = 0; i < GW_TEST_SHAPE_COUNT; i++) {
        known[i] = gw_test_shapes[i].name;
        if (gw_word_equal(given->words[0], known[i])) {
            out->signal.shape = (gw_test_shape)i;
            return given->count == 2 ||
                   gw_error_set(error, NULL, 0, "no file to write given behind the shape '%s'", known[i]);
        }
    }
    if (given->count == 1)
        return true;
    const char *nearest = gw_word_nearest(given->words[0], known);
    return gw_error_set(error, NULL, 0, "unknown shape '%s', %s%s%s", given->words[0],
                        nearest != NULL ? "did you mean '" : "see ",
                        nearest != NULL ? nearest : "'gainwalk tone --help", nearest != NULL ? "'?" : "'");
}

static bool read_format(const arguments *given, order *out, gw_error *error) {
    const char *bits = given->values[OPTION_BITS], *dither = given->values[OPTION_DITHER];
    static const char *const names[] = {[GW_WAV_PCM16] = "16", [GW_WAV_PCM24] = "24", [GW_WAV_FLOAT32] = "float"};
    bool known = bits == NULL;
    out->layout.format = GW_WAV_PCM24;
    for (size_t i = 0; bits != NULL && i < sizeof names / sizeof *names; i++)
        if (strcmp(bits, names[i]) == 0) {
            out->layout.format = (gw_wav_format)i;
            known = true;
        }
    if (!known)
        return bad(given, OPTION_BITS, "16, 24 or float", error);
    if (dither != NULL && strcmp(dither, "tpdf") != 0 && strcmp(dither, "none") != 0)
        return bad(given, OPTION_DITHER, "tpdf or none", error);
    out->dither = out->layout.format != GW_WAV_FLOAT32 && (dither == NULL || strcmp(dither, "none") != 0);
    return true;
}

/* Steps only where they mean something. */
static bool read_steps(const arguments *given, gw_test_signal *out, gw_error *error) {
    static const double counts[] = {2, 100}, gains[] = {0.01, 60};
    double count = 0, step_db = 0;
    if (out->shape != GW_TEST_STEPS && (given->values[OPTION_STEPS] != NULL || given->values[OPTION_STEP] != NULL))
        return gw_error_set(error, NULL, 0, "'--steps' and '--step' go with the shape 'steps'");
    if (!read_count(given, OPTION_STEPS, 7, counts, "a number of steps from 2 to 100", &count, error) ||
        !read_value(given, OPTION_STEP, GW_DIM_DECIBEL, 10, gains, "a step such as '10dB', up to 60 dB", &step_db,
                    error))
        return false;
    out->steps = (int)count;
    out->step_ratio = gw_ratio_from_db(step_db);
    return true;
}

static bool read_order(const arguments *given, order *out, gw_error *error) {
    static const double rates[] = {1000, 768000}, lengths[] = {0.001, 86400}, fades[] = {0, 3600},
                        channels[] = {1, CHANNELS_MAX}, seeds[] = {0, 9007199254740991}, volts[] = {1e-9, 1e9};
    double rate = 0, length = 0, count = 0, seed = 0;
    gw_test_signal *signal = &out->signal;
    if (!read_words(given, out, error) || !read_format(given, out, error) || !read_steps(given, signal, error) ||
        !read_value(given, OPTION_RATE, GW_DIM_HERTZ, 48000, rates, "a sample rate from 1kHz to 768kHz", &rate,
                    error) ||
        !read_value(given, OPTION_LENGTH, GW_DIM_SECOND, 10, lengths, "a length such as '10s'", &length, error) ||
        !read_value(given, OPTION_FADE, GW_DIM_SECOND, 0.01, fades, "a time such as '10ms'", &signal->fade_s, error) ||
        !read_count(given, OPTION_CHANNELS, 1, channels, "a number of channels from 1 to 16", &count, error) ||
        !read_count(given, OPTION_SEED, 1, seeds, "a whole number", &seed, error))
        return false;
    if (rate != floor(rate))
        return bad(given, OPTION_RATE, "a whole number of hertz", error);
    if (given->values[OPTION_FULL_SCALE] != NULL &&
        !read_value(given, OPTION_FULL_SCALE, GW_DIM_VOLT, 0, volts, "volts at full scale such as '1.95V'",
                    &out->full_scale_v, error))
        return false;
    signal->rate_hz = rate;
    signal->samples = (uint64_t)floor(rate * length + 0.5);
    signal->seed = (uint64_t)seed;
    out->layout.rate_hz = (uint32_t)rate;
    out->layout.channels = (int)count;
    out->layout.frames = signal->samples;
    return read_frequencies(given, signal, error) && read_level(given, out, error);
}

/* Triangular, from -1 to 1 step, another for each channel and sample: total error free of distortion and of noise
 * modulation (Lipshitz, Wannamaker & Vanderkooy 1992). Not the series that the noise signals use. */
static double dither_at(uint64_t seed, uint64_t index) {
    uint64_t other = seed ^ UINT64_C(0x5851F42D4C957F2D);
    return gw_random_uniform(other, 2 * index) - gw_random_uniform(other, 2 * index + 1);
}

static void add_block(const order *of, const double *values, size_t count, uint64_t first, gw_text *out) {
    double frames[BLOCK * CHANNELS_MAX], noise[BLOCK * CHANNELS_MAX];
    size_t channels = (size_t)of->layout.channels;
    for (size_t i = 0; i < count * channels; i++) {
        frames[i] = values[i / channels];
        noise[i] = of->dither ? dither_at(of->signal.seed, first * channels + i) : 0;
    }
    gw_wav_add_frames(&of->layout, frames, noise, count, out);
}

static bool make(const order *of, gw_text *out, gw_error *error) {
    gw_generator *generator = NULL;
    double values[BLOCK];
    uint64_t size = gw_wav_size(&of->layout);
    if (size == 0 || size > bytes_max)
        return gw_error_set(error, NULL, 0, "too long: the file would exceed %d MiB", (int)(bytes_max >> 20));
    if (!gw_generator_new(&of->signal, &generator, error))
        return false;
    bool fine = gw_wav_add_header(&of->layout, out, error);
    for (uint64_t at = 0; fine && !out->failed && at < of->signal.samples; at += BLOCK) {
        uint64_t left = of->signal.samples - at;
        size_t count = left < BLOCK ? (size_t)left : BLOCK;
        gw_generator_next(generator, values, count);
        add_block(of, values, count, at, out);
    }
    gw_wav_add_end(&of->layout, out);
    gw_generator_free(generator);
    return fine && (!out->failed || gw_error_memory(error));
}

/* Shares a short period with the sample rate: the same few codes again and again. */
static bool repeats_soon(const gw_test_signal *signal) {
    double frequency = signal->frequency_hz;
    bool sine = signal->shape == GW_TEST_SINE || signal->shape == GW_TEST_STEPS;
    return sine && frequency > 0 && signal->rate_hz / frequency == floor(signal->rate_hz / frequency);
}

/* What was written, and the chain file's line that goes with it. */
static void tell(const order *of) {
    static const char *const shapes[GW_TEST_SHAPE_COUNT] = {
        [GW_TEST_SINE] = "sine",           [GW_TEST_SAW] = "periodic", [GW_TEST_SQUARE] = "periodic",
        [GW_TEST_TWO_TONE] = "two-tone",   [GW_TEST_PINK] = "noise",   [GW_TEST_WHITE] = "noise",
        [GW_TEST_DIFFERENCE] = "two-tone", [GW_TEST_SILENCE] = "none"};
    const gw_test_signal *signal = &of->signal;
    const gw_test_shape_info *info = &gw_test_shapes[signal->shape];
    const double hertz[] = {signal->frequency_hz > 0 ? signal->frequency_hz : info->frequency_hz,
                            signal->second_hz > 0 ? signal->second_hz : info->second_hz};
    double level_v = signal->shape != GW_TEST_SILENCE ? signal->rms * of->full_scale_v : 0;
    bool small = level_v < 1;
    char text[48], line[4 * sizeof text]; /* four words, each printed into `text` or shorter */
    gw_cli_note("written: ", of->path);
    if (repeats_soon(signal))
        gw_cli_note("note: this frequency divides the sample rate, and a converter's quantising error then gathers in "
                    "the harmonics; ",
                    "997Hz spreads it");
    if (shapes[signal->shape] == NULL)
        return;
    int at = snprintf(line, sizeof line, "%s", shapes[signal->shape]);
    for (size_t i = 0; i < 2 && hertz[i] > 0; i++)
        at += snprintf(line + at, sizeof line - (size_t)at, " %s Hz", gw_number_print(hertz[i], 9, text, sizeof text));
    if (level_v > 0)
        snprintf(line + at, sizeof line - (size_t)at, " %s %s",
                 gw_number_print(small ? 1000 * level_v : level_v, 5, text, sizeof text), small ? "mV" : "V");
    gw_cli_note("in the chain file: stimulus = ", line);
}

int gw_cli_tone(const arguments *given) {
    order wanted = {0};
    gw_text bytes = {0};
    gw_error error = {0};
    int status = EXIT_IN_ORDER;
    if (!read_order(given, &wanted, &error) || !make(&wanted, &bytes, &error))
        status = gw_cli_fail(&error);
    else if (!gw_cli_write(wanted.path, &bytes, given->values[OPTION_FORCE] != NULL))
        status = EXIT_NOT_DONE;
    else if (given->values[OPTION_QUIET] == NULL && !gw_cli_is_standard(wanted.path))
        tell(&wanted);
    gw_text_free(&bytes);
    return status;
}
