/* A signal with gaps, out of the picture of its waveform: where the gaps take the DC along, nothing steady is left that
 * the readings could rest on. */
#include "walk/walker.h"

#include <math.h>
#include <stdlib.h>

/* The swing over one period, where it is there at all, and in a gap (common practice: half or less is a dropout). */
static const double swing_in_gap = 0.35, swing_there = 0.7;
/* Gaps that leave the record mostly signal, and periods of that. */
static const double most_in_gaps = 0.6, least_periods = 4, columns_a_period = 8;
/* As much of the whole, against the signal, is more than noise and harmonics of a healthy stage make. */
static const double ragged = 1.1;
static const double swing_of_rms = 2.8284271247461903;
/* Of the swing over a period, what is left at least without what changes from one period to the next; of the whole
 * swing, what a period has at least. */
static const double least_own = 0.5, least_of_whole = 0.12;
/* Of a level that is read off the picture, as a share; standard uncertainty. */
static const double level_random = 0.05;
/* Between DC that is there, its signal on it, and DC that is gone nothing dwells; gaps are no spikes; steps of the
 * converter from one to the other; of a level read off beside much more DC, relative standard uncertainty. */
static const double dc_there_low = 0.5, dc_there_high = 1.7, dc_gone = 0.35, most_between = 0.05, least_there = 0.3,
                    least_gone = 0.04, least_dc_steps = 12, level_random_dc = 0.3;

static double middle_of(const gw_trace *trace, size_t column) {
    return (trace->low[column] + trace->high[column]) / 2;
}

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

/* … without what a slow tone underneath moves within the period. */
static double own_swing_of(const gw_trace *trace, size_t first, size_t width) {
    size_t next = first + width < trace->count ? first + width : trace->count - 1;
    double moved = fabs(middle_of(trace, next) - middle_of(trace, first));
    return fmax(0, swing_of(trace, first, width) - moved);
}

/* The swing that a quarter of the periods exceed. */
static double usual_swing(const double *swings, size_t count, double *sorted) {
    for (size_t i = 0; i < count; i++)
        sorted[i] = swings[i];
    qsort(sorted, count, sizeof *sorted, compare);
    return sorted[count - 1 - count / 4];
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
    out->level_random = level_random;
}

static bool find(gw_walker *walker, const gw_readings *readings, double frequency_hz, gw_cuts *out) {
    const gw_trace *trace = &readings->waveform;
    *out = (gw_cuts){0};
    double column_s = trace->count ? (trace->end - trace->start) / (double)trace->count : 0;
    double a_period = frequency_hz > 0 && column_s > 0 ? 1 / frequency_hz / column_s : 0;
    size_t width = (size_t)(a_period + 0.5);
    if (gw_level_hums(readings) || a_period < columns_a_period || !trace->high || !trace->low ||
        (double)trace->count < least_periods * a_period)
        return false;
    size_t count = trace->count - width + 1;
    double *swings = gw_arena_array(walker->arena, 2 * count, sizeof *swings);
    if (!swings) {
        walker->failed = true;
        return false;
    }
    for (size_t i = 0; i < count; i++)
        swings[i] = own_swing_of(trace, i, width);
    double own = usual_swing(swings, count, swings + count);
    for (size_t i = 0; i < count; i++)
        swings[i] = swing_of(trace, i, width);
    double usual = usual_swing(swings, count, swings + count);
    if (own < least_own * usual ||
        !(usual > fmax(8 * readings->source.step, least_of_whole * swing_of(trace, 0, trace->count))))
        return false;
    count_gaps(swings, count, usual, column_s, width, out);
    return out->count > 0;
}

/* ---- gaps in the DC ---- */

static bool is_there(double share) {
    return share > dc_there_low && share < dc_there_high;
}

/* Swing over one period where the DC is there, on average over all such periods; of the longest stretch where none is
 * as long. */
