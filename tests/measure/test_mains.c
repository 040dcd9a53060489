/* 50 or 60 Hz found in whole measurements, and not invented. */
#include "measured.h"

#include "gainwalk/capture.h"
#include "measure/beside.h"
#include "trials.h"

#include <string.h>

/* Full-wave ripple: multiples 2 and 4 at 5 : 1 (Fourier series of |sin|), beside the mains itself. */
static void add_hum(double *x, size_t n, double rate_hz, double amplitude, double hz, double phase) {
    add_sine(x, n, rate_hz, amplitude, hz, phase);
    add_sine(x, n, rate_hz, amplitude, 2 * hz, 2 * phase + 1);
    add_sine(x, n, rate_hz, amplitude / 5, 4 * hz, 4 * phase + 2);
}

static const double hum_rms_of_one = 1.0099504938362078; /* sqrt((1 + 1 + 0.04)/2) */

static const gw_measure_options silence = {.stimulus.shape = GW_SHAPE_NONE};

static bool has_hum(const gw_readings *r) {
    return r->values[GW_HUM].state == GW_READING_VALUE;
}

static void told_apart_over_the_range_of_the_network(void **state) {
    (void)state;
    static const double durations_s[] = {0.05, 0.1, 0.5, 2};
    uint64_t seed = 31;
    for (size_t d = 0; d < sizeof durations_s / sizeof *durations_s; d++) {
        double rate = 20e3, duration = durations_s[d];
        size_t n = (size_t)(rate * duration + 0.5);
        double *x = new_volts(n);
        for (int t = 0; t < trials_of(20); t++) {
            double nominal = t % 2 ? 60 : 50;
            double hz = nominal * (1 + 0.02 * (random_even(&seed) - 0.5)); /* EN 50160: +-1 % */
            memset(x, 0, n * sizeof *x);
            add_noise(x, n, 1e-3, &seed);
            add_hum(x, n, rate, 5e-3, hz, 7 * random_even(&seed));
            gw_readings *r = measured_with(x, n, rate, 0, &silence);
            assert_close(r->clues.mains_hz, nominal, 0);
            assert_close(value_of(r, GW_HUM) / (5e-3 * hum_rms_of_one), 1, 0.05);
            gw_readings_free(r);
        }
        free(x);
    }
}

static void not_told_wrong_where_it_is_faint(void **state) {
    (void)state;
    enum { N = 1000 }; /* 50 ms: two and a half cycles of one, three of the other */
    uint64_t seed = 37;
    int wrong = 0, right = 0;
    int trials = trials_of(300);
    for (int t = 0; t < trials; t++) {
        double x[N] = {0}, nominal = t % 2 ? 60 : 50;
        add_noise(x, N, 1, &seed);
        add_hum(x, N, 20e3, 0.25, nominal, 7 * random_even(&seed));
        gw_readings *r = measured_with(x, N, 20e3, 0, &silence);
        right += has_hum(r) && r->clues.mains_hz == nominal;
        wrong += has_hum(r) && r->clues.mains_hz != nominal;
        gw_readings_free(r);
    }
    print_message("faint mains in 50 ms: %d right, %d wrong of %d\n", right, wrong, trials);
    assert_in_range(wrong, 0, 6);
    assert_true(10 * right > trials);
}

/* Noise alone: white, and falling from 67 Hz on, within the comb. */
static void noise_is_no_mains(void **state) {
    (void)state;
    static const double durations_s[] = {0.03, 0.04, 0.1, 0.3, 1};
    uint64_t seed = 32;
    for (size_t d = 0; d < sizeof durations_s / sizeof *durations_s; d++)
        for (int rising = 0; rising < 2; rising++) {
            size_t n = (size_t)(8e3 * durations_s[d]);
            double *x = new_volts(n), low = 0;
            int alarms = 0, trials = trials_of(durations_s[d] > 0.2 ? 30 : 100);
            for (int t = 0; t < trials; t++) {
                for (size_t i = 0; i < n; i++) {
                    low = 0.95 * low + random_gauss(&seed);
                    x[i] = rising ? low : random_gauss(&seed);
                }
                gw_readings *r = measured_with(x, n, 8e3, 0, &silence);
                alarms += has_hum(r);
                gw_readings_free(r);
            }
            print_message("mains in %g s of %s noise: %d of %d\n", durations_s[d], rising ? "rising" : "white", alarms,
                          trials);
            assert_in_range(alarms, 0, rising ? 3 : 0);
            free(x);
        }
}

/* A bent sine anywhere, its harmonics beside the mains': in a record of few cycles they put something beside
 * themselves, which is no hum. */
