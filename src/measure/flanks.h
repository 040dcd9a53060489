/* Sums over the samples on a sine's flanks, and over those above a level: the inner loops of the search for a flat
 * crest. Private to src/measure/. */
#ifndef GAINWALK_MEASURE_FLANKS_H
#define GAINWALK_MEASURE_FLANKS_H

#include <stddef.h>

/* Over the samples that count: how many, and the sums of the products of x, cosine and sine. */
typedef struct gw_flanks {
    double count, c, s, cc, cs, ss, x, xc, xs, xx;
} gw_flanks;

/* Samples count where `low` <= by <= `high`; x is sign·volts, and `by` NULL stands for x itself. `marks` (NULL: none)
 * as in spectrum.h. */
typedef struct gw_flanks_of {
    const double *volts, *cosine, *sine, *by;
    const unsigned char *marks;
    size_t count;
    double sign;
} gw_flanks_of;

void gw_flanks_sum(const gw_flanks_of *of, double low, double high, gw_flanks *out);

/* Σ x over the samples whose `by` is over `level`, and how many. */
double gw_flanks_above(const gw_flanks_of *of, double level, size_t *count);

/* out[i] = centre + a·cosine[i] + b·sine[i]. */
void gw_flanks_foretell(const gw_flanks_of *of, double centre, double a, double b, double *out);

#endif
