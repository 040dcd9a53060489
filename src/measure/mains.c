#include "mains.h"

#include "gainwalk/capture.h"
#include "robust.h"
#include "solve.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double pi = 3.14159265358979323846;

/* Multiples of the mains that supplies, rectifiers and stray fields put into a signal. */
static const int multiples[] = {1, 2, 3, 4, 6};
enum {
    MULTIPLES = sizeof multiples / sizeof *multiples,
    COLUMNS = 2 + 2 * MULTIPLES, /* constant, slope, cosines and sines */
    POINTS_MAX = 4096,           /* 4 s at the thinned rate */
    PLACEBOS = 14,
};
static const double thinned_rate_hz = 1000;
/* EN 50160: +-1 % during 99.5 % of the year; half as much again. */
static const double strays = 0.015;

/* The record below about 500 Hz: means of blocks of samples. */
typedef struct thinned {
    double *values, *times_s; /* only blocks with something present */
    size_t count;
    double duration_s, block_s;
} thinned;

/* What a comb explains. */
typedef struct comb {
    double frequency_hz;
    double explained; /* V^2, sum over the points, beyond constant and slope */
    double left;      /* V^2, sum over the points, that no column explains */
    int unknowns;     /* of the comb */
    double rms;
} comb;

static bool thin(const double *values, const unsigned char *marks, size_t n, double rate_hz, thinned *out) {
    size_t block = (size_t)fmax(floor(rate_hz / thinned_rate_hz), 1);
    size_t blocks = n / block < POINTS_MAX ? n / block : POINTS_MAX;
    *out = (thinned){.block_s = (double)block / rate_hz, .duration_s = (double)(blocks * block) / rate_hz};
    out->values = calloc(blocks + 1, sizeof *out->values);
    out->times_s = calloc(blocks + 1, sizeof *out->times_s);
    if (!out->values || !out->times_s)
        return false;
    for (size_t b = 0; b < blocks; b++) {
        double sum = 0;
        size_t here = 0;
        for (size_t i = b * block; i < (b + 1) * block; i++)
            if (!marks || marks[i] == GW_SAMPLE_PRESENT) {
                sum += values[i];
                here++;
            }
        if (here == 0)
            continue;
        out->values[out->count] = sum / (double)here;
        out->times_s[out->count++] = ((double)b + 0.5) * out->block_s - out->duration_s / 2;
    }
    return true;
}

static void free_thinned(thinned *record) {
    free(record->values);
    free(record->times_s);
}

/* The columns of one point; returns how many. */
static size_t columns_at(double time_s, double duration_s, double frequency_hz, double highest_hz, double *columns) {
    size_t count = 0;
    columns[count++] = 1;
    columns[count++] = 2 * time_s / duration_s;
    double c = cos(2 * pi * frequency_hz * time_s), s = sin(2 * pi * frequency_hz * time_s);
    double cosine = 1, sine = 0; /* of the multiple reached */
    for (int m = 0, order = 0; m < MULTIPLES && multiples[m] * frequency_hz < highest_hz; m++) {
        for (; order < multiples[m]; order++) {
            double turned = cosine * c - sine * s;
            sine = sine * c + cosine * s;
            cosine = turned;
        }
        columns[count++] = cosine;
        columns[count++] = sine;
    }
    return count;
}

/* Amplitude that block means leave of a sine. */
static double droop(double frequency_hz, double block_s) {
    double x = pi * frequency_hz * block_s;
    return x > 1e-9 ? sin(x) / x : 1;
}

/* Least squares of the comb: Cholesky's forward substitution gives what each column explains beyond those before it. */
static comb fit_comb(const thinned *record, double frequency_hz, double highest_hz) {
    double matrix[COLUMNS * COLUMNS] = {0}, right[COLUMNS] = {0}, columns[COLUMNS], total = 0;
    size_t order = columns_at(0, record->duration_s, frequency_hz, highest_hz, columns);
    comb result = {.frequency_hz = frequency_hz, .unknowns = (int)order - 2};
    for (size_t i = 0; i < record->count; i++) {
        columns_at(record->times_s[i], record->duration_s, frequency_hz, highest_hz, columns);
        total += record->values[i] * record->values[i];
        for (size_t p = 0; p < order; p++) {
            right[p] += columns[p] * record->values[i];
            for (size_t q = 0; q <= p; q++)
                matrix[p * order + q] += columns[p] * columns[q];
        }
    }
    result.left = total;
    if (!gw_solve_factor(matrix, order, 1e-9))
        return result;
    gw_solve_forward(matrix, order, right);
    for (size_t p = 0; p < order; p++) {
        result.left -= right[p] * right[p];
        result.explained += p < 2 ? 0 : right[p] * right[p];
    }
    result.left = fmax(result.left, 0);
    double share = result.explained / (double)(record->count ? record->count : 1);
    result.rms = sqrt(share) / droop(frequency_hz, record->block_s);
    return result;
}

/* The best of the combs around `nominal_hz`: a grid half the resolution apart for the highest multiple, then a
 * narrowing of the interval by halves. */
