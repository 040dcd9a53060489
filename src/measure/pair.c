/* From one channel of a capture to another.
 *
 * B&P = J. S. Bendat & A. G. Piersol, "Random Data: Analysis and Measurement Procedures": the H1 estimate Sxy/Sxx,
 * which noise at the output doesn't bias, ordinary coherence, and their random errors. */
#include "gainwalk/measure.h"

#include "measure/crossing.h"
#include "measure/model.h"
#include "measure/resolution.h"

#include <math.h>
#include <stdlib.h>

static const double pi = 3.14159265358979323846;
enum { SAMPLES_AT_LEAST = 64, TONE_SAMPLES_MAX = 1 << 17 };

/* Common practice: a tone carries the pair where at most this share of the input's power is anything else. */
static const double tone_rest = 0.1, tone_share = 0.4;

/* The fundamental of one channel. */
typedef struct tone {
    bool there;
    double frequency; /* cycles a sample */
    double cosine, sine;
    double variance; /* of cosine or sine, the mean of both; by noise and by the steps */
    double rest;     /* power beside the model over the fundamental's */
} tone;

/* Rows of a capture that a tone is looked for in, of its beginning. */
static size_t tone_rows(const gw_capture *capture, uint64_t every) {
    uint64_t most = TONE_SAMPLES_MAX / every;
    return (size_t)(capture->samples < most ? capture->samples : most);
}

static bool fit_rows(const gw_capture *capture, size_t index, size_t count, tone *out, gw_error *error) {
    double *volts = malloc(count * sizeof *volts);
    unsigned char *marks = malloc(count);
    gw_model model = {0};
    bool done = (volts && marks) || gw_error_memory(error);
    done = done && gw_capture_fetch(capture, index, 0, count, volts, marks, error);
    const gw_channel *channel = &capture->channels[index];
    gw_block block = {.volts = volts,
                      .marks = marks,
                      .count = count,
                      .rate_hz = capture->rate_hz,
                      .step = channel->step,
                      .low_end = channel->low_end,
                      .high_end = channel->high_end};
    gw_stimulus unknown = {.shape = GW_SHAPE_UNKNOWN};
    bool built = done && gw_model_build(&block, &unknown, 0, &model, error);
    size_t line = built && model.tone ? gw_fit_find(&model.fit, 1, 0, 0) : 0;
    gw_steps steps = {0};
    if (built && model.tone)
        built = gw_steps_of(&model, &block, sqrt(model.variance), &steps, error);
    if (built && model.tone && line < model.fit.line_count) {
        const gw_sinusoid *fundamental = &model.fit.lines[line];
        size_t at = gw_fit_line_at(&model.fit, line);
        double power = (fundamental->cosine * fundamental->cosine + fundamental->sine * fundamental->sine) / 2;
        out->there = power > 0;
        out->frequency = gw_fit_frequency(&model.fit, fundamental);
        out->cosine = fundamental->cosine;
        out->sine = fundamental->sine;
        out->variance = (gw_model_variance(&model, at) + gw_model_variance(&model, at + 1)) / 2;
        out->variance += steps.u_code * steps.u_code + 4 * steps.u_level * steps.u_level;
        out->rest = power > 0 ? model.variance / power : 0;
    }
    gw_model_end(&model);
    free(volts);
    free(marks);
    return built;
}

/* From cycles a value, and phases in the middle of `count` values, to those of a row and of the middle of `rows`. */
static void tone_spread(tone *t, const gw_channel *channel, size_t count, size_t rows) {
    double every = (double)channel->every, middle = (double)channel->offset + 0.5 * every * ((double)count - 1);
    t->frequency /= every;
    double turn = 2 * pi * t->frequency * (0.5 * ((double)rows - 1) - middle), c = t->cosine, s = t->sine;
    t->cosine = c * cos(turn) + s * sin(turn);
    t->sine = s * cos(turn) - c * sin(turn);
}

/* A channel with values in every so many rows only is fitted by these alone. */
static bool fit_tone(const gw_capture *capture, size_t index, tone *out, gw_error *error) {
    gw_capture thin;
    *out = (tone){0};
    if (!gw_capture_thin(capture, index, &thin, error))
        return false;
    size_t rows = tone_rows(capture, 1), count = thin.channels ? tone_rows(&thin, thin.channels[index].every) : rows;
    bool done = count < SAMPLES_AT_LEAST / 2 || fit_rows(thin.channels ? &thin : capture, index, count, out, error);
    if (done && thin.channels && out->there)
        tone_spread(out, &thin.channels[index], count, rows);
    gw_capture_thin_free(&thin);
    return done;
}

static double wrapped(double angle) {
    return remainder(angle, 2 * pi);
}

