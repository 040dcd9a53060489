/* Captures as the rest of the program gets them: factors, ends, steps, channels by name, long files streamed. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "assert_close.h"
#include "gainwalk/capture.h"
#include "scratch.h"

static gw_capture *read_path(const char *path, const gw_capture_options *options) {
    gw_capture *capture = NULL;
    gw_error error = {0};
    if (!gw_capture_read(path, options, &capture, &error))
        fail_msg("%s", error.text);
    return capture;
}

static gw_capture *read_text(const char *text, const gw_capture_options *options) {
    return read_path(write_file("text.csv", text, strlen(text)), options);
}

static void put(unsigned char *bytes, uint32_t value, size_t count) {
    for (size_t i = 0; i < count; i++)
        bytes[i] = (unsigned char)(value >> (8 * i));
}

/* A WAV of `bytes` a sample; the caller fills the samples behind the 44 bytes of heading. */
static unsigned char *wave(unsigned tag, unsigned channels, unsigned bytes, uint32_t frames, size_t *length) {
    uint32_t data = frames * channels * bytes;
    unsigned char *file = calloc(1, 44 + (size_t)data);
    assert_non_null(file);
    memcpy(file, "RIFF....WAVEfmt ", 16);
    put(file + 4, 36 + data, 4);
    put(file + 16, 16, 4);
    put(file + 20, tag, 2);
    put(file + 22, channels, 2);
    put(file + 24, 48000, 4);
    put(file + 28, 48000 * channels * bytes, 4);
    put(file + 32, channels * bytes, 2);
    put(file + 34, bytes * 8, 2);
    memcpy(file + 36, "data", 4);
    put(file + 40, data, 4);
    *length = 44 + (size_t)data;
    return file;
}

static bool remarks_on(const gw_capture *capture, const char *word) {
    for (size_t i = 0; i < capture->remarks.count; i++)
        if (strstr(capture->remarks.items[i], word) != NULL)
            return true;
    return false;
}

/* ---- factors ------------------------------------------------------------------------------------ */

static void test_probe_text(void **state) {
    (void)state;
    gw_capture_options options = {.probe = 10};
    gw_capture *capture = read_text("T,U (mV),I (A)\n0.000,100,1\n0.001,-200,2\n0.002,300,3\n", &options);
    /* 100 mV behind a divider of ten is 1 V; a current is not divided */
    assert_close(capture->channels[0].first[0], 1.0, 1e-15);
    assert_close(capture->channels[0].min, -2.0, 1e-15);
    assert_close(capture->channels[0].step, 2.0, 1e-12);
    assert_close(capture->channels[1].first[2], 3.0, 0);
    gw_capture_free(capture);
}

/* A probe that the heading states is in the volts already: never twice. */
static void test_probe_stated(void **state) {
    (void)state;
    static const struct {
        const char *heading;
        double probe, first;
    } cases[] = {{"Probe,10\n", 10, 1},   {"probe: 10X\n", 10, 1}, {"Attenuation,1:10\n", 10, 1}, {"probe,1\n", 10, 10},
                 {"probe,10\n", 100, 10}, {"probe,10\n", 0, 1},    {"offset,10\n", 10, 10}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        char text[200];
        gw_capture_options options = {.probe = cases[i].probe};
        snprintf(text, sizeof text, "%sT,U\n0.000,1.0\n0.001,1.5\n0.002,2.0\n", cases[i].heading);
        gw_capture *capture = read_text(text, &options);
        assert_close(capture->channels[0].first[0], cases[i].first, 1e-15);
        assert_int_equal(remarks_on(capture, "probe"),
                         cases[i].probe > 1 && strchr("pPA", cases[i].heading[0]) != NULL);
        gw_capture_free(capture);
    }
}

