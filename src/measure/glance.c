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

/* Fits the lines and leaves in `room` what they leave. */
static bool lines_take(const gw_block *block, const gw_outline *outline, const gw_course_cell *total, double *room,
                       gw_glance *out) {
    gw_sweep lines[GW_OUTLINE_LINES];
    coefficients c;
    for (size_t k = 0; k < outline->count; k++)
        lines[k] = (gw_sweep){.frequency = outline->frequency[k]};
    gw_sweep_dot_many(block->volts, block->count, lines, outline->count);
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
    gw_sweep_apart_many(block->volts, -out->dc, block->count, lines, outline->count, room);
    return true;
}

/* ---- octaves ------------------------------------------------------------------------------------------ */

typedef long long mask_lanes __attribute__((vector_size(32)));

/* The larger of each lane into `most`. */
static inline void larger(gw_lanes *most, const gw_lanes *other) {
    mask_lanes more = (mask_lanes)(*other > *most);
    *most = (gw_lanes)((more & (mask_lanes)*other) | (~more & (mask_lanes)*most));
}

static double largest_lane(const gw_lanes *of) {
    const gw_lanes v = *of;
    return fmax(fmax(v[0], v[1]), fmax(v[2], v[3]));
}

/* Squares on their way to an octave. */
typedef struct squares {
    gw_lanes energy, next, largest;
} squares;

static inline void squares_add(squares *to, const gw_lanes *one, const gw_lanes *other) {
    const gw_lanes square = *one * *one, next = *other * *other;
    to->energy += square;
    to->next += next;
    larger(&to->largest, &square);
    larger(&to->largest, &next);
}

/* With the values that no lane was left for. */
static gw_octave squares_end(const squares *of, const double *rest, size_t left, double count) {
    double energy = gw_lanes_sum(&of->energy, &of->next), largest = largest_lane(&of->largest);
    for (size_t k = 0; k < left; k++) {
        energy += rest[k] * rest[k];
        largest = fmax(largest, rest[k] * rest[k]);
    }
    return (gw_octave){count, energy, largest};
}

/* Differences of neighbours are summed up in `out`, their sums left at the front of `values`; in `whole`, unless NULL,
 * the values themselves. */
GW_WIDE static size_t halve(double *values, size_t count, gw_octave *whole, gw_octave *out) {
    squares all = {0}, apart = {0};
    double rest[GW_LANES + 1], differences[GW_LANES / 2];
    size_t pairs = count / 2, k = 0, left = 0;
    for (; k + 4 <= pairs; k += 4) {
        gw_lanes one = GW_LANES_AT(values + 2 * k), other = GW_LANES_AT(values + 2 * k + 4);
        if (whole)
            squares_add(&all, &one, &other);
        gw_lanes even = __builtin_shufflevector(one, other, 0, 2, 4, 6),
                 odd = __builtin_shufflevector(one, other, 1, 3, 5, 7), difference = even - odd, none = {0};
        *(gw_lanes *)(values + k) = even + odd;
        squares_add(&apart, &difference, &none);
    }
    memcpy(rest, values + 2 * k, (count - 2 * k) * sizeof *rest);
    for (; k < pairs; k++, left++) {
        differences[left] = rest[2 * left] - rest[2 * left + 1];
        values[k] = rest[2 * left] + rest[2 * left + 1];
    }
    *out = squares_end(&apart, differences, left, (double)pairs);
    if (whole)
        *whole = squares_end(&all, rest, count - 2 * (pairs - left), (double)count);
    return pairs;
}

static gw_octave look_slow(const double *values, size_t count) {
    squares none = {0};
    return squares_end(&none, values, count, (double)count);
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

/* Each octave's values are scaled so that white noise has the same variance in all. */
static void octaves_take(double *values, size_t count, double rate_hz, gw_glance *out) {
    double width = 1;
    bool probed = false;
    for (; count >= 2 * FEW && out->octave_count + 1 < GW_GLANCE_OCTAVES; width *= 2) {
        /* still four values to the fastest of the probes, or none are there to take */
        if (!probed && rate_hz / (2 * width) < 4 * probed_hz[GW_GLANCE_PROBES - 1]) {
            probes_take(values, count, width, rate_hz, out);
            probed = true;
        }
        gw_octave *octave = &out->octaves[out->octave_count++];
        count = halve(values, count, width > 1 ? NULL : &out->whole, octave);
        octave->energy /= 2 * width;
        octave->largest /= 2 * width;
    }
    gw_octave *slow = &out->octaves[out->octave_count++];
    *slow = look_slow(values, count);
    if (!(width > 1))
        out->whole = *slow;
    slow->energy /= width;
    slow->largest /= width;
}

void gw_glance_make(const gw_block *block, const gw_outline *outline, const gw_course_cell *total, double *room,
                    gw_glance *out) {
    *out = (gw_glance){.samples = block->count, .step = block->step, .low = total->low, .high = total->high};
    bool here = !block->marks || total->present >= (double)block->count;
    if (!here || !outline->usable || !lines_take(block, outline, total, room, out))
        return;
    out->made = true;
    octaves_take(room, block->count, block->rate_hz, out);
    out->mean_square = out->whole.energy / (double)block->count;
    for (size_t k = 0; k < outline->count; k++)
        out->mean_square += 0.5 * out->amplitude[k] * out->amplitude[k];
}
