/* Pink noise for the tests of measuring. */
#ifndef GAINWALK_TESTS_PINK_H
#define GAINWALK_TESTS_PINK_H

#include "measure/signals.h"

/* Noise whose density falls as one over the frequency within a decibel over five decades: poles a factor of four apart
 * (van der Ziel 1950: a sum of relaxations), each with the same power an octave. */
enum { PINK_POLES = 9 };

static inline void add_pink(double *v, size_t n, double scale, uint64_t *random) {
    double at[PINK_POLES], keep[PINK_POLES], fresh[PINK_POLES];
    for (int k = 0; k < PINK_POLES; k++) {
        keep[k] = exp(-0.5 * pow(0.25, k));
        fresh[k] = sqrt(1 - keep[k] * keep[k]);
        at[k] = random_gauss(random);
    }
    for (size_t i = 0; i < n; i++)
        for (int k = 0; k < PINK_POLES; k++) {
            at[k] = keep[k] * at[k] + fresh[k] * random_gauss(random);
            v[i] += scale * at[k];
        }
}

#endif
