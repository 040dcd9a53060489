#include "measure/glance.h"

#include "base/lanes.h"
#include "measure/gram.h"
#include "measure/solve.h"
#include "measure/sweep.h"

#include <math.h>
#include <string.h>

/* Octaves with fewer values than this are taken together. */
enum { FEW = 32 };

/* Columns of which less than this is their own can't be told apart. */
static const double least_pivot = 1e-9;

/* ---- outline ------------------------------------------------------------------------------------------ */

/* Adds a line unless one within a cycle of the record is there. */
static bool line_add(gw_outline *out, double frequency, size_t samples) {
    for (size_t k = 0; k < out->count; k++)
        if (fabs(out->frequency[k] - frequency) * (double)samples < 1)
            return true;
    if (!(frequency * (double)samples > 1) || frequency > 0.5 - 1 / (double)samples)
        return true;
    if (out->count == GW_OUTLINE_LINES)
        return false;
    out->frequency[out->count++] = frequency;
    return true;
}

void gw_outline_make(const gw_model *model, const gw_readings *readings, const gw_block *block, gw_outline *out) {
    const gw_fit *fit = &model->fit;
    *out = (gw_outline){.usable = fit->solved && fit->present == fit->count && readings->event_count == 0};
    if (model->tone)
        out->usable = line_add(out, fit->base[GW_BASE_SIGNAL], block->count) && out->usable;
    out->tone = out->count > 0;
    for (size_t k = 0; k < fit->line_count && out->usable; k++)
        out->usable = line_add(out, gw_fit_frequency(fit, &fit->lines[k]), block->count);
    for (size_t k = 0; k < readings->tone_count && out->usable; k++)
        out->usable = line_add(out, readings->tones[k].frequency_hz / block->rate_hz, block->count);
}

/* ---- the lines ---------------------------------------------------------------------------------------- */

enum { COLUMNS = GW_OUTLINE_LINES + 1 };

/* DC and the cosines; the sines. About the middle these are independent of each other. */
typedef struct coefficients {
    double even[COLUMNS], odd[COLUMNS];
} coefficients;

static bool lines_solve(const gw_outline *outline, size_t samples, coefficients *c) {
    double even[COLUMNS * COLUMNS], odd[COLUMNS * COLUMNS], products[4];
    size_t n = outline->count, order = n + 1;
    gw_run run = {.length = samples};
    gw_fit plain = {.count = samples, .present = samples, .runs = &run, .run_count = 1};
    for (size_t i = 0; i < order; i++)
        for (size_t j = 0; j <= i; j++) {
            gw_gram_pair(&plain, i ? outline->frequency[i - 1] : 0, j ? outline->frequency[j - 1] : 0, products);
            even[i * order + j] = products[0];
            if (j > 0)
                odd[(i - 1) * n + j - 1] = products[3];
        }
    if (!gw_solve_factor(even, order, least_pivot) || !gw_solve_factor(odd, n, least_pivot))
        return false;
    gw_solve_back(even, order, c->even);
    gw_solve_back(odd, n, c->odd);
    return true;
}

/* Fits the lines: `lines` are then what takes them out. */
static bool lines_fit(const gw_block *block, const gw_outline *outline, const gw_course_cell *total,
                      gw_sweeper *sweeper, gw_sweep *lines, gw_glance *out) {
    coefficients c;
    gw_sweeper_dot(sweeper, block->volts, lines);
    c.even[0] = total->sum;
    for (size_t k = 0; k < outline->count; k++) {
        c.even[k + 1] = lines[k].cosine;
        c.odd[k] = lines[k].sine;
    }
    if (!lines_solve(outline, block->count, &c))
        return false;
    out->dc = c.even[0];
    for (size_t k = 0; k < outline->count; k++) {
        out->amplitude[k] = hypot(c.even[k + 1], c.odd[k]);
        lines[k] = (gw_sweep){outline->frequency[k], -c.even[k + 1], -c.odd[k]};
    }
    out->phase_rad = outline->tone ? atan2(-c.odd[0], c.even[1]) : 0;
    return true;
}

/* ---- octaves ------------------------------------------------------------------------------------------ */

/* Squares on their way to an octave, and at the record's end the values that no lane is left for. */
typedef struct squares {
    double energy[GW_LANES], next[GW_LANES]; /* by turns: one addition need not wait for the one before */
    double low, high;                        /* of what is squared */
    double rest[GW_LANES];
    size_t left;
} squares;

