/* A tone beside a sine: near a high harmonic, in a record of few cycles, as strong as itself. It moves nothing, and is
 * told. */
#include "measure/measured.h"

enum { N = 20000 };

static const double rate_hz = 192e3;

static const gw_tone *tone_near(const gw_readings *r, double frequency_hz) {
    for (size_t k = 0; k < r->tone_count; k++)
        if (fabs(r->tones[k].frequency_hz - frequency_hz) < 0.1 * rate_hz / N)
            return &r->tones[k];
    return NULL;
}

/* The Cramer-Rao bound of a sine's frequency in many cycles (Rife & Boorstyn 1974): 24 s^2/(A^2 n^3) rad^2 a sample. */
static double bound_hz(double peak, double sigma, double n, double rate) {
    return sqrt(24 / (n * n * n)) * sigma / peak * rate / two_pi;
}

/* An oscillation of -40 dB to -20 dB, whole cycles of the record or parts of one away from a harmonic. */
static void beside_a_harmonic(void **state) {
    (void)state;
    static const double cycles[] = {22.7, 37.83, 53.11, 101.9},
                        away[] = {-4.6, -2.2, -0.93, -0.5, -0.22, 0.31, 0.9, 3.7};
    double *x = new_volts(N);
    uint64_t random = 61;
    for (size_t c = 0; c < sizeof cycles / sizeof *cycles; c++)
        for (size_t a = 0; a < sizeof away / sizeof *away; a++) {
            double frequency = cycles[c] * rate_hz / N;
            double order = floor((0.15 + 0.8 * random_even(&random)) * N / 2 / cycles[c]);
            double tone = (order * cycles[c] + away[a]) * rate_hz / N, high = 4e-3 * pow(10, random_even(&random));
            for (size_t i = 0; i < N; i++)
                x[i] = 0;
            add_sine(x, N, rate_hz, 0.4, frequency, two_pi * random_even(&random));
            add_sine(x, N, rate_hz, high, tone, two_pi * random_even(&random));
            add_noise(x, N, 1.2e-4, &random);
            const gw_measure_options stated = {.accuracy = 0,
                                               .stimulus = {.shape = GW_SHAPE_SINE, .frequency_hz = frequency}};
            gw_readings *r = measured_with(x, N, rate_hz, 0, &stated);
            const gw_tone *found = tone_near(r, tone);
            if (!found)
                print_error("%g cycles, %g from harmonic %g\n", cycles[c], away[a], order);
            assert_non_null(found);
            assert_close(found->rms, high / sqrt(2), 0.02 * high);
            /* four deviations: 32 records */
            assert_close(value_of(r, GW_FREQUENCY), frequency, 2 * r->values[GW_FREQUENCY].u95);
            assert_close(r->values[GW_FREQUENCY].u95, 2 * bound_hz(0.4, 1.2e-4, N, rate_hz),
                         0.3 * r->values[GW_FREQUENCY].u95);
            /* 1.2e-4·√(19980/96000) */
            assert_close(value_of(r, GW_NOISE), 5.4745e-5, 2 * r->values[GW_NOISE].u95);
            gw_readings_free(r);
        }
    free(x);
}

/* What stands on the comb as exactly as can be told is the signal's: a stage may well bend a sine so. */
static void on_a_harmonic(void **state) {
    (void)state;
    double *x = new_volts(N), frequency = 37.83 * rate_hz / N;
    uint64_t random = 62;
    static const int orders[] = {2, 3, 13, 40};
    for (size_t k = 0; k < sizeof orders / sizeof *orders; k++)
        add_sine(x, N, rate_hz, 4e-3, orders[k] * frequency, (double)k);
    add_sine(x, N, rate_hz, 0.4, frequency, 0.5);
    add_noise(x, N, 1.2e-4, &random);
    gw_readings *r = measured(x, N, rate_hz, 0);
    assert_int_equal(r->tone_count, 0);
    assert_in_range(r->harmonic_count, 40, 41);
    for (size_t k = 0; k < sizeof orders / sizeof *orders; k++)
        assert_close(r->harmonics[orders[k] - 1].rms, 4e-3 / sqrt(2), 1e-5);
    gw_readings_free(r);
    free(x);
}

