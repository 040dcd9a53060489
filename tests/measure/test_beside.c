/* What is in a record of few cycles beside the signal, and must not pull it: a stage's own oscillation, noise of a
 * limited band. The expected figures are those that the records were made with. */
#include "measure/beside.h"
#include "measured.h"
#include "trials.h"

#include <string.h>

static const gw_measure_options sine_fed = {.stimulus = {.shape = GW_SHAPE_SINE, .frequency_hz = 1000}, .mains_hz = 50};

static const gw_tone *loudest_tone(const gw_readings *readings) {
    const gw_tone *loudest = NULL;
    for (size_t i = 0; i < readings->tone_count; i++)
        if (!loudest || readings->tones[i].rms > loudest->rms)
            loudest = &readings->tones[i];
    return loudest;
}

static bool has_remark(const gw_readings *readings, const char *words) {
    for (size_t i = 0; i < readings->remarks.count; i++)
        if (strstr(readings->remarks.items[i], words))
            return true;
    return false;
}

/* 1 kHz, 1 V peak, -0.2 V of DC, and a tone; 8 bits. */
static gw_readings *oscillating(double cycles, double share, double tone_hz, uint64_t *seed) {
    enum { N = 2400 };
    double rate = N / cycles * 1000, step = 0.02;
    double *x = new_volts(N);
    for (size_t i = 0; i < N; i++)
        x[i] = -0.2;
    add_sine(x, N, rate, 1, 1000, 7 * random_even(seed));
    add_sine(x, N, rate, share, tone_hz, 7 * random_even(seed));
    add_noise(x, N, 0.5 * step, seed);
    quantise(x, N, step);
    gw_readings *readings = measured_with(x, N, rate, step, &sine_fed);
    free(x);
    return readings;
}

static void a_strong_tone_pulls_nothing_in_few_cycles(void **state) {
    (void)state;
    uint64_t seed = 4711;
    for (int t = 0; t < trials_of(60); t++) {
        double cycles = 2 + 6 * random_even(&seed), share = 0.15 + 0.5 * random_even(&seed);
        double tone_hz = 6.4e3 + 60e3 * random_even(&seed);
        double order = round(tone_hz / 1000);
        if (order <= 20 && fabs(tone_hz / 1000 - order) * cycles < 0.5)
            tone_hz += 500; /* well between two harmonics: nearer, nobody can tell */
        gw_readings *readings = oscillating(cycles, share, tone_hz, &seed);
        const gw_tone *tone = loudest_tone(readings);
        assert_close(value_of(readings, GW_FREQUENCY), 1000, 2);
        assert_close(value_of(readings, GW_LEVEL), sqrt(0.5), 0.005);
        assert_close(value_of(readings, GW_DC), -0.2, 0.01);
        assert_non_null(tone);
        assert_int_equal(tone->kind, GW_TONE_OTHER);
        assert_close(tone->frequency_hz / tone_hz, 1, 0.003);
        assert_close(tone->rms / (share * sqrt(0.5)), 1, 0.03);
        gw_readings_free(readings);
    }
}

/* A tone well beside the harmonics of another, as a multiple of it. */
static double beside_harmonics(double cycles, uint64_t *seed) {
    double ratio;
    do
        ratio = 2.3 + 60 * random_even(seed) * random_even(seed);
    while (ratio < 20.5 && fabs(ratio - round(ratio)) * cycles < 0.4);
    return ratio;
}

