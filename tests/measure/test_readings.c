/* Readings of signals in closed form: what a pulse's harmonics are, what AC coupling leaves, how well a level is known.
 */
#include "measured.h"

#include <string.h>

/* Gaussian pulses of 10 us, 100 a second: lines at every multiple of 100 Hz, up to 40 kHz stronger than 1/30 of the
 * first (the transform of a Gaussian is one, exp(-(2 pi f s)²/2)); none of them is a tone of its own. */
static void harmonics_of_a_narrow_pulse_are_no_tones(void **state) {
    (void)state;
    enum { N = 50000 };
    const double rate_hz = 500e3, width_s = 10e-6;
    double *v = new_volts(N);
    uint64_t seed = 21;
    for (size_t i = 0; i < N; i++) {
        double t = fmod((double)i / rate_hz, 0.01) - 0.005;
        v[i] = exp(-0.5 * t * t / (width_s * width_s));
    }
    add_noise(v, N, 1e-5, &seed);
    gw_readings *r = measured(v, N, rate_hz, 0);
    assert_close(value_of(r, GW_FREQUENCY), 100, 0.01);
    for (size_t k = 0; k < r->tone_count; k++)
        if (r->tones[k].kind == GW_TONE_OTHER)
            fail_msg("a tone at %g Hz, %g V", r->tones[k].frequency_hz, r->tones[k].rms);
    gw_readings_free(r);
    free(v);
}

/* A scope's AC coupling leaves a DC of nothing, far below a step: no circuit does. Without a known step nobody can say.
 */
static void ac_coupling_leaves_nothing(void **state) {
    (void)state;
    static const struct {
        double dc_v, step_v;
        bool nothing;
    } known[] = {{0, 0.01, true}, {0.3, 0.01, false}, {-0.004, 0.01, false}, {0, 0, false}};
    enum { N = 10000 };
    for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
        double *v = new_volts(N);
        uint64_t seed = 22;
        add_sine(v, N, 100e3, 0.7, 1000, 0.3);
        add_noise(v, N, 0.003, &seed);
        for (size_t k = 0; k < N; k++)
            v[k] += known[i].dc_v;
        if (known[i].step_v > 0)
            quantise(v, N, known[i].step_v);
        gw_readings *r = measured(v, N, 100e3, known[i].step_v);
        assert_close(value_of(r, GW_DC), known[i].dc_v, 3e-4);
        assert_int_equal(r->clues.dc_exactly_zero, known[i].nothing);
        gw_readings_free(r);
        free(v);
    }
}

/* White noise of deviation s leaves a level (RMS) of N samples known to s/sqrt(N), at any phase (Cramér & Rao; Kay
 * 1993). */
static void a_level_is_as_certain_at_any_phase(void **state) {
    (void)state;
    enum { N = 10000 };
    const double sigma = 0.01;
    for (int k = 0; k < 8; k++) {
        double *v = new_volts(N);
        uint64_t seed = 23;
        add_sine(v, N, 100e3, 1, 1234.5, k * two_pi / 8);
        add_noise(v, N, sigma, &seed);
        gw_readings *r = measured(v, N, 100e3, 0);
        assert_close(r->values[GW_LEVEL].u_random, sigma / sqrt(N), 0.1 * sigma / sqrt(N));
        gw_readings_free(r);
        free(v);
    }
}

/* Harmonics stand at whole multiples, as strong as they were made. */
static void harmonics_are_where_they_were_put(void **state) {
    (void)state;
    enum { N = 20000 };
    static const double amplitudes[] = {1, 0.05, 0.03, 0, 0.02};
    double *v = new_volts(N);
    uint64_t seed = 24;
    for (int k = 0; k < 5; k++)
        add_sine(v, N, 100e3, amplitudes[k], (k + 1) * 1234.5, 0.4 * k);
    add_noise(v, N, 1e-3, &seed);
    gw_readings *r = measured(v, N, 100e3, 0);
    assert_true(r->harmonic_count >= 5);
    for (size_t k = 0; k < 5; k++) {
        assert_int_equal(r->harmonics[k].order, k + 1);
        assert_close(r->harmonics[k].frequency_hz, (double)(k + 1) * 1234.5, 0.05);
        assert_close(r->harmonics[k].rms, amplitudes[k] / sqrt(2), 2e-4);
    }
    gw_readings_free(r);
    free(v);
}

