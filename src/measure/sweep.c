#include "measure/sweep.h"

#include <math.h>

enum { BLOCK = 256, SEEDS = 16 };

static const double two_pi = 6.283185307179586476925;

/* cos and sin of 2πf·j for j = 0 … BLOCK-1: seeds exact, the rest by rotation, so that errors stay at a few ulp. */
static void table_fill(double *cosines, double *sines, double frequency) {
    for (int j = 0; j < SEEDS; j++) {
        cosines[j] = cos(two_pi * frequency * j);
        sines[j] = sin(two_pi * frequency * j);
    }
    double turn = frequency * SEEDS;
    turn -= floor(turn);
    const double c = cos(two_pi * turn), s = sin(two_pi * turn);
    for (int j = SEEDS; j < BLOCK; j += SEEDS)
        for (int k = 0; k < SEEDS; k++) {
            cosines[j + k] = cosines[j + k - SEEDS] * c - sines[j + k - SEEDS] * s;
            sines[j + k] = sines[j + k - SEEDS] * c + cosines[j + k - SEEDS] * s;
        }
}

/* cos and sin of the phase at sample `at`; the phase is reduced before it is multiplied by 2π. */
static void phase_at(size_t at, size_t count, double frequency, double *c, double *s) {
    double turn = frequency * ((double)at - 0.5 * (double)(count - 1));
    turn -= floor(turn);
    *c = cos(two_pi * turn);
    *s = sin(two_pi * turn);
}

static void block_add(double *restrict v, size_t length, const double *restrict cosines, const double *restrict sines,
                      double p, double q) {
#pragma omp simd
    for (size_t j = 0; j < length; j++)
        v[j] += p * cosines[j] + q * sines[j];
}

static void block_dot(const double *restrict v, size_t length, const double *restrict cosines,
                      const double *restrict sines, double *p, double *q) {
    double x = 0, y = 0;
#pragma omp simd reduction(+ : x, y)
    for (size_t j = 0; j < length; j++) {
        x += v[j] * cosines[j];
        y += v[j] * sines[j];
    }
    *p = x;
    *q = y;
}

void gw_sweep_add(double *vector, size_t count, double frequency, double cosine, double sine) {
    double cosines[BLOCK], sines[BLOCK];
    table_fill(cosines, sines, frequency);
    for (size_t at = 0; at < count; at += BLOCK) {
        double c, s;
        phase_at(at, count, frequency, &c, &s);
        size_t length = count - at < BLOCK ? count - at : BLOCK;
        block_add(vector + at, length, cosines, sines, cosine * c + sine * s, sine * c - cosine * s);
    }
}

void gw_sweep_dot(const double *vector, size_t count, double frequency, double *cosine, double *sine) {
    double cosines[BLOCK], sines[BLOCK];
    table_fill(cosines, sines, frequency);
    double sum_c = 0, sum_s = 0;
    for (size_t at = 0; at < count; at += BLOCK) {
        double c, s, p, q;
        phase_at(at, count, frequency, &c, &s);
        size_t length = count - at < BLOCK ? count - at : BLOCK;
        block_dot(vector + at, length, cosines, sines, &p, &q);
        sum_c += c * p - s * q;
        sum_s += s * p + c * q;
    }
    *cosine = sum_c;
    *sine = sum_s;
}
