/* Readings of ideal waveforms against closed forms and published values.
 *
 * Sources: 0 dBu is 1 mW in 600 ohm (sqrt 0.6 V); AES17-1998 for full scale; crest factors: mathematics. Over many
 * cycles, with their published values: test_published_shapes.c. */
#include "standards/waveforms.h"

enum { N = 20000 };

/* no coincidence of samples and period */
static const double rate = 1e6;
static const double many_cycles = 21.3, few_cycles = 3.3;

/* Sampled behind an ideal filter as far as averages over a sample make one: edges fall between samples. */
static double *sampled_at(double cycles, shape *wave, double parameter) {
    double *v = new_volts(N);
    for (size_t i = 0; i < N; i++)
        for (int part = 0; part < 32; part++)
            v[i] += wave(cycles * ((double)i + (part + 0.5) / 32 - 0.5) / N + 0.137, parameter) / 32;
    return v;
}

static double *sampled(shape *wave, double parameter) {
    return sampled_at(many_cycles, wave, parameter);
}

typedef struct crest_case {
    shape *wave;
    double parameter, crest, ac_rms, dc;
} crest_case;

static void test_crest_and_rms(void **state) {
    (void)state;
    static const crest_case cases[] = {
        {clipped, 1, 1.414213562, 0.707106781, 0},
        {triangle, 1, 1.732050808, 0.577350269, 0},
        {saw, 1, 1.732050808, 0.577350269, 0},
        {pulse, 0.5, 1, 0.5, 0.5},
        {clipped_above, 0, 0, 0.385588921, -0.318309886}, /* AC part of a half wave of 1 V peak */
    };
    for (size_t k = 0; k < sizeof cases / sizeof *cases; k++) {
        double *v = sampled_at(few_cycles, cases[k].wave, cases[k].parameter);
        gw_readings *r = measured(v, N, rate, 0);
        assert_close(value_of(r, GW_AC_RMS), cases[k].ac_rms, 5e-4);
        assert_close(value_of(r, GW_DC), cases[k].dc, 5e-4);
        assert_close(value_of(r, GW_TOTAL_RMS), hypot(cases[k].ac_rms, cases[k].dc), 5e-4);
        if (cases[k].crest > 0)
            assert_close(value_of(r, GW_CREST), cases[k].crest, 3e-3);
        gw_readings_free(r);
        free(v);
    }
}

/* A saw is no sine: no THD unless a sine was fed in (then 74.14632 % over orders 2..10). */
static void test_saw_has_no_distortion(void **state) {
    (void)state;
    double *v = sampled(saw, 1);
    gw_readings *r = measured(v, N, rate, 0);
    assert_int_equal(r->signal, GW_SIGNAL_PERIODIC);
    assert_int_equal(r->values[GW_THD].state, GW_READING_NONE);
    assert_non_null(r->values[GW_THD].why);
    assert_close(value_of(r, GW_LEVEL), 0.577350269, 2e-3); /* the whole comb: 1/sqrt 3 */
    gw_readings_free(r);
    gw_measure_options options = {.accuracy = 0, .band_high_hz = 1e5, .sine_expected = true};
    r = measured_with(v, N, rate, 0, &options);
    assert_close(100 * value_of(r, GW_THD), 74.14632, 0.02);
    gw_readings_free(r);
    free(v);
}

static void shown_of(double rms, gw_reading_key key, const char *unit, double expected, double tolerance) {
    gw_reading reading = {.state = GW_READING_VALUE, .value = rms, .u95 = 0.01 * rms};
    double value, u95;
    assert_true(gw_reading_shown(key, &reading, unit, &value, &u95));
    assert_close(value, expected, tolerance);
    assert_close(u95, 0.08642748, 1e-7); /* 20 lg 1.01 */
}

/* dBu re sqrt(0.6) V (1 mW in 600 ohm); dBFS of AES17: a full-scale sine is 0, a full-scale square +3.0103. */
static void test_levels_in_decibels(void **state) {
    (void)state;
    shown_of(0.774596669, GW_LEVEL_DBU, "V", 0, 1e-7);
    shown_of(1, GW_LEVEL_DBU, "V", 2.2185, 5e-5);
    shown_of(1.227653, GW_LEVEL_DBU, "V", 4, 1e-5);
    shown_of(1, GW_LEVEL_DBV, "V", 0, 1e-9);
    shown_of(0.316228, GW_LEVEL_DBV, "V", -10, 1e-5);
    shown_of(0.707106781, GW_LEVEL_DBV, "FS", 0, 1e-8);
    shown_of(1, GW_LEVEL_DBU, "FS", 3.0103, 5e-6);
    shown_of(0.577350269, GW_LEVEL_DBV, "FS", -1.7609, 5e-5);
    assert_string_equal(gw_reading_unit(GW_LEVEL_DBV, "FS"), "dBFS");
    assert_string_equal(gw_reading_unit(GW_NOISE_DENSITY, "FS"), "FS/√Hz");
    assert_string_equal(gw_reading_unit(GW_DC, "V"), "V");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_crest_and_rms),
        cmocka_unit_test(test_saw_has_no_distortion),
        cmocka_unit_test(test_levels_in_decibels),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
