/* Harmonics, THD, THD+N, SINAD, signal to noise. */
#include "measure/certain.h"
#include "measure/work.h"

#include <math.h>
#include <stdlib.h>

enum { ORDER_FIRST = 2, ORDER_LAST = 10 };

static const double two_pi = 6.283185307179586476925;

/* A harmonic counts as there when noise would show as much once in 160,000 times its order (chi-square with two degrees
 * of freedom; there may be hundreds), and the steps, at their worst offset and peak, would not: all terms of the
 * rounding quantiser's Bessel series in line give 4.8 times their root mean square. */
static const double resolved_over = 24, steps_worst = 4.8;

/* One line with the variance of either of its coefficients, noise and steps together; by noise alone. */
typedef struct estimate {
    double cosine, sine, variance, noise;
} estimate;

static estimate line_estimate(const gw_work *work, int order) {
    const gw_fit *fit = &work->model->fit;
    size_t line = gw_fit_find(fit, order, 0, 0);
    /* a top of share w that is e too high shifts a line by 2 w e at most, along one phase */
    double codes = 0.5 * work->u_code * work->u_code + 2 * work->u_level * work->u_level;
    if (line < fit->line_count) {
        double u = gw_work_line_noise(work, line);
        return (estimate){fit->lines[line].cosine, fit->lines[line].sine, u * u + codes, u * u};
    }
    gw_candidate candidate = gw_fit_candidate(fit, order * fit->base[GW_BASE_SIGNAL]);
    double share = fmax(candidate.share, 1e-6), cycles = fit->base[GW_BASE_SIGNAL] * (double)fit->count;
    /* of noise that rises to low frequencies, what is beside the line counts */
    double around = work->model->coloured ? gw_noise_around(fit, order * cycles, cycles) : 0;
    double noise = fmax(work->model->variance, around) * 2 / (share * (double)fit->present);
    return (estimate){candidate.cosine, candidate.sine, noise + codes, noise};
}

static double power_of(const estimate *e) {
    return e->cosine * e->cosine + e->sine * e->sine;
}

static bool resolved(const gw_work *work, const estimate *e, int order) {
    return sqrt(power_of(e)) > sqrt((resolved_over + 2 * log(order)) * e->noise) + steps_worst * work->u_steps;
}

/* Phase of the cosine at the first sample, -pi..pi. */
static double phase_first(const gw_work *work, const estimate *e, int order) {
    double start = -0.5 * (double)(work->block->count - 1) * order * work->model->fit.base[GW_BASE_SIGNAL];
    double phase = atan2(-e->sine, e->cosine) + two_pi * (start - floor(start));
    return phase - two_pi * floor(phase / two_pi + 0.5);
}

/* 95 % of the amplitudes that two normal coefficients around zero make lie within 2.45 of their standard deviation
 * (Rayleigh's distribution): the factor where nothing stands out. */
static const double rayleigh_95 = 2.448;

static void harmonic_fill(const gw_work *work, int order, gw_harmonic *out) {
    estimate e = line_estimate(work, order);
    double rms = sqrt(0.5 * power_of(&e)), u = hypot(sqrt(0.5 * e.variance), work->u_jumps_line);
    bool there = resolved(work, &e, order);
    *out = (gw_harmonic){.order = order,
                         .frequency_hz = order * work->model->fit.base[GW_BASE_SIGNAL] * work->block->rate_hz,
                         .rms = rms,
                         .u_random = u,
                         .u95 = hypot((there ? 2 : rayleigh_95) * u, 2 * rms * work->accuracy / sqrt(3)),
                         .phase_rad = phase_first(work, &e, order),
                         .resolved = there};
}

/* The fundamental, and orders below half the sample rate by half a line and more: nearer, one of a line's two phases
 * vanishes. */
static int orders_below_nyquist(const gw_fit *fit) {
    int below = (int)ceil((0.5 - 0.5 / (double)fit->count) / fit->base[GW_BASE_SIGNAL]) - 1;
    return below > 1 ? below : 1;
}

static int highest_order(const gw_work *work) {
    const gw_fit *fit = &work->model->fit;
    int highest = ORDER_LAST;
    for (size_t k = 0; k < fit->line_count; k++)
        if (fit->lines[k].multiple[GW_BASE_SIGNAL] > highest)
            highest = fit->lines[k].multiple[GW_BASE_SIGNAL];
    int nyquist = orders_below_nyquist(fit);
    return highest < nyquist ? highest : nyquist;
}

