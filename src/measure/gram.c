#include "measure/gram.h"

#include "measure/comb.h"

#include <stdlib.h>

static const double pi = 3.14159265358979323846;

void gw_gram_sum(const gw_fit *fit, double frequency, double *cosine, double *sine) {
    gw_moments m;
    gw_moments_of(fit, frequency, &m);
    *cosine = m.c;
    *sine = m.s;
}

/* Sums at the difference and at the sum of two frequencies: all that products of their columns are made of. */
typedef struct both {
    gw_moments minus, plus;
} both;

static both both_at(const gw_fit *fit, double one, double other) {
    both b;
    gw_moments_of(fit, one - other, &b.minus);
    gw_moments_of(fit, one + other, &b.plus);
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

/* Sums known at multiples of the signal's base, 0 … count - 1. */
typedef struct known_orders {
    const gw_moments *at;
    size_t count;
} known_orders;

/* A line of which multiple of the signal's base, and of nothing else; -1: none such. */
static int order_of(const gw_sinusoid *line) {
    return line->multiple[GW_BASE_SECOND] || line->multiple[GW_BASE_MAINS] ? -1 : line->multiple[GW_BASE_SIGNAL];
}

/* Looked up where the line is a multiple of the signal's base as well. */
static bool both_known(const known_orders *known, int of_line, int order, both *out) {
    if (of_line < 0 || order < 0 || (size_t)(of_line + order) >= known->count)
        return false;
    *out = (both){.minus = known->at[abs(of_line - order)], .plus = known->at[of_line + order]};
    if (of_line < order) {
        out->minus.s = -out->minus.s;
        out->minus.ts = -out->minus.ts;
    }
    return true;
}

/* What all lines bring at a frequency, the `order`th multiple of the signal's base or (-1) none. */
static void against_lines(const gw_fit *fit, const known_orders *known, int order, double frequency, double *cosines,
                          double *sines) {
    for (size_t k = 0; k < fit->line_count; k++) {
        both b;
        if (!both_known(known, order_of(&fit->lines[k]), order, &b))
            b = both_at(fit, gw_fit_frequency(fit, &fit->lines[k]), frequency);
        against_line(fit, k, &b, cosines, sines);
    }
}

void gw_gram_against(const gw_fit *fit, double frequency, double *cosines, double *sines) {
    const known_orders none = {NULL, 0};
    gw_moments own;
    gw_moments_of(fit, frequency, &own);
    against_own(fit, &own, cosines, sines);
    against_lines(fit, &none, -1, frequency, cosines, sines);
}

static void against_order(const gw_fit *fit, const known_orders *known, int order, double *cosines, double *sines) {
    against_own(fit, &known->at[order], cosines, sines);
    against_lines(fit, known, order, order * fit->base[GW_BASE_SIGNAL], cosines, sines);
}

void gw_gram_against_order(const gw_fit *fit, const gw_moments *known, size_t known_count, int order, double *cosines,
                           double *sines, double own[4]) {
    const both self = {.minus = known[0], .plus = known[order + order]};
    const known_orders all = {known, known_count};
    products_of(&self, own);
    against_order(fit, &all, order, cosines, sines);
}

/* Products of the special columns with each other and with DC. */
static void fill_special(const gw_fit *fit, double *matrix, size_t special) {
    size_t row = special_at(fit, special);
    put(fit, matrix, row, 0, fit->special_sums[special].total);
    int base = fit->special_of[special];
    double ridge = base == GW_SPECIAL_DRIFT ? fit->drift_ridge : fit->base_ridge[base];
    put(fit, matrix, row, row, fit->special_sums[special].own + ridge);
    for (size_t other = 0; other < special; other++)
        put(fit, matrix, row, special_at(fit, other), fit->special_with[special][other]);
}

static void fill_line(const gw_fit *fit, const known_orders *known, double *matrix, size_t line) {
    int order = order_of(&fit->lines[line]);
    size_t row = gw_fit_line_at(fit, line);
    double *cosines = matrix + row * fit->unknowns, *sines = cosines + fit->unknowns;
    if (order >= 0 && (size_t)order < known->count)
        against_order(fit, known, order, cosines, sines);
    else
        gw_gram_against(fit, gw_fit_frequency(fit, &fit->lines[line]), cosines, sines);
    for (size_t k = 0; k < fit->special_count; k++) {
        put(fit, matrix, special_at(fit, k), row, cosines[special_at(fit, k)]);
        put(fit, matrix, special_at(fit, k), row + 1, sines[special_at(fit, k)]);
    }
    cosines[row] += fit->lines[line].ridge;
    sines[row + 1] += fit->lines[line].ridge;
}

/* Each of the signal's lines with each other one meets at so few frequencies that a table of them is made first. */
enum { TABLE_FROM = 4, TABLE_MOST = 2 * GW_COMB_ORDERS + 1 };

static size_t table_size(const gw_fit *fit) {
    size_t lines = 0;
    int highest = 0;
    for (size_t k = 0; k < fit->line_count; k++) {
        int order = order_of(&fit->lines[k]);
        lines += order >= 0;
        highest = order > highest ? order : highest;
    }
    size_t size = 2 * (size_t)highest + 1;
    return lines < TABLE_FROM || size > TABLE_MOST || size > 2 * lines * lines ? 0 : size;
}

void gw_gram_fill(const gw_fit *fit, double *matrix) {
    gw_moments table[TABLE_MOST];
    const known_orders known = {table, table_size(fit)};
    gw_moments_orders(fit, fit->base[GW_BASE_SIGNAL], known.count, table);
    matrix[0] = (double)fit->present;
    for (size_t k = 0; k < fit->line_count; k++)
        fill_line(fit, &known, matrix, k);
    for (size_t k = 0; k < fit->special_count; k++)
        fill_special(fit, matrix, k);
}