static void test_full_scale(void **state) {
    (void)state;
    size_t length;
    unsigned char *file = wave(1, 2, 2, 3, &length);
    put(file + 44, 0x4000, 2);
    put(file + 46, 0x8000, 2);
    const char *path = write_file("scale.wav", file, length);
    free(file);
    gw_capture *capture = read_path(path, NULL);
    assert_string_equal(capture->channels[0].unit, "FS");
    assert_close(capture->channels[0].first[0], 0.5, 0);
    assert_close(capture->channels[0].low_end, -1, 0);
    assert_close(capture->channels[0].high_end, 32767.0 / 32768, 0);
    assert_close(capture->channels[0].step, 1.0 / 32768, 0);
    gw_capture_free(capture);
    gw_capture_options options = {.full_scale_v = 2, .probe = 10};
    capture = read_path(path, &options);
    assert_string_equal(capture->channels[1].unit, "V");
    assert_close(capture->channels[0].first[0], 10, 0);
    assert_close(capture->channels[1].min, -20, 0);
    assert_close(capture->channels[1].low_end, -20, 0);
    assert_close(capture->channels[1].step, 20.0 / 32768, 0);
    gw_capture_free(capture);
}

static void test_given_rate(void **state) {
    (void)state;
    gw_capture_options options = {.rate_hz = 8000};
    gw_capture *capture = read_text("1.0\n1.5\n2.0\n", &options);
    assert_close(capture->rate_hz, 8000, 0);
    assert_false(remarks_on(capture, "must be given"));
    gw_capture_free(capture);
    capture = read_text("L,R\n1.0,2\n1.5,1\n1.0,0\n", &options); /* several columns, and now a rate for them */
    assert_close(capture->rate_hz, 8000, 0);
    assert_int_equal(capture->channel_count, 2);
    gw_capture_free(capture);
    capture = read_text("T,U\n0.000,1.0\n0.001,1.5\n0.002,2.0\n", &options);
    assert_close(capture->rate_hz, 1000, 1e-9);
    assert_true(remarks_on(capture, "stated"));
    gw_capture_free(capture);
}

/* ---- what is told ------------------------------------------------------------------------------- */

/* A converter's step survives printing with few digits and in single precision. */
static void test_step(void **state) {
    (void)state;
    char text[20000];
    static const struct {
        const char *form;
        double step, tolerance;
    } cases[] = {{"%.5f", 0.008, 1e-9},
                 {"%.3f", 0.0078125, 2e-5},
                 {"%.9e", 0.0390625, 1e-9},
                 {"%.2f", 0.0390625, 1.5e-4},
                 {"%.8f", 1.0 / 256, 1e-8}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        size_t at = (size_t)snprintf(text, sizeof text, "T,U\n");
        for (int row = 0; row < 500; row++) {
            double value = (double)(float)(round(100 * sin(row * 0.1)) * cases[i].step);
            at += (size_t)snprintf(text + at, sizeof text - at, "%d,", row);
            at += (size_t)snprintf(text + at, sizeof text - at, cases[i].form, value);
            at += (size_t)snprintf(text + at, sizeof text - at, "\n");
        }
        gw_capture *capture = read_text(text, NULL);
        assert_close(capture->channels[0].step, cases[i].step, cases[i].tolerance);
        gw_capture_free(capture);
    }
}

static void test_channels(void **state) {
    (void)state;
    gw_error error = {0};
    size_t index;
    gw_capture *capture = read_text("T,2,Out,out\n0.000,1,2,3\n0.001,1,2,3\n0.002,1,2,4\n", NULL);
    static const struct {
        const char *which;
        size_t index;
    } cases[] = {{NULL, 0}, {"", 0}, {"1", 0}, {"2", 1}, {"3", 2}, {"Out", 1}, {"out", 2}, {"OUT", 1}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        assert_true(gw_capture_channel(capture, cases[i].which, &index, &error));
        assert_int_equal(index, cases[i].index);
    }
    assert_false(gw_capture_channel(capture, "IN9", &index, &error));
    assert_non_null(strstr(error.text, "IN9"));
    assert_non_null(strstr(error.text, "'Out'"));
    gw_capture_free(capture);
}

