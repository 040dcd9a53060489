/* One channel against another: gain, phase, delay, polarity, coherence, of sines and of programme. */
#include "assert_close.h"
#include "captured.h"
#include "signals.h"

#include "gainwalk/measure.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

static gw_pair pair_of(const double *one, const double *other, size_t n, unsigned rate_hz) {
    gw_capture *capture = capture_of(one, other, n, rate_hz);
    gw_pair pair;
    gw_error error = {0};
    assert_true(gw_measure_pair(capture, 0, 1, &pair, &error));
    gw_capture_free(capture);
    return pair;
}

/* A low-pass of the first order at a frequency: gain and phase in closed form. */
static void sine_through_a_low_pass(void **state) {
    (void)state;
    static const double cycles[] = {2.3, 5.7, 40.2, 311};
    uint64_t seed = 91;
    for (size_t c = 0; c < 4; c++) {
        enum { N = 10000 };
        double *x = new_volts(N), *y = new_volts(N), ratio = 0.8; /* f over the corner */
        double gain = 1 / sqrt(1 + ratio * ratio), phase = -atan(ratio), hz = 100e3 * cycles[c] / N;
        add_sine(x, N, 100e3, 0.5, hz, 1);
        add_sine(y, N, 100e3, 0.5 * gain, hz, 1 + phase);
        for (size_t i = 0; i < N; i++)
            y[i] += 0.2; /* DC doesn't count */
        add_noise(x, N, 1e-3, &seed);
        add_noise(y, N, 1e-3, &seed);
        gw_pair pair = pair_of(x, y, N, 100000);
        assert_true(pair.valid);
        assert_close(pair.frequency_hz, hz, 0.001 * hz);
        assert_close(pair.gain, gain, 1.5 * pair.gain_u95);
        assert_close(pair.gain_u95, 2 * gain * sqrt(2.0 / N) * 1e-3 / 0.5 * sqrt(1 + 1 / (gain * gain)), 1e-5);
        assert_close(pair.phase_rad, phase, 2e-4);
        assert_close(pair.delay_s, -phase / (two_pi * hz), 1e-3 / hz);
        assert_int_equal(pair.polarity, 1);
        assert_true(pair.coherence > 0.999);
        free(x), free(y);
    }
}

static void stated_uncertainty_of_a_sines_gain_holds(void **state) {
    (void)state;
    enum { N = 1000, TRIALS = 200 };
    uint64_t seed = 92;
    int inside = 0;
    for (int t = 0; t < TRIALS; t++) {
        double x[N] = {0}, y[N] = {0}, cycles = 2 + 20 * random_even(&seed), phase = 7 * random_even(&seed);
        add_sine(x, N, N, 1, cycles, phase);
        add_sine(y, N, N, 0.1, cycles, phase + 2);
        add_noise(x, N, 0.01, &seed);
        add_noise(y, N, 0.01, &seed);
        gw_pair pair = pair_of(x, y, N, N);
        assert_true(pair.valid);
        inside += fabs(pair.gain - 0.1) <= pair.gain_u95;
    }
    print_message("gain of a sine: u95 held %d of %d\n", inside, TRIALS);
    assert_in_range(inside, 183, 198); /* 95.4 %; 200 trials scatter by 1.5 % */
}

/* Programme that comes out as it came in, half as large, leaves nothing open (coherence 1: Bendat & Piersol). */
static void gain_of_a_copy_is_certain(void **state) {
    (void)state;
    enum { N = 50000 };
    double *x = new_volts(N), *y = new_volts(N);
    uint64_t seed = 97;
    add_noise(x, N, 0.3, &seed);
    for (size_t i = 0; i < N; i++)
        y[i] = 0.5 * x[i];
    gw_pair pair = pair_of(x, y, N, 48000);
    assert_true(pair.valid);
    assert_close(pair.gain, 0.5, 1e-6);
    assert_close(pair.gain_u95, 0, 1e-4);
    assert_close(pair.coherence, 1, 1e-6);
    free(x), free(y);
}

