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

/* The delay between the samples where the difference is least, by a parabola. */
static double between(const double *d, size_t k) {
    double bend = d[k - 1] - 2 * d[k] + d[k + 1];
    return (double)k + (bend > 0 ? 0.5 * (d[k - 1] - d[k + 1]) / bend : 0);
}

static double least_delay(const double *d, size_t first, size_t last) {
    double best = 1;
    for (size_t k = first; k <= last; k++)
        best = fmin(best, d[k]);
    if (best > repeat_most)
        return 0;
    for (size_t k = first; k <= last; k++)
        if (d[k] <= repeat_factor * best + repeat_floor && d[k] <= d[k - 1] && d[k] <= d[k + 1])
            return between(d, k);
    return 0;
}

bool gw_search_period(const gw_block *block, double least, double most, double *cycles) {
    *cycles = 0;
    double *x = malloc(2 * (POINTS_MAX + 2) * sizeof *x);
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
        double delay = least_delay(d, first, last);
        double whole = (double)(block->count / ((block->count + POINTS_MAX - 1) / POINTS_MAX));
        *cycles = delay > 0 ? whole / delay : 0;
        /* the averages leave a rest of the record out */
        double group = (double)((block->count + POINTS_MAX - 1) / POINTS_MAX);
        *cycles *= (double)block->count / (whole * group);
    }
    free(x);
    return true;
}
