/* Discrete tones: what noise and a quantiser fake, from where on a tone is seen, and how well it is measured. */
#include "assert_close.h"
#include "measure/tones.h"
#include "signals.h"

#include "gainwalk/capture.h"

#include <string.h>

enum { LINES = 16 };

static const gw_tone_search anywhere = {0};

static void noise_gives_no_tone(void **state) {
    (void)state;
    static const size_t lengths[] = {64, 100, 500, 2500, 5000};
    uint64_t seed = 21;
    for (size_t t = 0; t < sizeof lengths / sizeof *lengths; t++) {
        size_t n = lengths[t], count, alarms = 0;
        double *x = new_volts(n);
        gw_line lines[LINES];
        gw_tone_search search = {.false_alarm = 0.01};
        for (int trial = 0; trial < 500; trial++) {
            memset(x, 0, n * sizeof *x);
            add_noise(x, n, 1, &seed);
            assert_true(gw_tones_find(x, NULL, n, 48e3, &search, lines, LINES, &count));
            alarms += count > 0;
        }
        print_message("tones in noise, n %zu: %zu of 500 at 1 %% stated\n", n, alarms);
        assert_in_range(alarms, 0, 12); /* 5 expected; 13 and more have a probability of 0.2 % */
        free(x);
    }
}

static void red_noise_and_a_hump_give_no_tone(void **state) {
    (void)state;
    enum { N = 5000 };
    uint64_t seed = 22;
    double x[N], low = 0, one = 0, two = 0;
    size_t count, red = 0, humps = 0;
    gw_line lines[LINES];
    for (int trial = 0; trial < 200; trial++) {
        for (size_t i = 0; i < N; i++) {
            low = 0.995 * low + random_gauss(&seed);
            x[i] = low;
        }
        assert_true(gw_tones_find(x, NULL, N, 48e3, &anywhere, lines, LINES, &count));
        red += count > 0;
        for (size_t i = 0; i < N; i++) { /* a resonance of 1 % bandwidth, 50 lines wide, 40 dB high */
            double next = 1.98 * cos(0.9) * one - 0.9801 * two + random_gauss(&seed);
            two = one;
            one = next;
            x[i] = next;
        }
        assert_true(gw_tones_find(x, NULL, N, 48e3, &anywhere, lines, LINES, &count));
        humps += count > 0;
    }
    print_message("tones in red noise: %zu, in a hump: %zu of 200\n", red, humps);
    assert_in_range(red, 0, 2);
    assert_in_range(humps, 0, 6);
}

static void clean_sines_through_a_quantiser_give_no_tone(void **state) {
    (void)state;
    uint64_t seed = 23;
    size_t count, alarms = 0;
    for (int trial = 0; trial < 2000; trial++) {
        size_t n = trial % 10 == 0 ? 5000 : 1000;
        double *x = new_volts(n), *clean = new_volts(n);
        double amplitude = 2 + 120 * random_even(&seed); /* codes */
        double cycles = 1.5 + 60 * random_even(&seed);
        if (trial % 4 == 0) /* a whole number of samples a period: the error gathers in few lines */
            cycles = (double)n / (double)(5 + trial % 40);
        add_sine(clean, n, (double)n, amplitude, cycles, 7 * random_even(&seed));
        memcpy(x, clean, n * sizeof *x);
        if (trial % 3 == 0)
            add_noise(x, n, 0.3 * random_even(&seed), &seed);
        quantise(x, n, 1);
        for (size_t i = 0; i < n; i++)
            x[i] -= clean[i];
        gw_line lines[LINES];
        gw_tone_search search = {.step = 1};
        assert_true(gw_tones_find(x, NULL, n, 1, &search, lines, LINES, &count));
        alarms += count > 0;
        free(x), free(clean);
    }
    print_message("tones in quantised clean sines: %zu of 2000\n", alarms);
    assert_in_range(alarms, 0, 1);
}

