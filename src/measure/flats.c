#include "flats.h"

#include "flanks.h"
#include "plateau.h"
#include "solve.h"
#include "sums.h"
#include "sweep.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double pi = 3.14159265358979323846;
enum { UNKNOWNS = 3, FLANKS_AT_LEAST = 8, CREST_AT_LEAST = 4, ROUNDS = 3, LEVEL_ROUNDS = 30, NOISE_PAIRS = 60 };

/* Less than this is no chance. */
static const double one_code_by_chance = 1e-4;
/* Common practice: of the swing, what is left out at either end when the flanks are fitted; where the crest begins, of
 * the amplitude. */
static const double flank_margin = 0.08, crest_from = 0.6;
/* What the flat top must show beyond the sine that the flanks foretell. */
static const double excess_steps = 0.75, excess_deviations = 5, excess_least = 5e-4;

double gw_flats_sine_run(double amplitude, double step, double frequency_hz, double rate_hz) {
    if (!(amplitude > 0) || !(frequency_hz > 0))
        return 1;
    double within = acos(fmax(1 - step / amplitude, -1)); /* half the angle within a step of the crest */
    return fmax(ceil(2 * within * rate_hz / (2 * pi * frequency_hz)), 1);
}

/* ---- the sine that the flanks foretell --------------------------------------------------------------- */

/* Everything for one polarity; `volts` are turned over for the lower one, so that "top" is always the end looked at. */
typedef struct flank {
    const gw_flats_input *in;
    double sign;
    double *cosine, *sine; /* at the fundamental, n each */
    double *foretold;      /* n: the sine of the flanks */
    double top, bottom;    /* highest and lowest sample */
    double amplitude, centre;
    double u_crest; /* standard uncertainty of centre + amplitude */
    size_t fitted;
    bool fits;
} flank;

static bool present(const gw_flats_input *in, size_t i) {
    return !in->marks || in->marks[i] == GW_SAMPLE_PRESENT;
}

static double value_at(const flank *f, size_t i) {
    return f->sign * f->in->volts[i];
}

static void fill_basis(const gw_flats_input *in, double *cosine, double *sine) {
    double frequency = in->frequency_hz / in->rate_hz;
    memset(cosine, 0, in->n * sizeof *cosine);
    memset(sine, 0, in->n * sizeof *sine);
    gw_sweep_add(cosine, in->n, frequency, 1, 0);
    gw_sweep_add(sine, in->n, frequency, 0, 1);
}

static gw_flanks_of flanks_of(const flank *f, const double *by) {
    return (gw_flanks_of){.volts = f->in->volts,
                          .cosine = f->cosine,
                          .sine = f->sine,
                          .by = by,
                          .marks = f->in->marks,
                          .count = f->in->n,
                          .sign = f->sign};
}

/* Least squares over the samples whose `judged` value lies on the flanks. Chosen by what is foretold, not by the
 * samples themselves, noise does not bend the fit; only the first round has nothing better. */
static bool fit_flanks(flank *f, const double *judged) {
    double swing = f->top - f->bottom, margin = fmax(flank_margin * swing, 3 * f->in->noise_v);
    gw_flanks_of of = flanks_of(f, judged);
    gw_flanks sums;
    gw_flanks_sum(&of, f->bottom + margin, f->top - margin, &sums);
    double matrix[UNKNOWNS * UNKNOWNS] = {sums.count, 0, 0, sums.c, sums.cc, 0, sums.s, sums.cs, sums.ss};
    double right[UNKNOWNS] = {sums.x, sums.xc, sums.xs}, inverse[UNKNOWNS * UNKNOWNS];
    f->fitted = (size_t)sums.count;
    if (f->fitted < FLANKS_AT_LEAST || !gw_solve_factor(matrix, UNKNOWNS, 1e-6))
        return false;
    double x[UNKNOWNS] = {right[0], right[1], right[2]};
    gw_solve_back(matrix, UNKNOWNS, x);
    gw_solve_inverse(matrix, UNKNOWNS, inverse);
    double left = sums.xx - x[0] * right[0] - x[1] * right[1] - x[2] * right[2];
    double variance = fmax(left, 0) / ((double)f->fitted - UNKNOWNS);
    f->centre = x[0];
    f->amplitude = hypot(x[1], x[2]);
    if (!(f->amplitude > 0))
        return false;
    double slope[UNKNOWNS] = {1, x[1] / f->amplitude, x[2] / f->amplitude}, spread = 0;
    for (int p = 0; p < UNKNOWNS; p++)
        for (int q = 0; q < UNKNOWNS; q++)
            spread += slope[p] * slope[q] * inverse[p * UNKNOWNS + q];
    f->u_crest = sqrt(fmax(variance * spread, 0));
    gw_flanks_foretell(&of, x[0], x[1], x[2], f->foretold);
    return true;
}

/* ---- the crest ---------------------------------------------------------------------------------------- */