static void test_coupling(void **state) {
    (void)state;
    gw_capture *capture = read_text("Coupling,AC,DC\nT,A,B\n0.000,1,2\n0.001,1,2\n0.002,1,3\n", NULL);
    assert_true(capture->channels[0].ac_coupled);
    assert_false(capture->channels[1].ac_coupled);
    gw_capture_free(capture);
}

/* Errors say where: the line of the first row that is meant. */
static void test_error_line(void **state) {
    (void)state;
    static const char text[] = "note\n\nx,y\nHz,V\n0,1\n10,2\n20,3\n";
    gw_capture *capture;
    gw_error error = {0};
    assert_false(gw_capture_read(write_file("text.csv", text, strlen(text)), NULL, &capture, &error));
    assert_int_equal(error.line, 5);
    assert_non_null(strstr(error.file, "text.csv"));
}

/* ---- long files --------------------------------------------------------------------------------- */

static void swap(unsigned char *at, size_t bytes) {
    for (size_t i = 0; i < bytes / 2; i++) {
        unsigned char kept = at[i];
        at[i] = at[bytes - 1 - i];
        at[bytes - 1 - i] = kept;
    }
}

/* The same file with its high bytes first, which only the library reads: block by block it gives the same. */
static void test_streamed_by_the_library(void **state) {
    (void)state;
    enum { FRAMES = 5 << 19, BLOCK = 1000 };
    static const struct {
        size_t at, bytes;
    } numbers[] = {{4, 4}, {16, 4}, {20, 2}, {22, 2}, {24, 4}, {28, 4}, {32, 2}, {34, 2}, {40, 4}};
    size_t length;
    unsigned char *file = wave(1, 2, 2, FRAMES, &length);
    for (uint32_t i = 0; i < 2 * FRAMES; i++)
        put(file + 44 + 2 * (size_t)i, i * 7919, 2);
    gw_capture *captures[2];
    for (int big = 0; big < 2; big++) {
        captures[big] = read_path(write_file(big ? "big.wav" : "little.wav", file, length), NULL);
        assert_int_equal(captures[big]->samples, FRAMES);
        memcpy(file, "RIFX", 4);
        for (size_t i = 0; i < sizeof numbers / sizeof *numbers; i++)
            swap(file + numbers[i].at, numbers[i].bytes);
        for (size_t i = 44; i + 1 < length; i += 2)
            swap(file + i, 2);
    }
    static double values[2][BLOCK];
    static unsigned char marks[2][BLOCK];
    gw_error error = {0};
    for (int round = 0; round < 50; round++) {
        uint64_t first = (uint64_t)round * 2654435761U % (FRAMES - BLOCK);
        for (int big = 0; big < 2; big++)
            assert_true(gw_capture_fetch(captures[big], (size_t)round % 2, first, BLOCK, values[big],
                                         round % 3 ? marks[big] : NULL, &error));
        assert_memory_equal(values[0], values[1], sizeof values[0]);
        assert_memory_equal(marks[0], marks[1], sizeof marks[0]);
    }
    for (size_t c = 0; c < 2; c++) {
        assert_true(captures[0]->channels[c].min == captures[1]->channels[c].min);
        assert_true(captures[0]->channels[c].max == captures[1]->channels[c].max);
    }
    gw_capture_free(captures[0]);
    gw_capture_free(captures[1]);
    free(file);
}

