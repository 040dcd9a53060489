/* Sums in lanes of a fixed number, so that a loop comes out the same to the last bit however wide the machine's vectors
 * are: inner loops are compiled several times, and the widest form that the processor has is taken. Private to src/. */
#ifndef GAINWALK_BASE_LANES_H
#define GAINWALK_BASE_LANES_H

#include <stddef.h>
#include <stdint.h> /* tells which C library it is */

enum { GW_LANES = 8 };

/* Four doubles anywhere in an array of them; arithmetic on them is lane by lane. Sums take two of these, eight lanes:
 * one addition need not wait for the one before. */
typedef double gw_lanes __attribute__((vector_size(32), aligned(8), may_alias));

/* Where a cache's line begins: vectors that don't, cross into the next. */
enum { GW_LINE = 64 };
#define GW_ALIGNED _Alignas(GW_LINE)

#define GW_LANES_AT(values) (*(const gw_lanes *)(values))

/* What a loop of either form calls becomes part of it, and so is of that form. */
#if defined(__GNUC__)
#define GW_WITHIN __attribute__((always_inline))
#else
#define GW_WITHIN
#endif

/* A loop of a number that is known where it becomes part of another is to be written out. */
#if defined(__GNUC__) && !defined(__clang__)
#define GW_UNROLL_4 _Pragma("GCC unroll 4")
#else
#define GW_UNROLL_4
#endif

/* A function of which the loader takes the form for the processor at hand. No fused multiply-add: that would round
 * otherwise. Where the platform can't, there is one form only. */
#if defined(__x86_64__) && defined(__linux__) && defined(__GLIBC__) && defined(__GNUC__) && !defined(__clang__)
#define GW_WIDE __attribute__((target_clones("avx512f", "avx2", "default")))
#else
#define GW_WIDE
#endif

/* The same lanes as a plain array, for loops that the compiler makes vectors of, as wide as there are; their sum is
 * that of the vectors. */
static inline GW_WITHIN double gw_lanes_total(const double *lanes) {
    double v[GW_LANES / 2];
    for (int l = 0; l < GW_LANES / 2; l++)
        v[l] = lanes[l] + lanes[l + GW_LANES / 2];
    return (v[0] + v[2]) + (v[1] + v[3]);
}

/* The lanes' sum, in one order. */
static inline double gw_lanes_sum(const gw_lanes *one, const gw_lanes *other) {
    const gw_lanes v = *one + *other;
    return (v[0] + v[2]) + (v[1] + v[3]);
}

/* Σ one·other, in eight lanes: part of what calls it, and as wide. */
static inline GW_WITHIN double gw_lanes_dot(const double *one, const double *other, size_t count) {
    gw_lanes lanes = {0}, next = {0};
    size_t i = 0;
    for (; i + GW_LANES <= count; i += GW_LANES) {
        lanes += GW_LANES_AT(one + i) * GW_LANES_AT(other + i);
        next += GW_LANES_AT(one + i + 4) * GW_LANES_AT(other + i + 4);
    }
    double sum = gw_lanes_sum(&lanes, &next);
    for (; i < count; i++)
        sum += one[i] * other[i];
    return sum;
}

/* A few values close together, which stay in the nearest cache from one loop to the next. */
enum { GW_NEAR = 1024 };

/* Lowers `*low` to the least of some values, raises `*high` to the most. Each vector waits for the one before it: two
 * rows of them side by side, so that it need not wait for long. */
static inline GW_WITHIN void gw_lanes_extent(const double *values, size_t count, double *low, double *high) {
    double least = *low, most = *high, least_next = *low, most_next = *high;
    const double *next = values + count / 2;
#pragma omp simd reduction(min : least, least_next) reduction(max : most, most_next)
    for (size_t i = 0; i < count / 2; i++) {
        least = values[i] < least ? values[i] : least;
        most = values[i] > most ? values[i] : most;
        least_next = next[i] < least_next ? next[i] : least_next;
        most_next = next[i] > most_next ? next[i] : most_next;
    }
    if (count % 2) {
        least = values[count - 1] < least ? values[count - 1] : least;
        most = values[count - 1] > most ? values[count - 1] : most;
    }
    *low = least_next < least ? least_next : least;
    *high = most_next > most ? most_next : most;
}

#endif
