/* The grid of sines, which takes a few products a place, against taking each sine into the basis as a column. */
#include "assert_close.h"
#include "measure/basis.h"
#include "signals.h"

#include <stdlib.h>
#include <string.h>

enum { N = 2500, TRIALS = 60 };

/* One place after the other. */
static double plain_best(gw_basis *b, const gw_points *data, int trend, double least, double most, double spacing,
                         double *rss) {
    double found = 0;
    *rss = INFINITY;
    for (double cycles = least; cycles <= most && cycles < 0.45 * (double)data->count; cycles += spacing) {
        gw_basis_begin(b, data, trend);
        gw_basis_turn(b, data, cycles);
        gw_basis_harmonic(b, 1);
        if (b->rss < *rss) {
            *rss = b->rss;
            found = cycles;
        }
    }
    return found;
}

/* Sines of few cycles over hum or a slope, in noise; odd and even numbers of points, few and many. */
static void draw(double *volts, size_t n, int trial, uint64_t *seed) {
    memset(volts, 0, n * sizeof *volts);
    add_noise(volts, n, trial % 4 ? 0.02 : 0.5, seed);
    add_sine(volts, n, (double)n, 1, 0.6 + 12 * random_even(seed), 7 * random_even(seed));
    add_sine(volts, n, (double)n, trial % 3 ? 0.4 : 0, 0.3, 7 * random_even(seed));
    for (size_t i = 0; i < n; i++)
        volts[i] += 0.3 + (trial % 5 ? 0 : 1e-3 * (double)i);
}

static void grid_of_sines(void **state) {
    (void)state;
    static const int trends[] = {0, GW_TREND, GW_TREND_MAX};
    static const size_t counts[] = {N, 255, 31, 257, 1001};
    double volts[N];
    gw_points *data = malloc(sizeof *data);
    gw_basis *b = malloc(sizeof *b), *other = malloc(sizeof *other);
    assert_true(data && b && other);
    uint64_t seed = 6;
    for (int t = 0; t < TRIALS; t++) {
        size_t n = counts[t % 5];
        draw(volts, n, t, &seed);
        gw_block block = {.volts = volts, .count = n, .rate_hz = t % 2 ? 1e6 : 100 * (double)n, .step = 0.01};
        gw_points_make(&block, 50, data);
        assert_true(data->even);
        for (size_t k = 0; k < sizeof trends / sizeof *trends; k++) {
            double rss, wanted;
            b->trend = other->trend = -1;
            double cycles = gw_basis_sine_best(b, data, trends[k], 0.5, 13, 0.1, &rss);
            assert_close(cycles, plain_best(other, data, trends[k], 0.5, 13, 0.1, &wanted), 1e-9);
            assert_close(rss, wanted, 1e-9 * data->total);
            assert_true(cycles > 0 && rss < data->total);
        }
    }
    free(data);
    free(b);
    free(other);
}

/* What least squares leave stands at right angles to every column, and its squares are the least sum (Björck 1996). */
static void what_is_left(void **state) {
    (void)state;
    static const size_t counts[] = {N, 255, 31, 257, 1001};
    double volts[N];
    gw_points *data = malloc(sizeof *data);
    gw_basis *b = malloc(sizeof *b);
    assert_true(data && b);
    uint64_t seed = 7;
    for (int t = 0; t < TRIALS; t++) {
        size_t n = counts[t % 5];
        double cycles = 1 + 3 * random_even(&seed), squares = 0, along[7] = {0};
        draw(volts, n, t, &seed);
        gw_block block = {.volts = volts, .count = n, .rate_hz = 1e6};
        gw_points_make(&block, 50, data);
        b->trend = -1;
        gw_basis_begin(b, data, 0);
        gw_basis_turn(b, data, cycles);
        for (int order = 1; order <= 3; order++)
            gw_basis_harmonic(b, order);
        for (size_t i = 0; i < data->count; i++) {
            double left = gw_basis_left(b, data->count, i), turn = two_pi * cycles * data->time[i];
            squares += left * left;
            along[0] += left;
            for (int order = 1; order <= 3; order++) {
                along[2 * order - 1] += left * cos(order * turn);
                along[2 * order] += left * sin(order * turn);
            }
        }
        assert_close(squares, b->rss, 1e-9 * data->total);
        for (size_t k = 0; k < sizeof along / sizeof *along; k++)
            assert_close(along[k], 0, 1e-8 * sqrt(data->total * (double)data->count));
    }
    free(data);
    free(b);
}

/* Under a record of 0.7 cycles of the mains may lie hum; under one of 700, which hum does not bend, a slope and a
 * curve. Either is explained whole by the columns meant for it, and not by those meant for the other. */
static void hum_or_a_bend_lies_under_the_signal(void **state) {
    (void)state;
    double hum[GW_POINTS_MAX] = {0}, curve[GW_POINTS_MAX];
    const double n = GW_POINTS_MAX;
    add_sine(hum, GW_POINTS_MAX, n, 1, 0.7, 0.4);
    for (size_t i = 0; i < GW_POINTS_MAX; i++)
        curve[i] = 2 + 3 * (double)i / n + (double)i / n * (double)i / n;
    gw_points *data = malloc(sizeof *data);
    gw_basis *b = malloc(sizeof *b);
    assert_true(data && b);
    for (int k = 0; k < 4; k++) {
        bool mains = k % 2, fits = mains == (k / 2 > 0);
        gw_block block = {
            .volts = k / 2 ? hum : curve, .count = GW_POINTS_MAX, .rate_hz = mains ? n * 50 / 0.7 : n / 14};
        gw_points_make(&block, 50, data);
        b->trend = -1;
        gw_basis_begin(b, data, GW_TREND);
        assert_int_equal(b->rss < 1e-9 * data->total, fits);
    }
    free(data);
    free(b);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(grid_of_sines),
        cmocka_unit_test(what_is_left),
        cmocka_unit_test(hum_or_a_bend_lies_under_the_signal),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