/* Mean of the samples at the times for which the sine is foretold above `level`, and how many. */
static double mean_above(const flank *f, double level, size_t *count) {
    gw_flanks_of of = flanks_of(f, f->foretold);
    double sum = gw_flanks_above(&of, level, count);
    return *count ? sum / (double)*count : level;
}

/* Where a flat top stands: the level that equals the mean of the samples foretold above it. On a healthy sine that runs
 * up to the crest itself, where nothing is above. */
static double settle_level(const flank *f, size_t *count) {
    double level = f->top;
    for (int i = 0; i < LEVEL_ROUNDS; i++) {
        double mean = mean_above(f, level, count);
        if (*count == 0 || fabs(mean - level) < 1e-9 * f->amplitude)
            break;
        level = mean;
    }
    mean_above(f, level, count);
    return level;
}

/* How well three tales explain the crest: the sine of the flanks, that sine cut flat, and one bent smoothly (a parabola
 * of what is foretold): sums of squares per degree of freedom. */
typedef struct tales {
    double straight, flat, bent;
    size_t count;
} tales;

/* Sums over the crest for the parabola's normal equations, and of the squares of the other two. */
static tales sum_crest(const flank *f, double level, double *matrix, double *right, double *squares) {
    tales t = {0};
    for (size_t i = 0; i < f->in->n; i++) {
        double p = (f->foretold[i] - f->centre) / f->amplitude;
        if (!present(f->in, i) || p < crest_from)
            continue;
        double rest = value_at(f, i) - f->foretold[i], flat = value_at(f, i) - fmin(f->foretold[i], level);
        double row[UNKNOWNS] = {1, p, p * p};
        for (int a = 0; a < UNKNOWNS; a++) {
            right[a] += row[a] * rest;
            for (int b = 0; b <= a; b++)
                matrix[a * UNKNOWNS + b] += row[a] * row[b];
        }
        *squares += rest * rest;
        t.flat += flat * flat;
        t.count++;
    }
    t.straight = *squares;
    return t;
}

static tales tell_crest(const flank *f, double level) {
    double matrix[UNKNOWNS * UNKNOWNS] = {0}, right[UNKNOWNS] = {0}, squares = 0;
    tales t = sum_crest(f, level, matrix, right, &squares);
    if (t.count <= CREST_AT_LEAST || !gw_solve_factor(matrix, UNKNOWNS, 1e-9))
        return (tales){0};
    gw_solve_forward(matrix, UNKNOWNS, right);
    for (int p = 0; p < UNKNOWNS; p++)
        squares -= right[p] * right[p];
    double count = (double)t.count;
    t.straight /= count;
    t.flat /= count - 1;
    t.bent = fmax(squares, 0) / (count - UNKNOWNS);
    return t;
}

static bool is_recorder(const flank *f, double level) {
    const gw_flats_input *in = f->in;
    if (in->low_end == 0 && in->high_end == 0)
        return false;
    double end = f->sign > 0 ? in->high_end : -in->low_end;
    double close = fmax(1.5 * in->step, 1e-6 * (in->high_end - in->low_end));
    return level >= end - close - in->noise_v;
}

/* Noise that the flanks show between one sample and the next, without that of quantisation (a step over the root of
 * twelve); volts. Between two samples a sine that is bent a little moves as one that is not. */
static double flank_noise(const flank *f) {
    double margin = flank_margin * (f->top - f->bottom), squares = 0;
    size_t pairs = 0;
    for (size_t i = 0; i + 1 < f->in->n; i++) {
        if (!present(f->in, i) || !present(f->in, i + 1) ||
            fmin(f->foretold[i], f->foretold[i + 1]) < f->bottom + margin ||
            fmax(f->foretold[i], f->foretold[i + 1]) > f->top - margin)
            continue;
        double one = value_at(f, i) - f->foretold[i], other = value_at(f, i + 1) - f->foretold[i + 1];
        squares += (one - other) * (one - other) / 2;
        pairs++;
    }
    if (pairs < NOISE_PAIRS)
        return 0;
    /* von Neumann's mean square of n successive differences has a variance of 3/n of its square */
    double sure = squares / (double)pairs * (1 - 3 * sqrt(3 / (double)pairs));
    return sqrt(fmax(sure - f->in->step * f->in->step / 12, 0));
}

/* A circuit's flat top carries noise like the flanks, a screen's edge is one code to the last sample: told where that
 * many samples of such noise would all fall into one code by no chance. */
static bool is_one_code(const flank *f, double level) {
    double noise = f->in->step > 0 ? flank_noise(f) : 0, clear = level + 2 * f->in->step + 3 * noise;
    size_t flat = 0;
    if (!(noise > 0))
        return false;
    for (size_t i = 0; i < f->in->n; i++) {
        if (!present(f->in, i) || f->foretold[i] < clear)
            continue;
        if (value_at(f, i) < f->top - 0.5 * f->in->step)
            return false;
        flat++;
    }
    return (double)flat * log(erf(f->in->step / 2 / noise / sqrt(2))) < log(one_code_by_chance);
}

