#include "measure/sweep.h"

#include "base/lanes.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

/* About the middle of a block cosines are even and sines odd, so that one product serves two samples. A group's tables
 * fit the nearest cache. */
enum { BLOCK = 256, HALF = BLOCK / 2, SEEDS = 16, EXACT_EVERY = 8, GROUP = 8 };

static const double two_pi = 6.283185307179586476925;

/* One line: its tables, and where it stands in the middle of a block. */
typedef struct turning {
    GW_ALIGNED double cosines[HALF]; /* of 2πf(j + 1/2) */
    double sines[HALF];
    double frequency, step_c, step_s, c, s;
    const double *exact; /* cosine and sine at the places that are exact, one after the other; NULL: not known before */
} turning;

/* Powers of two exact, the rest by rotation, so that errors stay at a few ulp. */
static inline void table_fill(double *cosines, double *sines, double frequency) {
    cosines[0] = cos(two_pi * frequency * 0.5);
    sines[0] = sin(two_pi * frequency * 0.5);
    for (int p = 1; p < SEEDS; p *= 2) {
        const double c = cos(two_pi * frequency * p), s = sin(two_pi * frequency * p);
        for (int j = 0; j < p; j++) {
            cosines[p + j] = cosines[j] * c - sines[j] * s;
            sines[p + j] = sines[j] * c + cosines[j] * s;
        }
    }
    double turn = frequency * SEEDS;
    turn -= floor(turn);
    const double c = cos(two_pi * turn), s = sin(two_pi * turn);
    for (int j = SEEDS; j < HALF; j += SEEDS)
        for (int k = 0; k < SEEDS; k++) {
            cosines[j + k] = cosines[j + k - SEEDS] * c - sines[j + k - SEEDS] * s;
            sines[j + k] = sines[j + k - SEEDS] * c + cosines[j + k - SEEDS] * s;
        }
}

static inline void turning_begin(turning *t, double frequency) {
    table_fill(t->cosines, t->sines, frequency);
    double turn = frequency * BLOCK;
    turn -= floor(turn);
    t->frequency = frequency;
    t->exact = NULL;
    t->step_c = cos(two_pi * turn);
    t->step_s = sin(two_pi * turn);
}

/* To `time`, in samples from the middle of the record; the phase is reduced before it is multiplied by 2π. */
static inline void turning_set(turning *t, double time) {
    double turn = t->frequency * time;
    turn -= floor(turn);
    t->c = cos(two_pi * turn);
    t->s = sin(two_pi * turn);
}

/* A block of two halves; of the last one, which may be short, a sample may be left over. */
typedef struct place {
    size_t at, half;
    bool exact;   /* where a line stands is computed, not turned from the block before: every few blocks */
    size_t which; /* of those */
    double middle;
} place;

static inline place place_of(size_t at, size_t count) {
    size_t length = count - at < BLOCK ? count - at : BLOCK;
    size_t each = (size_t)BLOCK * EXACT_EVERY, which = at / each + (at % each != 0);
    bool exact = length < BLOCK || at % each == 0;
    place out = {at, length / 2, exact, which, 0};
    out.middle = (double)at + (double)out.half - 0.5 - 0.5 * (double)(count - 1);
    return out;
}

static inline void turning_move(turning *t, const place *to) {
    if (to->exact && t->exact) {
        t->c = t->exact[2 * to->which];
        t->s = t->exact[2 * to->which + 1];
        return;
    }
    if (to->exact) {
        turning_set(t, to->middle);
        return;
    }
    double c = t->c * t->step_c - t->s * t->step_s;
    t->s = t->s * t->step_c + t->c * t->step_s;
    t->c = c;
}

/* ---- adding ------------------------------------------------------------------------------------------- */

/* to = from + offset + the lines, each even·cos + odd·sin about the middle. */
static inline GW_WITHIN void lines_add(const double *from, double offset, double *to, size_t half,
                                       const turning *turnings, const double *even, const double *odd,
                                       size_t line_count) {
#pragma omp simd
    for (size_t j = 0; j < half; j++) {
        double cosine = offset, sine = 0;
        GW_UNROLL_4
        for (size_t k = 0; k < line_count; k++) {
            cosine += even[k] * turnings[k].cosines[j];
            sine += odd[k] * turnings[k].sines[j];
        }
        to[half + j] = from[half + j] + (cosine + sine);
        to[half - 1 - j] = from[half - 1 - j] + (cosine - sine);
    }
}