static void tones_are_measured_to_their_bound(void **state) {
    (void)state;
    enum { N = 4000, TRIALS = 300 };
    uint64_t seed = 24;
    double x[N], rms_pull = 0, hz_pull = 0, bias = 0, u_rms = 0;
    size_t seen = 0, count;
    gw_line lines[LINES];
    double rms = sqrt(2.0 / N * 200); /* 23 dB over the floor of one line */
    for (int t = 0; t < TRIALS; t++) {
        double hz = 1000 + 22000 * random_even(&seed);
        memset(x, 0, sizeof x);
        add_noise(x, N, 1, &seed);
        add_sine(x, N, 48e3, rms * sqrt(2), hz, 7 * random_even(&seed));
        assert_true(gw_tones_find(x, NULL, N, 48e3, &anywhere, lines, LINES, &count));
        if (count != 1)
            continue;
        seen++;
        rms_pull += pow((lines[0].rms - rms) / lines[0].u_rms, 2);
        hz_pull += pow((lines[0].frequency_hz - hz) / lines[0].u_hz, 2);
        bias += (lines[0].rms - rms) / rms;
        u_rms = lines[0].u_rms;
    }
    assert_in_range(seen, TRIALS - 2, TRIALS);
    /* Cramer-Rao (Rife & Boorstyn 1974): var(A) = 2 sigma^2/N; so of the RMS: sigma^2/N */
    assert_close(u_rms, sqrt(1.0 / N), 0.25 * sqrt(1.0 / N)); /* one record knows its floor to 15 % */
    assert_close(sqrt(rms_pull / (double)seen), 1, 0.12);
    assert_close(sqrt(hz_pull / (double)seen), 1, 0.12);
    assert_close(bias / (double)seen, 0, 0.01);
}

static void detection_limit(void **state) {
    (void)state;
    enum { N = 4000, TRIALS = 100 };
    uint64_t seed = 25;
    double x[N];
    gw_line lines[LINES];
    size_t count, seen[2] = {0};
    for (int loud = 0; loud < 2; loud++)
        for (int t = 0; t < TRIALS; t++) {
            double rms = sqrt(2.0 / N * pow(10, loud ? 1.9 : 0.9)); /* 19 dB, 9 dB over one line's floor */
            memset(x, 0, sizeof x);
            add_noise(x, N, 1, &seed);
            add_sine(x, N, 48e3, rms * sqrt(2), 2000 + 200.5 * t, t);
            assert_true(gw_tones_find(x, NULL, N, 48e3, &anywhere, lines, LINES, &count));
            seen[loud] += count > 0;
        }
    assert_in_range(seen[1], 93, 100);
    assert_in_range(seen[0], 0, 5);
}

static void several_tones_strongest_first_and_ultrasonic(void **state) {
    (void)state;
    enum { N = 25000 };
    double *x = new_volts(N);
    uint64_t seed = 26;
    add_noise(x, N, 1e-3, &seed);
    add_sine(x, N, 250e3, 0.050, 61234.5, 0.4); /* an oscillation */
    add_sine(x, N, 250e3, 0.500, 100e3, 1.4);   /* bias residue */
    add_sine(x, N, 250e3, 0.002, 3000.3, 2.4);
    add_sine(x, N, 250e3, 0.002, 3055.0, 1.1); /* 5.5 lines beside it */
    gw_line lines[LINES];
    size_t count;
    assert_true(gw_tones_find(x, NULL, N, 250e3, &anywhere, lines, LINES, &count));
    assert_int_equal(count, 4);
    assert_close(lines[0].frequency_hz, 100e3, 0.01);
    assert_close(lines[0].rms, 0.5 / sqrt(2), 4 * lines[0].u_rms);
    assert_close(lines[1].frequency_hz, 61234.5, 0.02);
    assert_close(lines[1].rms, 0.05 / sqrt(2), 4 * lines[1].u_rms);
    double third = fmin(lines[2].frequency_hz, lines[3].frequency_hz);
    assert_close(third, 3000.3, 1);
    assert_close(lines[2].frequency_hz + lines[3].frequency_hz, 6055.3, 2);
    for (size_t i = 1; i < count; i++)
        assert_true(lines[i].rms <= lines[i - 1].rms * 1.05);
    /* taken out, nothing but noise is left */
    gw_tones_remove(x, NULL, N, 250e3, lines, count);
    double left = 0;
    for (size_t i = 0; i < N; i++)
        left += x[i] * x[i] / N;
    assert_close(sqrt(left), 1e-3, 2e-5);
    assert_true(gw_tones_find(x, NULL, N, 250e3, &anywhere, lines, LINES, &count));
    assert_int_equal(count, 0);
    /* only where asked; no more than asked */
    add_sine(x, N, 250e3, 0.1, 30e3, 0);
    add_sine(x, N, 250e3, 0.1, 90e3, 0);
    gw_tone_search part = {.low_hz = 50e3, .high_hz = 120e3};
    assert_true(gw_tones_find(x, NULL, N, 250e3, &part, lines, LINES, &count));
    assert_int_equal(count, 1);
    assert_close(lines[0].frequency_hz, 90e3, 0.1);
    assert_true(gw_tones_find(x, NULL, N, 250e3, &anywhere, lines, 1, &count));
    assert_int_equal(count, 1);
    free(x);
}