/* Nothing is stated: of a search for one fundamental under both, neither would come out. */
static void two_lines_of_few_cycles_are_both_right(void **state) {
    (void)state;
    enum { N = 2400, TRIALS = 80 };
    uint64_t seed = 31;
    int outside = 0;
    for (int t = 0; t < trials_of(TRIALS); t++) {
        double cycles = 1.7 + 9 * random_even(&seed), rate = N / cycles * 1000, step = 0.02;
        double share = t % 4 ? 0.13 + 0.7 * random_even(&seed) : 0.06 + 0.03 * random_even(&seed);
        double ratio = beside_harmonics(cycles, &seed), *x = new_volts(N);
        for (size_t i = 0; i < N; i++)
            x[i] = 0.2;
        add_sine(x, N, rate, 1, 1000, 7 * random_even(&seed));
        add_sine(x, N, rate, share, 1000 * ratio, 7 * random_even(&seed));
        add_noise(x, N, 0.5 * step, &seed);
        quantise(x, N, step);
        gw_readings *r = measured(x, N, rate, step);
        assert_int_equal(r->signal, t % 4 ? GW_SIGNAL_TWO_TONE : GW_SIGNAL_SINE);
        assert_close(value_of(r, GW_FREQUENCY), 1000, 2);
        assert_close(value_of(r, GW_LEVEL), sqrt(0.5 * (1 + (t % 4 ? share * share : 0))), 0.005);
        assert_close(value_of(r, GW_DC), 0.2, 0.015);
        outside += fabs(value_of(r, GW_FREQUENCY) - 1000) > r->values[GW_FREQUENCY].u95;
        gw_readings_free(r);
        free(x);
    }
    print_message("two lines: frequency outside its 95 %%: %d of %d\n", outside, trials_of(TRIALS));
    assert_in_range(outside, 0, TRIALS / 10);
}

/* 60 Hz and 7 kHz, 4:1 (SMPTE RP 120), in a tenth of a second. */
static void the_intermodulation_pair_is_found_unstated(void **state) {
    (void)state;
    enum { N = 4800 };
    static const double seconds[] = {0.05, 0.1, 0.15};
    uint64_t seed = 32;
    for (int t = 0; t < 12; t++) {
        double rate = N / seconds[t % 3], *x = new_volts(N);
        add_sine(x, N, rate, 0.4, 60, 7 * random_even(&seed));
        add_sine(x, N, rate, 0.1, 7000, 7 * random_even(&seed));
        add_noise(x, N, 0.001, &seed);
        gw_readings *r = measured(x, N, rate, 0);
        assert_int_equal(r->signal, GW_SIGNAL_TWO_TONE);
        assert_close(value_of(r, GW_FREQUENCY), 60, 0.1);
        assert_close(value_of(r, GW_LEVEL), sqrt(0.5 * (0.16 + 0.01)), 0.001);
        gw_readings_free(r);
        free(x);
    }
}

/* Two tones that are stated may be multiples of each other or of a third: 250 Hz and 8 kHz are 1 to 32, 400 Hz and 1
 * kHz 2 to 5. And the lower may stand on the mains, whose lines lie there as well. */
static void stated_tones_may_be_multiples(void **state) {
    (void)state;
    enum { N = 9600 };
    static const gw_measure_options pair_fed = {.stimulus = {.shape = GW_SHAPE_TWO_TONE}};
    static const struct {
        double lower_hz, upper_hz, seconds, share;
    } trials[] = {{250, 8000, 0.1, 0.25}, {250, 8000, 0.012, 0.25}, {400, 1000, 0.0074, 0.25}, {400, 1000, 0.0074, 1.1},
                  {400, 1000, 0.2, 0.5},  {1000, 2000, 0.1, 0.5},   {60, 7000, 0.4, 0.25},     {60, 7000, 0.1, 0.25}};
    uint64_t seed = 71;
    for (size_t t = 0; t < sizeof trials / sizeof trials[0]; t++) {
        double rate = N / trials[t].seconds, *x = new_volts(N), share = trials[t].share;
        add_sine(x, N, rate, 0.4, trials[t].lower_hz, 7 * random_even(&seed));
        add_sine(x, N, rate, 0.4 * share, trials[t].upper_hz, 7 * random_even(&seed));
        add_sine(x, N, rate, 0.002, 50, 7 * random_even(&seed));
        add_noise(x, N, 0.001, &seed);
        gw_readings *r = measured_with(x, N, rate, 0, &pair_fed);
        assert_int_equal(r->signal, GW_SIGNAL_TWO_TONE);
        assert_close(value_of(r, GW_FREQUENCY), trials[t].lower_hz, 0.2);
        assert_close(value_of(r, GW_LEVEL), 0.4 * sqrt((1 + share * share) / 2), 0.003);
        gw_readings_free(r);
        free(x);
    }
}

