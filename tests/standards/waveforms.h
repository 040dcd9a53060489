/* Ideal waveforms of one turn's length, for the tests of readings: peak 1, or what the parameter says. */
#ifndef GAINWALK_TESTS_WAVEFORMS_H
#define GAINWALK_TESTS_WAVEFORMS_H

#include "measure/measured.h"

typedef double shape(double turn, double parameter);

static inline double clipped(double turn, double level) {
    return fmax(-level, fmin(level, sin(two_pi * turn)));
}

static inline double clipped_above(double turn, double level) {
    return fmin(level, sin(two_pi * turn));
}

static inline double dead_zone(double turn, double half_width) {
    double x = sin(two_pi * turn);
    return x > half_width ? x - half_width : x < -half_width ? x + half_width : 0;
}

static inline double gated(double turn, double half_width) {
    double x = sin(two_pi * turn);
    return fabs(x) > half_width ? x : 0;
}

static inline double triangle(double turn, double peak) {
    return peak * 2 / 3.14159265358979323846 * asin(sin(two_pi * turn));
}

static inline double saw(double turn, double peak) {
    return peak * (2 * (turn - floor(turn)) - 1);
}

static inline double pulse(double turn, double duty) {
    return turn - floor(turn) < duty ? 1 : 0;
}

static inline double square(double turn, double peak) {
    return turn - floor(turn) < 0.5 ? peak : -peak;
}

static inline double half_wave(double turn, double peak) {
    return peak * fmax(sin(two_pi * turn), 0);
}

static inline double full_wave(double turn, double peak) {
    return peak * fabs(sin(two_pi * turn));
}

static inline double bent(double turn, double unused) {
    (void)unused;
    double x = cos(two_pi * turn);
    return x + 0.01 * x * x + 0.005 * x * x * x;
}

static inline double sine_and_third(double turn, double share) {
    return sin(two_pi * turn) + share * sin(3 * two_pi * turn + 1);
}

static inline double third_and_second(double turn, double share) {
    return sine_and_third(turn, share) + 0.5 * share * sin(2 * two_pi * turn);
}

#endif
