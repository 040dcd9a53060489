#include "crossing.h"

#include "spectrum.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double pi = 3.14159265358979323846;
enum { SEGMENT_MAX = 1 << 15, SEGMENT_MIN = 32, SEGMENTS_MAX = 2000, FIRST_BIN = 2 };

/* ---- summing ----------------------------------------------------------------------------------------- */

/* Working space for one segment of both channels. */
typedef struct pass {
    gw_fft *fft;
    double *window, *values; /* segment */
    unsigned char *marks;
    double *x_re, *x_im, *y_re, *y_im; /* bins */
} pass;

static bool pass_make(size_t segment, pass *p) {
    size_t bins = segment / 2 + 1;
    *p = (pass){.fft = gw_fft_new(segment)};
    p->window = malloc(segment * sizeof(double));
    p->values = malloc(segment * sizeof(double));
    p->marks = malloc(segment);
    p->x_re = malloc(bins * sizeof(double));
    p->x_im = malloc(bins * sizeof(double));
    p->y_re = malloc(bins * sizeof(double));
    p->y_im = malloc(bins * sizeof(double));
    if (!p->fft || !p->window || !p->values || !p->marks || !p->x_re || !p->x_im || !p->y_re || !p->y_im)
        return false;
    gw_window_hann(p->window, segment);
    return true;
}

static void pass_free(pass *p) {
    gw_fft_free(p->fft);
    free(p->window);
    free(p->values);
    free(p->marks);
    free(p->x_re);
    free(p->x_im);
    free(p->y_re);
    free(p->y_im);
}

/* Transforms one channel's segment, its window-weighted mean taken out. `*whole` is false where a sample is missing. */
static bool transform(const gw_capture *capture, size_t channel, uint64_t start, size_t segment, pass *p, double *re,
                      double *im, bool *whole, gw_error *error) {
    if (!gw_capture_fetch(capture, channel, start, segment, p->values, p->marks, error))
        return false;
    double sum = 0, weight = 0;
    for (size_t i = 0; i < segment; i++) {
        /* NOLINTNEXTLINE(clang-analyzer-core.NullDereference): the error functions always return false */
        *whole = *whole && p->marks[i] == GW_SAMPLE_PRESENT;
        sum += p->window[i] * p->values[i];
        weight += p->window[i];
    }
    for (size_t i = 0; i < segment; i++)
        p->values[i] = p->window[i] * (p->values[i] - sum / weight);
    gw_fft_forward(p->fft, p->values, re, im);
    return true;
}

/* Returns the input's power in the segment. */
static double add_segment(const pass *p, gw_crossing *out) {
    double power = 0;
    for (size_t k = 0; k < out->bins; k++) {
        power += p->x_re[k] * p->x_re[k] + p->x_im[k] * p->x_im[k];
        out->from[k] += p->x_re[k] * p->x_re[k] + p->x_im[k] * p->x_im[k];
        out->to[k] += p->y_re[k] * p->y_re[k] + p->y_im[k] * p->y_im[k];
        out->re[k] += p->x_re[k] * p->y_re[k] + p->x_im[k] * p->y_im[k];
        out->im[k] += p->x_re[k] * p->y_im[k] - p->x_im[k] * p->y_re[k];
    }
    out->segments++;
    return power;
}

/* Fewer averages than this tell nothing of what follows. */
static const double averages_least = 2;

