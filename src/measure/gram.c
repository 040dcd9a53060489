#include "measure/gram.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>

static const double pi = 3.14159265358979323846;

/* Over `length` consecutive samples centred on 0, u = -(m - 1)/2 … (m - 1)/2: Σ e^{i2πfu} = sin πmf / sin πf (the
 * Dirichlet kernel) and Σ u·sin 2πfu, its derivative over -2π. */
typedef struct kernel {
    double sum, moment;
} kernel;

/* Below this angle the derivative's two halves cancel, and three terms of its series in f do better: 1e-12 either way.
 */
static const double least_angle = 0.05;

static kernel kernel_at(size_t samples, double frequency) {
    /* e^{i2πu} is 1 or, for an even number of samples (u half-odd), -1: frequencies count from the nearest whole one */
    double length = (double)samples, whole = floor(frequency + 0.5), f = frequency - whole;
    double sign = (int64_t)whole % 2 != 0 && samples % 2 == 0 ? -1 : 1;
    double squares = length * (length * length - 1) / 12;
    double turn = length * f, angle = pi * turn;
    if (fabs(angle) < least_angle) {
        double w = 2 * pi * f, l2 = length * length;
        double fourths = squares * (3 * l2 - 7) / 20, sixths = squares * (3 * l2 * l2 - 18 * l2 + 31) / 112;
        double sum = length - w * w / 2 * (squares - w * w / 12 * (fourths - w * w / 30 * sixths));
        return (kernel){sign * sum, sign * w * (squares - w * w / 6 * (fourths - w * w / 20 * sixths))};
    }
    turn -= 2 * floor(turn / 2 + 0.5);
    double c = cos(pi * turn), s = sin(pi * turn), below = sin(pi * f), beside = cos(pi * f);
    return (kernel){sign * s / below, sign * (s * beside - length * c * below) / (2 * below * below)};
}

/* ---- records of very many runs: holes all over them ------------------------------------------------ */

/* From so many runs on kernels are looked up, and a run's middle is turned to from that of the run before. */
enum { MANY_RUNS = 256, SHORT = 64, STEPS = 2 * SHORT, EXACT_RUN_EVERY = 16 };

typedef struct lookup {
    kernel kernels[SHORT];     /* of runs of so many samples */
    double c[STEPS], s[STEPS]; /* of so many half samples */
} lookup;

static void lookup_fill(lookup *out, double frequency) {
    for (size_t k = 0; k < SHORT; k++)
        out->kernels[k] = kernel_at(k, frequency);
    double half = 0.5 * frequency;
    for (size_t k = 0; k < STEPS; k++) {
        double turn = half * (double)k;
        turn -= floor(turn);
        out->c[k] = cos(2 * pi * turn);
        out->s[k] = sin(2 * pi * turn);
    }
}

/* Where the middle of a run stands, in half samples from that of the record. */
static int64_t middle_of(const gw_fit *fit, const gw_run *run) {
    return (int64_t)(2 * run->start + run->length) - (int64_t)fit->count;
}

static void moments_of_many(const gw_fit *fit, double frequency, gw_moments *out) {
    lookup known;
    lookup_fill(&known, frequency);
    double c = 1, s = 0;
    int64_t before = INT64_MIN / 2;
    for (size_t k = 0; k < fit->run_count; k++) {
        const gw_run *run = &fit->runs[k];
        int64_t here = middle_of(fit, run), step = here - before;
        before = here;
        if (k % EXACT_RUN_EVERY == 0 || step >= STEPS) {
            double turn = 0.5 * frequency * (double)here;
            turn -= floor(turn);
            c = cos(2 * pi * turn);
            s = sin(2 * pi * turn);
        } else {
            double turned = c * known.c[step] - s * known.s[step];
            s = s * known.c[step] + c * known.s[step];
            c = turned;
        }
        kernel own = run->length < SHORT ? known.kernels[run->length] : kernel_at(run->length, frequency);
        double centre = 0.5 * (double)here;
        out->c += c * own.sum;
        out->s += s * own.sum;
        out->tc += c * centre * own.sum - s * own.moment;
        out->ts += s * centre * own.sum + c * own.moment;
    }
}

void gw_gram_moments(const gw_fit *fit, double frequency, gw_moments *out) {
    *out = (gw_moments){0};
    if (fit->run_count >= MANY_RUNS) {
        moments_of_many(fit, frequency, out);
        return;
    }
    double middle = 0.5 * (double)(fit->count - 1);
    for (size_t k = 0; k < fit->run_count; k++) {
        const gw_run *run = &fit->runs[k];
        kernel here = kernel_at(run->length, frequency);
        double centre = (double)run->start + 0.5 * (double)(run->length - 1) - middle;
        double turn = frequency * centre;
        turn -= floor(turn + 0.5);
        double c = centre != 0 ? cos(2 * pi * turn) : 1, s = centre != 0 ? sin(2 * pi * turn) : 0;
        out->c += c * here.sum;
        out->s += s * here.sum;
        out->tc += c * centre * here.sum - s * here.moment;
        out->ts += s * centre * here.sum + c * here.moment;
    }
}

