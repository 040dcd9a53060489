/* The shape of a bent sine around its zero crossings: crossover and slew limiting have like harmonics, but a flat spot
 * at zero against a constant slope through zero. */
#ifndef GAINWALK_MEASURE_SHAPE_H
#define GAINWALK_MEASURE_SHAPE_H

#include "gainwalk/measure.h"

typedef struct gw_shape_clues {
    bool crossover;
    bool slew_limited;
    double inner_slope; /* slope at zero over the slope of the fundamental there; 1 for a sine */
    double dead_zone;   /* crossover: half width of the equivalent dead zone over the fundamental's peak; else 0 */
} gw_shape_clues;

/* From the harmonics of the periodic model (orders from 1, resolved ones are used). Needs the third resolved. `step` (0
 * unknown): a dead zone under 0.75 of it could be the quantiser's own. A clean, a clipped, a soft sine give neither. */
gw_shape_clues gw_shape_at_zero(const gw_harmonic *harmonics, size_t count, double step);

#endif