/* The last of six harmonics lies above half the rate and shows below it, where it fits no multiple: it is no tone. One
 * as strong three cycles of the record beside that is, but where a still higher order would show as well. */
static void harmonic_that_folds(void **state) {
    (void)state;
    enum { FEW = 500, TRIALS = 40 };
    static const double amplitudes[] = {0, 1, 0.7, 0.5, 0.3, 0.2};
    double x[FEW];
    uint64_t random = 67;
    int told[2] = {0};
    for (int t = 0; t < TRIALS; t++) {
        double cycles = 42 + 7 * random_even(&random);
        for (int with = 0; with < 2; with++) {
            for (size_t i = 0; i < FEW; i++)
                x[i] = 0.1;
            for (int k = 1; k <= 6; k++)
                add_sine(x, FEW, FEW, amplitudes[k - 1], k * cycles, two_pi * random_even(&random));
            add_sine(x, FEW, FEW, with ? 0.2 : 0, FEW - 6 * cycles - 3, two_pi * random_even(&random));
            add_noise(x, FEW, 0.003, &random);
            gw_readings *r = measured(x, FEW, FEW, 0);
            assert_int_equal(r->signal, GW_SIGNAL_PERIODIC);
            told[with] += r->tone_count == (size_t)with;
            gw_readings_free(r);
        }
    }
    print_message("no tone %d, a tone %d of %d\n", told[0], told[1], TRIALS);
    assert_int_equal(told[0], TRIALS);
    assert_in_range(told[1], TRIALS * 85 / 100, TRIALS);
}

/* In few cycles even a tone far away pulls all that is fitted, unless it is fitted along. */
static void in_few_cycles(void **state) {
    (void)state;
    enum { FEW = 1000, TRIALS = 60 };
    double x[FEW];
    uint64_t random = 63;
    int frequency = 0, level = 0, dc = 0, noise = 0, near_bound = 0;
    for (int t = 0; t < TRIALS; t++) {
        double cycles = 3.2 + 20 * random_even(&random), tone = (0.13 + 0.3 * random_even(&random)) * FEW;
        for (size_t i = 0; i < FEW; i++)
            x[i] = 0.2;
        add_sine(x, FEW, FEW, 1, cycles, two_pi * random_even(&random));
        add_sine(x, FEW, FEW, 0.01 + 0.05 * random_even(&random), tone, two_pi * random_even(&random));
        add_noise(x, FEW, 7e-5, &random);
        gw_readings *r = measured(x, FEW, 1e5, 0);
        near_bound += r->values[GW_FREQUENCY].u95 < 3 * bound_hz(1, 7e-5, FEW, 1e5);
        frequency += fabs(value_of(r, GW_FREQUENCY) - 100 * cycles) <= r->values[GW_FREQUENCY].u95;
        level += fabs(value_of(r, GW_LEVEL) - sqrt(0.5)) <= r->values[GW_LEVEL].u95;
        dc += fabs(value_of(r, GW_DC) - 0.2) <= r->values[GW_DC].u95;
        /* 7e-5·√(19900 of 50000 Hz) */
        noise += fabs(value_of(r, GW_NOISE) - 4.416e-5) <= r->values[GW_NOISE].u95;
        gw_readings_free(r);
    }
    print_message("held: frequency %d, level %d, dc %d, noise %d of %d\n", frequency, level, dc, noise, TRIALS);
    assert_in_range(near_bound, TRIALS * 80 / 100, TRIALS); /* from six cycles or so on */
    assert_in_range(frequency, TRIALS * 85 / 100, TRIALS);
    assert_in_range(level, TRIALS * 85 / 100, TRIALS);
    assert_in_range(dc, TRIALS * 85 / 100, TRIALS);
    assert_in_range(noise, TRIALS * 85 / 100, TRIALS);
}

