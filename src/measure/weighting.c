#include "weighting.h"

#include <math.h>

/* Pole frequencies, Hz, and the level at 1 kHz before normalising. IEC 61672-1:2013, Annex E, E.4.1 and E.4.2: the
 * exact values that its equations give (rounded there to 20.60, 107.7, 737.9, 12194 Hz and -2.000 dB). */
static const double pole_1_hz = 20.598997;
static const double pole_2_hz = 107.65265;
static const double pole_3_hz = 737.86223;
static const double pole_4_hz = 12194.217;

/* Equation E.6 before normalising. */
static double unnormalised(double frequency_hz) {
    double f2 = frequency_hz * frequency_hz;
    double p1 = pole_1_hz * pole_1_hz, p2 = pole_2_hz * pole_2_hz;
    double p3 = pole_3_hz * pole_3_hz, p4 = pole_4_hz * pole_4_hz;
    return p4 / (f2 + p4) * (f2 / (f2 + p1)) * sqrt(f2 / (f2 + p2)) * sqrt(f2 / (f2 + p3));
}

double gw_weighting_a(double frequency_hz) {
    return unnormalised(frequency_hz) / unnormalised(1000);
}