static void a_tone_that_wanders_is_one_tone(void **state) {
    (void)state;
    enum { N = 20000 };
    double *x = new_volts(N);
    uint64_t seed = 27;
    add_noise(x, N, 1e-3, &seed);
    for (size_t i = 0; i < N; i++) /* level falls by a tenth, as an oscillator warms up */
        x[i] += 0.1 * (1 - 0.1 * (double)i / N) * sin(0.7 * (double)i);
    gw_line lines[LINES];
    size_t count;
    assert_true(gw_tones_find(x, NULL, N, 48e3, &anywhere, lines, LINES, &count));
    assert_int_equal(count, 1);
    free(x);
}

static void gaps_do_not_matter(void **state) {
    (void)state;
    enum { N = 8000 };
    double *x = new_volts(N);
    unsigned char marks[N] = {0};
    uint64_t seed = 28;
    add_noise(x, N, 1e-3, &seed);
    add_sine(x, N, 48e3, 1e-3, 7000, 0);
    for (size_t i = 0; i < N; i += 400) {
        marks[i] = GW_SAMPLE_MISSING;
        x[i] = 1e6;
    }
    gw_line lines[LINES];
    size_t count;
    assert_true(gw_tones_find(x, marks, N, 48e3, &anywhere, lines, LINES, &count));
    assert_int_equal(count, 1);
    assert_close(lines[0].frequency_hz, 7000, 0.5);
    assert_close(lines[0].rms, 1e-3 / sqrt(2), 5e-5);
    free(x);
}

/* A tone whose level rises along, of which a recorder kept but a moment in the middle of a long record: a sine with a
 * slope in time is all that is there, and nothing of it remains. */
static void a_moment_of_a_tone_is_cleared(void **state) {
    (void)state;
    enum { N = 400000, MOMENT = 24, FROM = (N - MOMENT) / 2 };
    static const double hz = 7000, rate_hz = 48e3;
    double *x = new_volts(N), left = 0;
    unsigned char *marks = malloc(N);
    assert_non_null(marks);
    memset(marks, GW_SAMPLE_MISSING, N);
    memset(marks + FROM, GW_SAMPLE_PRESENT, MOMENT);
    for (size_t i = FROM; i < FROM + MOMENT; i++)
        x[i] = (1 + 0.01 * (double)(i - FROM)) * sin(two_pi * hz / rate_hz * (double)i + 0.4);
    gw_tones_clear(x, marks, N, rate_hz, &hz, 1);
    for (size_t i = 0; i < N; i++)
        left = fmax(left, fabs(x[i]));
    assert_close(left, 0, 1e-6);
    free(x), free(marks);
}

