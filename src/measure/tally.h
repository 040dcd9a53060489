/* One reading gathered over segments. Private to src/measure/. */
#ifndef GAINWALK_MEASURE_TALLY_H
#define GAINWALK_MEASURE_TALLY_H

#include "gainwalk/measure.h"

typedef struct gw_tally {
    size_t values, belows, nones;
    double sum;             /* of the values, as they are averaged: plain, squared, squared and inverted */
    double variance, scale; /* of that sum; Σ of u_scale over |value| */
    /* Σ of the squared weights, times the averaged value less the first one, times the square of that: values that
     * hardly differ would leave nothing but rounding in the difference of their squares */
    double w2, w2m, w2mm, first;
    double highest, lowest, total, bound;
    const char *why; /* of the last that had no value */
    double u_extreme;
} gw_tally;

/* `weight` segments show this reading, though it was taken of one of them: it counts for so many in the mean, and its
 * uncertainty is that of one. */
void gw_tally_add(gw_tally *tally, gw_reading_key key, const gw_reading *reading, size_t weight);
void gw_tally_join(gw_tally *tally, const gw_tally *other);

/* The reading of the whole: a value where most segments have one, a bound where most have a value or a bound. */
gw_reading gw_tally_reading(const gw_tally *tally, gw_reading_key key);

/* Does the reading come from all segments, or from those alone that show what most do? */
bool gw_tally_everywhere(gw_reading_key key);

/* Phase of the fundamental against time, counted through from segment to segment. */
typedef struct gw_phase_tally {
    size_t count;
    bool lost; /* a segment did not fit to the ones before */
    double first_s, last_s, turns, frequency_hz;
    double t, tt, p, tp, pp; /* sums over time from the first, and phase beyond frequency_hz times that */
    double variance;         /* Σ of the phase's, turns² */
} gw_phase_tally;

/* `phase_rad` of the fundamental at `time_s`. */
void gw_phase_add(gw_phase_tally *tally, double time_s, double phase_rad, double u_phase_rad, double frequency_hz,
                  double u_frequency_hz);

/* Frequency by the slope and its standard uncertainty. False with fewer than three segments or out of step. */
bool gw_phase_frequency(const gw_phase_tally *tally, double *frequency_hz, double *u_hz);

#endif
