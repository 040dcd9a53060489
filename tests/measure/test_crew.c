/* Several channels of a long recording, measured by several threads together: bit for bit what one thread reads of each
 * channel by itself, in whatever order the pieces were done. */
#include "measure/measured.h"
#include "measure/segments.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

enum { RATE = 8000, CHANNELS = 3, PARTS = 9, FRAMES = PARTS * GW_SEGMENT_SAMPLES - 5, BLOCK = 1 << 15 };

/* From so many parts on the second one begins by itself. */
enum { MANY_PARTS = 17, MANY_FRAMES = MANY_PARTS * GW_SEGMENT_SAMPLES - 5 };

/* A steady tone; one that is another in every 4 s, so that no segment shows what another does; one that stops and comes
 * again. */
static void frame_make(size_t i, uint64_t *random, double *out) {
    double t = (double)i / RATE, noise = 1e-4 * ((double)(random_bits(random) >> 40) / (1 << 24) - 0.5);
    size_t tune = i / (4 * RATE);
    out[0] = 0.5 * sin(two_pi * fmod(437 * t, 1)) + noise;
    out[1] = 0.4 * sin(two_pi * fmod((double)(300 + tune * 7919 % 1501) * t, 1)) - noise;
    out[2] = (i > 400000 && i < 400700 ? 0 : 0.3 * sin(two_pi * fmod(1001 * t, 1))) + noise;
}

/* The first so many channels. */
static void recording_write(const char *path, size_t channels, size_t frames) {
    gw_wav_layout layout = {.format = GW_WAV_PCM16, .rate_hz = RATE, .channels = (int)channels, .frames = frames};
    static double values[BLOCK * CHANNELS];
    gw_error error = {0};
    gw_text text = {0};
    uint64_t random = 5;
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    assert_true(gw_wav_add_header(&layout, &text, &error));
    for (size_t at = 0; at < frames; at += BLOCK) {
        size_t now = frames - at < BLOCK ? frames - at : BLOCK;
        for (size_t i = 0; i < now; i++) {
            double frame[CHANNELS];
            frame_make(at + i, &random, frame);
            memcpy(values + i * channels, frame, channels * sizeof *frame);
        }
        gw_wav_add_frames(&layout, values, NULL, now, &text);
        assert_int_equal(fwrite(text.data, 1, text.length, file), text.length);
        gw_text_free(&text);
        text = (gw_text){0};
    }
    assert_int_equal(fclose(file), 0);
}

static void check_same_value(double one, double other) {
    assert_memory_equal(&one, &other, sizeof one);
}

static void check_same_reading(const gw_reading *one, const gw_reading *other) {
    assert_int_equal(one->state, other->state);
    check_same_value(one->value, other->value);
    check_same_value(one->u95, other->u95);
    check_same_value(one->u_random, other->u_random);
}

static void check_same(const gw_readings *one, const gw_readings *other) {
    assert_int_equal(one->signal, other->signal);
    for (int key = 0; key < GW_READING_COUNT; key++)
        check_same_reading(&one->values[key], &other->values[key]);
    assert_int_equal(one->event_count, other->event_count);
    for (size_t k = 0; k < one->event_count; k++)
        check_same_value(one->events[k].start_s, other->events[k].start_s);
    assert_int_equal(one->level_count, other->level_count);
    assert_memory_equal(one->levels, other->levels, one->level_count * sizeof *one->levels);
    assert_int_equal(one->spectrum.count, other->spectrum.count);
    assert_memory_equal(one->spectrum.high, other->spectrum.high, one->spectrum.count * sizeof *one->spectrum.high);
    assert_int_equal(one->remarks.count, other->remarks.count);
    for (size_t k = 0; k < one->remarks.count; k++)
        assert_string_equal(one->remarks.items[k], other->remarks.items[k]);
}

