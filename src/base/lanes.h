/* Sums in lanes of a fixed number, so that a loop comes out the same to the last bit however wide the machine's vectors
 * are: inner loops are compiled twice, and the wider form is taken where the processor has it. Private to src/. */
#ifndef GAINWALK_BASE_LANES_H
#define GAINWALK_BASE_LANES_H

#include <stddef.h>
#include <stdint.h> /* tells which C library it is */

enum { GW_LANES = 8 };

/* Four doubles anywhere in an array of them; arithmetic on them is lane by lane. Sums take two of these, eight lanes:
 * one addition need not wait for the one before. */
typedef double gw_lanes __attribute__((vector_size(32), aligned(8), may_alias));

#define GW_LANES_AT(values) (*(const gw_lanes *)(values))

/* A function of which the loader takes the form for the processor at hand. No fused multiply-add: that would round
 * otherwise. Where the platform can't, there is one form only. */
#if defined(__x86_64__) && defined(__linux__) && defined(__GLIBC__) && defined(__GNUC__) && !defined(__clang__)
#define GW_WIDE __attribute__((target_clones("avx2", "default")))
#else
#define GW_WIDE
#endif

/* The lanes' sum, in one order. */
static inline double gw_lanes_sum(const gw_lanes *one, const gw_lanes *other) {
    const gw_lanes v = *one + *other;
    return (v[0] + v[2]) + (v[1] + v[3]);
}

#endif
