/* Ideal quantisers against published/converters.txt: SINAD, noise of the steps, coherent tones, dither, WAV codes. */
#include "capture/scratch.h"
#include "published.h"

#include "gainwalk/capture.h"
#include "measure/fit.h"
#include "measure/measured.h"

enum { N = 48000 };

/* A sine of `peak` steps, with dither of `dither` even random numbers of one step each, rounded. */
static gw_readings *quantised_at(double rate, double peak, double frequency, double phase, int dither) {
    double *v = new_volts(N);
    uint64_t random = 5;
    add_sine(v, N, rate, peak, frequency, phase);
    for (size_t i = 0; i < N; i++)
        for (int k = 0; k < dither; k++)
            v[i] += random_even(&random) - 0.5;
    quantise(v, N, 1);
    gw_readings *r = measured(v, N, rate, 1);
    free(v);
    return r;
}

static gw_readings *quantised(double peak, double frequency, double phase, int dither) {
    return quantised_at(N, peak, frequency, phase, dither);
}

static const double off_beat = 48000 * 0.061803398875; /* no whole number of samples nor of cycles */

static void test_full_scale(void **state) {
    (void)state;
    static const int bits[] = {8, 10, 12, 14, 16, 20, 24};
    double sinad[7];
    for (size_t k = 0; k < 7; k++) {
        char name[40];
        gw_readings *r = quantised(ldexp(1, bits[k] - 1), off_beat, 0.7, 0);
        sinad[k] = gw_db_from_ratio(value_of(r, GW_SINAD));
        snprintf(name, sizeof name, "Q-snr-%d", bits[k]);
        published(name, sinad[k]);
        snprintf(name, sizeof name, "Q-nf-%d", bits[k]);
        if (bits[k] != 14 && bits[k] != 20)
            published(name, r->noise_floor_v / ldexp(1, bits[k] - 1)); /* of the peak of full scale */
        gw_readings_free(r);
    }
    double slope = (sinad[6] - sinad[0]) / (bits[6] - bits[0]);
    published("Q-slope", slope);
    published("Q-const", sinad[6] - 6.020599913 * bits[6]);
}

static void test_steps_in_volts(void **state) {
    (void)state;
    static const struct {
        const char *name;
        double step_mv;
    } steps[] = {{"Q-v-8", 31.25}, {"Q-csv-3", 1}};
    for (size_t k = 0; k < 2; k++) {
        gw_readings *r = quantised(120, off_beat, 0.2, 0);
        published(steps[k].name, r->noise_floor_v * steps[k].step_mv);
        gw_readings_free(r);
    }
}

static void test_exact_errors(void **state) {
    (void)state;
    static const int bits[] = {8, 12, 16};
    for (size_t k = 0; k < 3; k++) {
        char name[40];
        gw_readings *r = quantised(ldexp(1, bits[k] - 1) - 1, off_beat, 0.4, 0);
        snprintf(name, sizeof name, "Q-exact-%d", bits[k]);
        published(name, r->noise_floor_v * r->noise_floor_v);
        snprintf(name, sizeof name, "Q-exsin-%d", bits[k]);
        published(name, gw_db_from_ratio(value_of(r, GW_SINAD)));
        gw_readings_free(r);
    }
}

/* Root sum of squares of orders 2 to `last` as the table has them, shown or not, re the fundamental. */
static double lines_db(const gw_readings *r, size_t last) {
    double power = 0;
    assert_true(r->harmonic_count >= last);
    for (size_t k = 1; k < last; k++)
        power += r->harmonics[k].rms * r->harmonics[k].rms;
    return gw_db_from_ratio(sqrt(power) / r->harmonics[0].rms);
}

/* Thousands of samples a cycle, too many for what lies above half the rate to fold down; the mean of several records.
 */
static void test_slow_sines(void **state) {
    (void)state;
    enum { RECORDS = 24 };
    double third = 0, all = 0;
    for (int k = 0; k < RECORDS; k++) {
        gw_readings *r = quantised_at(48e6, 127, 1000 * (7.1 + 0.37 * k), 0.4 * k, 0);
        double first = r->harmonics[0].rms;
        third += pow(r->harmonics[2].rms / first, 2) / RECORDS;
        all += pow(10, lines_db(r, 10) / 10) / RECORDS;
        gw_readings_free(r);
    }
    published("Q-h3-8", gw_db_from_ratio(sqrt(third)));
    published("Q-thd10-8", gw_db_from_ratio(sqrt(all)));
}

/* Dither of two even random numbers makes the error white, of three times the steps' power (Q-tpdf); the steps' own is
 * no noise of the signal's, so that twice remains: 3.01 dB above what is published. */
static void test_densities(void **state) {
    (void)state;
    static const int bits[] = {8, 10, 12, 16, 24};
    for (size_t k = 0; k < 5; k++) {
        char name[40];
        double full = ldexp(1, bits[k] - 1);
        gw_readings *r = quantised(0.9 * full, off_beat, 0.7, 2);
        snprintf(name, sizeof name, "Q-dens-%d", bits[k]);
        published(name, gw_db_from_ratio(value_of(r, GW_NOISE_DENSITY) * sqrt(2) / full) - gw_db_from_ratio(sqrt(2)));
        gw_readings_free(r);
    }
}