static comb best_comb(const thinned *record, double nominal_hz, double highest_hz) {
    double reach = strays * nominal_hz;
    double step = fmin(reach, 1 / (2 * multiples[MULTIPLES - 1] * record->duration_s));
    int steps = (int)ceil(reach / step);
    comb best = fit_comb(record, nominal_hz, highest_hz);
    for (int i = -steps; i <= steps; i++) {
        comb other = fit_comb(record, nominal_hz + reach * i / steps, highest_hz);
        best = other.explained > best.explained ? other : best;
    }
    for (double half = step / 2; half > step / 100; half /= 2) {
        double low = fmax(best.frequency_hz - half, nominal_hz - reach);
        double high = fmin(best.frequency_hz + half, nominal_hz + reach);
        comb below = fit_comb(record, low, highest_hz), above = fit_comb(record, high, highest_hz);
        best = below.explained > best.explained ? below : best;
        best = above.explained > best.explained ? above : best;
    }
    return best;
}

/* F statistic of the comb. */
static double f_of(const comb *c, size_t count) {
    double freedom = (double)count - c->unknowns - 2;
    if (freedom < 1 || c->explained <= 0)
        return 0;
    return c->left > 0 ? c->explained / c->unknowns / (c->left / freedom) : HUGE_VAL;
}

/* The standard normal deviate that is passed with probability p: Abramowitz & Stegun 26.2.23, error under 4.5e-4. */
static double normal_above(double p) {
    double t = sqrt(-2 * log(p));
    return t - (2.515517 + (0.802853 + 0.010328 * t) * t) / (1 + (1.432788 + (0.189269 + 0.001308 * t) * t) * t);
}

/* Whether F is beyond what noise reaches with probability p: F's cube root is nearly normal (Paulson 1942; Abramowitz &
 * Stegun 26.6.15). */
static bool beyond_chance(double f, double unknowns, double freedom, double p) {
    double a = 2 / (9 * unknowns), b = 2 / (9 * freedom), root = cbrt(f);
    return (root * (1 - b) - (1 - a)) / sqrt(a + root * root * b) > normal_above(p);
}

/* Whether the comb stands out of what combs explain where there is no mains. Their median is the scale: with noise
 * alone a comb of v unknowns is chi-square, whose 99.99 % point lies at 3.8 medians for v = 10, at 6.6 for 4. */
static bool stands_out(const thinned *record, const comb *c, double highest_hz) {
    static const double placebos_hz[PLACEBOS] = {31, 33, 35.5, 38, 41, 43, 45, 55, 56.5, 65, 67.5, 71, 73.5, 77};
    double explained[PLACEBOS];
    if (record->duration_s < 0.2)
        return true;
    for (int i = 0; i < PLACEBOS; i++)
        explained[i] = fit_comb(record, placebos_hz[i], highest_hz).explained;
    double factor = c->unknowns >= 8 ? 6 : 12;
    return c->explained > factor * gw_median(explained, PLACEBOS);
}

static gw_mains told(const comb *c, double nominal_hz, size_t count, bool found) {
    return (gw_mains){.found = found,
                      .nominal_hz = nominal_hz,
                      .frequency_hz = c->frequency_hz,
                      .rms = c->rms,
                      .significance = f_of(c, count)};
}

static gw_mains decide(const thinned *record, double highest_hz, double stated_hz, double false_alarm) {
    double nominal[2] = {stated_hz > 0 ? stated_hz : 50, 60};
    comb combs[2] = {[0] = best_comb(record, nominal[0], highest_hz)};
    int best = 0;
    if (stated_hz <= 0) {
        combs[1] = best_comb(record, nominal[1], highest_hz);
        best = combs[1].explained > combs[0].explained;
    }
    const comb *c = &combs[best];
    double freedom = (double)record->count - c->unknowns - 2;
    gw_mains none = {.nominal_hz = nominal[best]};
    if (freedom < 4 || c->unknowns == 0 || c->frequency_hz * record->duration_s < 1.97)
        return none;
    /* the search over frequencies tries several independent combs */
    double tried = 2 * (1 + 2 * strays * c->frequency_hz * multiples[MULTIPLES - 1] * record->duration_s);
    double f = fmin(f_of(c, record->count), 1e9);
    if (!beyond_chance(f, c->unknowns, freedom, false_alarm / tried) || !stands_out(record, c, highest_hz))
        return none;
    double other = stated_hz > 0 ? HUGE_VAL : combs[!best].left;
    double ratio = c->left > 0 ? log(other / c->left) : HUGE_VAL;
    return told(c, nominal[best], record->count, freedom / 2 * ratio > log(1000));
}

bool gw_mains_find(const double *residual, const unsigned char *marks, size_t n, double rate_hz, double stated_hz,
                   double false_alarm, gw_mains *out) {
    *out = (gw_mains){0};
    if (n == 0 || !(rate_hz > 0))
        return true;
    thinned record;
    bool made = thin(residual, marks, n, rate_hz, &record);
    if (made && record.count > 0) {
        double highest_hz = 0.5 / record.block_s;
        *out = decide(&record, highest_hz, stated_hz, false_alarm > 0 ? false_alarm : 1e-4);
    }
    free_thinned(&record);
    return made;
}
