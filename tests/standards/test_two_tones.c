/* Two tones through a polynomial y = x + a2 x² + a3 x³: the products in closed form (f1±f2: a2 A1 A2; 2f1±f2:
 * 3/4 a3 A1² A2; 2f1: a2 A1²/2), and the two published figures: SMPTE RP 120 (60 Hz and 7 kHz, 4:1, second and third
 * order sideband pairs re the upper tone) and the difference-frequency distortion of IEC 60268-3 (19 and 20 kHz, 1:1,
 * re twice the upper tone). */
#include "measure/measured.h"

enum { N = 48000 };

static const double a2 = 0.01, a3 = 0.005;

static gw_readings *bent(double rate, double f1, double amplitude1, double f2, double amplitude2, bool stated) {
    double *v = new_volts(N);
    uint64_t random = 1;
    add_sine(v, N, rate, amplitude1, f1, 0.3);
    add_sine(v, N, rate, amplitude2, f2, 1.1);
    for (size_t i = 0; i < N; i++)
        v[i] += a2 * v[i] * v[i] + a3 * v[i] * v[i] * v[i];
    add_noise(v, N, 1e-6, &random);
    gw_measure_options options = {.accuracy = 0};
    if (stated)
        options.stimulus = (gw_stimulus){.shape = GW_SHAPE_TWO_TONE, .frequency_hz = f1, .second_hz = f2};
    gw_readings *r = measured_with(v, N, rate, 0, &options);
    free(v);
    return r;
}

static double amplitude_at(const gw_readings *r, double frequency, gw_tone_kind kind) {
    for (size_t k = 0; k < r->tone_count; k++)
        if (fabs(r->tones[k].frequency_hz - frequency) < 0.5 && r->tones[k].kind == kind)
            return sqrt(2) * r->tones[k].rms;
    print_error("no tone at %g Hz\n", frequency);
    return 0;
}

static void test_modulation(void **state) {
    (void)state;
    gw_readings *r = bent(48000, 60, 0.8, 7000, 0.2, true);
    assert_int_equal(r->signal, GW_SIGNAL_TWO_TONE);
    assert_close(value_of(r, GW_FREQUENCY), 60, 1e-6);
    assert_close(amplitude_at(r, 7000, GW_TONE_STIMULUS), 0.20099, 1e-7);
    assert_close(amplitude_at(r, 60, GW_TONE_STIMULUS), 0.8 + a3 * (0.75 * 0.512 + 1.5 * 0.8 * 0.04), 1e-7);
    assert_close(amplitude_at(r, 7060, GW_TONE_PRODUCT), 0.0016, 1e-7);
    assert_close(amplitude_at(r, 6940, GW_TONE_PRODUCT), 0.0016, 1e-7);
    assert_close(amplitude_at(r, 7120, GW_TONE_PRODUCT), 4.8e-4, 1e-7);
    assert_close(amplitude_at(r, 6880, GW_TONE_PRODUCT), 4.8e-4, 1e-7);
    assert_close(100 * r->clues.imd_second, 1.59212, 1e-4);
    assert_close(100 * r->clues.imd_third, 0.47764, 1e-4);
    assert_int_equal(r->values[GW_THD].state, GW_READING_NONE);
    gw_readings_free(r);
}

/* Found without being told: two lines that hold nearly all, and no small-number multiples of anything. */
static void test_difference_frequency(void **state) {
    (void)state;
    gw_readings *r = bent(131072, 19000, 0.5, 20000, 0.5, false);
    assert_int_equal(r->signal, GW_SIGNAL_TWO_TONE);
    assert_close(value_of(r, GW_LEVEL), 0.50140625, 1e-6);
    assert_close(amplitude_at(r, 1000, GW_TONE_PRODUCT), 0.0025, 1e-7);
    assert_close(amplitude_at(r, 18000, GW_TONE_PRODUCT), 4.6875e-4, 1e-7);
    assert_close(amplitude_at(r, 21000, GW_TONE_PRODUCT), 4.6875e-4, 1e-7);
    assert_close(100 * r->clues.imd_second, 0.24930, 1e-4);
    assert_close(100 * r->clues.imd_third, 0.09349, 1e-4);
    gw_readings_free(r);
}

/* x + 0.01 x² + 0.005 x³ of one sine of 1 V peak: fundamental 1.00375, DC 0.005, THD 0.513463 %. */
static void test_polynomial_of_one_tone(void **state) {
    (void)state;
    gw_readings *r = bent(48000, 997, 1, 0, 0, false);
    assert_int_equal(r->signal, GW_SIGNAL_SINE);
    assert_close(sqrt(2) * value_of(r, GW_LEVEL), 1.00375, 1e-7);
    assert_close(value_of(r, GW_DC), 0.005, 1e-7);
    assert_close(100 * value_of(r, GW_THD), 0.513463, 1e-5);
    assert_close(sqrt(2) * r->harmonics[1].rms, 0.005, 1e-7);
    assert_close(sqrt(2) * r->harmonics[2].rms, 0.00125, 1e-7);
    gw_readings_free(r);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_modulation),
        cmocka_unit_test(test_difference_frequency),
        cmocka_unit_test(test_polynomial_of_one_tone),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