/* The largest square is that of the value furthest from zero. */
static gw_octave squares_end(const squares *of, size_t count) {
    double energy = gw_lanes_total(of->energy) + gw_lanes_total(of->next);
    double largest = fmax(of->low * of->low, of->high * of->high);
    for (size_t k = 0; k < of->left; k++) {
        energy += of->rest[k] * of->rest[k];
        largest = fmax(largest, of->rest[k] * of->rest[k]);
    }
    return (gw_octave){(double)count, energy, largest};
}

/* Of a few values. */
static gw_octave squares_of(const double *values, size_t count) {
    gw_octave out = {.count = (double)count};
    for (size_t k = 0; k < count; k++) {
        out.energy += values[k] * values[k];
        out.largest = fmax(out.largest, values[k] * values[k]);
    }
    return out;
}

/* Adds up what is near. */
static inline GW_WITHIN void squares_add(squares *to, const double *values, size_t count) {
    const size_t both = (size_t)2 * GW_LANES;
    double energy[GW_LANES], next[GW_LANES];
    size_t k = 0;
    memcpy(energy, to->energy, sizeof energy);
    memcpy(next, to->next, sizeof next);
    for (; k + both <= count; k += both)
#pragma omp simd
        for (size_t l = 0; l < GW_LANES; l++) {
            energy[l] += values[k + l] * values[k + l];
            next[l] += values[k + GW_LANES + l] * values[k + GW_LANES + l];
        }
    for (size_t l = 0; k + l < count; l++)
        energy[l % GW_LANES] += values[k + l] * values[k + l];
    memcpy(to->energy, energy, sizeof energy);
    memcpy(to->next, next, sizeof next);
    gw_lanes_extent(values, count, &to->low, &to->high);
}

/* Sums of neighbours go to `sums`, which may be `values` or before them, their differences to `differences`. */
static inline GW_WITHIN void pairs_part(const double *values, size_t pairs, double *sums, double *differences) {
#pragma omp simd
    for (size_t k = 0; k < pairs; k++) {
        double even = values[2 * k], odd = values[2 * k + 1];
        sums[k] = even + odd;
        differences[k] = even - odd;
    }
}

/* Differences of neighbours are summed up in `apart`, their sums left at the front of `values`; in `all`, unless NULL,
 * the values themselves. Of a record that comes in parts only the last one may be of no multiple of eight. */
GW_WIDE static size_t halve(double *values, size_t count, squares *all, squares *apart) {
    GW_ALIGNED double differences[GW_NEAR / 2];
    size_t most = count / GW_LANES * GW_LANES, pairs = count / 2;
    for (size_t at = 0; at < most; at += GW_NEAR) {
        size_t near = most - at < GW_NEAR ? most - at : GW_NEAR;
        if (all)
            squares_add(all, values + at, near);
        pairs_part(values + at, near / 2, values + at / 2, differences);
        squares_add(apart, differences, near / 2);
    }
    for (size_t k = most; all && k < count; k++)
        all->rest[all->left++] = values[k];
    for (size_t k = most / 2; k < pairs; k++) {
        double even = values[2 * k], odd = values[2 * k + 1];
        apart->rest[apart->left++] = even - odd;
        values[k] = even + odd;
    }
    return pairs;
}

/* Where hum stands, hertz. */
static const double probed_hz[GW_GLANCE_PROBES] = {50, 60, 100, 120, 150, 180};

/* `values` are sums of `width` samples. */
static void probes_take(const double *values, size_t count, double width, double rate_hz, gw_glance *out) {
    gw_sweep lines[GW_GLANCE_PROBES];
    for (size_t k = 0; k < GW_GLANCE_PROBES; k++)
        lines[k] = (gw_sweep){.frequency = probed_hz[k] * width / rate_hz};
    gw_sweep_dot_many(values, count, lines, GW_GLANCE_PROBES);
    for (size_t k = 0; k < GW_GLANCE_PROBES; k++)
        out->probes[k] = 2 / (double)out->samples * hypot(lines[k].cosine, lines[k].sine);
}

/* Octaves that are taken while what they are taken of is still at hand. */
enum { AT_HAND = 5 };

_Static_assert((GW_SWEEP_PART >> AT_HAND) % GW_LANES == 0,
               "every part but the last must fill the lanes of each octave");

/* Still four values to the fastest of the probes, or none are there to take. */
static bool probes_wait(double width, double rate_hz) {
    return rate_hz / (2 * width) >= 4 * probed_hz[GW_GLANCE_PROBES - 1];
}

