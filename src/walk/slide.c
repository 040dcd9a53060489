/* An output that slides away with nothing fed in, and is fetched back now and then: a hold capacitor that leaks. Out of
 * the picture of its waveform, for a mean tells little of it. */
#include "walk/walker.h"

#include <math.h>
#include <stdlib.h>

/* The record in so many parts, or in half as many where its line is thick; of all stretches as long as one the share
 * that moves as the middle one does, within a share of it; what one moves at least, in steps of the converter and in
 * heights of the waveform's own line. */
enum { PARTS = 8, COLUMNS_LEAST = 80 };
static const double most_alike = 0.6, alike_within = 0.5, least_steps = 2, least_heights = 1;

static double middle_of(const gw_trace *trace, size_t column) {
    return (trace->low[column] + trace->high[column]) / 2;
}

static int compare(const void *one, const void *other) {
    double a = *(const double *)one, b = *(const double *)other;
    return (a > b) - (a < b);
}

/* Volts that a stretch of `lag` columns moves, as most of them do; 0 where they do not agree. */
static double usual_move(gw_walker *walker, const gw_trace *trace, size_t lag) {
    size_t count = trace->count - lag, alike = 0;
    double *moves = gw_arena_array(walker->arena, count, sizeof *moves);
    if (!moves) {
        walker->failed = true;
        return 0;
    }
    for (size_t i = 0; i < count; i++)
        moves[i] = middle_of(trace, i + lag) - middle_of(trace, i);
    qsort(moves, count, sizeof *moves, compare);
    double usual = moves[count / 2];
    for (size_t i = 0; i < count; i++)
        alike += fabs(moves[i] - usual) <= alike_within * fabs(usual) ? 1 : 0;
    return (double)alike >= most_alike * (double)count ? usual : 0;
}

/* How thick noise and whatever is fast make the line that is drawn of a waveform. */
static double usual_height(const gw_trace *trace) {
    double sum = 0;
    for (size_t i = 0; i < trace->count; i++)
        sum += trace->high[i] - trace->low[i];
    return sum / (double)trace->count;
}

/* The lowest and the highest mean over one period of the mains, or over the record where that is shorter. */
static void find_means(const gw_trace *trace, size_t width, gw_slide *out) {
    double sum = 0;
    out->low_v = INFINITY;
    out->high_v = -INFINITY;
    for (size_t i = 0; i < trace->count; i++) {
        sum += middle_of(trace, i) - (i >= width ? middle_of(trace, i - width) : 0);
        if (i + 1 < width)
            continue;
        out->low_v = fmin(out->low_v, sum / (double)width);
        out->high_v = fmax(out->high_v, sum / (double)width);
    }
}

bool gw_slide_find(gw_walker *walker, const gw_readings *readings, gw_slide *out) {
    const gw_trace *trace = &readings->waveform;
    double mains = walker->chain->mains_hz > 0 ? walker->chain->mains_hz : 50, length_s = trace->end - trace->start;
    *out = (gw_slide){0};
    if (walker->shape != GW_SHAPE_NONE || !trace->low || !trace->high || trace->count < COLUMNS_LEAST ||
        !(length_s * mains > 1))
        return false;
    size_t lag = trace->count / PARTS;
    double move = usual_move(walker, trace, lag);
    double least = fmax(least_steps * readings->source.step, least_heights * usual_height(trace));
    if (!(fabs(move) > least)) {
        lag *= 2;
        move = usual_move(walker, trace, lag);
    }
    if (!(fabs(move) > least))
        return false;
    double column_s = length_s / (double)trace->count;
    out->volts_a_second = move / (double)lag / column_s;
    out->scale = gw_figure_of(&readings->values[GW_PEAK_TO_PEAK]).scale;
    find_means(trace, (size_t)fmax(1, 1 / mains / column_s), out);
    return true;
}