/* cos and sin of whole multiples of an angle, given in turns: one after the other by rotation, exact every so often. */
typedef struct multiples {
    double turns, c, s, step_c, step_s;
} multiples;

enum { EXACT_EVERY = 16 };

static multiples multiples_of(double turns) {
    turns -= floor(turns);
    return (multiples){.turns = turns, .c = 1, .step_c = cos(2 * pi * turns), .step_s = sin(2 * pi * turns)};
}

static void multiple_next(multiples *m, size_t order) {
    double c = m->c * m->step_c - m->s * m->step_s;
    m->s = m->s * m->step_c + m->c * m->step_s;
    m->c = c;
    if (order % EXACT_EVERY)
        return;
    double turns = m->turns * (double)order;
    turns -= floor(turns);
    m->c = cos(2 * pi * turns);
    m->s = sin(2 * pi * turns);
}

/* Nearer than so many cycles a record to a whole frequency the kernel's own way is taken: there it divides by little.
 */
static const double least_off = 8;

/* One run about its middle: with whole multiples of half the angles the kernel's formula needs no sign of its own. */
static void orders_fill(const gw_fit *fit, double frequency, size_t count, gw_moments *out) {
    double length = (double)fit->count;
    multiples over = multiples_of(0.5 * length * frequency), single = multiples_of(0.5 * frequency);
    for (size_t k = 0; k < count; k++) {
        double at = (double)k * frequency, off = at - floor(at + 0.5);
        if (k > 0) {
            multiple_next(&over, k);
            multiple_next(&single, k);
        }
        double c = over.c, s = over.s, below = single.s, beside = single.c;
        double least = at < 0.5 ? least_angle / pi : least_off;
        kernel here = fabs(length * off) < least
                          ? kernel_at(fit->count, at)
                          : (kernel){s / below, (s * beside - length * c * below) / (2 * below * below)};
        out[k] = (gw_moments){.c = here.sum, .ts = here.moment};
    }
}

void gw_gram_orders(const gw_fit *fit, double frequency, size_t count, gw_moments *out) {
    if (fit->run_count == 1 && fit->present == fit->count) {
        orders_fill(fit, frequency, count, out);
        return;
    }
    for (size_t k = 0; k < count; k++)
        gw_gram_moments(fit, (double)k * frequency, &out[k]);
}

void gw_gram_sum(const gw_fit *fit, double frequency, double *cosine, double *sine) {
    gw_moments m;
    gw_gram_moments(fit, frequency, &m);
    *cosine = m.c;
    *sine = m.s;
}

/* Sums at the difference and at the sum of two frequencies: all that products of their columns are made of. */
typedef struct both {
    gw_moments minus, plus;
} both;

static both both_at(const gw_fit *fit, double one, double other) {
    both b;
    gw_gram_moments(fit, one - other, &b.minus);
    gw_gram_moments(fit, one + other, &b.plus);
    return b;
}

static void products_of(const both *b, double products[4]) {
    products[0] = 0.5 * (b->minus.c + b->plus.c);
    products[1] = 0.5 * (b->plus.s - b->minus.s);
    products[2] = 0.5 * (b->plus.s + b->minus.s);
    products[3] = 0.5 * (b->minus.c - b->plus.c);
}

void gw_gram_pair(const gw_fit *fit, double one, double other, double products[4]) {
    both b = both_at(fit, one, other);
    products_of(&b, products);
}

/* Row in the matrix of a special column: drift stands behind DC, the bases at the end. */
static size_t special_at(const gw_fit *fit, size_t special) {
    if (fit->has_drift && special == 0)
        return 1;
    return fit->unknowns - fit->special_count + special;
}

static void put(const gw_fit *fit, double *matrix, size_t row, size_t column, double value) {
    if (row < column)
        matrix[column * fit->unknowns + row] = value;
    else
        matrix[row * fit->unknowns + column] = value;
}

/* Adds to a special column's products with cosine and sine at a frequency what one line of the model brings: of a
 * base's column, 2πt·multiple·(b·cos − a·sin). `b` are the sums of the line with that frequency. */
static void special_add(const gw_sinusoid *line, int base, const both *b, double *cosine, double *sine) {
    double along = 2 * pi * line->multiple[base] * line->sine, across = 2 * pi * line->multiple[base] * line->cosine;
    *cosine += 0.5 * (along * (b->minus.tc + b->plus.tc) - across * (b->plus.ts + b->minus.ts));
    *sine += 0.5 * (along * (b->plus.ts - b->minus.ts) - across * (b->minus.tc - b->plus.tc));
}