/* Of a few lines their number is known when the loop is compiled, and what they are multiplied by stays at hand. */
static inline GW_WITHIN void block_add(const double *from, double offset, double *to, size_t half,
                                       const turning *turnings, const double *even, const double *odd,
                                       size_t line_count) {
    switch (line_count) {
    case 1:
        lines_add(from, offset, to, half, turnings, even, odd, 1);
        break;
    case 2:
        lines_add(from, offset, to, half, turnings, even, odd, 2);
        break;
    case 3:
        lines_add(from, offset, to, half, turnings, even, odd, 3);
        break;
    case 4:
        lines_add(from, offset, to, half, turnings, even, odd, 4);
        break;
    default:
        lines_add(from, offset, to, half, turnings, even, odd, line_count);
    }
}

/* The last sample of an odd number. */
static double last_of(double offset, size_t count, turning *turnings, const gw_sweep *lines, size_t line_count) {
    double sum = offset;
    for (size_t k = 0; k < line_count; k++) {
        turning_set(&turnings[k], 0.5 * (double)(count - 1));
        sum += lines[k].cosine * turnings[k].c + lines[k].sine * turnings[k].s;
    }
    return sum;
}

/* Samples `begin` to `end` of a record of `count`. */
typedef struct span {
    size_t begin, end, count;
} span;

GW_WIDE static void group_begin(turning *turnings, const gw_sweep *lines, size_t line_count) {
    for (size_t k = 0; k < line_count; k++)
        turning_begin(&turnings[k], lines[k].frequency);
}

/* `from` and `to` begin with the span. `fresh`: zero is what they are added to. */
GW_WIDE static void group_add(turning *turnings, const gw_sweep *lines, size_t line_count, const span *of,
                              const double *from, double offset, double *to, bool fresh) {
    double even[GROUP], odd[GROUP];
    for (size_t at = of->begin; at < of->end; at += BLOCK, from += BLOCK, to += BLOCK) {
        place here = place_of(at, of->count);
        if (fresh)
            memset(to, 0, (of->count - at < BLOCK ? of->count - at : BLOCK) * sizeof *to);
        for (size_t k = 0; k < line_count; k++) {
            turning *t = &turnings[k];
            turning_move(t, &here);
            even[k] = lines[k].cosine * t->c + lines[k].sine * t->s;
            odd[k] = lines[k].sine * t->c - lines[k].cosine * t->s;
        }
        block_add(from, offset, to, here.half, turnings, even, odd, line_count);
        if (of->count - at <= BLOCK && of->count % 2)
            to[of->count - at - 1] = from[of->count - at - 1] + last_of(offset, of->count, turnings, lines, line_count);
    }
}

void gw_sweep_add(double *vector, size_t count, double frequency, double cosine, double sine) {
    const gw_sweep line = {frequency, cosine, sine};
    const span whole = {0, count, count};
    turning own;
    turning_begin(&own, frequency);
    group_add(&own, &line, 1, &whole, vector, 0, vector, false);
}

/* ---- products ----------------------------------------------------------------------------------------- */

/* Sums and differences of samples alike far from the middle. */
static inline GW_WITHIN void halves_take(const double *values, size_t half, double *even, double *odd) {
#pragma omp simd
    for (size_t j = 0; j < half; j++) {
        even[j] = values[half + j] + values[half - 1 - j];
        odd[j] = values[half + j] - values[half - 1 - j];
    }
}

/* Products with one line, in the order of gw_gram_dot. */
static inline GW_WITHIN void halves_dot(const double *even, const double *odd, size_t half, const turning *t,
                                        double *cosine, double *sine) {
    double x[GW_LANES] = {0}, y[GW_LANES] = {0};
    size_t j = 0;
    for (; j + GW_LANES <= half; j += GW_LANES)
#pragma omp simd
        for (size_t l = 0; l < GW_LANES; l++) {
            x[l] += even[j + l] * t->cosines[j + l];
            y[l] += odd[j + l] * t->sines[j + l];
        }
    *cosine = gw_lanes_total(x);
    *sine = gw_lanes_total(y);
    for (; j < half; j++) {
        *cosine += even[j] * t->cosines[j];
        *sine += odd[j] * t->sines[j];
    }
}

