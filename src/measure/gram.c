#include "measure/gram.h"

#include "measure/lanes.h"
#include "measure/sweep.h"

#include <math.h>

static const double pi = 3.14159265358979323846;

/* Σ e^{i2πft} over `length` consecutive samples centred on 0: sin πmf / sin πf (the Dirichlet kernel). */
static double kernel(double length, double frequency) {
    double below = sin(pi * frequency);
    double turn = fmod(length * frequency, 2.0);
    if (fabs(below) < 1e-9)
        return length * cos(pi * turn) / cos(pi * frequency);
    return sin(pi * turn) / below;
}

void gw_gram_sum(const gw_fit *fit, double frequency, double *cosine, double *sine) {
    *cosine = 0;
    *sine = 0;
    double middle = 0.5 * (double)(fit->count - 1);
    for (size_t k = 0; k < fit->run_count; k++) {
        const gw_run *run = &fit->runs[k];
        double sum = kernel((double)run->length, frequency);
        double centre = (double)run->start + 0.5 * (double)(run->length - 1) - middle;
        if (centre == 0) {
            *cosine += sum;
            continue;
        }
        double turn = fmod(frequency * centre, 1.0);
        *cosine += sum * cos(2 * pi * turn);
        *sine += sum * sin(2 * pi * turn);
    }
}

void gw_gram_pair(const gw_fit *fit, double one, double other, double products[4]) {
    double minus_c, minus_s, plus_c, plus_s;
    gw_gram_sum(fit, one - other, &minus_c, &minus_s);
    gw_gram_sum(fit, one + other, &plus_c, &plus_s);
    products[0] = 0.5 * (minus_c + plus_c);
    products[1] = 0.5 * (plus_s - minus_s);
    products[2] = 0.5 * (plus_s + minus_s);
    products[3] = 0.5 * (minus_c - plus_c);
}

GW_WIDE double gw_gram_total(const double *vector, size_t count) {
    gw_lanes lanes = {0}, next = {0};
    size_t i = 0;
    for (; i + GW_LANES <= count; i += GW_LANES) {
        lanes += GW_LANES_AT(vector + i);
        next += GW_LANES_AT(vector + i + 4);
    }
    double sum = gw_lanes_sum(&lanes, &next);
    for (; i < count; i++)
        sum += vector[i];
    return sum;
}

GW_WIDE double gw_gram_dot(const double *one, const double *other, size_t count) {
    gw_lanes lanes = {0}, next = {0};
    size_t i = 0;
    for (; i + GW_LANES <= count; i += GW_LANES) {
        lanes += GW_LANES_AT(one + i) * GW_LANES_AT(other + i);
        next += GW_LANES_AT(one + i + 4) * GW_LANES_AT(other + i + 4);
    }
    double sum = gw_lanes_sum(&lanes, &next);
    for (; i < count; i++)
        sum += one[i] * other[i];
    return sum;
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

static void fill_special(const gw_fit *fit, double *matrix, size_t special) {
    const double *column = fit->special + special * fit->count;
    size_t row = special_at(fit, special);
    put(fit, matrix, row, 0, gw_gram_total(column, fit->count));
    for (size_t k = 0; k < fit->line_count; k++) {
        double c, s;
        gw_sweep_dot(column, fit->count, gw_fit_frequency(fit, &fit->lines[k]), &c, &s);
        put(fit, matrix, row, gw_fit_line_at(fit, k), c);
        put(fit, matrix, row, gw_fit_line_at(fit, k) + 1, s);
    }
    for (size_t other = 0; other <= special; other++)
        put(fit, matrix, row, special_at(fit, other),
            gw_gram_dot(column, fit->special + other * fit->count, fit->count));
}

static void fill_line(const gw_fit *fit, double *matrix, size_t line) {
    double frequency = gw_fit_frequency(fit, &fit->lines[line]);
    size_t row = gw_fit_line_at(fit, line);
    double c, s;
    gw_gram_sum(fit, frequency, &c, &s);
    put(fit, matrix, row, 0, c);
    put(fit, matrix, row + 1, 0, s);
    for (size_t k = 0; k <= line; k++) {
        double products[4];
        size_t column = gw_fit_line_at(fit, k);
        gw_gram_pair(fit, frequency, gw_fit_frequency(fit, &fit->lines[k]), products);
        put(fit, matrix, row, column, products[0]);
        if (k < line)
            put(fit, matrix, row, column + 1, products[1]);
        put(fit, matrix, row + 1, column, products[2]);
        put(fit, matrix, row + 1, column + 1, products[3]);
    }
    matrix[row * fit->unknowns + row] += fit->lines[line].ridge;
    matrix[(row + 1) * fit->unknowns + row + 1] += fit->lines[line].ridge;
}

void gw_gram_fill(const gw_fit *fit, double *matrix) {
    matrix[0] = (double)fit->present;
    for (size_t k = 0; k < fit->line_count; k++)
        fill_line(fit, matrix, k);
    for (size_t k = 0; k < fit->special_count; k++)
        fill_special(fit, matrix, k);
}

void gw_gram_against(const gw_fit *fit, double frequency, double *cosines, double *sines) {
    gw_gram_sum(fit, frequency, &cosines[0], &sines[0]);
    for (size_t k = 0; k < fit->line_count; k++) {
        double products[4];
        size_t at = gw_fit_line_at(fit, k);
        gw_gram_pair(fit, gw_fit_frequency(fit, &fit->lines[k]), frequency, products);
        cosines[at] = products[0];
        sines[at] = products[1];
        cosines[at + 1] = products[2];
        sines[at + 1] = products[3];
    }
    for (size_t k = 0; k < fit->special_count; k++) {
        size_t at = special_at(fit, k);
        gw_sweep_dot(fit->special + k * fit->count, fit->count, frequency, &cosines[at], &sines[at]);
    }
}
