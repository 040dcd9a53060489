#include "measure/gram.h"

#include <math.h>
#include <stdint.h>

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

void gw_gram_moments(const gw_fit *fit, double frequency, gw_moments *out) {
    *out = (gw_moments){0};
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

void gw_gram_against(const gw_fit *fit, double frequency, double *cosines, double *sines) {
    gw_moments own;
    gw_gram_moments(fit, frequency, &own);
    cosines[0] = own.c;
    sines[0] = own.s;
    for (size_t k = 0; k < fit->special_count; k++) {
        size_t at = special_at(fit, k);
        bool drift = fit->special_of[k] == GW_SPECIAL_DRIFT;
        cosines[at] = drift ? own.tc : 0;
        sines[at] = drift ? own.ts : 0;
    }
    for (size_t k = 0; k < fit->line_count; k++) {
        double products[4];
        size_t at = gw_fit_line_at(fit, k);
        both b = both_at(fit, gw_fit_frequency(fit, &fit->lines[k]), frequency);
        products_of(&b, products);
        cosines[at] = products[0];
        sines[at] = products[1];
        cosines[at + 1] = products[2];
        sines[at + 1] = products[3];
        for (size_t j = 0; j < fit->special_count; j++)
            if (fit->special_of[j] != GW_SPECIAL_DRIFT && fit->lines[k].multiple[fit->special_of[j]])
                special_add(&fit->lines[k], fit->special_of[j], &b, &cosines[special_at(fit, j)],
                            &sines[special_at(fit, j)]);
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
