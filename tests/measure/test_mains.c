/* 50 or 60 Hz found, and not invented. */
#include "assert_close.h"
#include "measure/mains.h"
#include "signals.h"

#include "gainwalk/capture.h"

#include <string.h>

/* Full-wave ripple: multiples 2 and 4 at 5 : 1 (Fourier series of |sin|), beside the mains itself. */
static void add_hum(double *x, size_t n, double rate_hz, double amplitude, double hz, double phase) {
    add_sine(x, n, rate_hz, amplitude, hz, phase);
    add_sine(x, n, rate_hz, amplitude, 2 * hz, 2 * phase + 1);
    add_sine(x, n, rate_hz, amplitude / 5, 4 * hz, 4 * phase + 2);
}

static void told_apart_over_the_range_of_the_network(void **state) {
    (void)state;
    static const double durations_s[] = {0.04, 0.05, 0.1, 0.5, 2};
    uint64_t seed = 31;
    for (size_t d = 0; d < sizeof durations_s / sizeof *durations_s; d++) {
        double rate = 20e3, duration = durations_s[d];
        size_t n = (size_t)(rate * duration + 0.5);
        double *x = new_volts(n);
        int right = 0, trials = duration > 1 ? 10 : 40;
        for (int t = 0; t < trials; t++) {
            double nominal = t % 2 ? 60 : 50;
            double hz = nominal * (1 + 0.02 * (random_even(&seed) - 0.5)); /* EN 50160: +-1 % */
            memset(x, 0, n * sizeof *x);
            add_noise(x, n, 1e-3, &seed);
            add_hum(x, n, rate, 5e-3, hz, 7 * random_even(&seed));
            gw_mains mains;
            assert_true(gw_mains_find(x, NULL, n, rate, 0, 0, &mains));
            if (!mains.found || mains.nominal_hz != nominal)
                continue;
            right++;
            double rms = 5e-3 * sqrt((1 + 1 + 0.04) / 2);
            assert_close(mains.rms / rms, 1, 0.12);
            assert_close(mains.frequency_hz, hz, duration < 0.2 ? 0.9 : 0.02 / duration);
        }
        assert_int_equal(right, trials);
        free(x);
    }
}

static void not_told_wrong_where_it_is_faint(void **state) {
    (void)state;
    enum { N = 1000 }; /* 50 ms: two and a half cycles of one, three of the other */
    uint64_t seed = 37;
    int wrong = 0, right = 0;
    for (int t = 0; t < 300; t++) {
        double x[N] = {0}, nominal = t % 2 ? 60 : 50;
        add_noise(x, N, 1, &seed);
        add_hum(x, N, 20e3, 0.18, nominal, 7 * random_even(&seed));
        gw_mains mains;
        assert_true(gw_mains_find(x, NULL, N, 20e3, 0, 0, &mains));
        right += mains.found && mains.nominal_hz == nominal;
        wrong += mains.found && mains.nominal_hz != nominal;
    }
    print_message("faint mains in 50 ms: %d right, %d wrong of 300\n", right, wrong);
    assert_in_range(wrong, 0, 1);
    assert_true(right > 30);
}

static void noise_is_no_mains(void **state) {
    (void)state;
    static const double durations_s[] = {0.03, 0.04, 0.1, 0.3, 1};
    uint64_t seed = 32;
    for (size_t d = 0; d < sizeof durations_s / sizeof *durations_s; d++) {
        size_t n = (size_t)(8e3 * durations_s[d]);
        double *x = new_volts(n);
        int alarms = 0, trials = durations_s[d] >= 1 ? 50 : 200;
        for (int t = 0; t < trials; t++) {
            memset(x, 0, n * sizeof *x);
            add_noise(x, n, 1, &seed);
            gw_mains mains;
            assert_true(gw_mains_find(x, NULL, n, 8e3, 0, 0.01, &mains));
            alarms += mains.found;
        }
        print_message("mains in %g s of noise: %d of %d at 1 %% stated\n", durations_s[d], alarms, trials);
        assert_in_range(alarms, 0, 6);
        free(x);
    }
}

