#include "capture/summary.h"

#include "base/lanes.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Distinct values that are kept; slots of their table, at first and in the end. */
enum { LEVELS_MAX = 1 << 14, SLOTS_FIRST = 1 << 12, SLOTS_MAX = 2 * LEVELS_MAX };

/* Values this close, relative to the largest, may be one value that passed through single precision twice. */
static const double single_precision = 2.4e-7;

static void take_first(gw_channel *channel, const double *values, size_t stride, const unsigned char *marks,
                       size_t count) {
    for (size_t i = 0; i < count && channel->first_count < GW_FIRST_MAX; i++) {
        unsigned char mark = marks != NULL ? marks[i] : GW_SAMPLE_PRESENT;
        channel->first[channel->first_count] = mark == GW_SAMPLE_PRESENT ? values[i * stride] : 0;
        channel->first_marks[channel->first_count++] = mark;
    }
}

GW_WIDE static void range_take(const double *values, size_t count, double *low, double *high) {
    gw_lanes_extent(values, count, low, high);
    *low += 0.0; /* of 0 and -0 either may come out */
    *high += 0.0;
}

static void range_put(gw_channel *channel, double low, double high) {
    if (low > high)
        return;
    channel->has_range = true;
    channel->min = low;
    channel->max = high;
}

void gw_channel_unrange(gw_channel *channel) {
    channel->has_range = false;
    channel->min = channel->max = 0;
}

void gw_channel_join(gw_channel *channel, const gw_channel *part) {
    if (part->has_range)
        range_put(channel, channel->has_range ? fmin(channel->min, part->min) : part->min,
                  channel->has_range ? fmax(channel->max, part->max) : part->max);
}

void gw_channel_take(gw_channel *channel, const double *values, size_t stride, const unsigned char *marks,
                     size_t count) {
    take_first(channel, values, stride, marks, count);
    double low = channel->has_range ? channel->min : INFINITY, high = channel->has_range ? channel->max : -INFINITY;
    if (marks == NULL && stride == 1) {
        range_take(values, count, &low, &high);
    } else if (marks == NULL) {
        for (size_t i = 0; i < count; i++) {
            double value = values[i * stride];
            low = value < low ? value : low;
            high = value > high ? value : high;
        }
    } else {
        for (size_t i = 0; i < count; i++) {
            channel->missing += marks[i] == GW_SAMPLE_MISSING;
            channel->overload += marks[i] == GW_SAMPLE_OVERLOAD;
            if (marks[i] != GW_SAMPLE_PRESENT)
                continue;
            double value = values[i * stride];
            low = value < low ? value : low;
            high = value > high ? value : high;
        }
    }
    range_put(channel, low, high);
}

/* Slot of a value in a table of so many, a power of two: the lowest bits of the whole number, so that neighbours
 * don't meet. They are read where adding 1.5 * 2^52 leaves them, at the end of the sum. */
static inline GW_WITHIN size_t slot_of(double value, double finer, size_t slots) {
    uint64_t bits;
    double sum = value * finer + 6755399441055744.0;
    memcpy(&bits, &sum, sizeof bits);
    return (size_t)bits & (slots - 1);
}

/* How many values don't stand in their own slot: those may be new. */
GW_WIDE static size_t strangers(const double *table, size_t slots, double finer, const double *values, size_t count) {
    size_t out = 0;
#pragma omp simd reduction(+ : out)
    for (size_t i = 0; i < count; i++)
        out += table[slot_of(values[i], finer, slots)] != values[i];
    return out;
}

static size_t own_slot(const gw_levels *levels, double value) {
    return slot_of(value, levels->finer, levels->slot_count);
}

/* How far on the next place to look is: odd, so that all are come by, and another one for each value that meets there
 * (Fibonacci hashing, Knuth 1973, section 6.4). */
static size_t stride_of(double value) {
    uint64_t bits;
    value += 0.0; /* -0 is 0 */
    memcpy(&bits, &value, sizeof bits);
    return (size_t)(bits * UINT64_C(0x9E3779B97F4A7C15) >> 32) | 1;
}

/* The free slot where a value belongs, or the one that it stands in. */
static double *slot_for(const gw_levels *levels, double value) {
    size_t slot = own_slot(levels, value), stride = 0;
    while (!isnan(levels->slots[slot]) && levels->slots[slot] != value) {
        stride = stride ? stride : stride_of(value);
        slot = (slot + stride) & (levels->slot_count - 1);
    }
    return &levels->slots[slot];
}

/* A table of so many slots, with the values that there are. */
static void levels_spread(gw_levels *levels, size_t slots) {
    double *table = malloc(slots * sizeof *table);
    levels->failed = levels->failed || table == NULL;
    if (table == NULL)
        return;
    for (size_t k = 0; k < slots; k++)
        table[k] = NAN;
    free(levels->slots);
    levels->slots = table;
    levels->slot_count = slots;
    for (size_t k = 0; k < levels->count; k++)
        *slot_for(levels, levels->distinct[k]) = levels->distinct[k];
}