static void no_signal_is_taken_for_mains(void **state) {
    (void)state;
    static const double signals_hz[] = {25, 42, 55, 70, 82.4, 110, 120, 150, 180, 200, 240, 300, 440};
    static const double mains_hz[] = {0, 50, 60};
    enum { N = 2500, TRIALS = 8 };
    uint64_t seed = 34;
    double *x = new_volts(N);
    for (size_t i = 0; i < sizeof signals_hz / sizeof *signals_hz; i++)
        for (int t = 0; t < trials_of(3 * TRIALS); t++) {
            double hz = signals_hz[i] * (1 + 0.002 * (random_even(&seed) - 0.5));
            double seconds = 0.041 + 0.06 * random_even(&seed), bent = t % 2 ? 0.1 : 0;
            memset(x, 0, N * sizeof *x);
            add_noise(x, N, 0.003, &seed);
            add_sine(x, N, N / seconds, 1, hz, 7 * random_even(&seed));
            add_sine(x, N, N / seconds, bent / 2, 2 * hz, 7 * random_even(&seed));
            add_sine(x, N, N / seconds, bent, 3 * hz, 7 * random_even(&seed));
            gw_measure_options options = {.mains_hz = mains_hz[t % 3]};
            gw_readings *r = measured_with(x, N, N / seconds, 0, &options);
            if (has_hum(r))
                print_error("%g Hz for %g s, mains %g Hz: hum %g\n", hz, seconds, options.mains_hz,
                            r->values[GW_HUM].value);
            assert_false(has_hum(r));
            gw_readings_free(r);
        }
    free(x);
}

/* And hum beside such a signal is found with its size. */
static void hum_beside_a_low_signal_is_found(void **state) {
    (void)state;
    static const double signals_hz[] = {82.4, 110, 165, 220, 330};
    enum { N = 2500 };
    uint64_t seed = 38;
    double *x = new_volts(N);
    for (size_t i = 0; i < sizeof signals_hz / sizeof *signals_hz; i++)
        for (int t = 0; t < trials_of(10); t++) {
            double seconds = 0.12 + 0.1 * random_even(&seed), phase = 7 * random_even(&seed);
            memset(x, 0, N * sizeof *x);
            add_noise(x, N, 0.003, &seed);
            add_sine(x, N, N / seconds, 1, signals_hz[i], phase);
            add_sine(x, N, N / seconds, 0.1, 3 * signals_hz[i], 3 * phase);
            add_hum(x, N, N / seconds, 0.02, 50, 7 * random_even(&seed));
            gw_readings *r = measured_with(x, N, N / seconds, 0, &(gw_measure_options){.mains_hz = 50});
            assert_close(value_of(r, GW_HUM), 0.02 * hum_rms_of_one, 0.001);
            assert_close(value_of(r, GW_LEVEL), sqrt(0.5), 0.001);
            gw_readings_free(r);
        }
    free(x);
}

static void two_cycles_are_needed(void **state) {
    (void)state;
    double x[2500] = {0};
    uint64_t seed = 35;
    add_noise(x, 2500, 1e-3, &seed);
    add_hum(x, 2500, 50e3, 1, 50, 0);
    const gw_measure_options stated = {.stimulus.shape = GW_SHAPE_NONE, .mains_hz = 50};
    gw_readings *r = measured_with(x, 1500, 50e3, 0, &stated); /* 30 ms */
    assert_false(has_hum(r));
    assert_non_null(strstr(r->values[GW_HUM].why, "two cycles"));
    gw_readings_free(r);
    r = measured_with(x, 2500, 50e3, 0, &stated); /* 50 ms */
    assert_close(value_of(r, GW_HUM), hum_rms_of_one, 0.01);
    gw_readings_free(r);
}

/* Hum in a record shorter than one cycle of it is in the rest all the same, however little of the band that shows. */
/* A tenth at the mains and half of that at twice it, in little more than two cycles, at all phases: each leaves beside
 * itself what looks like noise to the other, but none of it is noise. */
static void hum_of_two_orders_in_two_cycles(void **state) {
    (void)state;
    enum { FEW = 1500 };
    uint64_t seed = 81;
    double x[FEW];
    for (int t = 0; t < 12 * trials_of(20); t++) {
        memset(x, 0, sizeof x);
        add_sine(x, FEW, FEW, 1, 42 + 0.5 * random_even(&seed), 7 * random_even(&seed));
        add_sine(x, FEW, FEW, 0.1, 2.1, two_pi * t / 12);
        add_sine(x, FEW, FEW, 0.05, 4.2, 7 * random_even(&seed));
        add_noise(x, FEW, 1e-3, &seed);
        gw_readings *r = measured(x, FEW, FEW * 50 / 2.1, 0);
        assert_close(value_of(r, GW_HUM), hypot(0.1, 0.05) / sqrt(2), 0.002);
        assert_close(value_of(r, GW_SNR), sqrt(0.5) / 1e-3, 0.08 * sqrt(0.5) / 1e-3);
        gw_readings_free(r);
    }
}