/* What the recording is for: the steady channel is fitted in few of its segments, the changing one in all. */
static void check_paths(gw_readings *const *alone) {
    bool told[CHANNELS] = {false};
    for (size_t c = 0; c < CHANNELS; c++)
        for (size_t k = 0; k < alone[c]->remarks.count; k++)
            told[c] = told[c] || strstr(alone[c]->remarks.items[k], "fitted in") != NULL;
    assert_true(told[0]);
    assert_false(told[1]);
    assert_true(told[2] && alone[2]->event_count == 1 && alone[2]->events[0].kind == GW_EVENT_DROPOUT);
}

static gw_capture *recording_read(const char *path, size_t channels) {
    gw_error error = {0};
    gw_capture *capture = NULL;
    assert_true(gw_capture_read(path, NULL, &capture, &error));
    assert_int_equal(capture->channel_count, channels);
    return capture;
}

/* From one number of threads to the next: under a sanitizer one and many are enough, for all are minutes. */
static int step(int usual) {
    return getenv("GAINWALK_SANITIZED") != NULL ? 3 : usual;
}

static void test_together_as_alone(void **state) {
    gw_error error = {0};
    gw_readings *alone[CHANNELS], *together[CHANNELS];
    gw_capture *capture = recording_read(*state, CHANNELS);
    for (size_t c = 0; c < CHANNELS; c++)
        assert_true(gw_measure_run(capture, c, NULL, &alone[c], &error));
    check_paths(alone);
    for (int jobs = 1; jobs <= 5; jobs += step(2)) {
        gw_measure_options options = {.accuracy = -1, .jobs = jobs};
        assert_true(gw_measure_all(capture, &options, together, &error));
        for (size_t c = 0; c < CHANNELS; c++) {
            check_same(alone[c], together[c]);
            gw_readings_free(together[c]);
        }
    }
    for (size_t c = 0; c < CHANNELS; c++)
        gw_readings_free(alone[c]);
    gw_capture_free(capture);
}

/* The second part begins before it is known what the first one holds, with one thread as with several. */
static void test_many_parts(void **state) {
    (void)state;
    char path[] = "/tmp/gainwalk-crew-XXXXXX";
    gw_error error = {0};
    gw_readings *alone, *together;
    close(mkstemp(path));
    recording_write(path, 1, MANY_FRAMES);
    gw_capture *capture = recording_read(path, 1);
    assert_true(gw_measure_run(capture, 0, NULL, &alone, &error));
    assert_close(alone->values[GW_FREQUENCY].value, 437, 1e-6);
    for (int jobs = 2; jobs <= 4; jobs += step(1)) {
        gw_measure_options options = {.accuracy = -1, .jobs = jobs};
        assert_true(gw_measure_run(capture, 0, &options, &together, &error));
        check_same(alone, together);
        gw_readings_free(together);
    }
    gw_readings_free(alone);
    gw_capture_free(capture);
    assert_int_equal(unlink(path), 0);
}

/* The file ends early by now: every thread comes to its end, and what is told is the same. */
static void test_a_file_cut_short(void **state) {
    gw_capture *capture = recording_read(*state, CHANNELS);
    gw_error first = {0};
    assert_int_equal(truncate(*state, (off_t)2 * CHANNELS * GW_SEGMENT_SAMPLES * 6), 0);
    for (int jobs = 1; jobs <= 4; jobs += step(1)) {
        gw_measure_options options = {.accuracy = -1, .jobs = jobs};
        gw_readings *out[CHANNELS];
        gw_error error = {0};
        assert_false(gw_measure_all(capture, &options, out, &error));
        assert_true(error.set);
        if (jobs == 1)
            first = error;
        assert_string_equal(error.text, first.text);
        for (size_t c = 0; c < CHANNELS; c++)
            assert_null(out[c]);
    }
    gw_capture_free(capture);
}

static int begin(void **state) {
    static char path[] = "/tmp/gainwalk-crew-XXXXXX";
    int descriptor = mkstemp(path);
    *state = path;
    close(descriptor);
    recording_write(path, CHANNELS, FRAMES);
    return descriptor < 0;
}

static int end(void **state) {
    return unlink(*state);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_together_as_alone), cmocka_unit_test(test_many_parts),
                                       cmocka_unit_test(test_a_file_cut_short)};
    return cmocka_run_group_tests(tests, begin, end);
}
