/* A vector's slow part at an eighth of the rate, for asking after many low frequencies. Private to src/measure/.
 *
 * Each value is a sum over 48 samples weighted with a Kaiser–Bessel window; what the window does to a frequency is
 * divided out, and what folds down onto the frequencies asked for is 3e-6 of what stood there at most (Fessler & Sutton
 * 2003, "Nonuniform fast Fourier transforms using min-max interpolation"; Beatty, Nishimura & Pauly 2005 for the
 * window's shape). */
#ifndef GAINWALK_MEASURE_SLOW_H
#define GAINWALK_MEASURE_SLOW_H

#include <stdbool.h>
#include <stddef.h>

enum { GW_SLOW_GROUP = 8, GW_SLOW_TAPS = 48 };

/* Up to this frequency, cycles a sample. */
#define GW_SLOW_MOST (1.0 / (8 * GW_SLOW_GROUP))

typedef struct gw_slow {
    double *values;
    size_t count;
    size_t samples; /* of the vector */
    double taps[GW_SLOW_TAPS];
    bool made; /* of the vector as it is */
} gw_slow;

/* Room for a vector of `samples`. False when memory is out. gw_slow_end frees. */
bool gw_slow_begin(gw_slow *slow, size_t samples);
void gw_slow_end(gw_slow *slow);

void gw_slow_make(gw_slow *slow, const double *vector);

/* As gw_sweep_dot on the vector that it was made of. */
void gw_slow_dot(const gw_slow *slow, double frequency, double *cosine, double *sine);

#endif