/* More samples than are kept in memory come block by block, in any order, the same. */
static void test_streamed(void **state) {
    (void)state;
    enum { FRAMES = 5 << 19, BLOCK = 1000 };
    size_t length;
    unsigned char *file = wave(1, 2, 2, FRAMES, &length);
    for (uint32_t i = 0; i < FRAMES; i++) {
        put(file + 44 + 4 * (size_t)i, i * 7919, 2); /* a pattern that a slip would break */
        put(file + 46 + 4 * (size_t)i, i * 104729 + 1, 2);
    }
    const char *path = write_file("long.wav", file, length);
    gw_capture_options options = {.full_scale_v = 2};
    gw_capture *capture = read_path(path, &options);
    assert_int_equal(capture->samples, FRAMES);
    static double values[BLOCK];
    static unsigned char marks[BLOCK];
    gw_error error = {0};
    for (int round = 0; round < 400; round++) {
        uint64_t first = (uint64_t)round * 2654435761U % (FRAMES - BLOCK);
        size_t channel = (size_t)round % 2;
        assert_true(gw_capture_fetch(capture, channel, first, BLOCK, values, marks, &error));
        for (size_t i = 0; i < BLOCK; i++) {
            const unsigned char *at = file + 44 + 4 * ((size_t)first + i) + 2 * channel;
            int16_t code = (int16_t)(at[0] | at[1] << 8);
            if (values[i] != 2.0 * code / 32768 || marks[i] != GW_SAMPLE_PRESENT)
                fail_msg("sample %llu of channel %zu is %.17g", (unsigned long long)first + i, channel, values[i]);
        }
    }
    assert_false(gw_capture_fetch(capture, 2, 0, 1, values, marks, &error));
    gw_capture_free(capture);
    free(file);
}

/* ---- which dialect ------------------------------------------------------------------------------ */

/* `lines` lines of a heading, then 600 rows of two columns: `row` prints two whole numbers. */
static gw_capture *read_dialect(const char *heading, size_t lines, const char *row) {
    static char text[1 << 20];
    size_t length = 0;
    for (size_t i = 0; i < lines; i++)
        length += (size_t)snprintf(text + length, sizeof text - length, "%s\n", heading);
    for (int i = 0; i < 600; i++)
        length += (size_t)snprintf(text + length, sizeof text - length, row, i, i * 37 % 101);
    return read_path(write_file("dialect.csv", text, length), NULL);
}

/* A dialect whose separator does not occur is not tried again under another name. A heading that holds every separator
 * and quotes makes all be tried, and the capture is the same; so it is behind a heading longer than what is looked at
 * first. */
static void test_dialects(void **state) {
    (void)state;
    static const char *const rows[] = {"%d.5,%d.25\n",  "%d.5;%d.25\n", "%d,5;%d,25\n",        "%d.5\t%d.25\n",
                                       "%d,5\t%d,25\n", "%d.5 %d.25\n", "\"%d,5\",\"%d,25\"\n"};
    static const struct {
        const char *heading;
        size_t lines;
    } headings[] = {
        {"", 0}, {"made on a bench", 2}, {"made: \"a; b, c\"\td", 2}, {"a heading of words and no number", 900}};
    for (size_t r = 0; r < sizeof rows / sizeof *rows; r++)
        for (size_t h = 0; h < sizeof headings / sizeof *headings; h++) {
            gw_capture *capture = read_dialect(headings[h].heading, headings[h].lines, rows[r]);
            assert_int_equal(capture->samples, 600);
            assert_int_equal(capture->channel_count, 1);
            assert_close(capture->rate_hz, 1, 1e-12);
            for (size_t i = 0; i < 8; i++)
                assert_close(capture->channels[0].first[i], (double)(i * 37 % 101) + 0.25, 0);
            gw_capture_free(capture);
        }
}

/* Where trailing zeros are dropped, a power of ten shows fewer digits than were kept; the finest digit of the largest
 * values is the step all the same. */
static void test_steps_without_trailing_zeros(void **state) {
    (void)state;
    static const struct {
        const char *values[6];
        double step;
    } columns[] = {
        {{"0.7", "0.8", "0.9", "1", "0.9", "0.8"}, 0.1},
        {{"-0.7", "-0.8", "-0.9", "-1", "-0.9", "-0.8"}, 0.1},
        {{"9.7", "9.8", "9.9", "10", "9.9", "9.8"}, 0.1},
        {{"0.0097", "0.0098", "0.0099", "0.01", "0.0099", "0.0098"}, 1e-4},
        {{"0.98", "0.99", "1", "1.01", "1", "0.99"}, 0.01},
    };
    for (size_t k = 0; k < sizeof columns / sizeof *columns; k++) {
        char text[400] = "s,V\n";
        for (int i = 0; i < 6; i++)
            snprintf(text + strlen(text), sizeof text - strlen(text), "%d,%s\n", i, columns[k].values[i]);
        gw_capture *capture = read_text(text, NULL);
        assert_close(capture->channels[0].step, columns[k].step, 1e-9 * columns[k].step);
        gw_capture_free(capture);
    }
}

