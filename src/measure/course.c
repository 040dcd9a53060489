#include "measure/course.h"

#include "base/lanes.h"

#include <math.h>
#include <stdlib.h>

static gw_course_cell cell_marked(const double *volts, const unsigned char *marks, size_t count) {
    gw_course_cell c = {.low = INFINITY, .high = -INFINITY};
    for (size_t i = 0; i < count; i++) {
        if (marks[i] != GW_SAMPLE_PRESENT)
            continue;
        double v = volts[i];
        c.present++;
        c.sum += v;
        c.squares += v * v;
        c.low = v < c.low ? v : c.low;
        c.high = v > c.high ? v : c.high;
    }
    return c;
}

GW_WIDE static void cell_plain(const double *volts, size_t count, gw_course_cell *out) {
    double sum[GW_LANES] = {0}, squares[GW_LANES] = {0};
    gw_course_cell c = {.present = (double)count, .low = INFINITY, .high = -INFINITY};
    size_t i = 0;
    for (size_t end = 0; i + GW_LANES <= count;) {
        gw_lanes_extent(volts + end, count - end < GW_NEAR ? count - end : GW_NEAR, &c.low, &c.high);
        end = count - end < GW_NEAR ? count : end + GW_NEAR;
        for (; i + GW_LANES <= end; i += GW_LANES)
#pragma omp simd
            for (size_t l = 0; l < GW_LANES; l++) {
                sum[l] += volts[i + l];
                squares[l] += volts[i + l] * volts[i + l];
            }
    }
    c.sum = gw_lanes_total(sum);
    c.squares = gw_lanes_total(squares);
    gw_lanes_extent(volts + i, count - i, &c.low, &c.high);
    for (; i < count; i++) {
        c.sum += volts[i];
        c.squares += volts[i] * volts[i];
    }
    *out = c;
}

static gw_course_cell cell_of(const double *volts, const unsigned char *marks, size_t count) {
    gw_course_cell out;
    if (marks)
        return cell_marked(volts, marks, count);
    cell_plain(volts, count, &out);
    return out;
}

static void cell_join(gw_course_cell *to, const gw_course_cell *from) {
    if (!(from->present > 0))
        return;
    to->low = to->present > 0 ? fmin(to->low, from->low) : from->low;
    to->high = to->present > 0 ? fmax(to->high, from->high) : from->high;
    to->present += from->present;
    to->sum += from->sum;
    to->squares += from->squares;
}

/* ---- a segment's share ---------------------------------------------------------------------------- */

static const size_t cells_of[2] = {GW_COURSE_LEVELS, GW_COURSE_COLUMNS};

static size_t cell_at(uint64_t sample, uint64_t samples, size_t cells) {
    size_t at = (size_t)((double)sample / (double)samples * (double)cells);
    return at < cells ? at : cells - 1;
}

/* The first sample of the cell behind the one that holds `sample`. */
static uint64_t cell_end(uint64_t sample, uint64_t samples, size_t cells) {
    size_t at = cell_at(sample, samples, cells);
    uint64_t end = (uint64_t)((double)samples / (double)cells * (double)(at + 1));
    end = end > sample ? end : sample + 1;
    while (end > sample + 1 && cell_at(end - 1, samples, cells) != at)
        end--;
    while (end < samples && cell_at(end, samples, cells) == at)
        end++;
    return end;
}

/* Where the run that begins at sample `from` ends, and what cells and part it lies in. */
static uint64_t run_begin(uint64_t from, uint64_t samples, gw_course_run *out) {
    uint64_t level = cell_end(from, samples, GW_COURSE_LEVELS), column = cell_end(from, samples, GW_COURSE_COLUMNS);
    *out = (gw_course_run){.level = cell_at(from, samples, GW_COURSE_LEVELS),
                           .column = cell_at(from, samples, GW_COURSE_COLUMNS)};
    return level < column ? level : column;
}