/* Whether another octave can be taken of `count` values. */
static bool octave_more(size_t count, size_t octaves) {
    return count / 2 >= FEW && octaves + 1 < GW_GLANCE_OCTAVES;
}

/* Each octave's values are scaled so that white noise has the same variance in all. */
static void octave_put(gw_octave octave, double width, gw_glance *out) {
    octave.energy /= width;
    octave.largest /= width;
    out->octaves[out->octave_count++] = octave;
}

/* Takes the lines out and the first octaves of what is left, part by part; leaves sums of `*width` samples in `room`.
 * Returns how many. */
static size_t parts_take(const gw_block *block, gw_sweeper *sweeper, const gw_sweep *lines, double *room, double *width,
                         gw_glance *out) {
    squares all = {0}, apart[AT_HAND];
    GW_ALIGNED double part[GW_SWEEP_PART];
    size_t octaves = 0, filled = 0;
    memset(apart, 0, sizeof apart);
    while (octaves < AT_HAND && octave_more(block->count >> octaves, octaves) &&
           probes_wait(1 << octaves, block->rate_hz))
        octaves++;
    for (size_t at = 0; at < block->count; at += GW_SWEEP_PART) {
        size_t count = block->count - at < GW_SWEEP_PART ? block->count - at : GW_SWEEP_PART;
        gw_sweeper_apart(sweeper, lines, block->volts + at, -out->dc, at, part);
        for (size_t k = 0; k < octaves; k++)
            count = halve(part, count, k ? NULL : &all, &apart[k]);
        memcpy(room + filled, part, count * sizeof *room);
        filled += count;
    }
    if (octaves)
        out->whole = squares_end(&all, block->count);
    for (size_t k = 0; k < octaves; k++)
        octave_put(squares_end(&apart[k], block->count >> (k + 1)), 2 << k, out);
    *width = 1 << octaves;
    return filled;
}

/* The slower octaves, of `count` sums of `width` samples. */
static void octaves_take(double *values, size_t count, double width, double rate_hz, gw_glance *out) {
    bool probed = false;
    for (; octave_more(count, out->octave_count); width *= 2) {
        squares all = {0}, apart = {0};
        size_t before = count;
        if (!probed && !probes_wait(width, rate_hz)) {
            probes_take(values, count, width, rate_hz, out);
            probed = true;
        }
        count = halve(values, count, width > 1 ? NULL : &all, &apart);
        octave_put(squares_end(&apart, count), 2 * width, out);
        if (!(width > 1))
            out->whole = squares_end(&all, before);
    }
    if (!(width > 1))
        out->whole = squares_of(values, count);
    octave_put(squares_of(values, count), width, out);
}

/* Lines without amplitudes, and what sweeps them over records of so many samples: as it was kept, or new. NULL when
 * memory is out. */
static gw_sweeper *sweeper_for(const gw_outline *outline, size_t count, gw_sweepers *kept, gw_sweep *lines) {
    gw_sweeper **own = &kept->by_rest[count % 2];
    for (size_t k = 0; k < outline->count; k++)
        lines[k] = (gw_sweep){.frequency = outline->frequency[k]};
    if (gw_sweeper_serves(*own, lines, outline->count, count))
        return *own;
    gw_sweeper_free(*own);
    return *own = gw_sweeper_new(lines, outline->count, count);
}

void gw_sweepers_end(gw_sweepers *kept) {
    for (int k = 0; k < 2; k++)
        gw_sweeper_free(kept->by_rest[k]);
    *kept = (gw_sweepers){0};
}

bool gw_glance_make(const gw_block *block, const gw_outline *outline, const gw_course_cell *total, gw_sweepers *kept,
                    double *room, gw_glance *out) {
    gw_sweep lines[GW_OUTLINE_LINES];
    double width;
    *out = (gw_glance){.samples = block->count, .step = block->step, .low = total->low, .high = total->high};
    bool here = !block->marks || total->present >= (double)block->count;
    if (!here || !outline->usable)
        return true;
    gw_sweeper *sweeper = sweeper_for(outline, block->count, kept, lines);
    if (!sweeper)
        return false;
    if (!lines_fit(block, outline, total, sweeper, lines, out))
        return true;
    size_t count = parts_take(block, sweeper, lines, room, &width, out);
    octaves_take(room, count, width, block->rate_hz, out);
    out->made = true;
    out->mean_square = out->whole.energy / (double)block->count;
    for (size_t k = 0; k < outline->count; k++)
        out->mean_square += 0.5 * out->amplitude[k] * out->amplitude[k];
    return true;
}