static bool sum_all(const gw_capture *capture, size_t from, size_t to, pass *p, gw_crossing *out, gw_error *error) {
    uint64_t ahead = out->lag < 0 ? (uint64_t)-out->lag : 0, behind = out->lag > 0 ? (uint64_t)out->lag : 0;
    uint64_t rest = capture->samples - out->segment - ahead - behind, half = out->segment / 2;
    uint64_t places = 1 + (rest + half - 1) / half;
    places = places > SEGMENTS_MAX ? SEGMENTS_MAX : places;
    double hop = places > 1 ? (double)rest / (double)(places - 1) : 0, sum = 0, squares = 0;
    for (uint64_t s = 0; s < places; s++) {
        uint64_t start = (uint64_t)((double)s * hop + 0.5);
        start = start > rest ? rest : start;
        bool whole = true;
        if (!transform(capture, from, start + ahead, out->segment, p, p->x_re, p->x_im, &whole, error) ||
            !transform(capture, to, start + behind, out->segment, p, p->y_re, p->y_im, &whole, error))
            return false;
        double power = whole ? add_segment(p, out) : 0;
        sum += power;
        squares += power * power;
    }
    if (out->segments > 0)
        out->averages = 1 / gw_welch_variance(out->segments, out->segment, hop);
    /* a programme that comes and goes fills as many as its power is spread over */
    out->filled = out->averages;
    if (squares > 0 && out->averages > averages_least)
        out->filled = fmax(out->averages * sum * sum / (squares * (double)out->segments), averages_least);
    return true;
}

bool gw_crossing_make(const gw_capture *capture, size_t from, size_t to, int64_t lag, gw_crossing *out,
                      gw_error *error) {
    *out = (gw_crossing){.lag = lag};
    uint64_t wanted = 2 * (capture->samples / 9);
    wanted = wanted > SEGMENT_MAX ? SEGMENT_MAX : wanted < SEGMENT_MIN ? SEGMENT_MIN : wanted;
    wanted = wanted > capture->samples ? capture->samples : wanted;
    out->segment = gw_fft_length_below((size_t)wanted);
    out->bins = out->segment / 2 + 1;
    out->from = calloc(out->bins, sizeof(double));
    out->to = calloc(out->bins, sizeof(double));
    out->re = calloc(out->bins, sizeof(double));
    out->im = calloc(out->bins, sizeof(double));
    pass p = {0};
    bool done = (out->from && out->to && out->re && out->im && pass_make(out->segment, &p)) || gw_error_memory(error);
    done = done && sum_all(capture, from, to, &p, out, error);
    pass_free(&p);
    if (!done)
        gw_crossing_free(out);
    return done;
}

void gw_crossing_free(gw_crossing *crossing) {
    free(crossing->from);
    free(crossing->to);
    free(crossing->re);
    free(crossing->im);
    *crossing = (gw_crossing){0};
}

/* ---- reading ------------------------------------------------------------------------------------------ */

/* Ordinary coherence (squared) of a bin. */
static double coherence_at(const gw_crossing *c, size_t k) {
    double power = c->from[k] * c->to[k];
    double cross = c->re[k] * c->re[k] + c->im[k] * c->im[k];
    return power > 0 ? fmin(cross / power, 1) : 0;
}

/* Coherence that independent channels reach in one bin of a thousand (B&P: 1 - p^(1/(n - 1)) for n averages). */
static double significant(const gw_crossing *c) {
    return 1 - pow(1e-3, 1 / (c->averages - 1));
}

/* What of a bin's output power follows the input, |Sxy|^2/Sxx, without the share that chance adds: 1 of n averages
 * (B&P). Can be negative where there is none: only sums mean something. */
static double following(const gw_crossing *c, double coherence, size_t k) {
    double n = c->filled;
    return (n * coherence - 1) / (n - 1) * c->to[k];
}

/* Gain and its uncertainty, coherence, over all bins. Relative error of |H|^2 in a bin: twice that of |H|, sqrt((1 -
 * g^2)/(2 g^2 n)) (B&P); n - 1 for n, since g^2 comes from the same averages; 35/18 of its square in a sum, since the
 * window correlates neighbours. False where what follows is not twice its uncertainty. */
static bool read_gain(const gw_crossing *c, gw_pair *out) {
    double input = 0, follows = 0, coherent = 0, variance = 0;
    for (size_t k = FIRST_BIN; k + FIRST_BIN < c->bins; k++) {
        double coherence = coherence_at(c, k), part = coherence * c->to[k];
        input += c->from[k];
        coherent += c->from[k] * coherence;
        follows += following(c, coherence, k);
        if (coherence > 0)
            variance += 35.0 / 18 * part * part * 2 * (1 - coherence) / (coherence * (c->filled - 1));
    }
    out->coherence = input > 0 ? coherent / input : 0;
    if (!(input > 0) || !(follows > 2 * sqrt(variance)))
        return false;
    out->gain = sqrt(follows / input);
    out->gain_u95 = 2 * out->gain * 0.5 * sqrt(variance) / follows;
    return true;
}

