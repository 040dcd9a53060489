#include "measure/dead.h"

#include "gainwalk/capture.h"

#include <math.h>
#include <stdlib.h>

/* Of the record's swing. */
static const double moves_less = 0.125;

enum { CELLS = 512, LEAST_SAMPLES = 64 };

/* Extremes of the samples of a 512th of the record; low > high where none is present. */
typedef struct cell {
    double low, high;
} cell;

typedef struct stretch {
    size_t first, end; /* cells */
    double low, high;
} stretch;

static cell joined(cell a, cell b) {
    return (cell){.low = fmin(a.low, b.low), .high = fmax(a.high, b.high)};
}

static const cell nothing = {.low = INFINITY, .high = -INFINITY};

static cell cells_fill(const gw_block *block, cell *cells) {
    cell all = nothing;
    for (size_t k = 0; k < CELLS; k++) {
        cells[k] = nothing;
        for (size_t i = k * block->count / CELLS; i < (k + 1) * block->count / CELLS; i++)
            if (!block->marks || block->marks[i] == GW_SAMPLE_PRESENT)
                cells[k] = joined(cells[k], (cell){block->volts[i], block->volts[i]});
        all = joined(all, cells[k]);
    }
    return all;
}

/* From `first` on, as far as it swings no more than `most`. */
static stretch stretch_at(const cell *cells, size_t first, double most) {
    cell all = nothing;
    stretch s = {first, first, 0, 0};
    while (s.end < CELLS) {
        all = joined(all, cells[s.end]);
        if (all.high - all.low > most)
            break;
        s = (stretch){first, s.end + 1, all.low, all.high};
    }
    return s;
}

static size_t length(stretch s) {
    return s.end - s.first;
}

static stretch longest(const cell *cells, double most) {
    stretch best = {0};
    for (size_t first = 0; first + length(best) < CELLS; first++) {
        stretch s = stretch_at(cells, first, most);
        best = length(s) > length(best) ? s : best;
    }
    return best;
}

double gw_dead_error_s(const gw_block *block) {
    return (double)block->count / CELLS / block->rate_hz;
}

/* All that are at least half as long as the longest and lie where it does. */
static void keep_alike(const gw_block *block, const cell *cells, stretch model, double most, gw_event *out,
                       size_t *count) {
    double cell_s = gw_dead_error_s(block);
    size_t first = 0;
    while (first < CELLS && *count < GW_DEAD_MAX) {
        stretch s = first == model.first ? model : stretch_at(cells, first, most);
        bool alike = 2 * length(s) >= length(model) && fmax(s.high, model.high) - fmin(s.low, model.low) < 2 * most;
        if (alike)
            out[(*count)++] = (gw_event){
                .kind = GW_EVENT_DROPOUT, .start_s = (double)s.first * cell_s, .length_s = (double)length(s) * cell_s};
        first = alike ? s.end : first + 1;
    }
}

bool gw_dead_stretches(const gw_block *block, gw_event *out, size_t *count) {
    *count = 0;
    if (block->count < LEAST_SAMPLES)
        return true;
    cell *cells = malloc(CELLS * sizeof *cells);
    if (!cells)
        return false;
    cell all = cells_fill(block, cells);
    double most = moves_less * (all.high - all.low);
    if (most > 0)
        keep_alike(block, cells, longest(cells, most), most, out, count);
    free(cells);
    return true;
}