static size_t count_present(const gw_flats_input *in) {
    size_t count = 0;
    for (size_t i = 0; i < in->n; i++)
        count += present(in, i);
    return count;
}

/* How far the foretold sine stands over the level, as its crest: half as much again as the mean of the samples that lie
 * over it (two thirds of a parabola's height). Taken from samples, not from the crest between them: with few a period,
 * always at the same phases, none may show it. */
static double excess_over(const flank *f, double level) {
    gw_flanks_of of = flanks_of(f, f->foretold);
    size_t count;
    of.volts = f->foretold;
    of.sign = 1;
    double sum = gw_flanks_above(&of, level, &count);
    return count > 0 ? 1.5 * (sum / (double)count - level) : 0;
}

static bool stands_over(const flank *f, double level, size_t flat) {
    double excess = excess_over(f, level);
    double least = fmax(excess_steps * f->in->step, excess_deviations * f->u_crest);
    return flat >= CREST_AT_LEAST && excess >= fmax(least, excess_least * f->amplitude);
}

static bool cut_flat(const flank *f, double level) {
    tales t = tell_crest(f, level);
    double gained = (t.straight - t.flat) * (double)t.count;
    return t.count > 0 && gained > excess_deviations * excess_deviations * t.flat && t.flat <= 1.02 * t.bent;
}

static void flanks_fit(flank *f) {
    f->fits = fit_flanks(f, NULL);
    for (int i = 0; f->fits && i < ROUNDS; i++)
        f->fits = fit_flanks(f, f->foretold);
}

/* The other polarity's flanks are the same samples, and their sine the same turned over. */
static void flanks_turn(flank *f) {
    double top = f->top;
    f->sign = -f->sign;
    f->top = -f->bottom;
    f->bottom = -top;
    f->centre = -f->centre;
    for (size_t i = 0; f->fits && i < f->in->n; i++)
        f->foretold[i] = -f->foretold[i];
}

/* The polarity that `f->sign` says, of a sine. */
static gw_flat judge_sine(flank *f) {
    gw_flat none = {.level_v = f->sign * f->top};
    if (!f->fits)
        return none;
    size_t flat;
    double level = settle_level(f, &flat);
    if (!stands_over(f, level, flat))
        return none;
    bool screen = is_one_code(f, level); /* noise beside that edge makes round corners */
    if (!screen && !cut_flat(f, level))
        return none;
    return (gw_flat){.share = (double)flat / (double)count_present(f->in),
                     .level_v = f->sign * level,
                     .clipped = true,
                     .recorder = screen || is_recorder(f, level)};
}

/* ---- other shapes and the whole ------------------------------------------------------------------------ */

/* Overloaded samples count for the polarity of the nearest present one before them (behind, at the start). */
static size_t overloads(const flank *f) {
    const gw_flats_input *in = f->in;
    double middle = (f->top + f->bottom) / 2, last = 0;
    bool known = false;
    size_t count = 0, waiting = 0;
    for (size_t i = 0; in->marks && i < in->n; i++) {
        if (in->marks[i] == GW_SAMPLE_OVERLOAD) {
            waiting += !known;
            count += known && last > middle;
        } else if (in->marks[i] == GW_SAMPLE_PRESENT) {
            last = value_at(f, i);
            count += !known && last > middle ? waiting : 0;
            known = true;
        }
    }
    return count;
}

static void set_extremes(flank *f) {
    gw_extent all = gw_extent_of(f->in->volts, NULL, f->in->marks, f->in->n);
    f->top = all.high;
    f->bottom = all.low;
}

static gw_flat judge_side(flank *f) {
    if (!(f->top > f->bottom))
        return (gw_flat){.level_v = isfinite(f->top) ? f->sign * f->top : 0};
    size_t over = overloads(f);
    if (over > 0)
        return (gw_flat){
            .share = (double)over / (double)f->in->n, .level_v = f->sign * f->top, .clipped = true, .recorder = true};
    if (f->in->sine && f->in->frequency_hz > 0) {
        gw_flat found = judge_sine(f);
        if (found.clipped || f->fitted >= FLANKS_AT_LEAST)
            return found;
    }
    gw_flat found = gw_plateau_judge(f->in, f->sign, f->top, f->bottom);
    found.recorder = found.clipped && is_recorder(f, f->sign * found.level_v);
    return found;
}

bool gw_flats_find(const gw_flats_input *input, gw_flat *high, gw_flat *low) {
    *high = *low = (gw_flat){0};
    size_t n = input->n ? input->n : 1;
    double *space = n <= SIZE_MAX / sizeof(double) / 3 ? malloc(3 * n * sizeof *space) : NULL;
    if (!space)
        return false;
    fill_basis(input, space, space + n);
    flank f = {.in = input, .sign = 1, .cosine = space, .sine = space + n, .foretold = space + 2 * n};
    set_extremes(&f);
    if (input->sine && input->frequency_hz > 0 && f.top > f.bottom)
        flanks_fit(&f);
    *high = judge_side(&f);
    flanks_turn(&f);
    *low = judge_side(&f);
    free(space);
    return true;
}