/* A record of so many samples high and low in turn, as told; `form` prints the value. */
static double step_of_runs(const int *runs, size_t count, const char *form, double low, double high) {
    char text[20000];
    size_t at = (size_t)snprintf(text, sizeof text, "s,V\n");
    int row = 0;
    for (size_t k = 0; k < count; k++)
        for (int i = 0; i < runs[k]; i++) {
            at += (size_t)snprintf(text + at, sizeof text - at, "%d,", row++);
            at += (size_t)snprintf(text + at, sizeof text - at, form, k % 2 ? low : high);
            at += (size_t)snprintf(text + at, sizeof text - at, "\n");
        }
    gw_capture *capture = read_text(text, NULL);
    double step = capture->channels[0].step;
    gw_capture_free(capture);
    return step;
}

/* A square wave without noise holds two values, whose gap is no step of a converter's: what is known is the last digit,
 * or nothing where that is the gap. Where two codes flutter, or stand once, their gap is the step. */
static void test_waveforms_of_two_levels(void **state) {
    (void)state;
    static const int square[] = {7, 20, 20, 21, 20, 20, 20, 13}, pulse[] = {3, 30, 4, 31, 4, 30, 5, 31, 4, 30, 4},
                     few[] = {8, 9, 9, 4}, flutter[] = {40, 1, 2, 1, 60, 2, 1, 50, 1, 1, 40},
                     uneven[] = {9, 20, 20, 24, 20, 20, 20, 9}, once[] = {50, 60, 30}, short_few[] = {5, 6, 6, 2},
                     ended[] = {20, 20, 20, 20, 20, 20, 20, 40}, begun[] = {40, 20, 20, 20, 20, 20, 20, 20};
    assert_close(step_of_runs(square, 8, "%.3f", 0, 5), 0.001, 1e-12);
    assert_close(step_of_runs(pulse, 11, "%.2f", 0, 3.3), 0.01, 1e-12);
    assert_close(step_of_runs(few, 4, "%.3f", 0, 5), 0.001, 1e-12);
    assert_close(step_of_runs(square, 8, "%.0f", 0, 5), 1, 1e-12);
    assert_close(step_of_runs(square, 8, "%.0f", 4, 5), 0, 0);
    assert_close(step_of_runs(flutter, 11, "%.3f", 0, 0.02), 0.02, 1e-9);
    assert_close(step_of_runs(uneven, 8, "%.3f", 0, 0.02), 0.02, 1e-9);
    assert_close(step_of_runs(once, 3, "%.3f", 0, 0.02), 0.02, 1e-9);
    assert_close(step_of_runs(short_few, 4, "%.3f", 0, 0.02), 0.02, 1e-9);
    assert_close(step_of_runs(ended, 8, "%.3f", 0, 0.02), 0.02, 1e-9);
    assert_close(step_of_runs(begun, 8, "%.3f", 0, 0.02), 0.02, 1e-9);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_waveforms_of_two_levels),
        cmocka_unit_test(test_steps_without_trailing_zeros),
        cmocka_unit_test(test_probe_text),
        cmocka_unit_test(test_probe_stated),
        cmocka_unit_test(test_full_scale),
        cmocka_unit_test(test_given_rate),
        cmocka_unit_test(test_step),
        cmocka_unit_test(test_channels),
        cmocka_unit_test(test_coupling),
        cmocka_unit_test(test_error_line),
        cmocka_unit_test(test_streamed),
        cmocka_unit_test(test_streamed_by_the_library),
        cmocka_unit_test(test_dialects),
    };
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