static bool harmonics_fill(gw_work *work) {
    int highest = highest_order(work);
    work->out->harmonics = gw_arena_array(work->out->arena, (size_t)highest, sizeof *work->out->harmonics);
    if (!work->out->harmonics)
        return gw_error_memory(work->error);
    work->out->harmonic_count = (size_t)highest;
    for (int order = 1; order <= highest; order++)
        harmonic_fill(work, order, &work->out->harmonics[order - 1]);
    return true;
}

static bool sine_meant(const gw_work *work) {
    gw_shape shape = work->options->stimulus.shape;
    return shape == GW_SHAPE_SINE || work->options->sine_expected || work->out->signal == GW_SIGNAL_SINE;
}

/* Σ of squares of harmonics 2..10 in the band, of their variances, and of what both make uncertain. */
typedef struct sum {
    double power, bias, variance;
    int orders;
    bool resolved;
} sum;

static sum harmonics_sum(const gw_work *work) {
    sum out = {0};
    double top = work->options->band_high_hz > 0 ? work->options->band_high_hz : 20000;
    for (size_t k = ORDER_FIRST - 1; k < work->out->harmonic_count && k < ORDER_LAST; k++) {
        const gw_harmonic *h = &work->out->harmonics[k];
        /* a signal above the audio band still has distortion */
        if (h->frequency_hz > top && work->out->harmonics[0].frequency_hz * ORDER_FIRST <= top)
            break;
        double s = h->u_random * h->u_random;
        out.power += h->rms * h->rms;
        out.bias += 2 * s;
        out.variance += 4 * s * h->rms * h->rms;
        out.orders++;
        out.resolved = out.resolved || h->resolved;
    }
    return out;
}

static void thd_read(gw_work *work) {
    if (!sine_meant(work)) {
        gw_work_none(work, GW_THD, "the signal is no sine");
        return;
    }
    sum s = harmonics_sum(work);
    double first = work->out->harmonics[0].rms;
    if (!s.orders || !(first > 0)) {
        gw_work_none(work, GW_THD, "no harmonic lies below half the sample rate");
        return;
    }
    double power = fmax(s.power - s.bias, 0);
    if (s.resolved && power > 0) {
        double value = sqrt(power) / first;
        gw_work_value(work, GW_THD, value, 0.5 * sqrt(s.variance) / (first * sqrt(power)), false);
        return;
    }
    double bound = sqrt(power + 2 * sqrt(s.variance + s.bias * s.bias)) / first;
    if (bound > 0)
        gw_work_below(work, GW_THD, bound,
                      work->block->step / sqrt(12) > 0.5 * work->noise_v ? "limited by the capture's resolution"
                                                                         : "limited by the noise");
    else
        gw_work_none(work, GW_THD, "nothing but the fundamental, nor a known resolution");
}

/* Standard uncertainty of all the rest, relative, from which on it says nothing. */
static const double hum_unknown = 0.5;
static const char hum_untold[] = "the record is too short to tell how much hum is in it";

static bool in_band(const gw_work *work, double frequency_hz) {
    return frequency_hz >= work->out->band_low_hz && frequency_hz <= work->out->band_high_hz;
}

static bool is_rest(const gw_work *work, const gw_sinusoid *line) {
    (void)work;
    return line->multiple[GW_BASE_SIGNAL] != 1 || line->multiple[GW_BASE_SECOND];
}

/* Hum that the record is too short to resolve, but may hold. */
static bool hum_unsure(const gw_work *work) {
    return work->model->mains_hidden || work->model->hum_possible;
}

/* Hum of too small a part of a cycle to be in the model is hum all the same; the model has no frequency of it. */
static double line_hz(const gw_work *work, const gw_sinusoid *line) {
    int of_mains = line->multiple[GW_BASE_MAINS];
    if (of_mains != 0 && !(work->model->fit.base[GW_BASE_MAINS] > 0))
        return of_mains * (work->options->mains_hz > 0 ? work->options->mains_hz : 50);
    return gw_fit_frequency(&work->model->fit, line) * work->block->rate_hz;
}

/* Hum is in the band wherever the band as wanted holds the mains: a record too short to show the band's lower end is
 * full of it none the less. */
static bool is_rest_in_band(const gw_work *work, const gw_sinusoid *line) {
    double frequency_hz = line_hz(work, line);
    bool hum = line->multiple[GW_BASE_MAINS] && hum_unsure(work) && frequency_hz <= work->out->band_high_hz &&
               frequency_hz >= gw_work_band_wanted(work).low_hz;
    return is_rest(work, line) && (hum || in_band(work, frequency_hz));
}

