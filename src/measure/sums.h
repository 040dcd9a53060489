/* Passes over many values without a sinusoid: sums and extremes, in vectors of a fixed width. Private to src/measure/.
 */
#ifndef GAINWALK_MEASURE_SUMS_H
#define GAINWALK_MEASURE_SUMS_H

#include <stddef.h>

typedef struct gw_extent {
    double low, high; /* +infinity, -infinity of nothing */
} gw_extent;

/* Of values[i] - less[i] (`less` NULL: of the values themselves) over the samples that are present. */
gw_extent gw_extent_of(const double *values, const double *less, const unsigned char *marks, size_t count);

/* Σ vector, `count` values. */
double gw_gram_total(const double *vector, size_t count);

/* Σ one·other, `count` values each. */
double gw_gram_dot(const double *one, const double *other, size_t count);

/* Σ (i - (count - 1)/2)·vector[i]. */
double gw_gram_lean(const double *vector, size_t count);

/* What a column brings to the normal equations. */
typedef struct gw_column_sums {
    double total, own, along, lean; /* Σ column, Σ column², Σ column·residual, Σ t·column */
} gw_column_sums;

/* Multiplies a column by scale·t, t = time + i, and adds what it then brings, in one pass. */
void gw_gram_turn(double *column, const double *residual, size_t count, double time, double scale, gw_column_sums *to);

#endif