static double swing_beside(const gw_trace *trace, double dc_v, size_t width) {
    double sum = 0, longest = 0;
    size_t count = 0, run = 0, best = 0;
    for (size_t i = 0; i < trace->count; i++) {
        run = is_there(middle_of(trace, i) / dc_v) ? run + 1 : 0;
        if (run > best) {
            best = run;
            longest = swing_of(trace, i + 1 - run, run);
        }
        if (run >= width) {
            sum += swing_of(trace, i + 1 - width, width);
            count++;
        }
    }
    return count > 0 ? sum / (double)count : longest;
}

static bool find_dc(const gw_readings *readings, double dc_v, double frequency_hz, gw_cuts *out) {
    const gw_trace *trace = &readings->waveform;
    *out = (gw_cuts){0};
    double column_s = trace->count ? (trace->end - trace->start) / (double)trace->count : 0;
    size_t there = 0, gone = 0, begin = 0;
    bool in_gap = false;
    if (!trace->low || !trace->high || !(column_s > 0) || !(frequency_hz > 0) ||
        !(fabs(dc_v) > least_dc_steps * readings->source.step))
        return false;
    for (size_t i = 0; i <= trace->count; i++) {
        double share = i < trace->count ? middle_of(trace, i) / dc_v : 1;
        bool gap = fabs(share) < dc_gone;
        if (gap && !in_gap)
            begin = i;
        if (!gap && in_gap && out->count++ == 0) {
            out->start_s = (double)begin * column_s;
            out->length_s = (double)(i - begin) * column_s;
        }
        in_gap = gap;
        gone += gap ? 1 : 0;
        there += i < trace->count && is_there(share) ? 1 : 0;
    }
    double all = (double)trace->count;
    if ((double)(there + gone) < (1 - most_between) * all || (double)there < least_there * all ||
        (double)gone < least_gone * all)
        out->count = 0;
    out->level_v =
        swing_beside(trace, dc_v, (size_t)fmin(all, fmax(1, 1 / frequency_hz / column_s + 0.5))) / swing_of_rms;
    out->level_random = level_random_dc;
    out->dc_v = dc_v;
    return out->count > 0 && out->level_v > 0;
}

static gw_figure level_of(const gw_cuts *cuts, const gw_readings *readings) {
    gw_figure scale = gw_figure_of(&readings->values[GW_PEAK_TO_PEAK]);
    return (gw_figure){.has = true, .value = cuts->level_v, .random = cuts->level_random, .scale = scale.scale};
}

/* DC that should be there: as stated, or as it stood at the last point with a signal; 0 unknown. */
static double dc_to_come(const gw_node *node, const gw_node *before) {
    if (node->point->dc.origin == GW_ORIGIN_STATED)
        return node->point->dc.value;
    if (!before || fabs(before->cuts.dc_v) > 0)
        return before ? before->cuts.dc_v : 0;
    return gw_reading_or(before->readings, GW_DC, 0);
}

bool gw_cuts_take(gw_walker *walker, gw_node *node, const gw_node *before, double fed_hz, bool of_dc) {
    bool found = of_dc ? find_dc(node->readings, dc_to_come(node, before), fed_hz, &node->cuts)
                       : walker->shape == GW_SHAPE_SINE && find(walker, node->readings, fed_hz, &node->cuts);
    if (!found)
        return false;
    node->detected = true;
    node->level = level_of(&node->cuts, node->readings);
    node->frequency_hz = fed_hz;
    return true;
}

/* Much of what is there is no part of the signal that was read: the picture may show gaps instead. */
void gw_cuts_look(gw_walker *walker, gw_node *node, const gw_node *before) {
    const gw_readings *readings = node->readings;
    if (walker->shape != GW_SHAPE_SINE || !node->detected || node->cuts.count > 0 ||
        gw_reading_or(readings, GW_DROPOUTS, 0) >= 1 ||
        gw_reading_or(readings, GW_AC_RMS, 0) < ragged * node->level.value ||
        (!find_dc(readings, dc_to_come(node, before), node->frequency_hz, &node->cuts) &&
         !find(walker, readings, node->frequency_hz, &node->cuts)))
        return;
    node->level = level_of(&node->cuts, readings);
}
