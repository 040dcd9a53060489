/* From a capture file to readings: sources, defaults of accuracy, hidden DC, long captures, refusals. */
#include "measure/measured.h"

#include <string.h>
#include <unistd.h>

static char folder[] = "/tmp/gainwalk-run-XXXXXX";

static const char *file_of(const char *name, const void *bytes, size_t length) {
    static char path[256];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    gw_error error = {0};
    assert_true(gw_file_write(path, bytes, length, true, &error));
    return path;
}

static gw_capture *read_back(const char *path, double rate_hz) {
    gw_error error = {0};
    gw_capture *capture = NULL;
    gw_capture_options options = {.rate_hz = rate_hz};
    if (!gw_capture_read(path, &options, &capture, &error))
        print_error("%s\n", error.text);
    assert_non_null(capture);
    return capture;
}

static gw_readings *run(const gw_capture *capture, const gw_measure_options *options) {
    gw_error error = {0};
    gw_readings *out = NULL;
    assert_true(gw_measure_run(capture, 0, options, &out, &error));
    assert_non_null(out);
    return out;
}

static void text_add(gw_text *text, double time, double value) {
    char number[32];
    gw_text_printf(text, "%s,", gw_number_print(time, 9, number, sizeof number));
    gw_text_printf(text, "%s\n", gw_number_fixed(value, 3, number, sizeof number));
}

/* A text capture: three per cent unless stated, DC shown. */
static void test_text_capture(void **state) {
    (void)state;
    gw_text text = {0};
    gw_text_add(&text, "time (s),OUT (V)\n");
    for (int i = 0; i < 2000; i++)
        text_add(&text, i * 1e-5, 0.5 + 2 * sin(two_pi * 730 * i * 1e-5));
    gw_capture *capture = read_back(file_of("sine.csv", text.data, text.length), 0);
    gw_readings *r = run(capture, NULL);
    assert_string_equal(r->source.channel_name, "OUT");
    assert_string_equal(r->source.unit, "V");
    assert_int_equal(r->source.samples, 2000);
    assert_close(r->source.rate_hz, 1e5, 1e-3);
    assert_close(r->source.step, 0.001, 1e-9);
    assert_close(value_of(r, GW_LEVEL), sqrt(2), 1e-4);
    /* rectangular, a/sqrt 3 (JCGM 100, 4.3.7), coverage factor 2 */
    assert_close(r->values[GW_LEVEL].u95, 2 * sqrt(2) * 0.03 / sqrt(3), 1e-4);
    assert_close(r->values[GW_LEVEL].u_scale, sqrt(2) * 0.03 / sqrt(3), 1e-5);
    assert_false(r->dc_hidden);
    assert_true(r->waveform.count > 0 && r->spectrum.count > 0);
    /* whoever asks for figures alone is given the same ones, and no pictures */
    gw_measure_options alone = {.accuracy = -1, .figures_only = true};
    gw_readings *figures = run(capture, &alone);
    assert_memory_equal(figures->values, r->values, sizeof r->values);
    assert_int_equal(figures->waveform.count + figures->spectrum.count, 0);
    gw_readings_free(figures);
    gw_readings_free(r);
    gw_measure_options coupled = {.accuracy = 0, .zero_v = 0.02, .ac_coupled = true};
    r = run(capture, &coupled);
    assert_true(r->dc_hidden);
    assert_true(r->remarks.count > 0);
    assert_close(r->values[GW_DC].u95, 2 * 0.02 / sqrt(3), 1e-4);
    assert_close(r->values[GW_LEVEL].u_scale, 0, 0);
    gw_readings_free(r);
    gw_capture_free(capture);
    gw_text_free(&text);
}

static void put32(unsigned char *at, unsigned value) {
    for (int k = 0; k < 4; k++)
        at[k] = (unsigned char)(value >> (8 * k));
}