/* A sine of few cycles is fed in, its frequency not stated, and a piece of a mains cycle bends the record: half its
 * frequency would take the bend for a fundamental. */
static void a_sine_is_its_strongest_line(void **state) {
    (void)state;
    enum { N = 1200 };
    static const gw_measure_options fed = {.stimulus = {.shape = GW_SHAPE_SINE}, .mains_hz = 60};
    uint64_t seed = 7;
    for (int t = 0; t < trials_of(300); t++) {
        double cycles = 2.2 + 1.5 * random_even(&seed), rate = N / cycles * 250, *x = new_volts(N);
        add_sine(x, N, rate, 0.3, 250, 7 * random_even(&seed));
        add_sine(x, N, rate, 0.3e-3 * (1 + 9 * random_even(&seed)), 60, 7 * random_even(&seed));
        add_sine(x, N, rate, 4e-4, 500, 7 * random_even(&seed));
        add_sine(x, N, rate, 2e-4, 750, 7 * random_even(&seed));
        add_noise(x, N, 1.2e-4, &seed);
        quantise(x, N, 2.5e-4);
        gw_readings *r = measured_with(x, N, rate, 2.5e-4, &fed);
        assert_int_equal(r->signal, GW_SIGNAL_SINE);
        assert_close(value_of(r, GW_FREQUENCY), 250, 2);
        assert_close(value_of(r, GW_LEVEL), 0.3 / sqrt(2), 0.005);
        gw_readings_free(r);
        free(x);
    }
}

/* A clipped sine of few cycles has harmonics, not a tone of its own (Fourier series; here only that they are called
 * so).
 */
static void harmonics_are_no_tone(void **state) {
    (void)state;
    enum { N = 2400 };
    uint64_t seed = 17;
    for (int t = 0; t < trials_of(40); t++) {
        double cycles = 1.5 + 6 * random_even(&seed), rate = N / cycles * 1000, step = 0.02;
        double low = -0.4 - 0.5 * random_even(&seed), high = 0.4 + 0.5 * random_even(&seed);
        double *x = new_volts(N);
        add_sine(x, N, rate, 1, 1000, 7 * random_even(&seed));
        for (size_t i = 0; i < N; i++)
            x[i] = fmin(fmax(x[i], low), high);
        add_noise(x, N, 0.5 * step, &seed);
        quantise(x, N, step);
        gw_readings *readings = measured_with(x, N, rate, step, &sine_fed);
        const gw_tone *tone = loudest_tone(readings);
        assert_true(!tone || tone->rms < 0.02);
        assert_close(value_of(readings, GW_FREQUENCY), 1000, 3);
        gw_readings_free(readings);
        free(x);
    }
}

/* Noise of 20 kHz in a record of 1 MHz is smooth from sample to sample: its slow part is neither hum nor DC. */
static void noise_of_a_limited_band_is_no_hum_and_moves_no_dc(void **state) {
    (void)state;
    enum { N = 2000, LINES = 40 };
    uint64_t seed = 99;
    int outside = 0;
    for (int t = 0; t < trials_of(60); t++) {
        double *x = new_volts(N), rate = 1e6, mean = 0;
        for (int k = 1; k <= LINES; k++) { /* about 500 Hz apart */
            double amplitude = 0.2 * random_gauss(&seed);
            add_sine(x, N, rate, amplitude, 500.0 * k - 250 * random_even(&seed), 7 * random_even(&seed));
        }
        for (size_t i = 0; i < N; i++)
            mean += x[i] / N;
        for (size_t i = 0; i < N; i++)
            x[i] += 4;
        quantise(x, N, 0.04);
        gw_readings *readings = measured_with(x, N, rate, 0.04, &(gw_measure_options){.mains_hz = 50});
        const gw_reading *dc = &readings->values[GW_DC];
        assert_int_equal(dc->state, GW_READING_VALUE);
        outside += fabs(dc->value - 4) > dc->u95;
        assert_close(dc->value, 4 + mean, 0.5);
        gw_readings_free(readings);
        free(x);
    }
    print_message("noise: DC outside its 95 %%: %d of 60\n", outside);
    assert_in_range(outside, 0, 9);
}

