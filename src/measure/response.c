/* Response against frequency, from a stimulus that fills the band. */
#include "measure/response.h"
#include "measure/spectrum.h"

#include "gainwalk/measure.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double samples_max = 8388608; /* 2^23: the transform of twice as many is the longest there is */
static const double bands_per_octave = 12;
static const double lowest_hz = 5;
/* A band counts with at least this share of the strongest band's energy, and where the stimulus explains this much. */
static const double energy_share = 1e-3, coherence_least = 0.5;
/* How often a band of what has nothing to do with the stimulus may count all the same. */
static const double chance = 1e-6;

typedef struct pair {
    size_t length, bins; /* of the transform */
    double share;        /* of it that the shorter record fills: so many of the bins are independent */
    double rate_hz;
    double *from, *to; /* samples, then scratch */
    double *from_re, *from_im, *to_re, *to_im;
    gw_fft *fft;
    gw_arena *arena;
} pair;

/* Without their mean: a record of DC is a step up and a step down again, which reaches far into the band. */
static bool fetch(const gw_capture *capture, size_t channel, pair *of, double *values, gw_error *error) {
    size_t count = (size_t)capture->samples;
    unsigned char *marks = gw_arena_array(of->arena, count, 1);
    if (marks == NULL)
        return gw_error_memory(error);
    if (!gw_capture_fetch(capture, channel, 0, count, values, marks, error))
        return false;
    double sum = 0;
    for (size_t i = 0; i < count; i++) {
        if (marks[i] != GW_SAMPLE_PRESENT)
            return gw_error_set(error, capture->file, 0, "samples are %s: no response can be taken from it",
                                marks[i] == GW_SAMPLE_MISSING ? "missing" : "overloaded");
        sum += values[i];
    }
    for (size_t i = 0; i < count; i++)
        values[i] -= sum / (double)count;
    return true;
}

static bool fit_each_other(const gw_capture *stimulus, const gw_capture *capture, gw_error *error) {
    if (stimulus->rate_hz <= 0 || fabs(capture->rate_hz / stimulus->rate_hz - 1) > 1e-9)
        return gw_error_set(error, capture->file, 0, "its sample rate is not that of the stimulus");
    if ((double)stimulus->samples > samples_max || (double)capture->samples > samples_max)
        return gw_error_set(error, capture->file, 0, "too long for a response: more than 2^23 samples");
    return true;
}

static bool room_make(const gw_capture *stimulus, const gw_capture *capture, pair *out, gw_error *error) {
    out->length = gw_fft_length_above((size_t)stimulus->samples + (size_t)capture->samples);
    out->bins = out->length / 2 + 1;
    out->share =
        (double)(stimulus->samples < capture->samples ? stimulus->samples : capture->samples) / (double)out->length;
    out->rate_hz = stimulus->rate_hz;
    out->arena = gw_arena_new();
    out->fft = gw_fft_new(out->length);
    bool made = out->arena != NULL && out->fft != NULL;
    double **parts[] = {&out->from, &out->to, &out->from_re, &out->from_im, &out->to_re, &out->to_im};
    for (size_t i = 0; made && i < 6; i++)
        made = (*parts[i] = gw_arena_array(out->arena, i < 2 ? out->length : out->bins, sizeof(double))) != NULL;
    if (!made)
        gw_error_memory(error);
    return made;
}

/* The lag at which the two resemble each other most, in samples; the output's phases are turned back by it. Without
 * that, a delay would wind the phase within a band and its sum would cancel. */
static double take_out_delay(pair *of) {
    double *re = of->from, *im = of->to; /* the samples are transformed already */
    for (size_t k = 0; k < of->bins; k++) {
        re[k] = of->to_re[k] * of->from_re[k] + of->to_im[k] * of->from_im[k];
        im[k] = of->to_im[k] * of->from_re[k] - of->to_re[k] * of->from_im[k];
    }
    double *correlation = gw_arena_array(of->arena, of->length, sizeof(double));
    if (correlation == NULL || !gw_fft_inverse(of->fft, re, im, correlation))
        return NAN;
    size_t best = 0;
    for (size_t i = 0; i < of->length; i++)
        if (fabs(correlation[i]) > fabs(correlation[best]))
            best = i;
    double lag = best <= of->length / 2 ? (double)best : (double)best - (double)of->length;
    for (size_t k = 0; k < of->bins; k++) {
        double turn = 6.283185307179586 * fmod((double)k * lag, (double)of->length) / (double)of->length;
        double c = cos(turn), s = sin(turn), a = of->to_re[k], b = of->to_im[k];
        of->to_re[k] = a * c - b * s;
        of->to_im[k] = a * s + b * c;
    }
    return lag;
}

typedef struct sums {
    double from, to, re, im; /* |X|², |Y|², Y X* */
    size_t bins;
} sums;