/* A WAV file longer than a segment: full scale as unit, DC hidden, level against time. */
static void test_long_wave_file(void **state) {
    (void)state;
    enum { FRAMES = 400000, HEADING = 44 };
    unsigned char *bytes = calloc(HEADING + 2 * FRAMES, 1);
    assert_non_null(bytes);
    memcpy(bytes, "RIFF....WAVEfmt ", 16);
    put32(bytes + 4, HEADING - 8 + 2 * FRAMES);
    put32(bytes + 16, 16);
    put32(bytes + 20, 1 | 1u << 16);
    put32(bytes + 24, 48000);
    put32(bytes + 28, 96000);
    put32(bytes + 32, 2 | 16u << 16);
    memcpy(bytes + 36, "data", 4);
    put32(bytes + 40, 2 * FRAMES);
    for (size_t i = 0; i < FRAMES; i++) {
        int code = (int)lrint(16384 * sin(two_pi * 997 * (double)i / 48000));
        bytes[HEADING + 2 * i] = (unsigned char)(code & 255);
        bytes[HEADING + 2 * i + 1] = (unsigned char)((unsigned)code >> 8 & 255);
    }
    gw_capture *capture = read_back(file_of("sine.wav", bytes, HEADING + 2 * FRAMES), 0);
    gw_readings *r = run(capture, NULL);
    assert_int_equal(r->signal, GW_SIGNAL_SINE);
    assert_string_equal(r->source.unit, "FS");
    assert_true(r->source.wav && r->dc_hidden);
    assert_close(value_of(r, GW_FREQUENCY), 997, 1e-5);
    double value, u95;
    assert_true(gw_reading_shown(GW_LEVEL_DBV, &r->values[GW_LEVEL_DBV], "FS", &value, &u95));
    assert_close(value, -6.0206, 1e-4); /* half of full scale */
    assert_true(r->level_count > 100);
    gw_readings_free(r);
    gw_capture_free(capture);
    free(bytes);
}

/* What is no waveform is refused in words. */
static void test_refusals(void **state) {
    (void)state;
    gw_capture *capture = read_back(file_of("few.csv", "1\n2\n3\n4\n", 8), 0);
    gw_error error = {0};
    gw_readings *out = NULL;
    assert_false(gw_measure_run(capture, 0, NULL, &out, &error));
    assert_non_null(strstr(error.text, "rate"));
    gw_error_clear(&error);
    assert_false(gw_measure_run(capture, 7, NULL, &out, &error));
    assert_null(out);
    gw_capture_free(capture);
}

/* Four samples a cycle: the second harmonic stands at half the rate, where a sine is 0 at every sample, so that nothing
 * determines it. Found by fuzzing: uncertainties were NaN. What rests on such a fit is refused, with a reason. */
static void test_undetermined_fit(void **state) {
    (void)state;
    static const double cycle[] = {0.5, -1, 0.99996948, 0};
    gw_text text = {0};
    gw_text_add(&text, "time (s),OUT (V)\n");
    for (int i = 0; i < 33; i++) {
        char number[32];
        gw_text_printf(&text, "%s,", gw_number_print(i / 48e3, 9, number, sizeof number));
        gw_text_printf(&text, "%s\n", gw_number_fixed(cycle[i % 4], 6, number, sizeof number));
    }
    gw_capture *capture = read_back(file_of("sine.csv", text.data, text.length), 0);
    gw_readings *r = run(capture, NULL);
    for (size_t k = 0; k < GW_READING_COUNT; k++) {
        const gw_reading *reading = &r->values[k];
        assert_true(isfinite(reading->value) && isfinite(reading->u95) && isfinite(reading->u_random));
        assert_true(reading->state == GW_READING_VALUE || reading->why != NULL);
    }
    gw_readings_free(r);
    gw_capture_free(capture);
    gw_text_free(&text);
}

/* Two samples among marks: no fit. Found by fuzzing. */
static void test_hardly_a_sample(void **state) {
    (void)state;
    static const char text[] = "T,IN1\n0.000,1.0\n0.004,OL\n0.005,****\n0.006,NaN\n0.007,--\n0.008,1.0\n";
    gw_capture *capture = read_back(file_of("sine.csv", text, sizeof text - 1), 0);
    gw_readings *r = run(capture, NULL);
    assert_int_equal(r->values[GW_DC].state, GW_READING_NONE);
    assert_non_null(r->values[GW_DC].why);
    assert_int_equal(r->values[GW_AC_RMS].state, GW_READING_NONE);
    gw_readings_free(r);
    gw_capture_free(capture);
}

static int set_up(void **state) {
    (void)state;
    return mkdtemp(folder) ? 0 : -1;
}

static int tear_down(void **state) {
    (void)state;
    static const char *const names[] = {"sine.csv", "sine.wav", "few.csv"};
    for (size_t k = 0; k < sizeof names / sizeof *names; k++) {
        char path[256];
        snprintf(path, sizeof path, "%s/%s", folder, names[k]);
        unlink(path);
    }
    return rmdir(folder);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_text_capture),    cmocka_unit_test(test_long_wave_file),
        cmocka_unit_test(test_refusals),        cmocka_unit_test(test_undetermined_fit),
        cmocka_unit_test(test_hardly_a_sample),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
