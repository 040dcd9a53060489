/* A record of few cycles as it is searched for its fundamental: some hundred points, and least squares on sines, their
 * harmonics and what may lie under them, column by column. Private to src/measure/. */
#ifndef GAINWALK_MEASURE_BASIS_H
#define GAINWALK_MEASURE_BASIS_H

#include "measure/coarse.h"

enum { GW_POINTS_MAX = 256, GW_POINT_ORDERS = 8, GW_TREND = 2, GW_TREND_MAX = 5 };
enum { GW_POINT_COLUMNS = 1 + GW_TREND_MAX + 2 * GW_POINT_ORDERS };

typedef struct gw_points {
    double value[GW_POINTS_MAX];
    double time[GW_POINTS_MAX]; /* -0.5 … 0.5 of the record; 0 in the middle of even ones */
    size_t count;
    bool even;      /* no group of samples was missing: the times lie evenly */
    double total;   /* Σ (value − mean)² */
    double hum;     /* cycles of the mains in the record; 0 where it's too long for hum to look like a bend */
    double other;   /* the same of the other network, where none is stated; 0 otherwise */
    double unknown; /* what the converter's steps alone leave of it */
} gw_points;

/* Orthonormal columns, and what of the values none of them explains yet. */
typedef struct gw_part {
    double column[GW_POINT_COLUMNS][GW_POINTS_MAX];
    size_t columns, count; /* points */
    double left[GW_POINTS_MAX];
} gw_part;

/* Where the times lie evenly about 0, a record is its even part and its odd part, of half as many points each: pairs of
 * samples, added and subtracted, over √2. Constants and cosines are even, sines odd: they never meet. */
typedef struct gw_basis {
    gw_part parts[2];
    bool folded;
    double rss;
    double weight[GW_POINTS_MAX]; /* √2 of pairs, 1 of what stands alone */
    double twice[GW_POINTS_MAX];  /* 2 cos of the first order */
    double cosine[GW_POINT_ORDERS + 1][GW_POINTS_MAX], sine[GW_POINT_ORDERS + 1][GW_POINTS_MAX]; /* weighted */
    /* what lies under all frequencies, as it was asked for last */
    int trend; /* -1 not yet */
    double hum;
    size_t trend_columns[2];
    double trend_left[2][GW_POINTS_MAX], trend_rss;
} gw_basis;

/* Averages neighbours, so that at most GW_POINTS_MAX are left; the mean is taken out. */
void gw_points_make(const gw_block *block, double mains_hz, gw_points *out);

/* Begins with a constant and `trend` more columns of what may lie under the signal. `trend` of a new basis is -1. */
void gw_basis_begin(gw_basis *b, const gw_points *data, int trend);

/* Makes cosine and sine of a first order of so many cycles; takes one order after the other in. */
void gw_basis_turn(gw_basis *b, const gw_points *data, double cycles);
void gw_basis_harmonic(gw_basis *b, int order);

/* What is left of point `i` of `count`. */
double gw_basis_left(const gw_basis *b, size_t count, size_t i);

/* Of sines at every place of a grid from `least` to `most` cycles the one that leaves least, and how much that is: of
 * points that lie evenly, where even and odd parts lie apart and each place takes a few products only. 0: none. */
double gw_basis_sine_best(gw_basis *b, const gw_points *data, int trend, double least, double most, double spacing,
                          double *rss);

#endif
