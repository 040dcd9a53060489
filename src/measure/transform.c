#include "measure/transform.h"

#include "base/lanes.h"

#include <math.h>

static const double two_pi = 6.283185307179586476925;

void gw_twiddles_fill(double *cosines, double *sines, size_t size) {
    for (size_t half = 1; half < size; half *= 2)
        for (size_t k = 0; k < half; k++) {
            double turn = two_pi * (double)k / (double)(2 * half);
            cosines[half + k] = cos(turn);
            sines[half + k] = sin(turn);
        }
}

size_t gw_turned_next(size_t index, size_t size) {
    size_t bit = size >> 1;
    for (; index & bit; bit >>= 1)
        index ^= bit;
    return index | bit;
}

/* One stage's butterflies on a pair of halves. */
static inline void butterflies(const double *restrict cosines, const double *restrict sines, size_t half,
                               double *restrict re, double *restrict im, double *restrict re_other,
                               double *restrict im_other) {
#pragma omp simd
    for (size_t k = 0; k < half; k++) {
        double c = re_other[k] * cosines[k] + im_other[k] * sines[k],
               s = im_other[k] * cosines[k] - re_other[k] * sines[k];
        re_other[k] = re[k] - c;
        im_other[k] = im[k] - s;
        re[k] += c;
        im[k] += s;
    }
}

GW_WIDE void gw_transform_run(const double *cosines, const double *sines, size_t size, double *re, double *im) {
    for (size_t half = 1; half < size; half *= 2)
        for (size_t at = 0; at < size; at += 2 * half)
            butterflies(cosines + half, sines + half, half, re + at, im + at, re + at + half, im + at + half);
}