static void rising_noise_is_no_mains(void **state) {
    (void)state;
    uint64_t seed = 33;
    enum { N = 4000 };
    double x[N], low = 0;
    int alarms = 0;
    for (int t = 0; t < 200; t++) {
        for (size_t i = 0; i < N; i++) { /* falls from 67 Hz on: within the comb */
            low = 0.9 * low + random_gauss(&seed);
            x[i] = low;
        }
        gw_mains mains;
        assert_true(gw_mains_find(x, NULL, N, 4e3, 0, 0, &mains));
        alarms += mains.found;
    }
    print_message("mains in rising noise: %d of 200\n", alarms);
    assert_in_range(alarms, 0, 6);
}

static void other_lines_are_no_mains(void **state) {
    (void)state;
    static const double others_hz[] = {25, 42, 55, 70, 82.4, 110, 440};
    enum { N = 12000 };
    double *x = new_volts(N);
    uint64_t seed = 34;
    for (size_t i = 0; i < sizeof others_hz / sizeof *others_hz; i++) {
        memset(x, 0, N * sizeof *x);
        add_noise(x, N, 0.01, &seed);
        add_sine(x, N, 12e3, 0.1, others_hz[i], 1);
        gw_mains mains;
        assert_true(gw_mains_find(x, NULL, N, 12e3, 0, 0, &mains));
        assert_false(mains.found);
    }
    free(x);
}

static void two_cycles_are_needed(void **state) {
    (void)state;
    double x[2000] = {0};
    uint64_t seed = 35;
    add_noise(x, 2000, 1e-3, &seed);
    add_hum(x, 2000, 50e3, 1, 50, 0);
    gw_mains mains;
    assert_true(gw_mains_find(x, NULL, 1500, 50e3, 50, 0, &mains)); /* 30 ms */
    assert_false(mains.found);
    assert_true(gw_mains_find(x, NULL, 2000, 50e3, 50, 0, &mains)); /* 40 ms */
    assert_true(mains.found);
    assert_close(mains.nominal_hz, 50, 0);
    assert_true(gw_mains_find(x, NULL, 0, 50e3, 0, 0, &mains));
    assert_false(mains.found);
}

static void gaps_and_a_stated_network(void **state) {
    (void)state;
    enum { N = 10000 };
    double *x = new_volts(N);
    unsigned char marks[N] = {0};
    uint64_t seed = 36;
    add_noise(x, N, 1e-3, &seed);
    add_hum(x, N, 20e3, 0.01, 400, 0); /* aircraft */
    for (size_t i = 3000; i < 3400; i++) {
        marks[i] = GW_SAMPLE_MISSING;
        x[i] = 1e9;
    }
    gw_mains mains;
    assert_true(gw_mains_find(x, marks, N, 20e3, 400, 0, &mains));
    assert_true(mains.found);
    assert_close(mains.frequency_hz, 400, 0.05);
    memset(x, 0, N * sizeof *x);
    add_noise(x, N, 1e-3, &seed);
    add_hum(x, N, 20e3, 0.01, 60, 0);
    assert_true(gw_mains_find(x, marks, N, 20e3, 0, 0, &mains));
    assert_true(mains.found);
    assert_close(mains.nominal_hz, 60, 0);
    free(x);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(told_apart_over_the_range_of_the_network),
        cmocka_unit_test(not_told_wrong_where_it_is_faint),
        cmocka_unit_test(noise_is_no_mains),
        cmocka_unit_test(rising_noise_is_no_mains),
        cmocka_unit_test(other_lines_are_no_mains),
        cmocka_unit_test(two_cycles_are_needed),
        cmocka_unit_test(gaps_and_a_stated_network),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