/* Noise whose band ends far below half the rate bends in half a mains cycle as hum would, and by as much: it is no hum,
 * and DC stays where least squares without hum have it, at the mean. White noise that bends the record as much is
 * (1 + q)/(1 - q) times as strong (density at 0 Hz of an autoregression of the first order over its variance), up to
 * the 14 cycles where that has fallen to a half; told from a few lines that scatter as exponential variables do. */
static void a_bend_that_slow_noise_makes_is_not_taken_for_hum(void **state) {
    (void)state;
    enum { N = 2000, TRIALS = 20 };
    static const double q = 0.95, cycles = 0.5;
    uint64_t seed = 101;
    int refused = 0;
    for (int t = 0; t < TRIALS; t++) {
        double *x = new_volts(N), at = 0, mean = 0;
        for (int i = -1000; i < N; i++) {
            at = q * at + sqrt(1 - q * q) * random_gauss(&seed);
            if (i >= 0)
                x[i] = 2 + at;
        }
        for (size_t i = 0; i < N; i++)
            mean += x[i] / N;
        gw_error error = {0};
        gw_model model = {0};
        assert_true(gw_fit_begin(&model.fit, x, NULL, N, &error) && gw_fit_solve(&model.fit, &error));
        assert_true(gw_hum_hide(&model, 50 * N / cycles, 50, &error));
        assert_false(model.mains_hidden);
        assert_int_equal(model.fit.line_count, 0);
        assert_close(model.fit.dc, mean, 1e-9);
        if (model.slow > 0) {
            refused++;
            assert_close(log(model.slow * (1 - q) / (1 + q)), 0, log(5));
        }
        gw_model_end(&model);
        free(x);
    }
    assert_in_range(refused, TRIALS / 2, TRIALS);
}

/* A contact that opens for moments, the signal beside it as it was: level, DC and frequency are those that went in, and
 * nothing of the gaps passes for hum. */
static void a_signal_that_cuts_out_is_measured_while_it_is_there(void **state) {
    (void)state;
    enum { N = 2500 };
    uint64_t seed = 2024;
    for (int t = 0; t < trials_of(40); t++) {
        double cycles = 20 + 20 * random_even(&seed), rate = N / cycles * 1000, step = 0.02;
        double *x = new_volts(N);
        add_sine(x, N, rate, 1, 1000, 7 * random_even(&seed));
        int gaps = 1 + (int)(3 * random_even(&seed));
        for (int g = 0; g < gaps; g++) {
            size_t length = (size_t)(N / cycles * (1.5 + 2 * random_even(&seed)));
            size_t start = (size_t)((g + random_even(&seed) * 0.6) * N / gaps);
            for (size_t i = start; i < start + length && i < N; i++)
                x[i] = 0;
        }
        for (size_t i = 0; i < N; i++)
            x[i] += 0.3;
        add_noise(x, N, 0.5 * step, &seed);
        quantise(x, N, step);
        gw_readings *readings = measured_with(x, N, rate, step, &sine_fed);
        assert_close(value_of(readings, GW_LEVEL), sqrt(0.5), 0.01);
        assert_close(value_of(readings, GW_FREQUENCY), 1000, 1);
        assert_close(value_of(readings, GW_DC), 0.3, 0.02);
        assert_in_range((uintmax_t)value_of(readings, GW_DROPOUTS), 1, (uintmax_t)gaps);
        gw_readings_free(readings);
        free(x);
    }
}

