/* Functions that are compiled twice, once for wider vectors. Private to src/. */
#ifndef GAINWALK_BASE_VECTORS_H
#define GAINWALK_BASE_VECTORS_H

#include <stdint.h> /* tells which C library it is */

/* A function of which the loader takes the form for the processor at hand. No fused multiply-add: that would round
 * otherwise. Where the platform can't, there is one form only. */
#if defined(__x86_64__) && defined(__linux__) && defined(__GLIBC__) && defined(__GNUC__) && !defined(__clang__)
#define GW_WIDE __attribute__((target_clones("avx2", "default")))
#else
#define GW_WIDE
#endif

#endif