/* A strong first order of the mains hides the weak ones until it is taken out: all are found, each as it was put in. */
static void strong_hum_hides_no_weak_order(void **state) {
    (void)state;
    enum { N = 50000 };
    double *v = new_volts(N);
    uint64_t seed = 26;
    add_sine(v, N, 50e3, 0.1, 1000, 0.3);
    add_sine(v, N, 50e3, 1, 50.02, 1);
    add_sine(v, N, 50e3, 0.002, 100.04, 2);
    add_sine(v, N, 50e3, 0.003, 150.06, 3);
    add_noise(v, N, 0.001, &seed);
    gw_measure_options options = {.stimulus = {.shape = GW_SHAPE_SINE, .frequency_hz = 1000}};
    gw_readings *r = measured_with(v, N, 50e3, 0, &options);
    assert_close(r->clues.hum_mains_v, 1 / sqrt(2), 2e-5);
    assert_close(r->clues.hum_twice_v, 0.002 / sqrt(2), 2e-5);
    assert_close(r->clues.hum_rest_v, 0.003 / sqrt(2), 2e-5);
    assert_close(value_of(r, GW_LEVEL), 0.1 / sqrt(2), 2e-5);
    gw_readings_free(r);
    free(v);
}

/* A sine that leaves the converter's range at one end is cut by the recorder, one that is cut within by the circuit. */
static void who_cuts_is_told(void **state) {
    (void)state;
    enum { N = 10000 };
    static const struct {
        double dc_v, top_v, bottom_v;
        bool recorder;
    } known[] = {{0.5, 2, -2, true}, {-0.5, 2, -2, true}, {0, 0.6, -2, false}, {0, 0.6, -0.6, false}};
    for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
        double *v = new_volts(N);
        uint64_t seed = 25;
        gw_error error = {0};
        gw_measure_options exact = {.accuracy = 0};
        gw_readings *r = gw_readings_new(&error);
        bool told = false;
        assert_non_null(r);
        add_sine(v, N, 100e3, 0.8, 1000, 0.3);
        for (size_t k = 0; k < N; k++)
            v[k] = fmax(fmin(v[k] + known[i].dc_v, known[i].top_v), known[i].bottom_v);
        add_noise(v, N, 0.004, &seed);
        for (size_t k = 0; k < N; k++)
            v[k] = fmax(fmin(v[k], 1), -1);
        quantise(v, N, 1.0 / 128);
        r->source.unit = "V";
        r->source.samples = N;
        gw_block block = {.volts = v, .count = N, .rate_hz = 100e3, .step = 1.0 / 128, .low_end = -1, .high_end = 1};
        assert_true(gw_measure_block(&block, &exact, r, &error));
        for (size_t k = 0; k < r->remarks.count; k++)
            told = told || strstr(r->remarks.items[k], "the recorder's range");
        assert_int_equal(told, known[i].recorder);
        assert_int_equal(r->clues.high.clipped, known[i].dc_v > 0 || known[i].top_v < 0.8);
        assert_int_equal(r->clues.low.clipped, known[i].dc_v < 0 || known[i].bottom_v > -0.8);
        gw_readings_free(r);
        free(v);
    }
}

/* A twentieth of a cycle of the mains beside a tone is a slope and a bend: of hum or of anything else, and that is told
 * (the record is as long as 3 to 7 % of 20 ms). A record of the tone alone, or of ten cycles of the mains, is told
 * apart from that. */
static void a_bend_that_may_be_hum_is_told(void **state) {
    (void)state;
    enum { N = 3000, TRIALS = 20 };
    double volts[N];
    uint64_t random = 27;
    int told[3] = {0};
    for (int t = 0; t < TRIALS; t++)
        for (int kind = 0; kind < 3; kind++) {
            double rate = kind == 2 ? N / 0.2 : N / (0.02 * (0.03 + 0.04 * random_even(&random)));
            memset(volts, 0, sizeof volts);
            add_sine(volts, N, rate, 1, (kind == 2 ? 112.3 : 12 + 30 * random_even(&random)) * rate / N, 1);
            add_sine(volts, N, rate, kind == 1 ? 0 : 0.3, 50, 7 * random_even(&random));
            add_noise(volts, N, 0.003, &random);
            gw_readings *r = measured(volts, N, rate, 0);
            for (size_t i = 0; i < r->remarks.count; i++)
                told[kind] += strstr(r->remarks.items[i], "may be hum") != NULL;
            gw_readings_free(r);
        }
    print_message("told of hum %d, of a tone alone %d, of whole cycles %d of %d\n", told[0], told[1], told[2], TRIALS);
    assert_true(told[0] >= TRIALS * 9 / 10);
    assert_in_range(told[1], 0, TRIALS / 10);
    assert_int_equal(told[2], 0);
}

/* Noise of a fraction of a step moves one code, or two in turn, by where the level stands between them: its deviation
 * may be anything up to half a step, and the u95 of AC RMS reaches there. */
