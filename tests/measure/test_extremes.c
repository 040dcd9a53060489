/* What noise adds to the highest sample of a sine: heights gathered in cells, against the product over all samples. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "measured.h"

enum { N = 20000 };

/* The excess over the sine's top that noise stays under with probability `p`, all samples multiplied out; `sides` 2: on
 * both ends at once. */
static double excess_plainly(double amplitude, double sigma, double frequency_hz, double rate_hz, int sides, double p) {
    double low = -sigma, high = 8 * sigma;
    for (int pass = 0; pass < 40; pass++) {
        double middle = 0.5 * (low + high), held = 1;
        for (size_t i = 0; i < N; i++) {
            double v = amplitude * sin(two_pi * frequency_hz * (double)i / rate_hz);
            held *= 1 - 0.5 * erfc((amplitude + middle - v) / sigma / sqrt(2));
            held *= sides == 2 ? 1 - 0.5 * erfc((amplitude + middle + v) / sigma / sqrt(2)) : 1;
        }
        *(held < p ? &low : &high) = middle;
    }
    return high;
}

/* u95 of a peak is what noise may add, that of the crest factor the same of either side. The noise is known to 1 in
 * √2N by the record itself, 0.5 %. */
static void test_peaks_of_noisy_sines(void **state) {
    (void)state;
    static double v[N];
    static const struct {
        double amplitude, sigma, frequency_hz;
    } cases[] = {{1, 0.002, 997}, {1, 0.05, 997}, {1, 0.3, 211.3}, {0.01, 0.0007, 3111}};
    uint64_t seed = 31;
    for (size_t k = 0; k < sizeof cases / sizeof *cases; k++) {
        for (size_t i = 0; i < N; i++)
            v[i] = cases[k].amplitude * sin(two_pi * cases[k].frequency_hz * (double)i / 48e3);
        add_noise(v, N, cases[k].sigma, &seed);
        gw_readings *readings = measured(v, N, 48e3, 0);
        double one = excess_plainly(cases[k].amplitude, cases[k].sigma, cases[k].frequency_hz, 48e3, 1, 0.96);
        double two = excess_plainly(cases[k].amplitude, cases[k].sigma, cases[k].frequency_hz, 48e3, 2, 0.96);
        double ac = hypot(cases[k].amplitude / sqrt(2), cases[k].sigma);
        assert_close(readings->values[GW_PEAK_HIGH].u95, one, 0.015 * one);
        assert_close(readings->values[GW_PEAK_LOW].u95, one, 0.015 * one);
        assert_close(readings->values[GW_CREST].u95, two / ac, 0.03 * two / ac);
        gw_readings_free(readings);
    }
}

/* One sample alone at the top, the next ten deviations or more below: noise takes it up as often as down, and u95
 * is that of a normal variable, 2.054 deviations for 96 % (tables of the normal distribution). The noise is known
 * to 2.3 %.
 */
static void test_one_sample_at_the_top(void **state) {
    (void)state;
    enum { FEW = 1000, TOP = 400 };
    static const double sigma = 0.001;
    double v[FEW], second = 0;
    uint64_t seed = 32;
    for (int trial = 0; trial < 20; trial++) {
        for (size_t i = 0; i < FEW; i++) {
            double turn = two_pi * ((double)i - TOP) / FEW;
            v[i] = 0.5 * cos(61.3 * turn) + 0.5 * cos(83.7 * turn);
            second = i != TOP ? fmax(second, v[i]) : second;
        }
        assert_true(v[TOP] - second > 10 * sigma);
        add_noise(v, FEW, sigma, &seed);
        gw_readings *readings = measured(v, FEW, 48e3, 0);
        assert_close(value_of(readings, GW_PEAK_HIGH), 1, 4 * sigma);
        assert_close(readings->values[GW_PEAK_HIGH].u95, 2.054 * sigma, 0.15 * sigma);
        gw_readings_free(readings);
    }
}

/* A rounding quantiser moves either end by half a step at most, so the crest factor by a step over the RMS. */
static void test_steps_alone(void **state) {
    (void)state;
    static double v[N];
    const double step = 0.1;
    for (size_t i = 0; i < N; i++)
        v[i] = 1.02 * sin(two_pi * 997.3 * (double)i / 48e3);
    quantise(v, N, step);
    gw_readings *readings = measured(v, N, 48e3, step);
    double ac = 1.02 / sqrt(2);
    assert_close(readings->values[GW_CREST].value, sqrt(2), readings->values[GW_CREST].u95);
    print_message("crest u95 times RMS: %g steps\n", readings->values[GW_CREST].u95 * ac / step);
    assert_true(readings->values[GW_CREST].u95 < 2 * step / ac);
    gw_readings_free(readings);
}

/* A crest factor is of what is left without the DC: whatever that is, it is the same and as certain. */
static void test_crest_beside_dc(void **state) {
    (void)state;
    enum { FEW = 3000 };
    static const double dc[] = {0, 3, -50, 0.4};
    uint64_t seed = 9;
    double x[FEW] = {0}, lifted[FEW], crest = 0, u95 = 0;
    add_sine(x, FEW, FEW, 1, 33.3, 1);
    add_noise(x, FEW, 0.01, &seed);
    for (size_t k = 0; k < sizeof dc / sizeof *dc; k++) {
        for (size_t i = 0; i < FEW; i++)
            lifted[i] = x[i] + dc[k];
        gw_readings *r = measured(lifted, FEW, 1e5, 0);
        crest = k ? crest : value_of(r, GW_CREST);
        u95 = k ? u95 : r->values[GW_CREST].u95;
        assert_close(value_of(r, GW_CREST), crest, 1e-6);
        assert_close(r->values[GW_CREST].u95 / u95, 1, 0.01);
        assert_close(value_of(r, GW_CREST), sqrt(2), 0.06); /* and what noise adds at either end */
        gw_readings_free(r);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_peaks_of_noisy_sines),
                                       cmocka_unit_test(test_one_sample_at_the_top), cmocka_unit_test(test_steps_alone),
                                       cmocka_unit_test(test_crest_beside_dc)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
