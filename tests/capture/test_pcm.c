/* Plain samples decoded here: each width, at every place in a vector, beside sums of its bytes by powers of 256; and a
 * long file read by several threads, which tells and holds what one thread finds. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "assert_close.h"
#include "capture/pcm.h"
#include "gainwalk/capture.h"
#include "scratch.h"

enum { SAMPLES = 77, STRIDE_MAX = 3 };

/* splitmix64 (Steele, Lea, Flood 2014), a fixed seed */
static uint64_t next_random(uint64_t *state) {
    uint64_t z = *state += UINT64_C(0x9E3779B97F4A7C15);
    z = (z ^ z >> 30) * UINT64_C(0xBF58476D1CE4E5B9);
    z = (z ^ z >> 27) * UINT64_C(0x94D049BB133111EB);
    return z ^ z >> 31;
}

/* Two's complement, least byte first, over 2^(bits - 1). */
static double by_bytes(const unsigned char *at, unsigned bytes) {
    double value = 0, place = 1;
    for (unsigned k = 0; k < bytes; k++, place *= 256)
        value += at[k] * place;
    return (at[bytes - 1] >= 128 ? value - place : value) / (place / 2);
}

static void test_integers(void **state) {
    (void)state;
    unsigned char bytes[STRIDE_MAX * 4 * SAMPLES + GW_PCM_PAD + 4];
    uint64_t seed = 3;
    for (size_t k = 0; k < sizeof bytes; k++)
        bytes[k] = (unsigned char)next_random(&seed);
    memset(bytes + 7, 0xFF, 9); /* -1, the least, the most, 0 */
    memcpy(bytes + 16, "\x00\x00\x80\xFF\xFF\x7F\x00\x00\x00\x00\x00\x00", 12);
    for (unsigned width = 2; width <= 4; width++)
        for (size_t stride = 1; stride <= STRIDE_MAX; stride++)
            for (size_t count = 0; count <= SAMPLES - 4; count++) {
                double values[SAMPLES + 1];
                const unsigned char *from = bytes + count % 4;
                values[count] = 42;
                assert_true(gw_pcm_takes(width, false));
                gw_pcm_decode(from, width, false, stride, count, 1.7, values);
                for (size_t i = 0; i < count; i++)
                    assert_close(values[i], 1.7 * by_bytes(from + i * stride * width, width), 0);
                assert_close(values[count], 42, 0);
            }
}

static void test_floating_point(void **state) {
    (void)state;
    const float given[] = {0, -1, 0.1F, 1e-40F, -3e38F, INFINITY, NAN};
    enum { COUNT = sizeof given / sizeof *given };
    unsigned char bytes[2 * sizeof given + GW_PCM_PAD] = {0};
    double values[COUNT];
    for (size_t i = 0; i < COUNT; i++)
        memcpy(bytes + 2 * i * sizeof *given, &given[i], sizeof *given);
    gw_pcm_decode(bytes, 4, true, 2, COUNT, 5, values);
    for (size_t i = 0; i + 1 < COUNT; i++)
        assert_memory_equal(&values[i], &(double){(double)given[i]}, sizeof *values);
    assert_true(isnan(values[COUNT - 1]));
    assert_false(gw_pcm_takes(8, true));
    assert_false(gw_pcm_takes(1, false));
}

/* ---- several threads ------------------------------------------------------------------------------------ */

enum { FRAMES = 700001, CHANNELS_MAX = 3 };

static double made(uint64_t *seed, uint64_t frame, int channel) {
    double noise = (double)(next_random(seed) >> 11) * 0x1p-53;
    return frame == 654321 && channel == 0 ? -0.75 : 0.5 * noise - 0.2;
}

static const char *write_wave(gw_wav_format format, int channels) {
    const char *path = path_in("threads.wav");
    gw_wav_layout layout = {.format = format, .rate_hz = 96000, .channels = channels, .frames = FRAMES};
    gw_text text = {0};
    uint64_t seed = 5;
    assert_true(gw_wav_add_header(&layout, &text, NULL));
    for (uint64_t i = 0; i < FRAMES; i++) {
        double frame[CHANNELS_MAX];
        for (int c = 0; c < channels; c++)
            frame[c] = made(&seed, i, c);
        gw_wav_add_frames(&layout, frame, NULL, 1, &text);
    }
    gw_wav_add_end(&layout, &text);
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    assert_int_equal(fwrite(gw_text_string(&text), 1, text.length, file), text.length);
    assert_int_equal(fclose(file), 0);
    gw_text_free(&text);
    return path;
}