static void noise_within_a_step_may_be_hidden(void **state) {
    (void)state;
    enum { N = 1000, TRIALS = 200 };
    const double step = 0.01;
    double *v = new_volts(N);
    uint64_t seed = 23;
    int held = 0;
    for (int trial = 0; trial < TRIALS; trial++) {
        double sigma = step * (0.02 + 0.5 * random_even(&seed)), level = step * random_even(&seed);
        for (size_t i = 0; i < N; i++)
            v[i] = level;
        add_noise(v, N, sigma, &seed);
        quantise(v, N, step);
        gw_readings *r = measured(v, N, 100e3, step);
        const gw_reading *ac = &r->values[GW_AC_RMS];
        held += ac->state == GW_READING_VALUE && fabs(ac->value - sigma) <= ac->u95;
        gw_readings_free(r);
    }
    print_message("noise within a step: held in %d of %d\n", held, TRIALS);
    assert_true(held >= 0.93 * TRIALS);
    free(v);
}

/* The deviation of n values of white noise is known to s/sqrt(2(n - 1)) (GUM, JCGM 100:2008, E.4.3): its RMS as well.
 */
static void rms_of_noise_is_as_certain_as_its_count(void **state) {
    (void)state;
    static const size_t counts[] = {24, 50, 100};
    double v[100];
    for (size_t i = 0; i < sizeof counts / sizeof *counts; i++) {
        size_t n = counts[i];
        uint64_t seed = 28;
        memset(v, 0, sizeof v);
        add_noise(v, n, 0.1, &seed);
        gw_readings *r = measured(v, n, 100e3, 0);
        double spare = (double)n - 1;
        assert_close(r->values[GW_AC_RMS].u_random * sqrt(2 * spare) / value_of(r, GW_AC_RMS), 1, 0.4 / spare);
        gw_readings_free(r);
    }
}

/* A level that wavers by a tenth, five times a second, puts a pair of lines beside every line of the signal: they are
 * the signal's, and no tones of their own. */
static void wavering_makes_no_tones(void **state) {
    (void)state;
    enum { N = 50000 };
    double *v = new_volts(N);
    uint64_t seed = 29;
    add_sine(v, N, 50e3, 1, 1000.3, 0.3);
    add_sine(v, N, 50e3, 0.5, 3000.9, 1.3);
    for (size_t i = 0; i < N; i++)
        v[i] *= 1 + 0.1 * sin(two_pi * 5 * (double)i / 50e3);
    add_noise(v, N, 1e-3, &seed);
    gw_readings *r = measured(v, N, 50e3, 0);
    assert_int_equal(r->signal, GW_SIGNAL_PERIODIC);
    for (size_t k = 0; k < r->tone_count; k++)
        fail_msg("a tone at %g Hz, %g V", r->tones[k].frequency_hz, r->tones[k].rms);
    gw_readings_free(r);
    free(v);
}

/* A sine of 1 V that swells by half six times a second: the RMS of all of it is √((1 + 1/8)/2) V, that of its steady
 * part √(1/2) V, and u95 of the level reaches from the one to the other. */
static void level_of_a_swelling_sine(void **state) {
    (void)state;
    enum { LONG = 24000 };
    double *x = new_volts(LONG);
    uint64_t seed = 5;
    for (size_t i = 0; i < LONG; i++) {
        double time = (double)i / 48e3;
        x[i] = (1 + 0.5 * cos(two_pi * 6 * time + 1)) * sin(two_pi * 997 * time);
    }
    add_noise(x, LONG, 1e-3, &seed);
    gw_readings *r = measured(x, LONG, 48e3, 0);
    assert_int_equal(r->signal, GW_SIGNAL_SINE);
    assert_close(value_of(r, GW_LEVEL), sqrt(0.5), 0.01);
    assert_close(value_of(r, GW_LEVEL) + r->values[GW_LEVEL].u95, 0.75, 0.01);
    gw_readings_free(r);
    free(x);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(harmonics_of_a_narrow_pulse_are_no_tones),
        cmocka_unit_test(ac_coupling_leaves_nothing),
        cmocka_unit_test(a_level_is_as_certain_at_any_phase),
        cmocka_unit_test(harmonics_are_where_they_were_put),
        cmocka_unit_test(strong_hum_hides_no_weak_order),
        cmocka_unit_test(who_cuts_is_told),
        cmocka_unit_test(a_bend_that_may_be_hum_is_told),
        cmocka_unit_test(noise_within_a_step_may_be_hidden),
        cmocka_unit_test(rms_of_noise_is_as_certain_as_its_count),
        cmocka_unit_test(wavering_makes_no_tones),
        cmocka_unit_test(level_of_a_swelling_sine),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
