/* A signal with gaps, out of the picture of its waveform: where the gaps take the DC along, nothing steady is left that
 * the readings could rest on. */
#include "walk/walker.h"

#include <math.h>
#include <stdlib.h>

/* The swing over one period, where it is there at all, and in a gap (common practice: half or less is a dropout). */
static const double swing_in_gap = 0.35, swing_there = 0.7;
/* Gaps that leave the record mostly signal, and periods of that. */
static const double most_in_gaps = 0.6, least_periods = 4, columns_a_period = 8;
static const double swing_of_rms = 2.8284271247461903;
/* Of a level that is read off the picture, as a share; standard uncertainty. */
static const double level_random = 0.05;

static int compare(const void *one, const void *other) {
    double a = *(const double *)one, b = *(const double *)other;
    return (a > b) - (a < b);
}

/* From the highest to the lowest in the columns from `first` on. */
static double swing_of(const gw_trace *trace, size_t first, size_t width) {
    double high = -INFINITY, low = INFINITY;
    for (size_t i = first; i < first + width; i++) {
        high = fmax(high, trace->high[i]);
        low = fmin(low, trace->low[i]);
    }
    return high - low;
}

/* The swing that the better part of the periods have. */
static double usual_swing(const double *swings, size_t count, double *sorted) {
    for (size_t i = 0; i < count; i++)
        sorted[i] = swings[i];
    qsort(sorted, count, sizeof *sorted, compare);
    return sorted[count / 2];
}

static void count_gaps(const double *swings, size_t count, double usual, double column_s, size_t width, gw_cuts *out) {
    size_t gone = 0, there = 0, begin = 0;
    bool in_gap = false;
    for (size_t i = 0; i <= count; i++) {
        bool gap = i < count && swings[i] < swing_in_gap * usual;
        if (gap && !in_gap)
            begin = i;
        if (!gap && in_gap && out->count++ == 0) {
            out->start_s = (double)begin * column_s;
            out->length_s = (double)(i - begin + width - 1) * column_s;
        }
        in_gap = gap;
        gone += gap ? 1 : 0;
        there += i < count && swings[i] > swing_there * usual && swings[i] < usual / swing_there ? 1 : 0;
    }
    bool steady = (double)(gone + there) > most_in_gaps * (double)count && there * 3 > count;
    if (!steady || (double)gone > most_in_gaps * (double)count)
        out->count = 0;
    out->level_v = usual / swing_of_rms;
}

bool gw_cuts_find(gw_walker *walker, const gw_readings *readings, double frequency_hz, gw_cuts *out) {
    const gw_trace *trace = &readings->waveform;
    *out = (gw_cuts){0};
    double column_s = trace->count ? (trace->end - trace->start) / (double)trace->count : 0;
    double a_period = frequency_hz > 0 && column_s > 0 ? 1 / frequency_hz / column_s : 0;
    size_t width = (size_t)(a_period + 0.5);
    if (a_period < columns_a_period || !trace->high || !trace->low || (double)trace->count < least_periods * a_period)
        return false;
    size_t count = trace->count - width + 1;
    double *swings = gw_arena_array(walker->arena, 2 * count, sizeof *swings);
    if (!swings) {
        walker->failed = true;
        return false;
    }
    for (size_t i = 0; i < count; i++)
        swings[i] = swing_of(trace, i, width);
    double usual = usual_swing(swings, count, swings + count);
    if (!(usual > 8 * readings->source.step))
        return false;
    count_gaps(swings, count, usual, column_s, width, out);
    return out->count > 0;
}

gw_figure gw_cuts_level(const gw_cuts *cuts, const gw_readings *readings) {
    gw_figure scale = gw_figure_of(&readings->values[GW_PEAK_TO_PEAK]);
    return (gw_figure){.has = true, .value = cuts->level_v, .random = level_random, .scale = scale.scale};
}
