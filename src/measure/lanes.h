/* Sums in lanes of a fixed number, so that a loop comes out the same to the last bit however wide the machine's vectors
 * are: the inner loops of the fit are compiled twice, and the wider form is taken where the processor has it. Private
 * to src/measure/. */
#ifndef GAINWALK_MEASURE_LANES_H
#define GAINWALK_MEASURE_LANES_H

#include <stddef.h>

enum { GW_LANES = 8 };

/* Eight doubles anywhere in an array of them; arithmetic on them is lane by lane. */
typedef double gw_lanes __attribute__((vector_size(64), aligned(8), may_alias));

/* A function of which the loader takes the form for the processor at hand. No fused multiply-add: that would round
 * otherwise. Where the platform can't, there is one form only. */
#if defined(__x86_64__) && defined(__linux__) && defined(__GLIBC__) && defined(__GNUC__) && !defined(__clang__)
#define GW_WIDE __attribute__((target_clones("avx2", "default")))
#else
#define GW_WIDE
#endif

/* The lanes' sum, in one order. */
static inline double gw_lanes_sum(const gw_lanes *lanes) {
    const gw_lanes v = *lanes;
    return ((v[0] + v[4]) + (v[2] + v[6])) + ((v[1] + v[5]) + (v[3] + v[7]));
}

#endif
