/* The mains in a record: 50 or 60 Hz, found by its comb. */
#ifndef GAINWALK_MEASURE_MAINS_H
#define GAINWALK_MEASURE_MAINS_H

#include "gainwalk/base.h"

/* The mains in a record whose signal was taken out (or has nothing below about 400 Hz). */
typedef struct gw_mains {
    bool found;
    double nominal_hz;   /* 50 or 60, or as stated */
    double frequency_hz; /* where the comb fits best, within 1.5 % of nominal */
    double rms;          /* of multiples 1 to 4 and 6, as far as they lie below half the rate */
    double significance; /* F statistic of the comb over what is left */
} gw_mains;

/* 50 or 60 Hz, whichever comb (multiples 1 to 4 and 6, with a constant and a slope beside it) explains more of what
 * lies below about 500 Hz, by least squares. Found if
 * - that cannot be chance (F test, `false_alarm`, 0: 1e-4),
 * - in records of 0.2 s and more, it also stands out of what combs of other frequencies explain, so that noise rising
 * to low frequencies is no mains,
 * - the other one explains the record distinctly worse (likelihood ratio of 1000).
 * Needs two cycles of the mains; at most the first 4 s are looked at. With `stated_hz` (0 unknown) only that is looked
 * for, and need not be told from another. Searched around nominal by one and a half times what EN 50160 allows a public
 * network in 99.5 % of the year. `marks` as in spectrum.h; false when memory is out. */
bool gw_mains_find(const double *residual, const unsigned char *marks, size_t n, double rate_hz, double stated_hz,
                   double false_alarm, gw_mains *out);

#endif
