/* Contacts that break the signal of a short record: for nearly half of it, where what is left is hardly a line of a
 * spectrum any more, and for a moment, where a switch goes from one level to another. */
#include "measure/measured.h"

#include <string.h>

enum { N = 1200, TRIALS = 24 };

static const double rate = 250e3;

/* Three cuts of several periods each in 20 to 24: the lines of what is left are smeared out, yet between the cuts there
 * is one steady sine, and its level, DC and frequency are told, not those of the wreck. */
static void a_sine_gone_for_nearly_half_of_the_record(void **state) {
    (void)state;
    static const double starts[] = {0.195, 0.465, 0.815}, lengths[] = {0.11, 0.165, 0.18}; /* of the record */
    uint64_t random = 74;
    double *v = new_volts(N);
    for (int t = 0; t < TRIALS; t++) {
        double cycles = 20 + 4 * random_even(&random), hz = cycles * rate / N, period_s = 1 / hz;
        memset(v, 0, N * sizeof *v);
        add_sine(v, N, rate, 1, hz, two_pi * random_even(&random));
        for (size_t k = 0; k < 3; k++)
            memset(v + (size_t)(N * starts[k]), 0, (size_t)(N * lengths[k]) * sizeof *v);
        add_noise(v, N, 0.0035, &random);
        gw_readings *r = measured(v, N, rate, 0);
        assert_int_equal(r->signal, GW_SIGNAL_SINE);
        assert_close(value_of(r, GW_FREQUENCY), hz, 3e-4 * hz);
        assert_close(value_of(r, GW_LEVEL), 1 / sqrt(2), 0.005);
        assert_close(value_of(r, GW_DC), 0, 0.01);
        assert_close(value_of(r, GW_DROPOUTS), 3, 0);
        assert_int_equal(r->event_count, 3);
        for (size_t k = 0; k < 3; k++) {
            assert_int_equal(r->events[k].kind, GW_EVENT_DROPOUT);
            assert_close(r->events[k].start_s, starts[k] * N / rate, 0.5 * period_s);
            assert_close(r->events[k].length_s, lengths[k] * N / rate, 0.75 * period_s);
        }
        gw_readings_free(r);
    }
    free(v);
}

/* A switched attenuator breaks for a hundredth of the record, a period or two, before it makes, 10 dB lower: what is
 * there from then on is no signal that is gone, and its frequency is told. */
static void a_lower_level_behind_a_short_break_is_not_gone(void **state) {
    (void)state;
    const double lower = pow(10, -10 / 20.0);
    uint64_t random = 75;
    double *v = new_volts(N);
    for (int t = 0; t < TRIALS; t++) {
        double cycles = 95 + 45 * random_even(&random), hz = cycles * rate / N;
        size_t first = (size_t)(N * (0.35 + 0.15 * random_even(&random))), again = first + N / 100;
        memset(v, 0, N * sizeof *v);
        add_sine(v, N, rate, 1, hz, two_pi * random_even(&random));
        for (size_t i = first; i < N; i++)
            v[i] *= i < again ? 0 : lower;
        add_noise(v, N, 0.003, &random);
        gw_readings *r = measured(v, N, rate, 0);
        assert_int_equal(r->signal, GW_SIGNAL_SINE);
        assert_close(value_of(r, GW_FREQUENCY), hz, 1e-3 * hz);
        for (size_t k = 0; k < r->event_count; k++)
            assert_true(r->events[k].length_s < 0.05 * N / rate);
        gw_readings_free(r);
    }
    free(v);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_sine_gone_for_nearly_half_of_the_record),
        cmocka_unit_test(a_lower_level_behind_a_short_break_is_not_gone),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