/* Few codes, without noise in front of them: two cycles and a bit, and cycles that fall on the same codes each time. */
static void gain_of_few_codes_holds(void **state) {
    (void)state;
    enum { N = 1000, TRIALS = 60 };
    static const double cycles[] = {2.3, 20, 13.37};
    uint64_t seed = 96;
    for (int codes = 20; codes <= 200; codes *= 10)
        for (size_t c = 0; c < sizeof cycles / sizeof *cycles; c++) {
            int inside = 0;
            double step = 1.0 / codes, widest = 0;
            for (int t = 0; t < TRIALS; t++) {
                double x[N] = {0}, y[N] = {0}, phase = 7 * random_even(&seed), late = 7 * random_even(&seed);
                add_sine(x, N, N, 0.5, cycles[c], phase);
                add_sine(y, N, N, 0.5, cycles[c], phase + late);
                for (size_t i = 0; i < N; i++)
                    x[i] += 0.3 * step * t / TRIALS, y[i] -= 0.7 * step * t / TRIALS;
                quantise(x, N, step);
                quantise(y, N, step);
                gw_pair pair = pair_of(x, y, N, N);
                assert_true(pair.valid);
                inside += fabs(pair.gain - 1) <= pair.gain_u95;
                widest = fmax(widest, pair.gain_u95);
            }
            print_message("gain of %d codes, %g cycles: u95 held %d of %d, %.4f at most\n", codes, cycles[c], inside,
                          TRIALS, widest);
            assert_true(inside >= 0.93 * TRIALS);
            assert_true(widest < 1.0 / codes); /* a step is 2/codes of the peak */
        }
}

static void polarity_of_a_sine(void **state) {
    (void)state;
    static const struct {
        double phase;
        int polarity;
    } cases[] = {{0, 1}, {0.6, 1}, {-0.6, 1}, {1.5, 0}, {-1.5, 0}, {3.1, -1}, {-2.7, -1}};
    for (size_t c = 0; c < sizeof cases / sizeof *cases; c++) {
        enum { N = 4000 };
        double x[N] = {0}, y[N] = {0};
        add_sine(x, N, N, 1, 12.3, 0.4);
        add_sine(y, N, N, 3, 12.3, 0.4 + cases[c].phase);
        gw_pair pair = pair_of(x, y, N, N);
        assert_true(pair.valid);
        assert_close(pair.gain, 3, 1e-5);
        assert_int_equal(pair.polarity, cases[c].polarity);
        assert_close(pair.phase_rad, cases[c].phase, 1e-5);
    }
}

/* Programme: 150 tones at random, so that any delay is exact. */
static void programme(double *x, double *y, size_t n, double rate_hz, double gain, double delay_s, uint64_t *seed) {
    for (int t = 0; t < 150; t++) {
        double hz = rate_hz * 0.45 * random_even(seed), phase = 7 * random_even(seed), amplitude = random_even(seed);
        add_sine(x, n, rate_hz, 0.05 * amplitude, hz, phase);
        add_sine(y, n, rate_hz, gain * 0.05 * amplitude, hz, phase - two_pi * hz * delay_s);
    }
}

static void programme_with_a_delay(void **state) {
    (void)state;
    enum { N = 12000 };
    static const struct {
        double gain, delay_samples;
    } cases[] = {{0.5, 0}, {-0.5, 0}, {2, 37.4}, {-0.1, -12.25}, {1, 150}};
    uint64_t seed = 93;
    for (size_t c = 0; c < sizeof cases / sizeof *cases; c++) {
        double *x = new_volts(N), *y = new_volts(N);
        programme(x, y, N, 48e3, cases[c].gain, cases[c].delay_samples / 48e3, &seed);
        gw_pair pair = pair_of(x, y, N, 48000);
        assert_true(pair.valid);
        /* a delay moves the windows against each other: some coherence goes, and with it some of the gain */
        double lost = fabs(cases[c].delay_samples) / 2666;
        assert_close(pair.gain / fabs(cases[c].gain), 1, 0.01 + lost);
        assert_close(pair.delay_s * 48e3, cases[c].delay_samples, 0.02 + 0.1 * lost);
        assert_int_equal(pair.polarity, cases[c].gain < 0 ? -1 : 1);
        assert_close(pair.frequency_hz, 0, 0);
        assert_true(pair.coherence > 0.98 - 2 * lost);
        free(x), free(y);
    }
}

