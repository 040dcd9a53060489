/* What no line can exceed holds for every line that the search itself finds, and is near enough to be of use; what is
 * spared where it says so, the search would not have found. */
#include "measure/beside.h"
#include "measure/bounds.h"
#include "measure/measured.h"

#include <string.h>

enum { N = 1200, TRIALS = 300 };

/* Sines, noise of any colour, bursts and clicks in turn: all that a residual may look like. */
static void draw(double *volts, size_t n, int trial, uint64_t *seed) {
    memset(volts, 0, n * sizeof *volts);
    double strength = pow(10, 3 * random_even(seed) - 2), cycles = 0.45 * (double)n * random_even(seed);
    add_noise(volts, n, trial % 3 ? 0.1 : 0, seed);
    for (size_t i = 1; trial % 4 == 1 && i < n; i++)
        volts[i] += 0.95 * volts[i - 1];
    if (trial % 5 != 2)
        add_sine(volts, n, (double)n, strength, cycles, 7 * random_even(seed));
    for (size_t i = 0; trial % 5 == 1 && i < n; i++) /* the shape that a window finds most in */
        volts[i] *= pow(sin(0.5 * two_pi * (double)i / (double)n), 2);
    if (trial % 7 == 3)
        volts[(size_t)(random_even(seed) * (double)n)] += 3 * strength;
    for (size_t i = 0; trial % 11 == 5 && i < n; i++)
        volts[i] += 0.3;
}

static double strongest_of(const double *volts, size_t n) {
    gw_peaks peaks;
    assert_true(gw_peaks_find(NULL, volts, NULL, n, (double)n, &peaks));
    return peaks.count ? peaks.items[0].rms : 0;
}

static double squares_of(const double *volts, size_t n) {
    double sum = 0;
    for (size_t i = 0; i < n; i++)
        sum += volts[i] * volts[i];
    return sum;
}

static void no_line_exceeds_its_bounds(void **state) {
    (void)state;
    uint64_t seed = 31;
    double volts[N];
    int told = 0;
    for (int t = 0; t < TRIALS; t++) {
        size_t n = t % 2 ? N : 64 + (size_t)(500 * random_even(&seed));
        draw(volts, n, t, &seed);
        double found = strongest_of(volts, n);
        assert_true(found <= gw_line_most(squares_of(volts, n), n));
        assert_true(found <= gw_line_most_of(NULL, volts, n));
        told += found > 0;
    }
    assert_in_range(told, TRIALS / 2, TRIALS);
}

/* Of a sine of peak 1 (0.707 RMS) no more than √3·e^{ln 5 / 8} times that; of white noise a good part less than half of
 * it, where a sum of squares cannot tell it from a sine. */
static void bounds_are_near(void **state) {
    (void)state;
    uint64_t seed = 32;
    double volts[N] = {0};
    add_sine(volts, N, N, 1, 100.3, 1);
    assert_close(gw_line_most(squares_of(volts, N), N), sqrt(1.5) * pow(5, 0.125), 0.01);
    assert_true(gw_line_most_of(NULL, volts, N) < 1.3);
    memset(volts, 0, sizeof volts);
    add_noise(volts, N, 1, &seed);
    assert_true(gw_line_most_of(NULL, volts, N) < 0.6);
    assert_close(gw_line_most(squares_of(volts, N), N), sqrt(3) * pow(5, 0.125), 0.1);
}

/* Stretches of 24 neighbours are summed: nothing is told of a record of fewer samples than two of them. */
static void no_bound_is_told_of_a_record_shorter_than_two_stretches(void **state) {
    (void)state;
    double volts[48] = {0};
    add_sine(volts, 48, 48, 1, 5.3, 1);
    assert_true(isfinite(gw_line_most_of(NULL, volts, 48)));
    for (size_t n = 24; n < 48; n++)
        assert_true(isinf(gw_line_most_of(NULL, volts, n)));
}

static void a_low_line_is_certain_only_where_it_leads(void **state) {
    (void)state;
    enum { MOST = 12 };
    uint64_t seed = 33;
    double volts[N];
    int certain = 0;
    for (int t = 0; t < TRIALS; t++) {
        size_t n = t % 2 ? N : 200 + (size_t)(500 * random_even(&seed));
        memset(volts, 0, sizeof volts);
        add_noise(volts, n, 0.03, &seed);
        add_sine(volts, n, (double)n, 1, 0.5 + 14 * random_even(&seed), 7 * random_even(&seed));
        add_sine(volts, n, (double)n, 2 * random_even(&seed) * random_even(&seed),
                 0.49 * (double)n * random_even(&seed), 7 * random_even(&seed));
        gw_block block = {.volts = volts, .count = n, .rate_hz = 1};
        gw_peaks peaks;
        assert_true(gw_peaks_find(NULL, volts, NULL, n, 1, &peaks));
        bool below = gw_line_below(&block, MOST);
        assert_true(!below || (peaks.count && peaks.items[0].cycles < MOST));
        certain += below;
    }
    assert_in_range(certain, TRIALS / 4, TRIALS);
}

