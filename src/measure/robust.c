#include "robust.h"

#include "base/lanes.h"
#include "gainwalk/capture.h"
#include "measure/sums.h"

#include <math.h>
#include <stdlib.h>

enum { SAMPLED_FROM = 512, SAMPLE = 63 };

/* A value that splits values[low..high] near the rank: of a long stretch, from a sample evenly spread over it
 * (Floyd & Rivest 1975); of a short one the middle one of three, so that sorted and constant records stay fast. */
static double pivot_of(const double *values, size_t low, size_t high, size_t rank) {
    size_t size = high - low + 1;
    if (size < SAMPLED_FROM) {
        double a = values[low], b = values[low + (high - low) / 2], c = values[high];
        double less = a < b ? a : b, more = a < b ? b : a;
        return c < less ? less : c > more ? more : c;
    }
    double sample[SAMPLE];
    for (size_t k = 0; k < SAMPLE; k++)
        sample[k] = values[low + size / SAMPLE * k];
    return gw_rank_select(sample, SAMPLE, (size_t)((double)(rank - low) / (double)size * SAMPLE));
}

/* Moves what is less than (`equal`: or the same as) the pivot to the front of values[low..high]; returns where the rest
 * begins. Without a branch that could be foretold wrongly. */
static size_t partition(double *values, size_t low, size_t high, double pivot, bool equal) {
    size_t rest = low;
    for (size_t i = low; i <= high; i++) {
        double value = values[i];
        values[i] = values[rest];
        values[rest] = value;
        rest += (size_t)((value < pivot) | (equal & (value == pivot)));
    }
    return rest;
}

double gw_rank_select(double *values, size_t count, size_t rank) {
    size_t low = 0, high = count - 1;
    while (low < high) {
        double pivot = pivot_of(values, low, high, rank);
        size_t from = partition(values, low, high, pivot, false);
        if (rank < from) {
            high = from - 1;
            continue;
        }
        size_t above = partition(values, from, high, pivot, true);
        if (rank < above)
            return pivot;
        low = above;
    }
    return values[rank];
}

GW_WIDE size_t gw_count_below(const double *values, size_t count, double limit) {
    typedef int64_t whole_lanes __attribute__((vector_size(32)));
    gw_lanes limits = {limit, limit, limit, limit};
    whole_lanes below = {0}; /* a lane that holds is -1 */
    size_t i = 0;
    for (; i + 4 <= count; i += 4)
        below -= (whole_lanes)(GW_LANES_AT(values + i) < limits);
    size_t found = (size_t)(below[0] + below[1] + below[2] + below[3]);
    for (; i < count; i++)
        found += values[i] < limit;
    return found;
}

double gw_median(double *values, size_t count) {
    if (count == 0)
        return 0;
    double upper = gw_rank_select(values, count, count / 2);
    if (count % 2)
        return upper;
    return (gw_extent_of(values, NULL, NULL, count / 2).high + upper) / 2;
}

bool gw_robust_sigma(const double *values, const unsigned char *marks, size_t n, double *sigma) {
    *sigma = 0;
    double *kept = malloc((n ? n : 1) * sizeof *kept);
    if (!kept)
        return false;
    size_t count = 0;
    for (size_t i = 0; i < n; i++)
        if (!marks || marks[i] == GW_SAMPLE_PRESENT)
            kept[count++] = values[i];
    if (count > 1) {
        double middle = gw_median(kept, count);
        for (size_t i = 0; i < count; i++)
            kept[i] = fabs(kept[i] - middle);
        *sigma = gw_median(kept, count) / GW_GAUSS_QUARTILE;
    }
    free(kept);
    return true;
}