/* Two lines at a time: what they are multiplied with is at hand for both. */
static inline GW_WITHIN void halves_dot_two(const double *even, const double *odd, size_t half, const turning *t,
                                            double *cosine, double *sine) {
    const turning *u = t + 1;
    double x[GW_LANES] = {0}, y[GW_LANES] = {0}, v[GW_LANES] = {0}, w[GW_LANES] = {0};
    size_t j = 0;
    for (; j + GW_LANES <= half; j += GW_LANES)
#pragma omp simd
        for (size_t l = 0; l < GW_LANES; l++) {
            x[l] += even[j + l] * t->cosines[j + l];
            v[l] += even[j + l] * u->cosines[j + l];
            y[l] += odd[j + l] * t->sines[j + l];
            w[l] += odd[j + l] * u->sines[j + l];
        }
    cosine[0] = gw_lanes_total(x);
    cosine[1] = gw_lanes_total(v);
    sine[0] = gw_lanes_total(y);
    sine[1] = gw_lanes_total(w);
    for (size_t k = 0; k < 2; k++)
        for (size_t i = j; i < half; i++) {
            cosine[k] += even[i] * t[k].cosines[i];
            sine[k] += odd[i] * t[k].sines[i];
        }
}

/* The last sample of an odd number. */
static void last_dot(double value, size_t count, turning *turnings, gw_sweep *lines, size_t line_count) {
    for (size_t k = 0; k < line_count; k++) {
        turning_set(&turnings[k], 0.5 * (double)(count - 1));
        lines[k].cosine += value * turnings[k].c;
        lines[k].sine += value * turnings[k].s;
    }
}

/* Adds up; `vector` begins with the span. */
GW_WIDE static void group_dot(turning *turnings, const double *vector, const span *of, gw_sweep *lines,
                              size_t line_count) {
    GW_ALIGNED double even[HALF], odd[HALF];
    for (size_t at = of->begin; at < of->end; at += BLOCK) {
        place here = place_of(at, of->count);
        halves_take(vector + (at - of->begin), here.half, even, odd);
        double x[GROUP], y[GROUP];
        size_t two = line_count / 2 * 2;
        for (size_t k = 0; k < two; k += 2)
            halves_dot_two(even, odd, here.half, &turnings[k], &x[k], &y[k]);
        if (two < line_count)
            halves_dot(even, odd, here.half, &turnings[two], &x[two], &y[two]);
        for (size_t k = 0; k < line_count; k++) {
            turning *t = &turnings[k];
            turning_move(t, &here);
            lines[k].cosine += t->c * x[k] - t->s * y[k];
            lines[k].sine += t->s * x[k] + t->c * y[k];
        }
    }
    if (of->end == of->count && of->count % 2)
        last_dot(vector[of->end - of->begin - 1], of->count, turnings, lines, line_count);
}

static void lines_clear(gw_sweep *lines, size_t line_count) {
    for (size_t k = 0; k < line_count; k++)
        lines[k].cosine = lines[k].sine = 0;
}

void gw_sweep_dot_many(const double *vector, size_t count, gw_sweep *lines, size_t line_count) {
    turning turnings[GROUP];
    const span whole = {0, count, count};
    lines_clear(lines, line_count);
    for (size_t k = 0; k < line_count; k += GROUP) {
        size_t some = line_count - k < GROUP ? line_count - k : GROUP;
        group_begin(turnings, lines + k, some);
        group_dot(turnings, vector, &whole, lines + k, some);
    }
}

void gw_sweep_dot(const double *vector, size_t count, double frequency, double *cosine, double *sine) {
    gw_sweep line = {.frequency = frequency};
    gw_sweep_dot_many(vector, count, &line, 1);
    *cosine = line.cosine;
    *sine = line.sine;
}

/* ---- the same lines over many records ----------------------------------------------------------------- */

struct gw_sweeper {
    size_t line_count, count, places; /* count: samples */
    double *exact;
    turning turnings[];
};

_Static_assert(GW_SWEEP_PART % (BLOCK * EXACT_EVERY) == 0, "parts must begin where no line is turned from before");