/* Hum that sways the level is no gap, and stays hum. */
static void hum_is_no_gap(void **state) {
    (void)state;
    enum { N = 5000 };
    uint64_t seed = 5;
    for (int t = 0; t < trials_of(20); t++) {
        double share = 0.5 + 4 * random_even(&seed);
        double *x = new_volts(N);
        add_sine(x, N, 50e3, 0.1, 1000, 7 * random_even(&seed));
        add_sine(x, N, 50e3, 0.1 * share, 50, 7 * random_even(&seed));
        add_noise(x, N, 0.001, &seed);
        gw_readings *readings = measured_with(x, N, 50e3, 0, &sine_fed);
        assert_close(value_of(readings, GW_HUM) / (0.1 * share * sqrt(0.5)), 1, 0.01);
        assert_close(value_of(readings, GW_LEVEL), 0.1 * sqrt(0.5), 0.001);
        assert_close(value_of(readings, GW_DROPOUTS), 0, 0);
        assert_false(has_remark(readings, "cuts out"));
        gw_readings_free(readings);
        free(x);
    }
}

/* Nor does it hide one. */
static void a_gap_beside_hum_is_told(void **state) {
    (void)state;
    enum { N = 5000, GAP = 400 };
    uint64_t seed = 6;
    for (int t = 0; t < trials_of(20); t++) {
        size_t at = (size_t)(500 + 3600 * random_even(&seed));
        double *x = new_volts(N);
        add_sine(x, N, 50e3, 0.1, 1000, 7 * random_even(&seed));
        for (size_t i = at; i < at + GAP; i++)
            x[i] = 0;
        add_sine(x, N, 50e3, 0.1 * (0.3 + random_even(&seed)), 50, 7 * random_even(&seed));
        add_noise(x, N, 0.001, &seed);
        gw_readings *readings = measured_with(x, N, 50e3, 0, &sine_fed);
        assert_close(value_of(readings, GW_DROPOUTS), 1, 0);
        assert_close(readings->events[0].start_s, (double)at / 50e3, 1e-3);
        gw_readings_free(readings);
        free(x);
    }
}

/* Is noise of 1 V with a tone of 1 V in it (period 0: none) called white? Far louder samples stand around the record.
 */
static bool leaves_white(double period, size_t before) {
    enum { N = 2000 };
    double x[N + 100];
    uint64_t seed = 12;
    for (size_t i = 0; i < N + 100; i++)
        x[i] = i >= before && i < before + N ? 0 : 1000;
    double *record = x + before, rss = 0;
    add_noise(record, N, 1, &seed);
    if (period > 0)
        add_sine(record, N, 1, 1, 1 / period, 0.4);
    for (size_t i = 0; i < N; i++)
        rss += record[i] * record[i];
    const gw_fit fit = {.residual = record, .count = N, .present = N, .rss = rss};
    return gw_leaves_white(&fit);
}

/* White noise is, a tone as strong as the noise is not, of four samples a period neither: there it is the next sample
 * but one that tells. What stands outside of the record has no say. */
static void noise_alone_is_white(void **state) {
    (void)state;
    for (size_t before = 0; before <= 100; before += 50) {
        assert_true(leaves_white(0, before));
        assert_false(leaves_white(37, before));
        assert_false(leaves_white(4, before));
        assert_false(leaves_white(2.1, before));
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_strong_tone_pulls_nothing_in_few_cycles),
        cmocka_unit_test(two_lines_of_few_cycles_are_both_right),
        cmocka_unit_test(the_intermodulation_pair_is_found_unstated),
        cmocka_unit_test(stated_tones_may_be_multiples),
        cmocka_unit_test(a_sine_is_its_strongest_line),
        cmocka_unit_test(harmonics_are_no_tone),
        cmocka_unit_test(a_signal_that_cuts_out_is_measured_while_it_is_there),
        cmocka_unit_test(hum_is_no_gap),
        cmocka_unit_test(a_gap_beside_hum_is_told),
        cmocka_unit_test(noise_alone_is_white),
        cmocka_unit_test(noise_of_a_limited_band_is_no_hum_and_moves_no_dc),
        cmocka_unit_test(a_bend_that_slow_noise_makes_is_not_taken_for_hum),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