/* The sums at a frequency with DC and drift. */
static void against_own(const gw_fit *fit, const gw_moments *own, double *cosines, double *sines) {
    cosines[0] = own->c;
    sines[0] = own->s;
    for (size_t k = 0; k < fit->special_count; k++) {
        size_t at = special_at(fit, k);
        bool drift = fit->special_of[k] == GW_SPECIAL_DRIFT;
        cosines[at] = drift ? own->tc : 0;
        sines[at] = drift ? own->ts : 0;
    }
}

/* What a line brings, `b` its sums with the frequency. */
static void against_line(const gw_fit *fit, size_t line, const both *b, double *cosines, double *sines) {
    double products[4];
    size_t at = gw_fit_line_at(fit, line);
    products_of(b, products);
    cosines[at] = products[0];
    sines[at] = products[1];
    cosines[at + 1] = products[2];
    sines[at + 1] = products[3];
    for (size_t j = 0; j < fit->special_count; j++)
        if (fit->special_of[j] != GW_SPECIAL_DRIFT && fit->lines[line].multiple[fit->special_of[j]])
            special_add(&fit->lines[line], fit->special_of[j], b, &cosines[special_at(fit, j)],
                        &sines[special_at(fit, j)]);
}

void gw_gram_against(const gw_fit *fit, double frequency, double *cosines, double *sines) {
    gw_moments own;
    gw_gram_moments(fit, frequency, &own);
    against_own(fit, &own, cosines, sines);
    for (size_t k = 0; k < fit->line_count; k++) {
        both b = both_at(fit, gw_fit_frequency(fit, &fit->lines[k]), frequency);
        against_line(fit, k, &b, cosines, sines);
    }
}

/* Looked up where the line is a multiple of the signal's base as well. */
static both both_known(const gw_fit *fit, const gw_moments *known, size_t known_count, const gw_sinusoid *line,
                       int order) {
    int of_line = line->multiple[GW_BASE_SIGNAL];
    bool single = !line->multiple[GW_BASE_SECOND] && !line->multiple[GW_BASE_MAINS];
    if (!single || of_line < 0 || (size_t)(of_line + order) >= known_count)
        return both_at(fit, gw_fit_frequency(fit, line), order * fit->base[GW_BASE_SIGNAL]);
    both b = {.minus = known[abs(of_line - order)], .plus = known[of_line + order]};
    if (of_line < order) {
        b.minus.s = -b.minus.s;
        b.minus.ts = -b.minus.ts;
    }
    return b;
}

void gw_gram_against_order(const gw_fit *fit, const gw_moments *known, size_t known_count, int order, double *cosines,
                           double *sines, double own[4]) {
    const both self = {.minus = known[0], .plus = known[order + order]};
    products_of(&self, own);
    against_own(fit, &known[order], cosines, sines);
    for (size_t k = 0; k < fit->line_count; k++) {
        both b = both_known(fit, known, known_count, &fit->lines[k], order);
        against_line(fit, k, &b, cosines, sines);
    }
}

/* Products of the special columns with each other and with DC: passes over the samples. */
static void fill_special(const gw_fit *fit, double *matrix, size_t special) {
    const double *column = fit->special + special * fit->count;
    size_t row = special_at(fit, special);
    put(fit, matrix, row, 0, fit->special_sums[special].total);
    int base = fit->special_of[special];
    double ridge = base == GW_SPECIAL_DRIFT ? fit->drift_ridge : fit->base_ridge[base];
    put(fit, matrix, row, row, fit->special_sums[special].own + ridge);
    for (size_t other = 0; other < special; other++)
        put(fit, matrix, row, special_at(fit, other),
            gw_gram_dot(column, fit->special + other * fit->count, fit->count));
}

static void fill_line(const gw_fit *fit, double *matrix, size_t line) {
    double frequency = gw_fit_frequency(fit, &fit->lines[line]);
    size_t row = gw_fit_line_at(fit, line);
    double *cosines = matrix + row * fit->unknowns, *sines = cosines + fit->unknowns;
    gw_gram_against(fit, frequency, cosines, sines);
    for (size_t k = 0; k < fit->special_count; k++) {
        put(fit, matrix, special_at(fit, k), row, cosines[special_at(fit, k)]);
        put(fit, matrix, special_at(fit, k), row + 1, sines[special_at(fit, k)]);
    }
    cosines[row] += fit->lines[line].ridge;
    sines[row + 1] += fit->lines[line].ridge;
}

void gw_gram_fill(const gw_fit *fit, double *matrix) {
    matrix[0] = (double)fit->present;
    for (size_t k = 0; k < fit->line_count; k++)
        fill_line(fit, matrix, k);
    for (size_t k = 0; k < fit->special_count; k++)
        fill_special(fit, matrix, k);
}