/* Where the line stands at all places that are exact. */
static void exact_fill(turning *t, size_t count, double *exact) {
    for (size_t at = 0; at < count; at += BLOCK) {
        place here = place_of(at, count);
        if (!here.exact)
            continue;
        turning_set(t, here.middle);
        exact[2 * here.which] = t->c;
        exact[2 * here.which + 1] = t->s;
    }
    t->exact = exact;
}

gw_sweeper *gw_sweeper_room(size_t line_most, size_t count) {
    void *room = NULL;
    if (posix_memalign(&room, GW_LINE, sizeof(gw_sweeper) + line_most * sizeof(turning)) != 0)
        return NULL;
    gw_sweeper *out = room;
    *out = (gw_sweeper){.count = count, .places = count / ((size_t)BLOCK * EXACT_EVERY) + 2};
    out->exact = malloc((2 * out->places * line_most + 1) * sizeof *out->exact);
    if (!out->exact) {
        free(out);
        return NULL;
    }
    return out;
}

void gw_sweeper_set(gw_sweeper *of, const gw_sweep *lines, size_t line_count) {
    of->line_count = line_count;
    group_begin(of->turnings, lines, line_count);
    for (size_t k = 0; k < line_count; k++)
        exact_fill(&of->turnings[k], of->count, of->exact + 2 * of->places * k);
}

gw_sweeper *gw_sweeper_new(const gw_sweep *lines, size_t line_count, size_t count) {
    gw_sweeper *out = gw_sweeper_room(line_count, count);
    if (out)
        gw_sweeper_set(out, lines, line_count);
    return out;
}

void gw_sweeper_free(gw_sweeper *sweeper) {
    if (!sweeper)
        return;
    free(sweeper->exact);
    free(sweeper);
}

bool gw_sweeper_serves(const gw_sweeper *of, const gw_sweep *lines, size_t line_count, size_t count) {
    if (!of || of->line_count != line_count || of->count != count)
        return false;
    for (size_t k = 0; k < line_count; k++)
        if (of->turnings[k].frequency != lines[k].frequency)
            return false;
    return true;
}

static span part_of(const gw_sweeper *of, size_t at) {
    return (span){at, of->count - at < GW_SWEEP_PART ? of->count : at + GW_SWEEP_PART, of->count};
}

static size_t group_of(const gw_sweeper *of, size_t first) {
    return of->line_count - first < GROUP ? of->line_count - first : GROUP;
}

static void span_dot(gw_sweeper *of, const double *vector, const span *part, gw_sweep *lines) {
    for (size_t k = 0; k < of->line_count; k += GROUP)
        group_dot(of->turnings + k, vector, part, lines + k, group_of(of, k));
}

void gw_sweeper_dot(gw_sweeper *of, const double *vector, gw_sweep *lines) {
    const span whole = {0, of->count, of->count};
    lines_clear(lines, of->line_count);
    span_dot(of, vector, &whole, lines);
}

void gw_sweeper_dot_part(gw_sweeper *of, const double *vector, size_t at, gw_sweep *lines) {
    const span part = part_of(of, at);
    span_dot(of, vector, &part, lines);
}

void gw_sweeper_apart(gw_sweeper *of, const gw_sweep *lines, const double *from, double offset, size_t at, double *to) {
    const span part = part_of(of, at);
    size_t k = 0;
    do {
        size_t some = group_of(of, k);
        group_add(of->turnings + k, lines + k, some, &part, k ? to : from, k ? 0 : offset, to, false);
        k += some;
    } while (k < of->line_count);
}

/* Has any line of a group an amplitude? */
static bool any_there(const gw_sweep *lines, size_t line_count) {
    for (size_t k = 0; k < line_count; k++)
        if (lines[k].cosine != 0 || lines[k].sine != 0)
            return true;
    return false;
}

void gw_sweeper_put(gw_sweeper *of, const gw_sweep *lines, size_t at, double *to) {
    const span part = part_of(of, at);
    bool fresh = true;
    for (size_t k = 0; k < of->line_count; k += GROUP)
        if (any_there(lines + k, group_of(of, k))) {
            group_add(of->turnings + k, lines + k, group_of(of, k), &part, to, 0, to, fresh);
            fresh = false;
        }
    if (fresh)
        memset(to, 0, (part.end - at) * sizeof *to);
}
