/* What a converter's steps do to a sinusoid: told as a rounding quantiser does it, simulated. */
#include "assert_close.h"
#include "measure/resolution.h"
#include "measure/signals.h"

enum { TRIALS = 200, PERIODS = 20 };

/* RMS error of a sinusoid's peak, in steps, of about `peak` steps and so many samples a period, rounded: every period
 * has the same errors. Offset, phase, and the peak within a step, are any. */
static double simulated(size_t period, double peak, uint64_t *random) {
    double squares = 0;
    for (int t = 0; t < TRIALS; t++) {
        double start = two_pi * random_even(random), offset = random_even(random), sum = 0;
        double high = peak + random_even(random);
        for (size_t i = 0; i < period; i++) {
            double wave = sin(two_pi * (double)i / (double)period + start), value = high * wave + offset;
            sum += (floor(value + 0.5) - value) * wave;
        }
        squares += pow(2 * sum / (double)period, 2) / TRIALS;
    }
    return sqrt(squares);
}

/* The same as it is told of a record without noise. */
static double told(size_t period, double peak) {
    size_t n = period * PERIODS;
    double *v = new_volts(n);
    add_sine(v, n, (double)period, peak, 1, 0);
    quantise(v, n, 1);
    gw_sinusoid line = {.multiple = {[GW_BASE_SIGNAL] = 1}, .cosine = peak};
    gw_model model = {.fit = {.lines = &line, .line_count = 1, .count = n, .present = n}};
    model.fit.base[GW_BASE_SIGNAL] = 1 / (double)period;
    const gw_block block = {.volts = v, .count = n, .rate_hz = (double)period, .step = 1};
    gw_steps steps;
    gw_error error = {0};
    assert_true(gw_steps_of(&model, &block, 0, &steps, &error));
    free(v);
    return steps.u_steps;
}

/* Where a period has several samples to each code it matters no more that they come again: the sum of the steps' errors
 * is as good as an integral over the waveform. Neither less nor much more is told than it is. */
static void a_finely_sampled_period_errs_as_its_waveform(void **state) {
    (void)state;
    static const struct {
        size_t period;
        double peak;
    } cases[] = {{8000, 400}, {12000, 1000}};
    uint64_t random = 7;
    for (size_t k = 0; k < sizeof cases / sizeof *cases; k++)
        assert_close(told(cases[k].period, cases[k].peak) / simulated(cases[k].period, cases[k].peak, &random), 1,
                     0.15);
}

/* Where it has no more than a few samples to each code they come again with the same errors, however long it is. */
static void a_long_period_repeats_its_errors(void **state) {
    (void)state;
    static const struct {
        size_t period;
        double peak;
    } cases[] = {{4000, 2000}, {4800, 1000}, {5000, 2000}, {8000, 8000}};
    uint64_t random = 8;
    for (size_t k = 0; k < sizeof cases / sizeof *cases; k++)
        assert_close(told(cases[k].period, cases[k].peak) / simulated(cases[k].period, cases[k].peak, &random), 1.1,
                     0.25);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_finely_sampled_period_errs_as_its_waveform),
        cmocka_unit_test(a_long_period_repeats_its_errors),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
