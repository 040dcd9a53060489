/* Sums in lanes of a fixed number, so that a loop comes out the same to the last bit however wide the machine's vectors
 * are: the inner loops of the fit are compiled twice, and the wider form is taken where the processor has it. Private
 * to src/measure/. */
#ifndef GAINWALK_MEASURE_LANES_H
#define GAINWALK_MEASURE_LANES_H

#include "base/vectors.h"

#include <stddef.h>

enum { GW_LANES = 8 };

/* Four doubles anywhere in an array of them; arithmetic on them is lane by lane. Sums take two of these, eight lanes:
 * one addition need not wait for the one before. */
typedef double gw_lanes __attribute__((vector_size(32), aligned(8), may_alias));

#define GW_LANES_AT(values) (*(const gw_lanes *)(values))

/* The lanes' sum, in one order. */
static inline double gw_lanes_sum(const gw_lanes *one, const gw_lanes *other) {
    const gw_lanes v = *one + *other;
    return (v[0] + v[2]) + (v[1] + v[3]);
}

#endif
