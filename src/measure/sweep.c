#include "measure/sweep.h"

#include "base/lanes.h"

#include <math.h>
#include <stdbool.h>
#include <string.h>

/* A group's tables fit the nearest cache. */
enum { BLOCK = 256, SEEDS = 16, EXACT_EVERY = 8, GROUP = 8 };

static const double two_pi = 6.283185307179586476925;

/* cos and sin of 2πf·j for j = 0 … BLOCK-1: powers of two exact, the rest by rotation, so that errors stay at a few
 * ulp. */
static inline void table_fill(double *cosines, double *sines, double frequency) {
    cosines[0] = 1;
    sines[0] = 0;
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
    for (int j = SEEDS; j < BLOCK; j += SEEDS)
        for (int k = 0; k < SEEDS; k++) {
            cosines[j + k] = cosines[j + k - SEEDS] * c - sines[j + k - SEEDS] * s;
            sines[j + k] = sines[j + k - SEEDS] * c + cosines[j + k - SEEDS] * s;
        }
}

/* cos and sin of the phase where a block begins: exact every few blocks (the phase reduced before it is multiplied by
 * 2π), by rotation between. */
typedef struct phase {
    double frequency, middle, step_c, step_s, c, s;
} phase;

static inline phase phase_begin(size_t count, double frequency) {
    double turn = frequency * BLOCK;
    turn -= floor(turn);
    return (phase){.frequency = frequency,
                   .middle = 0.5 * (double)(count - 1),
                   .step_c = cos(two_pi * turn),
                   .step_s = sin(two_pi * turn)};
}

static inline void phase_move(phase *p, size_t at) {
    if (at % ((size_t)BLOCK * EXACT_EVERY) != 0) {
        double c = p->c * p->step_c - p->s * p->step_s;
        p->s = p->s * p->step_c + p->c * p->step_s;
        p->c = c;
        return;
    }
    double turn = p->frequency * ((double)at - p->middle);
    turn -= floor(turn);
    p->c = cos(two_pi * turn);
    p->s = sin(two_pi * turn);
}

static inline void block_add(double *restrict v, size_t length, const double *restrict cosines,
                             const double *restrict sines, double p, double q) {
#pragma omp simd
    for (size_t j = 0; j < length; j++)
        v[j] += p * cosines[j] + q * sines[j];
}

static inline void block_dot(const double *restrict v, size_t length, const double *restrict cosines,
                             const double *restrict sines, double *p, double *q) {
    gw_lanes x = {0}, y = {0}, x_next = {0}, y_next = {0};
    size_t j = 0;
    for (; j + GW_LANES <= length; j += GW_LANES) {
        gw_lanes value = GW_LANES_AT(v + j), next = GW_LANES_AT(v + j + 4);
        x += value * GW_LANES_AT(cosines + j);
        y += value * GW_LANES_AT(sines + j);
        x_next += next * GW_LANES_AT(cosines + j + 4);
        y_next += next * GW_LANES_AT(sines + j + 4);
    }
    double sum_x = gw_lanes_sum(&x, &x_next), sum_y = gw_lanes_sum(&y, &y_next);
    for (; j < length; j++) {
        sum_x += v[j] * cosines[j];
        sum_y += v[j] * sines[j];
    }
    *p = sum_x;
    *q = sum_y;
}

GW_WIDE void gw_sweep_add(double *vector, size_t count, double frequency, double cosine, double sine) {
    double cosines[BLOCK], sines[BLOCK];
    table_fill(cosines, sines, frequency);
    phase p = phase_begin(count, frequency);
    for (size_t at = 0; at < count; at += BLOCK) {
        phase_move(&p, at);
        size_t length = count - at < BLOCK ? count - at : BLOCK;
        block_add(vector + at, length, cosines, sines, cosine * p.c + sine * p.s, sine * p.c - cosine * p.s);
    }
}

GW_WIDE void gw_sweep_dot(const double *vector, size_t count, double frequency, double *cosine, double *sine) {
    double cosines[BLOCK], sines[BLOCK];
    table_fill(cosines, sines, frequency);
    phase p = phase_begin(count, frequency);
    double sum_c = 0, sum_s = 0;
    for (size_t at = 0; at < count; at += BLOCK) {
        double x, y;
        phase_move(&p, at);
        size_t length = count - at < BLOCK ? count - at : BLOCK;
        block_dot(vector + at, length, cosines, sines, &x, &y);
        sum_c += p.c * x - p.s * y;
        sum_s += p.s * x + p.c * y;
    }
    *cosine = sum_c;
    *sine = sum_s;
}

/* ---- several at a time ---------------------------------------------------------------------------- */

/* One line's tables and where it stands. */
typedef struct turning {
    double cosines[BLOCK], sines[BLOCK];
    phase at;
} turning;

static inline void turning_begin(turning *t, size_t count, double frequency) {
    table_fill(t->cosines, t->sines, frequency);
    t->at = phase_begin(count, frequency);
}

/* `fresh`: zero is what they are added to. */
GW_WIDE static void group_add(double *vector, size_t count, const gw_sweep *lines, size_t line_count, bool fresh) {
    turning turnings[GROUP];
    for (size_t k = 0; k < line_count; k++)
        turning_begin(&turnings[k], count, lines[k].frequency);
    for (size_t at = 0; at < count; at += BLOCK) {
        size_t length = count - at < BLOCK ? count - at : BLOCK;
        if (fresh)
            memset(vector + at, 0, length * sizeof *vector);
        for (size_t k = 0; k < line_count; k++) {
            turning *t = &turnings[k];
            phase *p = &t->at;
            phase_move(p, at);
            block_add(vector + at, length, t->cosines, t->sines, lines[k].cosine * p->c + lines[k].sine * p->s,
                      lines[k].sine * p->c - lines[k].cosine * p->s);
        }
    }
}

GW_WIDE static void group_dot(const double *vector, size_t count, gw_sweep *lines, size_t line_count) {
    turning turnings[GROUP];
    for (size_t k = 0; k < line_count; k++)
        turning_begin(&turnings[k], count, lines[k].frequency);
    for (size_t k = 0; k < line_count; k++)
        lines[k].cosine = lines[k].sine = 0;
    for (size_t at = 0; at < count; at += BLOCK) {
        size_t length = count - at < BLOCK ? count - at : BLOCK;
        for (size_t k = 0; k < line_count; k++) {
            turning *t = &turnings[k];
            phase *p = &t->at;
            double x, y;
            phase_move(p, at);
            block_dot(vector + at, length, t->cosines, t->sines, &x, &y);
            lines[k].cosine += p->c * x - p->s * y;
            lines[k].sine += p->s * x + p->c * y;
        }
    }
}

void gw_sweep_add_many(double *vector, size_t count, const gw_sweep *lines, size_t line_count) {
    for (size_t k = 0; k < line_count; k += GROUP)
        group_add(vector, count, lines + k, line_count - k < GROUP ? line_count - k : GROUP, false);
}

void gw_sweep_put_many(double *vector, size_t count, const gw_sweep *lines, size_t line_count) {
    size_t first = line_count < GROUP ? line_count : GROUP;
    group_add(vector, count, lines, first, true);
    gw_sweep_add_many(vector, count, lines + first, line_count - first);
}

void gw_sweep_dot_many(const double *vector, size_t count, gw_sweep *lines, size_t line_count) {
    for (size_t k = 0; k < line_count; k += GROUP)
        group_dot(vector, count, lines + k, line_count - k < GROUP ? line_count - k : GROUP);
}
