/* What a test signal cannot be is refused with a reason; behind its end there is silence. */
#include "assert_close.h"
#include "gainwalk/measure.h"

#include <stdio.h>
#include <string.h>

/* A good one: a tenth of a second of 1 kHz. */
static gw_test_signal sine(void) {
    return (gw_test_signal){.shape = GW_TEST_SINE,
                            .rate_hz = 48e3,
                            .samples = 4800,
                            .frequency_hz = 1000,
                            .rms = 0.1,
                            .steps = 3,
                            .step_ratio = 2};
}

static void refused(const gw_test_signal *signal, const char *says) {
    gw_generator *made = NULL;
    gw_error error = {0};
    char text[256];
    assert_false(gw_generator_new(signal, &made, &error));
    assert_null(made);
    gw_error_print(&error, text, sizeof text);
    if (strstr(text, says) == NULL)
        fail_msg("'%s' instead of '%s'", text, says);
}

static void signals_that_cannot_be_are_refused(void **state) {
    (void)state;
    static const double no_size[] = {-1, (double)NAN, (double)INFINITY};
    gw_test_signal one = sine();
    one.shape = GW_TEST_SHAPE_COUNT;
    refused(&one, "no such shape");
    for (size_t i = 0; i < sizeof no_size / sizeof *no_size; i++) {
        one = sine(), one.rate_hz = no_size[i];
        refused(&one, "no such sample rate or length");
        one = sine(), one.frequency_hz = no_size[i];
        refused(&one, isinf(no_size[i]) ? "is not below 24000 Hz" : "no such frequency");
        one = sine(), one.rms = no_size[i];
        refused(&one, "no such level");
        one = sine(), one.shape = GW_TEST_STEPS, one.step_ratio = no_size[i];
        refused(&one, "no such steps");
    }
    one = sine(), one.samples = 0;
    refused(&one, "no such sample rate or length");
    one = sine(), one.shape = GW_TEST_STEPS, one.steps = 0;
    refused(&one, "no such steps");
    one = sine(), one.shape = GW_TEST_TWO_TONE, one.frequency_hz = 7000, one.second_hz = 60;
    refused(&one, "the second frequency is not above the first");
    one = sine(), one.shape = GW_TEST_SWEEP, one.frequency_hz = 500, one.second_hz = 500;
    refused(&one, "the second frequency is not above the first");
    one = sine(), one.fade_s = 0.06;
    refused(&one, "fades are longer than the signal");
    one = sine(), one.rms = 0.8; /* peak 1.13 */
    refused(&one, "full scale");
}

static void behind_its_end_is_silence(void **state) {
    (void)state;
    gw_test_signal one = sine();
    gw_generator *made = NULL;
    gw_error error = {0};
    static double values[6000];
    double sum = 0;
    assert_true(gw_generator_new(&one, &made, &error));
    for (size_t i = 0; i < 6000; i++)
        values[i] = 9;
    for (size_t at = 0; at < 6000; at += 1500)
        gw_generator_next(made, values + at, 1500);
    for (size_t i = 0; i < 4800; i++)
        sum += values[i] * values[i];
    assert_close(sqrt(sum / 4800), 0.1, 1e-6); /* a hundred whole cycles */
    for (size_t i = 4800; i < 6000; i++)
        assert_close(values[i], 0, 0);
    gw_generator_free(made);
    gw_generator_free(NULL);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(signals_that_cannot_be_are_refused),
        cmocka_unit_test(behind_its_end_is_silence),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