static void unresolved_hum_is_in_the_rest(void **state) {
    (void)state;
    enum { LONG = 1500, TRIALS = 60 };
    double x[LONG];
    uint64_t seed = 37;
    int held = 0, told = 0;
    for (int t = 0; t < TRIALS; t++) {
        size_t n = 450 + (size_t)(1000 * random_even(&seed)); /* 9 to 29 ms */
        for (size_t i = 0; i < n; i++)
            x[i] = 0.3;
        add_sine(x, n, 50e3, 1, 50e3 / (double)n * (4 + 20 * random_even(&seed)), two_pi * random_even(&seed));
        add_sine(x, n, 50e3, 0.05, 50, two_pi * random_even(&seed));
        add_noise(x, n, 0.005, &seed);
        gw_readings *r = measured(x, n, 50e3, 0);
        const gw_reading *rest = &r->values[GW_THD_N];
        /* √(r/(1 + r)) of r = 0.05² + 2·0.005²·(20 kHz of 25 kHz) */
        told += rest->state == GW_READING_VALUE;
        held += rest->state == GW_READING_VALUE && fabs(rest->value - 0.050335) <= rest->u95;
        gw_readings_free(r);
    }
    assert_true(told * 2 >= TRIALS);
    assert_true(held * 100 >= 88 * told);
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
    gw_readings *r = gw_readings_new(NULL);
    r->source.unit = "V";
    gw_block block = {.volts = x, .marks = marks, .count = N, .rate_hz = 20e3};
    const gw_measure_options stated = {.stimulus.shape = GW_SHAPE_NONE, .mains_hz = 400};
    assert_true(gw_measure_block(&block, &stated, r, NULL));
    assert_close(value_of(r, GW_HUM), 0.01 * hum_rms_of_one, 1e-4);
    assert_close(r->clues.mains_hz, 400, 0);
    gw_readings_free(r);
    free(x);
}

/* Five orders of the mains; their RMS together. */
static double add_comb(double *x, size_t n, double rate, double hz, double strongest, uint64_t *seed) {
    static const int orders[] = {1, 2, 3, 4, 6};
    double power = 0;
    for (size_t k = 0; k < sizeof orders / sizeof *orders; k++) {
        double amplitude = strongest * pow(10, -1.3 * random_even(seed));
        add_sine(x, n, rate, amplitude, orders[k] * hz, 7 * random_even(seed));
        power += 0.5 * amplitude * amplitude;
    }
    return sqrt(power);
}

/* A sine and, 25 to 60 dB under it, hum from a network that is up to 0.6 % astray: in a second its fourth order is a
 * line and more off. Nothing is stated. All of it is hum, and none of it lowers the pitch: a comb of a few hertz holds
 * a line near everything. */
static void hum_of_a_network_astray_moves_no_pitch(void **state) {
    (void)state;
    static const double durations_s[] = {1, 4};
    uint64_t seed = 43;
    for (int t = 0; t < 60; t++) {
        double rate = 12e3, duration = durations_s[t % 2], f = 200 * pow(20, random_even(&seed));
        size_t n = (size_t)(rate * duration);
        double *x = new_volts(n), nominal = t % 4 < 2 ? 60 : 50;
        double hz = nominal * (1 + 0.012 * (random_even(&seed) - 0.5));
        add_sine(x, n, rate, 0.5, f, 1);
        add_noise(x, n, 1e-4, &seed);
        double hum = add_comb(x, n, rate, hz, 0.5 * pow(10, -1.25 - 1.75 * random_even(&seed)), &seed);
        gw_readings *r = measured(x, n, rate, 0);
        assert_close(value_of(r, GW_FREQUENCY), f, 1e-3);
        assert_int_equal(r->signal, GW_SIGNAL_SINE);
        assert_close(value_of(r, GW_HUM), hum, 2 * r->values[GW_HUM].u95 + 1e-3 * hum);
        assert_close(r->clues.mains_hz, nominal, 0);
        gw_readings_free(r);
        free(x);
    }
}

/* The same hum beside a saw, in ten seconds: its lines are found once all of the saw is in the model, each where the
 * network is. */
