/* The period of any waveform, however many harmonics it has: the least delay after which the record repeats.
 *
 * Difference function over its own energy, after de Cheveigné & Kawahara 2002, "YIN, a fundamental frequency estimator
 * for speech and music", J. Acoust. Soc. Am. 111, equations 6 and 8. */
#include "measure/coarse.h"

#include <math.h>
#include <stdlib.h>

enum { POINTS_MAX = 1024 };

/* How far above the best a shorter delay may stay and still be the period: noise and part samples make that much. A
 * fundamental 20 dB under its second harmonic makes 2 %. */
static const double repeat_floor = 0.003, repeat_factor = 2, repeat_most = 0.35;

/* Averages of neighbours, mean taken out; missing samples hold the mean. Returns the number. */
static size_t shrink(const gw_block *block, double *out) {
    size_t group = (block->count + POINTS_MAX - 1) / POINTS_MAX, count = block->count / group;
    double mean = 0;
    size_t present = 0;
    for (size_t i = 0; i < block->count; i++)
        if (!block->marks || !block->marks[i]) {
            mean += block->volts[i];
            present++;
        }
    mean /= fmax((double)present, 1);
    for (size_t k = 0; k < count; k++) {
        out[k] = 0;
        for (size_t i = k * group; i < (k + 1) * group; i++)
            if (!block->marks || !block->marks[i])
                out[k] += (block->volts[i] - mean) / (double)group;
    }
    return count;
}

/* How unlike the record is to itself `delay` later: 0 alike, 1 not at all. Where hardly anything of the signal's energy
 * lies in the part compared nothing can be said: 1. */
static double unlike(const double *x, size_t count, size_t delay, double power) {
    double difference = 0, energy = 0;
#pragma omp simd reduction(+ : difference, energy)
    for (size_t i = 0; i < count - delay; i++) {
        double d = x[i] - x[i + delay];
        difference += d * d;
        energy += x[i] * x[i] + x[i + delay] * x[i + delay];
    }
    return energy > 0.3 * 2 * power * (double)(count - delay) ? difference / energy : 1;
}

/* The same for a delay between samples beside one that says something, by straight lines between them. */
static double unlike_between(const double *x, size_t count, double delay) {
    size_t whole = (size_t)delay;
    double part = delay - (double)whole, difference = 0, energy = 0;
    for (size_t i = 0; i + whole + 1 < count; i++) {
        double later = (1 - part) * x[i + whole] + part * x[i + whole + 1], d = x[i] - later;
        difference += d * d;
        energy += x[i] * x[i] + later * later;
    }
    return energy > 0 ? difference / energy : 1;
}

typedef struct valley {
    double delay, depth;
} valley;

enum { PARTS = 8 };

/* The bottom of a local minimum, to an eighth of a sample: edges that fall between samples are unlike by as much as a
 * wrong octave. */
static valley valley_at(const double *x, size_t count, size_t k, double depth) {
    valley out = {.delay = (double)k, .depth = depth};
    for (int part = -PARTS; part <= PARTS; part++) {
        double delay = (double)k + (double)part / PARTS, here = unlike_between(x, count, delay);
        if (here < out.depth)
            out = (valley){.delay = delay, .depth = here};
    }
    return out;
}

/* The least delay at which the record is about as like itself as at the best of all. 0 where it never is. */
static double least_delay(const double *x, size_t count, const double *d, size_t first, size_t last) {
    double least = 1, best = 1;
    for (size_t k = first; k <= last; k++)
        least = fmin(least, d[k]);
    /* only minima that may matter are worth a closer look */
    double worth = 4 * least + 0.05;
    for (size_t k = first; k <= last && least < repeat_most; k++)
        if (d[k] <= worth && d[k] <= d[k - 1] && d[k] <= d[k + 1])
            best = fmin(best, valley_at(x, count, k, d[k]).depth);
    for (size_t k = first; k <= last && least < repeat_most; k++) {
        if (d[k] > worth || d[k] > d[k - 1] || d[k] > d[k + 1])
            continue;
        valley v = valley_at(x, count, k, d[k]);
        if (v.depth <= repeat_factor * best + repeat_floor)
            return v.delay;
    }
    return 0;
}

bool gw_search_period(const gw_block *block, double least, double most, double *cycles) {
    *cycles = 0;
    double *x = malloc(2 * sizeof *x * (POINTS_MAX + 2));
    if (!x)
        return false;
    double *d = x + POINTS_MAX + 2, power = 0;
    size_t count = shrink(block, x);
    for (size_t i = 0; i < count; i++)
        power += x[i] * x[i] / (double)count;
    size_t first = (size_t)fmax(2, floor((double)count / most)), last = (size_t)ceil((double)count / least);
    if (count >= 16 && power > 0 && first + 2 < last && last + 2 < count) {
        for (size_t k = first - 1; k <= last + 1; k++)
            d[k] = unlike(x, count, k, power);
        double delay = least_delay(x, count, d, first, last);
        size_t group = (block->count + POINTS_MAX - 1) / POINTS_MAX; /* samples a point */
        *cycles = delay > 0 ? (double)block->count / (delay * (double)group) : 0;
    }
    free(x);
    return true;
}