/* Whole periods in a second: the lines are those of the record's own transform. */
static void test_coherent_tones(void **state) {
    (void)state;
    static const int tones[][2] = {{1000, 8}, {997, 8}, {1000, 16}, {997, 16}};
    for (size_t k = 0; k < 4; k++) {
        char name[40];
        gw_readings *r = quantised(ldexp(1, tones[k][1] - 1) - 1, tones[k][0], 0, 0);
        snprintf(name, sizeof name, "Q-coh%d-%d-sinad", tones[k][0], tones[k][1]);
        published(name, gw_db_from_ratio(value_of(r, GW_SINAD)));
        /* the table goes on above the tenth order where more lines stand out */
        for (size_t last = 10; last <= (tones[k][0] == 1000 ? 20 : 10); last += 10) {
            snprintf(name, sizeof name, "Q-coh%d-%d-thd%zu", tones[k][0], tones[k][1], last);
            published(name, lines_db(r, last));
        }
        /* rounding is no distortion */
        assert_int_equal(r->values[GW_THD].state, GW_READING_BELOW);
        assert_true(gw_db_from_ratio(r->values[GW_THD].value) > lines_db(r, 10));
        gw_readings_free(r);
    }
}

static void test_dither(void **state) {
    (void)state;
    gw_readings *plain = quantised(100.3, off_beat, 0.3, 0), *rpdf = quantised(100.3, off_beat, 0.3, 1);
    gw_readings *tpdf = quantised(100.3, off_beat, 0.3, 2), *wide = quantised(32767, off_beat, 0.3, 2);
    double steps = sqrt(1 / 12.0);
    published("Q-rpdf", gw_db_from_ratio(rpdf->noise_floor_v / steps));
    published("Q-tpdf", gw_db_from_ratio(tpdf->noise_floor_v / steps));
    published("Q-tpdf16", gw_db_from_ratio(wide->noise_floor_v * sqrt(2) / 32768));
    assert_true(plain->noise_floor_v < rpdf->noise_floor_v);
    gw_readings_free(plain);
    gw_readings_free(rpdf);
    gw_readings_free(tpdf);
    gw_readings_free(wide);
}

/* A WAV of one channel of whole numbers, each `size` bytes. */
static double first_of_wav(const int *codes, size_t count, unsigned size) {
    unsigned char bytes[256] = "RIFF----WAVEfmt \x10\0\0\0\x01\0\x01\0\x80\xbb\0\0----\x02\0\x10\0data";
    unsigned data = (unsigned)count * size, rate = 48000 * size;
    bytes[4] = (unsigned char)(36 + data);
    bytes[5] = bytes[6] = bytes[7] = 0;
    for (int k = 0; k < 4; k++)
        bytes[28 + k] = (unsigned char)(rate >> 8 * k);
    bytes[32] = (unsigned char)size;
    bytes[34] = (unsigned char)(8 * size);
    bytes[40] = (unsigned char)data;
    for (size_t i = 0; i < count; i++)
        for (unsigned k = 0; k < size; k++)
            bytes[44 + i * size + k] = (unsigned char)((unsigned)codes[i] >> 8 * k);
    gw_capture *capture = NULL;
    gw_error error = {0};
    double value = 0;
    if (!gw_capture_read(write_file("codes.wav", bytes, 44 + data), NULL, &capture, &error))
        fail_msg("%s", error.text);
    assert_true(gw_capture_fetch(capture, 0, 0, 1, &value, NULL, &error));
    gw_capture_free(capture);
    return value;
}

static void test_wav_codes(void **state) {
    (void)state;
    int wide[] = {32767, 0, -32768, 1}, narrow[] = {0, 128, 255, 127};
    published("Q-wav16", -gw_db_from_ratio(first_of_wav(wide, 4, 2)));
    for (narrow[0] = 0; narrow[0] < 255 && first_of_wav(narrow, 4, 1) < 0;)
        narrow[0]++;
    published("Q-wav8", narrow[0]);
    assert_close(first_of_wav(narrow, 4, 1), 0, 0);
}

static void test_bias_of_a_residual(void **state) {
    (void)state;
    enum { COUNT = 100 };
    double *v = new_volts(COUNT);
    uint64_t random = 3;
    add_sine(v, COUNT, COUNT, 1, 5.3, 0.4);
    add_noise(v, COUNT, 0.01, &random);
    gw_fit fit;
    assert_true(gw_fit_begin(&fit, v, NULL, COUNT, NULL));
    fit.base[GW_BASE_SIGNAL] = 5.3 / COUNT;
    fit.base_free[GW_BASE_SIGNAL] = true;
    assert_true(gw_fit_add(&fit, 1, 0, 0, NULL) && gw_fit_solve(&fit, NULL));
    published("B-resid", sqrt(fit.rss / COUNT / gw_fit_variance(&fit)));
    gw_fit_end(&fit);
    free(v);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_full_scale),
        cmocka_unit_test(test_steps_in_volts),
        cmocka_unit_test(test_exact_errors),
        cmocka_unit_test(test_slow_sines),
        cmocka_unit_test(test_densities),
        cmocka_unit_test(test_coherent_tones),
        cmocka_unit_test(test_dither),
        cmocka_unit_test(test_wav_codes),
        cmocka_unit_test(test_bias_of_a_residual),
        cmocka_unit_test(published_all_checked),
    };
    return published_read("converters.txt") || cmocka_run_group_tests(tests, make_folder, remove_folder);
}