bool gw_course_part_make(const gw_block *block, uint64_t first, uint64_t samples, gw_course_part *out) {
    uint64_t last = first + (block->count > 0 ? block->count - 1 : 0);
    size_t most = 2 + GW_COURSE_PARTS, part = 0;
    for (int k = 0; k < 2; k++)
        most += cell_at(last, samples, cells_of[k]) - cell_at(first, samples, cells_of[k]);
    *out = (gw_course_part){.runs = malloc(most * sizeof *out->runs)};
    if (!out->runs)
        return false;
    for (size_t done = 0; done < block->count;) {
        gw_course_run *run = &out->runs[out->count++];
        uint64_t end = run_begin(first + done, samples, run);
        while (block->count * (part + 1) / GW_COURSE_PARTS <= done)
            part++;
        size_t left = block->count * (part + 1) / GW_COURSE_PARTS - done,
               now = end - first - done < left ? (size_t)(end - first - done) : left;
        run->part = part;
        run->cell = cell_of(block->volts + done, block->marks ? block->marks + done : NULL, now);
        done += now;
    }
    return true;
}

void gw_course_part_end(gw_course_part *part) {
    free(part->runs);
    *part = (gw_course_part){0};
}

gw_course_cell gw_course_total(const gw_course_part *part) {
    gw_course_cell out = {0};
    for (size_t k = 0; k < part->count; k++)
        cell_join(&out, &part->runs[k].cell);
    return out;
}

void gw_course_parts(const gw_course_part *part, gw_course_cell cells[GW_COURSE_PARTS]) {
    for (size_t k = 0; k < GW_COURSE_PARTS; k++)
        cells[k] = (gw_course_cell){0};
    for (size_t k = 0; k < part->count; k++)
        cell_join(&cells[part->runs[k].part], &part->runs[k].cell);
}

/* ---- the whole -------------------------------------------------------------------------------------- */

void gw_course_add(gw_course *all, const gw_course_part *part) {
    for (size_t k = 0; k < part->count; k++) {
        const gw_course_run *run = &part->runs[k];
        cell_join(&all->levels[run->level], &run->cell);
        cell_join(&all->columns[run->column], &run->cell);
    }
}

static void levels_finish(const gw_course *all, double duration, gw_readings *out) {
    for (size_t k = 0; k < GW_COURSE_LEVELS; k++) {
        const gw_course_cell *cell = &all->levels[k];
        if (!(cell->present > 0))
            continue;
        double dc = cell->sum / cell->present;
        out->levels[out->level_count++] =
            (gw_level_point){.time_s = duration * ((double)k + 0.5) / GW_COURSE_LEVELS,
                             .rms_v = sqrt(fmax(cell->squares / cell->present - dc * dc, 0)),
                             .dc_v = dc};
    }
}

static void waveform_finish(const gw_course *all, double duration, gw_readings *out) {
    for (size_t k = 0; k < GW_COURSE_COLUMNS; k++) {
        bool seen = all->columns[k].present > 0;
        out->waveform.low[k] = seen ? all->columns[k].low : k ? out->waveform.low[k - 1] : 0;
        out->waveform.high[k] = seen ? all->columns[k].high : k ? out->waveform.high[k - 1] : 0;
    }
    out->waveform.count = GW_COURSE_COLUMNS;
    out->waveform.start = out->source.start_s;
    out->waveform.end = out->source.start_s + duration;
}

bool gw_course_finish(const gw_course *all, gw_readings *out) {
    double duration = (double)all->samples / out->source.rate_hz;
    out->levels = gw_arena_array(out->arena, GW_COURSE_LEVELS, sizeof *out->levels);
    out->waveform.low = gw_arena_array(out->arena, GW_COURSE_COLUMNS, sizeof(double));
    out->waveform.high = gw_arena_array(out->arena, GW_COURSE_COLUMNS, sizeof(double));
    if (!out->levels || !out->waveform.low || !out->waveform.high)
        return false;
    levels_finish(all, duration, out);
    waveform_finish(all, duration, out);
    return true;
}