static void coherence_of_noise_in_closed_form(void **state) {
    (void)state;
    enum { N = 200000 };
    uint64_t seed = 94;
    double *x = new_volts(N), *y = new_volts(N);
    add_noise(x, N, 0.1, &seed);
    for (size_t i = 0; i < N; i++)
        y[i] = 0.7 * x[i] + 0.05 * random_gauss(&seed);
    gw_pair pair = pair_of(x, y, N, 48000);
    /* B&P: 1/(1 + N/S) with S = 0.07^2, N = 0.05^2, biased up by (1 - g^2)^2/n for n averages */
    double coherence = 0.0049 / (0.0049 + 0.0025);
    assert_close(pair.coherence, coherence + (1 - coherence) * (1 - coherence) / 9, 0.02);
    assert_close(pair.gain, 0.7, 0.02);
    assert_true(pair.gain_u95 < 0.02 && pair.gain_u95 > 0.001);
    assert_int_equal(pair.polarity, 1);
    assert_close(pair.delay_s * 48e3, 0, 0.02);
    free(x), free(y);
}

static void stated_uncertainty_of_a_programmes_gain_holds(void **state) {
    (void)state;
    enum { N = 6000, TRIALS = 100 };
    uint64_t seed = 95;
    int inside = 0;
    double bias = 0;
    for (int t = 0; t < TRIALS; t++) {
        double x[N], y[N];
        for (size_t i = 0; i < N; i++) {
            x[i] = 0.1 * random_gauss(&seed);
            y[i] = 0.7 * x[i] + 0.01 * random_gauss(&seed);
        }
        gw_pair pair = pair_of(x, y, N, 48000);
        inside += fabs(pair.gain - 0.7) <= pair.gain_u95;
        bias += (pair.gain / 0.7 - 1) / TRIALS;
    }
    print_message("gain of programme: u95 held %d of %d, bias %.5f\n", inside, TRIALS, bias);
    assert_in_range(inside, 88, 100);
    assert_close(bias, 0, 0.003);
}

/* White noise of 0.1 s, or a burst of it, that comes out as much as 150 samples later: a delay is no loss. Windows that
 * lie alike on both channels see parts of what the other has not; those of a burst lack of it what share of the window
 * the delay is. */
static void a_delay_takes_nothing_from_the_gain(void **state) {
    (void)state;
    enum { N = 4800, LATEST = 150, TRIALS = 60 };
    uint64_t seed = 97;
    for (int burst = 0; burst < 2; burst++) {
        int inside = 0;
        double sum = 0;
        for (int t = 0; t < TRIALS; t++) {
            double *x = new_volts(N + LATEST), *y = new_volts(N), noise = burst ? 0.0003 : 0.01;
            size_t delay = (size_t)(random_even(&seed) * LATEST), first = burst ? 1500 : 0;
            add_noise(x + first, burst ? 300 : N + LATEST, 0.1, &seed);
            for (size_t i = 0; i < N; i++)
                y[i] = -2 * x[i + LATEST - delay];
            add_noise(y, N, 2 * noise * 0.1, &seed);
            gw_pair pair = pair_of(x + LATEST, y, N, 48000);
            assert_true(pair.valid);
            assert_int_equal(pair.polarity, -1);
            assert_close(pair.delay_s, (double)delay / 48000, 0.02 / 48000);
            inside += fabs(pair.gain - 2) <= pair.gain_u95;
            sum += pair.gain / 2 - 1;
            free(x), free(y);
        }
        print_message("gain of %s: u95 held %d of %d, on average off by %.5f\n", burst ? "bursts" : "noise", inside,
                      TRIALS, sum / TRIALS);
        assert_close(sum / TRIALS, 0, 3e-4);
        assert_in_range(inside, 0.9 * TRIALS, TRIALS);
    }
}

/* Lines of a narrow band, delayed by some samples: the phase is that of their sum weighted by power, arg Σ A² e^(-jωt),
 * whatever delay was taken out on the way; a flip adds half a turn. */