static void hum_beside_a_saw(void **state) {
    (void)state;
    enum { LONG = 60000 };
    const double rate = 6000, f = 220.3;
    uint64_t seed = 47;
    int held = 0, trials = 24;
    for (int t = 0; t < trials; t++) {
        double *x = new_volts(LONG), hz = (t % 2 ? 60 : 50) * (1 + 0.008 * (random_even(&seed) - 0.5));
        for (int order = 1; order * f < 0.5 * rate; order++)
            add_sine(x, LONG, rate, 0.3 / order, order * f, 0.3 * order);
        add_noise(x, LONG, 3e-4, &seed);
        double hum = add_comb(x, LONG, rate, hz, 0.02, &seed);
        gw_readings *r = measured(x, LONG, rate, 0);
        assert_close(value_of(r, GW_FREQUENCY), f, 1e-4);
        assert_close(value_of(r, GW_HUM), hum, 1e-3 * hum);
        held += fabs(r->values[GW_HUM].value - hum) <= r->values[GW_HUM].u95;
        for (size_t k = 0; k < r->tone_count; k++)
            assert_int_equal(r->tones[k].kind, GW_TONE_MAINS);
        gw_readings_free(r);
        free(x);
    }
    print_message("u95 of hum beside a saw holds it in %d of %d\n", held, trials);
    assert_in_range(held, 0.87 * trials, trials);
}

/* Where a line of the signal's stands on the mains, what hum there is can't be told, and is not said to be nothing. */
static void no_bound_where_the_signal_hides_hum(void **state) {
    (void)state;
    enum { LONG = 20000 };
    static const double fundamentals_hz[] = {10, 12.5, 25, 50.0 / 3, 15, 30};
    uint64_t seed = 53;
    for (size_t t = 0; t < sizeof fundamentals_hz / sizeof *fundamentals_hz; t++) {
        double *x = new_volts(LONG), f = fundamentals_hz[t];
        for (int order = 1; order < 30; order++)
            add_sine(x, LONG, 10e3, 0.3 / order, order * f, 0.3 * order);
        add_noise(x, LONG, 1e-3, &seed);
        add_sine(x, LONG, 10e3, 0.02, t < 4 ? 50 : 60, 1);
        gw_readings *r = measured(x, LONG, 10e3, 0);
        assert_close(value_of(r, GW_FREQUENCY), f, 1e-3);
        assert_int_equal(r->values[GW_HUM].state, GW_READING_NONE);
        assert_non_null(strstr(r->values[GW_HUM].why, "on the mains frequency"));
        gw_readings_free(r);
        free(x);
    }
}

/* Seven tenths of a cycle of the mains, its crest in the middle, 60 dB above the noise: the bend tells of DC as much as
 * least squares can. Over an angle of h either side of the crest a cosine has the mean sin(h)/h and the mean square
 * 1/2 + sin(2h)/(4h), and DC's variance is s²/n (1 + mean²/(mean square - mean²)), of which four deviations are let. */
static void dc_beside_a_clear_bend(void **state) {
    (void)state;
    enum { N = 1200 };
    static const double sigma = 1e-3, cycles = 0.7;
    double half = two_pi / 2 * cycles, mean = sin(half) / half, square = 0.5 + sin(2 * half) / (4 * half);
    double u = sigma * sqrt((1 + mean * mean / (square - mean * mean)) / N);
    uint64_t seed = 59;
    for (int t = 0; t < 10; t++) {
        double x[N] = {0};
        for (size_t i = 0; i < N; i++)
            x[i] = 0.2 + cos(half * (2 * ((double)i + 0.5) / N - 1));
        add_noise(x, N, sigma, &seed);
        gw_error error = {0};
        gw_model model = {0};
        assert_true(gw_fit_begin(&model.fit, x, NULL, N, &error) && gw_fit_solve(&model.fit, &error));
        assert_true(gw_hum_hide(&model, 50 * N / cycles, 50, &error));
        assert_true(model.mains_hidden);
        assert_close(model.fit.dc, 0.2, 4 * u);
        gw_model_end(&model);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(told_apart_over_the_range_of_the_network),
        cmocka_unit_test(not_told_wrong_where_it_is_faint),
        cmocka_unit_test(noise_is_no_mains),
        cmocka_unit_test(no_signal_is_taken_for_mains),
        cmocka_unit_test(hum_beside_a_low_signal_is_found),
        cmocka_unit_test(two_cycles_are_needed),
        cmocka_unit_test(hum_of_two_orders_in_two_cycles),
        cmocka_unit_test(unresolved_hum_is_in_the_rest),
        cmocka_unit_test(gaps_and_a_stated_network),
        cmocka_unit_test(hum_of_a_network_astray_moves_no_pitch),
        cmocka_unit_test(hum_beside_a_saw),
        cmocka_unit_test(no_bound_where_the_signal_hides_hum),
        cmocka_unit_test(dc_beside_a_clear_bend),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