/* Kept or flipped where the phase lies within an eighth of a turn of 0 or of half a turn; 0 between. */
static int polarity_of(double phase) {
    double size = fabs(wrapped(phase));
    return size < pi / 4 ? 1 : size > 3 * pi / 4 ? -1 : 0;
}

/* Gain and phase from the fundamentals; coherence is what of both channels' power the tone holds, what lies beside it
 * taken for unrelated; the delay is the shortest that gives the phase, polarity taken out first. */
static void pair_by_tone(const tone *from, const tone *to, double rate_hz, gw_pair *out) {
    double x = hypot(from->cosine, from->sine), y = hypot(to->cosine, to->sine);
    out->gain = y / x;
    double relative = sqrt(from->variance / (x * x) + (y > 0 ? to->variance / (y * y) : 0));
    out->gain_u95 = 2 * out->gain * relative;
    /* a cos + b sin = r cos(angle - atan2(b, a)) */
    out->phase_rad = wrapped(atan2(from->sine, from->cosine) - atan2(to->sine, to->cosine));
    out->frequency_hz = from->frequency * rate_hz;
    out->coherence = 1 / ((1 + from->rest) * (1 + to->rest));
    out->polarity = polarity_of(out->phase_rad);
    double shift = out->polarity < 0 ? wrapped(out->phase_rad - pi) : out->phase_rad;
    out->delay_s = -shift / (2 * pi * out->frequency_hz);
}

static bool same_tone(const tone *from, const tone *to, uint64_t samples) {
    double count = (double)(samples < TONE_SAMPLES_MAX ? samples : TONE_SAMPLES_MAX);
    return from->there && to->there && from->rest < tone_rest && fabs(from->frequency - to->frequency) * count < 0.5;
}

/* Whether one line of the input's spectrum holds so much that looking for a tone is worth its while. */
static bool may_be_tone(const gw_crossing *crossing) {
    enum { LOBE = 2 };
    double all = 0, line = 0;
    size_t best = 0;
    for (size_t k = 0; k < crossing->bins; k++) {
        all += crossing->from[k];
        best = crossing->from[k] > crossing->from[best] ? k : best;
    }
    for (size_t k = best > LOBE ? best - LOBE : 0; k < crossing->bins && k <= best + LOBE; k++)
        line += crossing->from[k];
    return line > tone_share * all;
}

/* No segment of the two channels is whole where they are taken in turn: a tone is all that can be compared. */
static bool in_turn(const gw_capture *capture, size_t from, size_t to) {
    return capture->channels[from].missing + capture->channels[to].missing >= capture->samples / 2;
}

static bool check(const gw_capture *capture, size_t from, size_t to, gw_error *error) {
    size_t worst = from > to ? from : to;
    if (worst >= capture->channel_count)
        return gw_error_set(error, capture->file, 0, "no channel %zu, only %zu", worst + 1, capture->channel_count);
    return true;
}

/* The pair by cross-spectrum; a second time with the delay that was found taken out of the segments. */
static bool pair_by_crossing(const gw_capture *capture, size_t from, size_t to, const gw_crossing *crossing,
                             gw_pair *out, gw_error *error) {
    if (!gw_crossing_pair(crossing, capture->rate_hz, out, error))
        return false;
    double lag = round(out->delay_s * capture->rate_hz);
    size_t most = crossing->segment / 4;
    if (!out->valid || lag == 0 || fabs(lag) > (double)most)
        return true;
    gw_crossing aligned;
    gw_pair again;
    if (!gw_crossing_make(capture, from, to, (int64_t)lag, &aligned, error))
        return false;
    bool done = gw_crossing_pair(&aligned, capture->rate_hz, &again, error);
    gw_crossing_free(&aligned);
    if (done && again.valid && again.coherence >= out->coherence)
        *out = again;
    return done;
}

bool gw_measure_pair(const gw_capture *capture, size_t from, size_t to, gw_pair *out, gw_error *error) {
    *out = (gw_pair){0};
    if (!check(capture, from, to, error))
        return false;
    if (!capture->simultaneous || !(capture->rate_hz > 0) || capture->samples < SAMPLES_AT_LEAST)
        return true;
    gw_crossing crossing;
    tone one = {0}, other = {0};
    if (!gw_crossing_make(capture, from, to, 0, &crossing, error))
        return false;
    bool look = may_be_tone(&crossing) || in_turn(capture, from, to), done = true;
    if (look)
        done = fit_tone(capture, from, &one, error) && fit_tone(capture, to, &other, error);
    done = done && pair_by_crossing(capture, from, to, &crossing, out, error);
    if (done && same_tone(&one, &other, capture->samples)) {
        pair_by_tone(&one, &other, capture->rate_hz, out);
        out->valid = true;
    }
    gw_crossing_free(&crossing);
    if (!done)
        *out = (gw_pair){0};
    return done;
}