/* Between a converter's steps a tone is told, and taken out of the noise, at millivolts as at volts. What is left is
 * the noise and the steps' own, s/sqrt(12); the level is as certain as the Cramer-Rao bound says. */
static void between_steps(void **state) {
    (void)state;
    enum { FEW = 4000 };
    double x[FEW];
    uint64_t random = 66;
    for (double peak = 5e-3; peak < 100; peak *= 2.5) {
        double step = peak / 100, sigma = hypot(0.3, 1 / sqrt(12)) * step;
        double cycles = 8 + 20 * random_even(&random), tone = (0.13 + 0.3 * random_even(&random)) * FEW;
        for (size_t i = 0; i < FEW; i++)
            x[i] = 0;
        add_sine(x, FEW, FEW, peak, cycles, two_pi * random_even(&random));
        add_sine(x, FEW, FEW, 0.05 * peak, tone, two_pi * random_even(&random));
        add_noise(x, FEW, 0.3 * step, &random);
        quantise(x, FEW, step);
        gw_readings *r = measured(x, FEW, 1e5, step);
        assert_int_equal(r->tone_count, 1);
        assert_close(r->tones[0].frequency_hz, 25 * tone, 1);
        assert_close(r->tones[0].rms, 0.05 * peak / sqrt(2), 0.001 * peak);
        assert_close(r->noise_floor_v / sigma, 1, 0.1);
        assert_close(r->values[GW_LEVEL].u95 / (2 * sigma / sqrt(FEW)), 1, 0.3);
        gw_readings_free(r);
    }
}

/* What one line beside another is, where nothing is stated: a second test tone, unless it lies above the audio band;
 * and no hum, unless the mains or twice that is there. */
static void pairs_far_apart(void **state) {
    (void)state;
    static const struct {
        double low_hz, high_hz, share;
        gw_signal kind;
    } pairs[] = {
        {270.6, 6524, 1.1, GW_SIGNAL_TWO_TONE},    {133.3, 14297.7, 0.6, GW_SIGNAL_TWO_TONE},
        {156.2, 6938.8, 0.84, GW_SIGNAL_TWO_TONE}, {250, 8000, 0.25, GW_SIGNAL_TWO_TONE},
        {149.77, 12199, 0.67, GW_SIGNAL_TWO_TONE}, {1000.3, 53e3, 0.3, GW_SIGNAL_SINE},
        {1000.3, 53e3, 0.03, GW_SIGNAL_SINE},
    };
    double *x = new_volts(N);
    uint64_t random = 64;
    for (size_t k = 0; k < sizeof pairs / sizeof *pairs; k++) {
        for (size_t i = 0; i < N; i++)
            x[i] = 0;
        add_sine(x, N, rate_hz, 0.3, pairs[k].low_hz, 1);
        add_sine(x, N, rate_hz, 0.3 * pairs[k].share, pairs[k].high_hz, 2);
        add_noise(x, N, 1e-3, &random);
        gw_readings *r = measured(x, N, rate_hz, 0);
        if (r->signal != pairs[k].kind)
            print_error("%g and %g Hz\n", pairs[k].low_hz, pairs[k].high_hz);
        assert_int_equal(r->signal, pairs[k].kind);
        assert_close(value_of(r, GW_FREQUENCY), pairs[k].low_hz, 0.05);
        gw_readings_free(r);
    }
    free(x);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(beside_a_harmonic), cmocka_unit_test(on_a_harmonic),   cmocka_unit_test(harmonic_that_folds),
        cmocka_unit_test(in_few_cycles),     cmocka_unit_test(pairs_far_apart), cmocka_unit_test(between_steps),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