static bool thd_n_read(gw_work *work) {
    double lines, u_lines;
    if (!gw_work_power(work, is_rest_in_band, &lines, &u_lines))
        return false;
    u_lines = sqrt(u_lines);
    if (!sine_meant(work) || !work->noise.valid) {
        gw_work_none(work, GW_THD_N, sine_meant(work) ? "too short a record for its noise" : "the signal is no sine");
        return true;
    }
    double noise = work->noise.rms * work->noise.rms;
    lines += work->tones_v * work->tones_v;
    double own = gw_work_steps_power(work, noise);
    double first = work->out->harmonics[0].rms, rest = lines + noise, all = rest + first * first;
    if (!(all > 0) || !(rest > 0)) {
        gw_work_none(work, GW_THD_N, "nothing but the fundamental, nor a known resolution");
        return true;
    }
    double u_rest = hypot(2 * noise * work->noise.relative, hypot(u_lines, work->tones_u));
    if (hum_unsure(work) && u_rest > hum_unknown * rest) {
        gw_work_none(work, GW_THD_N, hum_untold);
        return true;
    }
    if (rest < 2 * own) {
        gw_work_below(work, GW_THD_N, sqrt((rest + 2 * u_rest) / all), "limited by the capture's resolution");
        return true;
    }
    double with_steps = sqrt(rest / all);
    own = fmin(own, noise); /* the lines are the signal's */
    rest -= own;
    all -= own;
    double value = sqrt(rest / all);
    /* d√(r/(r+f)) = ½·f/(r+f)·dr/√(r(r+f)); the record's has the steps' error in it, the signal's has not */
    double u = 0.5 * first * first / all * u_rest / sqrt(rest * all) + 0.5 * (with_steps - value);
    gw_work_value(work, GW_THD_N, value, u, false);
    return true;
}

static bool sinad_read(gw_work *work) {
    double lines, u_lines;
    if (!gw_work_power(work, is_rest, &lines, &u_lines))
        return false;
    u_lines = sqrt(u_lines);
    double noise = work->model->variance, rest = lines + noise;
    double first = work->out->harmonics[0].rms;
    double spare = (double)work->model->fit.present - (double)work->model->fit.unknowns;
    bool there = work->out->harmonics[0].resolved;
    if (!(rest > 0) || spare < 1 || !there) {
        gw_work_none(work, GW_SINAD, there ? "nothing but the fundamental" : "the fundamental is not above the noise");
        return true;
    }
    double u_rest = hypot(noise * sqrt(2 / spare), u_lines) / rest;
    if (hum_unsure(work) && u_rest > hum_unknown) {
        gw_work_none(work, GW_SINAD, hum_untold);
        return true;
    }
    double value = first / sqrt(rest);
    double u = value * hypot(0.5 * u_rest, work->out->harmonics[0].u_random / first);
    /* the record's (IEEE Std 1057), steps included: the signal's own is better by what they make of the rest */
    double steps = work->block->step * work->block->step / 12;
    if (steps < 0.5 * rest)
        u += 0.5 * (first / sqrt(rest - steps) - value);
    gw_work_value(work, GW_SINAD, value, u, false);
    return true;
}

static void snr_read(gw_work *work) {
    const gw_reading *level = &work->out->values[GW_LEVEL], *noise = &work->out->values[GW_NOISE];
    if (level->state != GW_READING_VALUE || work->out->signal == GW_SIGNAL_NOISE)
        gw_work_none(work, GW_SNR, "no signal above the noise");
    else if (noise->state != GW_READING_VALUE || !(noise->value > 0))
        gw_work_none(work, GW_SNR, noise->why ? noise->why : "no noise");
    else
        gw_work_value(
            work, GW_SNR, level->value / noise->value,
            level->value / noise->value * hypot(level->u_random / level->value, noise->u_random / noise->value), false);
}

static const gw_reading_key of_a_sine[] = {GW_THD, GW_THD_N, GW_SINAD};

bool gw_work_distortion(gw_work *work) {
    snr_read(work);
    if (!work->model->tone || work->model->two_tone) {
        for (size_t k = 0; k < sizeof of_a_sine / sizeof *of_a_sine; k++)
            gw_work_none(work, of_a_sine[k], work->model->tone ? "two tones" : "no periodic signal");
        return true;
    }
    if (!harmonics_fill(work))
        return false;
    thd_read(work);
    return thd_n_read(work) && sinad_read(work);
}