static gw_capture *read_by(const char *path, int jobs) {
    gw_capture *capture = NULL;
    gw_error error = {0};
    gw_capture_options options = {.full_scale_v = 1.3, .jobs = jobs};
    if (!gw_capture_read(path, &options, &capture, &error))
        fail_msg("%s", error.text);
    return capture;
}

/* What is told of a channel, and every sample. */
static void check_channel(const gw_capture *one, const gw_capture *many, size_t c) {
    const gw_channel *a = &one->channels[c], *b = &many->channels[c];
    double *x = malloc(2 * FRAMES * sizeof *x), least = INFINITY, most = -INFINITY;
    gw_error error = {0};
    assert_non_null(x);
    assert_close(b->min, a->min, 0);
    assert_close(b->max, a->max, 0);
    assert_close(b->step, a->step, 0);
    assert_int_equal(b->first_count, a->first_count);
    assert_memory_equal(b->first, a->first, sizeof a->first);
    assert_true(gw_capture_fetch(one, c, 0, FRAMES, x, NULL, &error));
    for (size_t at = 0; at < FRAMES; at += 50000) /* in pieces that end anywhere */
        assert_true(
            gw_capture_fetch(many, c, at, FRAMES - at < 50000 ? FRAMES - at : 50000, x + FRAMES + at, NULL, &error));
    assert_memory_equal(x, x + FRAMES, FRAMES * sizeof *x);
    for (size_t i = 0; i < FRAMES; i++) {
        least = x[i] < least ? x[i] : least;
        most = x[i] > most ? x[i] : most;
    }
    assert_close(b->min, least, 0);
    assert_close(b->max, most, 0);
    free(x);
}

static void test_threads(void **state) {
    (void)state;
    static const gw_wav_format formats[] = {GW_WAV_PCM16, GW_WAV_PCM24, GW_WAV_FLOAT32};
    for (size_t f = 0; f < sizeof formats / sizeof *formats; f++)
        for (int channels = 1; channels <= CHANNELS_MAX; channels++) {
            const char *path = write_wave(formats[f], channels);
            gw_capture *one = read_by(path, 1), *many = read_by(path, 3);
            assert_int_equal(many->channel_count, channels);
            for (int c = 0; c < channels; c++)
                check_channel(one, many, (size_t)c);
            gw_capture_free(one);
            gw_capture_free(many);
        }
}

/* Ranges that nobody asks for are not told; all else is, and every sample is the same. */
static void test_without_ranges(void **state) {
    (void)state;
    static const gw_wav_format formats[] = {GW_WAV_PCM24, GW_WAV_FLOAT32};
    for (size_t f = 0; f < sizeof formats / sizeof *formats; f++)
        for (int channels = 1; channels <= 2; channels++) {
            const char *path = write_wave(formats[f], channels);
            gw_capture_options options = {.full_scale_v = 1.3, .no_ranges = true, .jobs = 2};
            gw_capture *with = read_by(path, 2), *without = NULL;
            gw_error error = {0};
            assert_true(gw_capture_read(path, &options, &without, &error));
            for (int c = 0; c < channels; c++) {
                gw_channel *told = &without->channels[c];
                if (formats[f] != GW_WAV_FLOAT32) /* of which the range tells the converter's ends */
                    assert_false(told->has_range || told->min != 0 || told->max != 0);
                assert_close(told->low_end, with->channels[c].low_end, 0);
                assert_close(told->high_end, with->channels[c].high_end, 0);
                told->min = with->channels[c].min;
                told->max = with->channels[c].max;
                check_channel(with, without, (size_t)c);
            }
            gw_capture_free(with);
            gw_capture_free(without);
        }
}

/* A file that is cut off while it is open, 24-bit mono: the heading promised more. */
static void test_cut_off(void **state) {
    (void)state;
    const char *path = write_wave(GW_WAV_PCM24, 1);
    gw_capture *capture = read_by(path, 2);
    double *x = malloc(FRAMES * sizeof *x);
    gw_error error = {0};
    FILE *file = fopen(path, "wb"); /* empties it */
    assert_non_null(file);
    assert_int_equal(fclose(file), 0);
    assert_non_null(x);
    assert_false(gw_capture_fetch(capture, 0, 600000, 1000, x, NULL, &error));
    assert_non_null(strstr(error.text, "ends at sample 600000"));
    free(x);
    gw_capture_free(capture);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_integers), cmocka_unit_test(test_floating_point),
                                       cmocka_unit_test(test_threads), cmocka_unit_test(test_without_ranges),
                                       cmocka_unit_test(test_cut_off)};
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