static sums sum_band(const pair *of, double low_hz, double high_hz) {
    sums out = {0};
    double bin_hz = of->rate_hz / (double)of->length;
    for (size_t k = (size_t)ceil(low_hz / bin_hz); k < of->bins && (double)k * bin_hz < high_hz; k++) {
        double a = of->from_re[k], b = of->from_im[k], c = of->to_re[k], d = of->to_im[k];
        out.from += a * a + b * b;
        out.to += c * c + d * d;
        out.re += c * a + d * b;
        out.im += d * a - c * b;
        out.bins++;
    }
    return out;
}

/* Coherence that a band must show: that of strangers in n independent bins exceeds c with the probability (1-c)^(n-1)
 * (Bendat & Piersol; Carter 1987). One bin alone is as coherent with whatever it is held against. */
static double least_coherence(const pair *of, const sums *at) {
    double independent = (double)at->bins * of->share;
    return independent <= 1.5 ? INFINITY : fmax(coherence_least, 1 - pow(chance, 1 / (independent - 1)));
}

/* RMS without DC of the samples while there is something: from the first to the last that reaches a tenth of the
 * highest. */
static double rms_while_it_lasts(const double *samples, size_t count) {
    double sum = 0, squares = 0, most = 0;
    for (size_t i = 0; i < count; i++)
        sum += samples[i];
    double mean = count > 0 ? sum / (double)count : 0;
    for (size_t i = 0; i < count; i++)
        most = fmax(most, fabs(samples[i] - mean));
    size_t first = 0, last = count;
    while (first < count && fabs(samples[first] - mean) < 0.1 * most)
        first++;
    while (last > first && fabs(samples[last - 1] - mean) < 0.1 * most)
        last--;
    for (size_t i = first; i < last; i++)
        squares += (samples[i] - mean) * (samples[i] - mean);
    return last > first ? sqrt(squares / (double)(last - first)) : 0;
}

/* Lines where the stimulus is strong enough (Bendat & Piersol for the uncertainty: variance of an H1 estimate's
 * magnitude (1 - γ²)/(2 γ² n) relative, of n independent bins); `all` has room for every band. */
static void make_lines(const pair *of, sums *all, size_t bands, gw_response *out) {
    double strongest = 0, ratio = exp2(0.5 / bands_per_octave);
    for (size_t i = 0; i < bands; i++) {
        double middle = lowest_hz * exp2((double)i / bands_per_octave);
        all[i] = sum_band(of, middle / ratio, middle * ratio);
        strongest = fmax(strongest, all[i].from);
    }
    for (size_t i = 0; i < bands; i++) {
        const sums *at = &all[i];
        double cross = at->re * at->re + at->im * at->im;
        if (!(at->from > energy_share * strongest) || !(at->to > 0) ||
            cross < least_coherence(of, at) * at->from * at->to)
            continue;
        double coherence = fmin(cross / (at->from * at->to), 1), independent = (double)at->bins * of->share;
        out->lines[out->count++] =
            (gw_response_line){.frequency_hz = lowest_hz * exp2((double)i / bands_per_octave),
                               .gain = sqrt(cross) / at->from,
                               .coherence = coherence,
                               .u95 = 2 * sqrt((1 - coherence) / (2 * coherence * fmax(independent, 1)))};
    }
}

static bool run(pair *of, size_t samples, bool one_capture, gw_response **out, gw_error *error) {
    double octaves = log2(0.5 * of->rate_hz / lowest_hz);
    size_t bands = octaves > 0 ? (size_t)(octaves * bands_per_octave) : 0;
    double stimulus_rms = rms_while_it_lasts(of->from, samples);
    gw_fft_forward(of->fft, of->from, of->from_re, of->from_im);
    gw_fft_forward(of->fft, of->to, of->to_re, of->to_im);
    double lag = one_capture ? 0 : take_out_delay(of);
    gw_response *made = gw_response_new(bands);
    sums *all = gw_arena_array(of->arena, bands + 1, sizeof *all);
    if (isnan(lag) || made == NULL || all == NULL) {
        gw_response_free(made);
        return gw_error_memory(error);
    }
    made->delay_s = lag / of->rate_hz;
    make_lines(of, all, bands, made);
    made->stimulus_rms = stimulus_rms;
    if (made->count < 2)
        *made = (gw_response){.lines = made->lines, .arena = made->arena};
    else
        gw_response_finish(made);
    *out = made;
    return true;
}

bool gw_response_run(const gw_capture *stimulus, size_t from, const gw_capture *capture, size_t to, gw_response **out,
                     gw_error *error) {
    pair of = {0};
    *out = NULL;
    bool fine = fit_each_other(stimulus, capture, error) && room_make(stimulus, capture, &of, error) &&
                fetch(stimulus, from, &of, of.from, error) && fetch(capture, to, &of, of.to, error) &&
                run(&of, (size_t)stimulus->samples, stimulus == capture, out, error);
    gw_fft_free(of.fft);
    gw_arena_free(of.arena);
    return fine;
}