/* Lag of the peak of the whitened cross-correlation, samples; `*sign` is the peak's. */
static bool peak_lag(const gw_crossing *c, double *lag, int *sign) {
    double *re = calloc(c->bins, sizeof *re), *im = calloc(c->bins, sizeof *im);
    double *correlation = calloc(c->segment, sizeof *correlation);
    gw_fft *fft = gw_fft_new(c->segment);
    bool made = re && im && correlation && fft;
    if (made) {
        double least = significant(c);
        for (size_t k = FIRST_BIN; k + 1 < c->bins; k++) {
            double coherence = coherence_at(c, k), size = hypot(c->re[k], c->im[k]);
            if (coherence < least || size <= 0)
                continue;
            re[k] = coherence * c->re[k] / size;
            im[k] = coherence * c->im[k] / size;
        }
        made = gw_fft_inverse(fft, re, im, correlation);
        size_t best = 0;
        for (size_t i = 1; i < c->segment; i++)
            best = fabs(correlation[i]) > fabs(correlation[best]) ? i : best;
        *sign = correlation[best] < 0 ? -1 : 1;
        *lag = best > c->segment / 2 ? (double)best - (double)c->segment : (double)best;
    }
    gw_fft_free(fft);
    free(re);
    free(im);
    free(correlation);
    return made;
}

/* Straight line through the phase left after `lag` and `sign`, weighted by its precision g^2/(1 - g^2): the rest of the
 * delay, samples, and the phase at 0 Hz. */
static void straight_phase(const gw_crossing *c, double lag, int sign, double *rest, double *offset) {
    double w = 0, wx = 0, wxx = 0, wy = 0, wxy = 0, least = significant(c);
    for (size_t k = FIRST_BIN; k + 1 < c->bins; k++) {
        double coherence = coherence_at(c, k);
        if (coherence < least)
            continue;
        double omega = 2 * pi * (double)k / (double)c->segment;
        double angle = atan2(c->im[k], c->re[k]) + omega * lag - (sign < 0 ? pi : 0);
        double weight = coherence / fmax(1 - coherence, 1e-6), y = remainder(angle, 2 * pi);
        w += weight;
        wx += weight * omega;
        wxx += weight * omega * omega;
        wy += weight * y;
        wxy += weight * omega * y;
    }
    double determinant = w * wxx - wx * wx;
    bool two = determinant > 1e-9 * w * wxx;
    double slope = two ? (w * wxy - wx * wy) / determinant : 0;
    *rest = -slope;
    *offset = w > 0 ? (wy - slope * wx) / w : 0;
}

bool gw_crossing_pair(const gw_crossing *c, double rate_hz, gw_pair *out, gw_error *error) {
    *out = (gw_pair){0};
    if (!(c->averages > 1.5) || !read_gain(c, out))
        return true;
    double lag = 0, rest, offset, re = 0, im = 0;
    int sign = 1;
    if (!peak_lag(c, &lag, &sign))
        return gw_error_memory(error);
    straight_phase(c, lag, sign, &rest, &offset);
    out->delay_s = ((double)c->lag + lag + rest) / rate_hz;
    out->polarity = fabs(remainder(offset, 2 * pi)) < pi / 4 ? sign : 0;
    for (size_t k = FIRST_BIN; k < c->bins; k++) {
        double turn = 2 * pi * fmod((double)k * (double)c->lag / (double)c->segment, 1);
        re += c->re[k] * cos(turn) + c->im[k] * sin(turn);
        im += c->im[k] * cos(turn) - c->re[k] * sin(turn);
    }
    out->phase_rad = atan2(im, re);
    out->valid = true;
    return true;
}