static void phase_of_a_delayed_band(void **state) {
    (void)state;
    enum { N = 40000, LINES = 80 };
    uint64_t seed = 99;
    for (int t = 0; t < 8; t++) {
        double *x = new_volts(N), *y = new_volts(N), middle = 1e3 + 8e3 * random_even(&seed), re = 0, im = 0;
        double delay = (t < 2 ? 0.4 : 3 + 40 * random_even(&seed)) / 48e3, sign = t % 2 ? -1 : 1;
        for (int k = 0; k < LINES; k++) {
            double hz = middle + 300 * (random_even(&seed) - 0.5), a = 0.01 + 0.02 * random_even(&seed), phase = 7 * k;
            add_sine(x, N, 48e3, a, hz, phase);
            add_sine(y, N, 48e3, 0.5 * sign * a, hz, phase - two_pi * hz * delay);
            re += sign * a * a * cos(two_pi * hz * delay);
            im -= sign * a * a * sin(two_pi * hz * delay);
        }
        add_noise(x, N, 1e-4, &seed);
        add_noise(y, N, 1e-4, &seed);
        gw_pair pair = pair_of(x, y, N, 48000);
        assert_true(pair.valid);
        assert_close(pair.gain, 0.5, 0.02);
        assert_close(remainder(pair.phase_rad - atan2(im, re), two_pi), 0, 0.1);
        free(x), free(y);
    }
}

static void unrelated_channels(void **state) {
    (void)state;
    enum { N = 48000 };
    uint64_t seed = 96;
    double *x = new_volts(N), *y = new_volts(N);
    add_noise(x, N, 0.1, &seed);
    add_noise(y, N, 0.1, &seed);
    gw_pair pair = pair_of(x, y, N, 48000);
    assert_true(pair.coherence < 0.25); /* chance alone: 1/n */
    bool vague = pair.gain_u95 > 0.2 * pair.gain;
    assert_true(!pair.valid || pair.polarity == 0 || vague);
    memset(y, 0, N * sizeof *y);
    pair = pair_of(x, y, N, 48000);
    assert_false(pair.valid);
    memset(x, 0, N * sizeof *x);
    pair = pair_of(x, y, N, 48000);
    assert_false(pair.valid);
    free(x), free(y);
}

static void saw_is_taken_at_its_fundamental(void **state) {
    (void)state;
    enum { N = 10000 };
    double *x = new_volts(N), *y = new_volts(N);
    for (int k = 1; k < 20; k++) {
        add_sine(x, N, N, 1.0 / k, 100.3 * k, 0.1 * k);
        add_sine(y, N, N, 0.25 / k, 100.3 * k, 0.1 * k - two_pi * 100.3 * k * 2e-4); /* two samples late */
    }
    gw_pair pair = pair_of(x, y, N, N);
    assert_true(pair.valid);
    assert_close(pair.gain, 0.25, 1e-5);
    assert_close(pair.frequency_hz, 100.3, 1e-3);
    assert_close(pair.delay_s, 2e-4, 1e-6);
    free(x), free(y);
}

static void no_such_channel_and_too_short(void **state) {
    (void)state;
    double x[200] = {1}, y[200] = {2};
    gw_capture *capture = capture_of(x, y, 200, 1000);
    gw_pair pair;
    gw_error error = {0};
    assert_false(gw_measure_pair(capture, 0, 2, &pair, &error));
    assert_true(error.set);
    gw_capture_free(capture);
    pair = pair_of(x, y, 40, 1000);
    assert_false(pair.valid);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sine_through_a_low_pass),
        cmocka_unit_test(stated_uncertainty_of_a_sines_gain_holds),
        cmocka_unit_test(gain_of_few_codes_holds),
        cmocka_unit_test(polarity_of_a_sine),
        cmocka_unit_test(gain_of_a_copy_is_certain),
        cmocka_unit_test(programme_with_a_delay),
        cmocka_unit_test(coherence_of_noise_in_closed_form),
        cmocka_unit_test(stated_uncertainty_of_a_programmes_gain_holds),
        cmocka_unit_test(a_delay_takes_nothing_from_the_gain),
        cmocka_unit_test(phase_of_a_delayed_band),
        cmocka_unit_test(unrelated_channels),
        cmocka_unit_test(saw_is_taken_at_its_fundamental),
        cmocka_unit_test(no_such_channel_and_too_short),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
