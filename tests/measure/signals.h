/* Signals for the tests of measuring: the same random numbers on every machine, sines, quantising. */
#ifndef GAINWALK_TESTS_SIGNALS_H
#define GAINWALK_TESTS_SIGNALS_H

#include <math.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

static const double two_pi = 6.28318530717958647692;

/* splitmix64 (Steele, Lea & Flood 2014). */
static inline uint64_t random_bits(uint64_t *state) {
    uint64_t z = (*state += 0x9e3779b97f4a7c15u);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
}

/* Even in [0, 1). */
static inline double random_even(uint64_t *state) {
    return (double)(random_bits(state) >> 11) * 0x1p-53;
}

/* Gaussian, standard deviation 1 (Box & Muller 1958). */
static inline double random_gauss(uint64_t *state) {
    double radius = sqrt(-2 * log(1 - random_even(state)));
    return radius * cos(two_pi * random_even(state));
}

static inline void add_noise(double *volts, size_t n, double sigma, uint64_t *state) {
    for (size_t i = 0; i < n; i++)
        volts[i] += sigma * random_gauss(state);
}

static inline void add_sine(double *volts, size_t n, double rate_hz, double amplitude, double frequency_hz,
                            double phase) {
    for (size_t i = 0; i < n; i++)
        volts[i] += amplitude * sin(two_pi * frequency_hz * (double)i / rate_hz + phase);
}

static inline void quantise(double *volts, size_t n, double step) {
    for (size_t i = 0; i < n; i++)
        volts[i] = step * round(volts[i] / step);
}

/* Zeroed; the test ends when memory is out. */
static inline double *new_volts(size_t n) {
    double *volts = calloc(n, sizeof *volts);
    if (!volts)
        abort();
    return volts;
}

#endif