static void levels_begin(gw_levels *levels) {
    levels->distinct = malloc(LEVELS_MAX * sizeof *levels->distinct);
    levels->failed = levels->distinct == NULL;
    levels_spread(levels, SLOTS_FIRST);
}

/* A value whose slot another one has is found again more slowly, and where more than half of them are in use most are:
 * while it may, the table grows. */
static void level_add(gw_levels *levels, double value) {
    double *slot = slot_for(levels, value);
    if (*slot == value)
        return;
    levels->full = levels->count == LEVELS_MAX;
    if (levels->full)
        return;
    levels->distinct[levels->count++] = value;
    bool own = slot == &levels->slots[own_slot(levels, value)] && 2 * levels->count <= levels->slot_count;
    if (own || levels->slot_count == SLOTS_MAX)
        *slot = value;
    else
        levels_spread(levels, 2 * levels->slot_count);
}

/* Values that are looked at together. */
enum { TOGETHER = 256 };

void gw_levels_take(gw_levels *levels, const double *values, const unsigned char *marks, size_t count) {
    if (levels->slots == NULL && !levels->failed)
        levels_begin(levels);
    for (size_t at = 0; at < count && !levels->full && !levels->failed; at += TOGETHER) {
        size_t end = count - at < TOGETHER ? count : at + TOGETHER;
        if (strangers(levels->slots, levels->slot_count, levels->finer, values + at, end - at) == 0)
            continue;
        for (size_t i = at; i < end && !levels->full && !levels->failed; i++)
            if (marks == NULL || marks[i] == GW_SAMPLE_PRESENT)
                level_add(levels, values[i]);
    }
}

static int by_value(const void *one, const void *other) {
    double a = *(const double *)one, b = *(const double *)other;
    return (a > b) - (a < b);
}

double gw_levels_step(gw_levels *levels, double noise) {
    if (levels->failed || levels->count < 2)
        return 0;
    qsort(levels->distinct, levels->count, sizeof *levels->distinct, by_value);
    const double *values = levels->distinct;
    double largest = fmax(fabs(values[0]), fabs(values[levels->count - 1]));
    double least = fmax(noise, single_precision * largest), smallest = INFINITY;
    for (size_t i = 1; i < levels->count; i++) {
        double gap = values[i] - values[i - 1];
        if (gap > least && gap < smallest)
            smallest = gap;
    }
    if (!isfinite(smallest))
        return 0;
    /* printing moves each end by up to half a digit: `noise` is half a digit too */
    double largest_alike = fmin(1.5 * smallest, smallest + 2.1 * noise + 2 * single_precision * largest), sum = 0;
    size_t count = 0;
    for (size_t i = 1; i < levels->count; i++) {
        double gap = values[i] - values[i - 1];
        if (gap > least && gap <= largest_alike) {
            sum += gap;
            count++;
        }
    }
    return sum / (double)count;
}

void gw_levels_free(gw_levels *levels) {
    free(levels->slots);
    free(levels->distinct);
    *levels = (gw_levels){0};
}

/* A run ends: of the first only its length tells. */
static void run_end(gw_runs *runs) {
    size_t turn = runs->changes % 2;
    if (runs->changes == 0) {
        runs->ends[0] = runs->length;
    } else {
        runs->least[turn] = runs->changes <= 2 || runs->length < runs->least[turn] ? runs->length : runs->least[turn];
        runs->most[turn] = runs->length > runs->most[turn] ? runs->length : runs->most[turn];
    }
    runs->changes++;
    runs->length = 0;
}

void gw_runs_take(gw_runs *runs, const double *values, const unsigned char *marks, size_t count) {
    for (size_t i = 0; i < count; i++) {
        runs->broken = runs->broken || (marks != NULL && marks[i] != GW_SAMPLE_PRESENT);
        if (runs->length > 0 && values[i] != runs->value)
            run_end(runs);
        runs->value = values[i];
        runs->length++;
    }
    runs->ends[1] = runs->length;
}

/* Of few jumps the runs must be so long, for a flutter of noise makes short ones. */
enum { JUMPS_LEAST = 3, JUMPS_FEW = 6, RUN_LEAST = 2, RUN_FEW = 8 };

bool gw_runs_are_even(const gw_runs *runs) {
    size_t last = runs->changes % 2, least = runs->changes < JUMPS_FEW ? RUN_FEW : RUN_LEAST;
    if (runs->broken || runs->changes < JUMPS_LEAST)
        return false;
    for (size_t turn = 0; turn < 2; turn++)
        if (runs->least[turn] < least || runs->most[turn] > runs->least[turn] + 1)
            return false;
    /* what the record cuts off at either end is no longer than a whole one */
    return runs->ends[0] <= runs->least[0] + 1 && runs->ends[1] <= runs->least[last] + 1;
}