static void quantiser_bound(void **state) {
    (void)state;
    assert_close(gw_tones_quantiser_bound(1, 0), 0.5, 1e-12);
    /* Widrow & Kollar 2008: half a step of Gaussian noise leaves exp(-pi^2/2) = 0.72 % */
    assert_close(gw_tones_quantiser_bound(1, sqrt(0.25 + 1.0 / 12)), 0.5 * 0.0071919, 1e-7);
    assert_close(gw_tones_quantiser_bound(0, 1), 0, 0);
}

static void folded_harmonics(void **state) {
    (void)state;
    /* 1100 Hz at 20 kHz: order 10 at 11 kHz shows at 9 kHz, order 19 (20.9 kHz) at 900 Hz, order 7 (7.7 kHz) at itself
     */
    gw_line line = {.frequency_hz = 9000, .rms = 0.01};
    assert_true(gw_tone_folds(&line, 1100, 20e3, 2, 1));
    line.rms = 0.11; /* a tenth of 1 V at the most */
    assert_false(gw_tone_folds(&line, 1100, 20e3, 2, 1));
    line.rms = 0.01;
    assert_false(gw_tone_folds(&line, 1100, 20e3, 2, 0));
    line.frequency_hz = 900.5;
    assert_true(gw_tone_folds(&line, 1100, 20e3, 2, 1));
    line.frequency_hz = 7700;
    assert_false(gw_tone_folds(&line, 1100, 20e3, 2, 0.1));
    line.frequency_hz = 5000;
    assert_false(gw_tone_folds(&line, 1100, 20e3, 2, 0.2));
    assert_false(gw_tone_folds(&line, 0, 20e3, 2, 1));
}

static void silence_and_short_records(void **state) {
    (void)state;
    double x[300] = {0};
    gw_line lines[LINES];
    size_t count = 9;
    assert_true(gw_tones_find(x, NULL, 300, 48e3, &anywhere, lines, LINES, &count));
    assert_int_equal(count, 0);
    count = 9;
    add_sine(x, 300, 48e3, 1, 9000, 0);
    assert_true(gw_tones_find(x, NULL, 40, 48e3, &anywhere, lines, LINES, &count));
    assert_int_equal(count, 0);
    assert_true(gw_tones_find(x, NULL, 300, 48e3, &anywhere, lines, LINES, &count));
    assert_int_equal(count, 1); /* a tone without any noise */
    assert_close(lines[0].rms, sqrt(0.5), 1e-3);
    assert_close(lines[0].frequency_hz, 9000, 1);
}

/* One line below half the rate is the last that a record can hold. */
static void a_tone_next_to_half_the_rate_is_found(void **state) {
    (void)state;
    enum { N = 4096 };
    double *x = new_volts(N);
    uint64_t seed = 29;
    size_t count;
    gw_line lines[LINES];
    gw_tone_search search = {.step = 0};
    add_noise(x, N, 0.01, &seed);
    add_sine(x, N, N, 1, N / 2 - 1.5, 0.4);
    assert_true(gw_tones_find(x, NULL, N, N, &search, lines, LINES, &count));
    assert_int_equal(count, 1);
    assert_close(lines[0].frequency_hz, N / 2 - 1.5, 0.1);
    free(x);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_tone_next_to_half_the_rate_is_found),
        cmocka_unit_test(noise_gives_no_tone),
        cmocka_unit_test(red_noise_and_a_hump_give_no_tone),
        cmocka_unit_test(clean_sines_through_a_quantiser_give_no_tone),
        cmocka_unit_test(tones_are_measured_to_their_bound),
        cmocka_unit_test(detection_limit),
        cmocka_unit_test(several_tones_strongest_first_and_ultrasonic),
        cmocka_unit_test(a_tone_that_wanders_is_one_tone),
        cmocka_unit_test(gaps_do_not_matter),
        cmocka_unit_test(a_moment_of_a_tone_is_cleared),
        cmocka_unit_test(quantiser_bound),
        cmocka_unit_test(folded_harmonics),
        cmocka_unit_test(silence_and_short_records),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
