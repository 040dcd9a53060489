/* Readings of ideal waveforms against closed forms and published values.
 *
 * Sources: levels: 0 dBu is 1 mW in 600 ohm (sqrt 0.6 V); AES17-1998 for full scale. THD_F: IEC 61000-4-7, IEEE Std
 * 1057; Fourier series of square (sqrt(pi^2/8 - 1) over all orders), triangle, saw, clipped, dead-zone and half-wave
 * sines; the tabled values are over orders 2..10 (Fourier coefficients in closed form, checked by transforms of 2^20
 * points). Crest factors: mathematics. */
#include "measure/measured.h"

enum { N = 20000 };

/* no coincidence of samples and period */
static const double rate = 1e6;
static const double many_cycles = 21.3, few_cycles = 3.3;

typedef double shape(double turn, double parameter);

static double clipped(double turn, double level) {
    return fmax(-level, fmin(level, sin(two_pi * turn)));
}

static double clipped_above(double turn, double level) {
    return fmin(level, sin(two_pi * turn));
}

static double dead_zone(double turn, double half_width) {
    double x = sin(two_pi * turn);
    return x > half_width ? x - half_width : x < -half_width ? x + half_width : 0;
}

static double triangle(double turn, double unused) {
    (void)unused;
    return 2 / 3.14159265358979323846 * asin(sin(two_pi * turn));
}

static double saw(double turn, double unused) {
    (void)unused;
    return 2 * (turn - floor(turn)) - 1;
}

static double pulse(double turn, double duty) {
    return turn - floor(turn) < duty ? 1 : 0;
}

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

typedef struct distortion_case {
    const char *name;
    shape *wave;
    double parameter, thd_percent; /* orders 2..10 */
    double tight;                  /* per cent */
} distortion_case;

static const distortion_case distortions[] = {
    {"symmetric clip 0.99", clipped, 0.99, 0.22190, 2e-4},
    {"symmetric clip 0.9", clipped, 0.9, 4.18983, 5e-4},
    {"symmetric clip 0.8", clipped, 0.8, 8.94906, 5e-4},
    {"symmetric clip 0.5", clipped, 0.5, 23.24782, 2e-3},
    {"symmetric clip 0.25", clipped, 0.25, 35.33197, 2e-3},
    {"positive clip 0.9", clipped_above, 0.9, 3.19156, 5e-4},
    {"positive clip 0.5", clipped_above, 0.5, 19.44724, 2e-3},
    {"half wave", clipped_above, 0, 43.50044, 2e-3},
    {"dead zone 0.02", dead_zone, 0.02, 1.11882, 5e-4},
    {"dead zone 0.1", dead_zone, 0.1, 6.03548, 1e-3},
    {"dead zone 0.5", dead_zone, 0.5, 36.20919, 2e-3},
    {"triangle", triangle, 0, 12.04765, 5e-4},
    {"square", pulse, 0.5, 42.87948, 5e-3},
};

static void test_distortion_of_ideal_shapes(void **state) {
    (void)state;
    gw_measure_options options = {.accuracy = 0, .band_high_hz = 1e5};
    options.stimulus.shape = GW_SHAPE_SINE;
    for (size_t k = 0; k < sizeof distortions / sizeof *distortions; k++) {
        const distortion_case *c = &distortions[k];
        double *v = sampled(c->wave, c->parameter);
        gw_readings *r = measured_with(v, N, rate, 0, &options);
        double thd = 100 * value_of(r, GW_THD);
        if (fabs(thd - c->thd_percent) > c->tight)
            print_error("%s\n", c->name);
        assert_close(thd, c->thd_percent, 0.01 * c->thd_percent); /* what is asked */
        assert_close(thd, c->thd_percent, c->tight);              /* what it does */
        gw_readings_free(r);
        free(v);
    }
}

static void test_dc_of_one_sided_clipping(void **state) {
    (void)state;
    /* [2(1 - sqrt(1 - c^2)) + c(pi - 2 asin c) - 2]/(2 pi) of the peak */
    static const double levels[][2] = {{0.9, -0.0095384}, {0.8, -0.0271197}, {0.5, -0.1089978}, {0, -0.3183099}};
    for (size_t k = 0; k < 4; k++) {
        double *v = sampled(clipped_above, levels[k][0]);
        gw_readings *r = measured(v, N, rate, 0);
        assert_close(value_of(r, GW_DC), levels[k][1], 1e-5);
        gw_readings_free(r);
        free(v);
    }
}

typedef struct crest_case {
    shape *wave;
    double parameter, crest, ac_rms, dc;
} crest_case;

static void test_crest_and_rms(void **state) {
    (void)state;
    static const crest_case cases[] = {
        {clipped, 1, 1.414213562, 0.707106781, 0},
        {triangle, 0, 1.732050808, 0.577350269, 0},
        {saw, 0, 1.732050808, 0.577350269, 0},
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
    double *v = sampled(saw, 0);
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

typedef struct pitch_case {
    double frequency_hz;
    const char *note;
    double cents;
} pitch_case;

/* ISO 16:1975 (A4 = 440 Hz) and equal temperament, 440·2^((n-69)/12). */
static void test_pitch(void **state) {
    (void)state;
    static const pitch_case cases[] = {{440, "A4", 0},        {441, "A4", 3.9302},     {82.406889, "E2", 0},
                                       {261.625565, "C4", 0}, {4186.009045, "C8", 0},  {27.5, "A0", 0},
                                       {880, "A5", 0},        {440.44, "A4", 1.73037}, {452.8930, "A4", 50}};
    for (size_t k = 0; k + 1 < sizeof cases / sizeof *cases; k++) {
        double *v = new_volts(N);
        add_sine(v, N, 20000, 1, cases[k].frequency_hz, 0.3);
        gw_readings *r = measured(v, N, 20000, 0);
        assert_string_equal(r->note, cases[k].note);
        assert_close(value_of(r, GW_PITCH), cases[k].cents, 1e-3);
        gw_readings_free(r);
        free(v);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_distortion_of_ideal_shapes),
        cmocka_unit_test(test_dc_of_one_sided_clipping),
        cmocka_unit_test(test_crest_and_rms),
        cmocka_unit_test(test_saw_has_no_distortion),
        cmocka_unit_test(test_levels_in_decibels),
        cmocka_unit_test(test_pitch),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
