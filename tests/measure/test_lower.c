/* Combs whose fundamental is far below their strongest line: the period is that of all lines, and none of them is hum.
 */
#include "measure/measured.h"

enum { N = 2000, TRIALS = 120, ORDERS = 7 };

/* Amplitudes of orders 1 .. 7. */
static const struct {
    const char *what;
    double peak[ORDERS];
} combs[] = {
    {"second harmonic 20 dB over the first", {0.1, 1, 0.05, 0.3, 0.02}},
    {"second harmonic 20 dB over, and a third", {0.1, 1, 0.03}},
    {"orders 3 to 7", {0, 0, 1, 0.7, 0.5, 0.3, 0.2}},
};

static void period_of_all_lines(void **state) {
    (void)state;
    double x[N];
    int wrong = 0;
    for (size_t c = 0; c < sizeof combs / sizeof *combs; c++) {
        uint64_t random = 81 + c;
        for (int t = 0; t < TRIALS; t++) {
            double cycles = 4 * pow(15, random_even(&random)), rate = random_even(&random) < 0.5 ? 25e3 : 10e3;
            for (size_t i = 0; i < N; i++)
                x[i] = 0.2;
            for (int k = 1; k <= ORDERS; k++)
                add_sine(x, N, N, combs[c].peak[k - 1], k * cycles, two_pi * random_even(&random));
            add_noise(x, N, 2e-3, &random);
            gw_readings *r = measured(x, N, rate, 0);
            double found = value_of(r, GW_FREQUENCY) * N / rate / cycles;
            wrong += fabs(found - 1) > 0.01;
            gw_readings_free(r);
        }
        print_message("%s: %d so far have another period\n", combs[c].what, wrong);
    }
    assert_in_range(wrong, 0, 3); /* of 360 */
}

/* Two lines between the harmonics that don't fit one part of them lower no pitch. */
static void other_lines_lower_nothing(void **state) {
    (void)state;
    double x[N];
    uint64_t random = 85;
    int wrong = 0;
    for (int t = 0; t < TRIALS; t++) {
        double cycles = 10 + 40 * random_even(&random);
        for (size_t i = 0; i < N; i++)
            x[i] = 0;
        add_sine(x, N, N, 1, cycles, two_pi * random_even(&random));
        add_sine(x, N, N, 0.3, 2 * cycles, two_pi * random_even(&random));
        add_sine(x, N, N, 0.05, cycles * (1.2 + 0.7 * random_even(&random)), two_pi * random_even(&random));
        add_sine(x, N, N, 0.04, cycles * (2.2 + 0.7 * random_even(&random)), two_pi * random_even(&random));
        add_noise(x, N, 2e-3, &random);
        gw_readings *r = measured(x, N, 25e3, 0);
        wrong += fabs(value_of(r, GW_FREQUENCY) * N / 25e3 / cycles - 1) > 0.01;
        gw_readings_free(r);
    }
    print_message("beside unrelated lines: %d of %d another period\n", wrong, TRIALS);
    /* chance puts two lines near enough to one part now and then: 6 of 120, 7 with another compiler's rounding */
    assert_in_range(wrong, 0, 9);
}

/* What is fed in is known: of a comb whose second order is stated the stated one is read, however far the lines between
 * its own reach out of the noise. */
static void stated_frequency_is_lowered_by_nothing(void **state) {
    (void)state;
    double x[N];
    uint64_t random = 87;
    for (int t = 0; t < TRIALS; t++) {
        double cycles = 8 * pow(4, random_even(&random)), rate = 25e3;
        const gw_measure_options stated = {.accuracy = 0, .stimulus.frequency_hz = 2 * cycles * rate / N};
        for (size_t i = 0; i < N; i++)
            x[i] = 0.2;
        for (int k = 1; k <= ORDERS; k++)
            add_sine(x, N, N, k % 2 ? 0.1 / k : 2.0 / k, k * cycles, two_pi * random_even(&random));
        add_noise(x, N, 2e-3, &random);
        gw_readings *r = measured_with(x, N, rate, 0, &stated);
        assert_close(value_of(r, GW_FREQUENCY) / stated.stimulus.frequency_hz, 1, 0.01);
        gw_readings_free(r);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(period_of_all_lines),
        cmocka_unit_test(other_lines_lower_nothing),
        cmocka_unit_test(stated_frequency_is_lowered_by_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