/* An oscilloscope's ordinary capture: a few cycles of a sine in 8 bits. */
static void a_low_sine_is_certain(void **state) {
    (void)state;
    double volts[N] = {0};
    add_sine(volts, N, N, 0.9, 2.5, 0.3);
    quantise(volts, N, 0.008);
    gw_block block = {.volts = volts, .count = N, .rate_hz = 1};
    unsigned char marks[N] = {0};
    assert_true(gw_line_below(&block, 12));
    block.marks = marks; /* bounds are of records without gaps */
    assert_false(gw_line_below(&block, 12));
}

static void a_record_without_a_low_line_is_not(void **state) {
    (void)state;
    static const double cycles[] = {13, 40.3, 302.5, 597};
    for (size_t c = 0; c < sizeof cycles / sizeof *cycles; c++) {
        double volts[N] = {0};
        add_sine(volts, N, N, 1, cycles[c], 0.3);
        gw_block block = {.volts = volts, .count = N, .rate_hz = 1};
        assert_false(gw_line_below(&block, 12));
    }
}

/* A sine, alone in the model, and the record that it was fitted to. */
static void fit_alone(gw_model *model, const gw_block *block, double cycles) {
    gw_error error = {0};
    *model = (gw_model){.step = block->step, .tone = true};
    assert_true(gw_fit_begin(&model->fit, block->volts, NULL, block->count, &error));
    model->fit.base[GW_BASE_SIGNAL] = cycles / (double)block->count;
    model->fit.base_free[GW_BASE_SIGNAL] = true;
    assert_true(gw_fit_add(&model->fit, 1, 0, 0, &error) && gw_fit_solve(&model->fit, &error));
}

/* White noise can hide three lines of the mains whose six parts vary by 2 s²/n each: their RMS squared is s²/n times
 * chi square of six degrees, of which 95 % are below 12.6. What is told of hum that is not seen is no less than the
 * root of that, and no more than twice as much. */
static void hum_that_noise_may_hide(void **state) {
    (void)state;
    double volts[5000];
    uint64_t seed = 35;
    for (int t = 0; t < TRIALS / 3; t++) {
        double sigma = 1e-4 * pow(300, random_even(&seed)), n = sizeof volts / sizeof *volts;
        memset(volts, 0, sizeof volts);
        double cycles = 100.3 + 340 * random_even(&seed); /* 2 Hz each: above all lines that hum is bounded by */
        add_sine(volts, (size_t)n, n, 1, cycles, 7 * random_even(&seed));
        add_noise(volts, (size_t)n, sigma, &seed);
        const gw_measure_options options = {.accuracy = 0, .mains_hz = t % 3 ? 0 : 50};
        gw_readings *r = measured_with(volts, (size_t)n, 1e4, 0, &options);
        const gw_reading *hum = &r->values[GW_HUM];
        if (hum->state == GW_READING_BELOW) {
            assert_true(hum->value > sqrt(12.6 / n) * sigma);
            assert_true(hum->value < 2 * sqrt(12.6 / n) * sigma);
        }
        gw_readings_free(r);
    }
}

static void no_pair_is_found_where_none_is_possible(void **state) {
    (void)state;
    uint64_t seed = 34;
    int spared = 0, found_some = 0;
    for (int t = 0; t < TRIALS; t++) {
        double volts[N] = {0}, cycles = 1.6 + 9 * random_even(&seed), second = 0.2 * pow(random_even(&seed), 2);
        add_sine(volts, N, N, 1, cycles, 7 * random_even(&seed));
        add_sine(volts, N, N, second, cycles * (1.2 + 6 * random_even(&seed)), 7 * random_even(&seed));
        add_noise(volts, N, 0.003, &seed);
        gw_block block = {.volts = volts, .count = N, .rate_hz = 1};
        gw_model model;
        gw_error error = {0};
        fit_alone(&model, &block, cycles);
        bool possible = gw_pair_possible(&model.fit), found;
        assert_true(gw_pair_find(&model, &block, GW_SHAPE_UNKNOWN, &found, &error));
        gw_model_end(&model);
        assert_true(possible || !found);
        spared += !possible;
        found_some += found;
    }
    assert_in_range(spared, TRIALS / 10, TRIALS);
    assert_in_range(found_some, TRIALS / 10, TRIALS);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(no_line_exceeds_its_bounds),
        cmocka_unit_test(bounds_are_near),
        cmocka_unit_test(no_bound_is_told_of_a_record_shorter_than_two_stretches),
        cmocka_unit_test(a_low_line_is_certain_only_where_it_leads),
        cmocka_unit_test(a_low_sine_is_certain),
        cmocka_unit_test(a_record_without_a_low_line_is_not),
        cmocka_unit_test(hum_that_noise_may_hide),
        cmocka_unit_test(no_pair_is_found_where_none_is_possible),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
