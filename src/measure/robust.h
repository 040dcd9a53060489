/* Statistics that a few wild values don't move. */
#ifndef GAINWALK_MEASURE_ROBUST_H
#define GAINWALK_MEASURE_ROBUST_H

#include "gainwalk/base.h"

/* The value that stands at `rank` (from 0, less than `count`) when sorted; reorders `values` (Hoare 1961, quickselect;
 * linear time on average). No NaN. */
double gw_rank_select(double *values, size_t count, size_t rank);

/* How many of the values are less than `limit`. */
size_t gw_count_below(const double *values, size_t count, double limit);

/* Median (of an even count the mean of the middle two); reorders `values`; 0 for none. */
double gw_median(double *values, size_t count);

/* Robust standard deviation: median of |x - median| / 0.67449 over the samples present; 0 for fewer than 2. `marks` as
 * in spectrum.h. False when memory is out. */
bool gw_robust_sigma(const double *values, const unsigned char *marks, size_t n, double *sigma);

/* Median of |x| of a Gaussian variable over its standard deviation. */
#define GW_GAUSS_QUARTILE 0.6744897501960817

#endif
