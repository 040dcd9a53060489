/* Noise that is not white, by its shape alone: made residuals. */
#include "assert_close.h"
#include "measure/colour.h"
#include "measure/signals.h"

enum { N = 4096 };

/* The colour of a record as a model of nothing but DC sees it, from a converter of this step. */
static gw_colour colour_of(const double *v, double step, bool *noted) {
    gw_model model = {.step = step};
    assert_true(gw_fit_begin(&model.fit, v, NULL, N, NULL));
    assert_true(gw_fit_solve(&model.fit, NULL));
    assert_true(model.fit.solved);
    model.variance = gw_fit_variance(&model.fit);
    gw_colour colour = gw_colour_find(&model);
    *noted = model.coloured;
    gw_fit_end(&model.fit);
    return colour;
}

/* Noise that a first-order low-pass at a hundredth of the rate leaves, of a deviation of 1 V. */
static double *dull_new(void) {
    uint64_t random = 71;
    double *v = new_volts(N), keep = exp(-two_pi / 100), at = random_gauss(&random);
    for (size_t i = 0; i < N; i++) {
        at = keep * at + sqrt(1 - keep * keep) * random_gauss(&random);
        v[i] = at;
    }
    return v;
}

/* A converter's steps bring a twelfth of their square (Widrow 1956), 0.29 of a step as a deviation. Noise of a whole
 * step is the circuit's, and its colour is told; of a deviation of 0.4 of a step the steps are half, and it is not. */
static void colour_is_told_of_more_than_the_steps(void **state) {
    (void)state;
    double *v = dull_new();
    static const struct {
        double step;
        bool told;
    } cases[] = {{0, true}, {0.1, true}, {1, true}, {2.5, false}, {10, false}};
    for (size_t k = 0; k < sizeof cases / sizeof *cases; k++) {
        bool noted;
        gw_colour colour = colour_of(v, cases[k].step, &noted);
        assert_int_equal(colour.found, cases[k].told);
        assert_int_equal(noted, cases[k].told);
        /* dull: more of it slowly than white noise has, less up there */
        assert_true(!cases[k].told || gw_colour_at(&colour, 1) > 2);
        assert_true(!cases[k].told || gw_colour_at(&colour, 100) < gw_colour_at(&colour, 10));
    }
    free(v);
}

static void white_noise_has_no_colour(void **state) {
    (void)state;
    uint64_t random = 72;
    double *v = new_volts(N);
    bool noted;
    add_noise(v, N, 1, &random);
    gw_colour colour = colour_of(v, 0, &noted);
    assert_false(colour.found);
    assert_false(noted);
    assert_close(gw_colour_at(&colour, 1), 1, 0);
    free(v);
}

/* What noise of four times the density of white adds to the variance of a line's coefficients (the mean of both), over
 * what white noise gives them, 2/N. */
static double raised_at(double cycles) {
    const gw_colour four = {.found = true, .log_one = log(4), .power = 0, .count = INFINITY, .squares = INFINITY};
    gw_model model = {0};
    gw_error error = {0};
    double *v = new_volts(N);
    add_sine(v, N, N, 1, cycles, 0.3);
    assert_true(gw_fit_begin(&model.fit, v, NULL, N, &error));
    model.fit.base[GW_BASE_SIGNAL] = cycles / N;
    assert_true(gw_fit_add(&model.fit, 1, 0, 0, &error));
    assert_true(gw_fit_solve_linear(&model.fit, &error));
    size_t n = model.fit.unknowns, at = gw_fit_line_at(&model.fit, 0);
    model.inverse = calloc(n * n, sizeof *model.inverse);
    assert_non_null(model.inverse);
    assert_true(gw_colour_join(&model, &four, &error));
    double both = model.inverse[at * n + at] + model.inverse[(at + 1) * n + at + 1];
    gw_model_end(&model);
    free(v);
    return both / 2 / (2.0 / N);
}

/* Noise x cycles off reaches a line by sinc²(x), and all within 8 cycles of it is counted, 1 - 1/(8 pi²) of the whole.
 * Three times white noise's density more raises the variance by three times that: also of a line 8 cycles under the
 * last of the places that the colour was found at, 110. */
static void noise_on_both_sides_of_a_line_reaches_it(void **state) {
    (void)state;
    static const double cycles[] = {70, 86.4, 102};
    for (size_t k = 0; k < sizeof cycles / sizeof *cycles; k++)
        assert_close(raised_at(cycles[k]), 3 * (1 - 1 / (2 * two_pi * two_pi)), 1e-3);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(colour_is_told_of_more_than_the_steps),
        cmocka_unit_test(white_noise_has_no_colour),
        cmocka_unit_test(noise_on_both_sides_of_a_line_reaches_it),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
