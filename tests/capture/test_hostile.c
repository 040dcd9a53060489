/* Files that mean harm or are broken: a clear error or a capture, never a hang, a crash or an invented sample. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <dirent.h>
#include <float.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "assert_close.h"
#include "gainwalk/capture.h"
#include "scratch.h"

#define assert_finite(value) assert_close(value, 0, DBL_MAX)

enum { FILE_MAX = 1 << 16, ROUNDS = 12 };

static bool is_in_order(const gw_channel *channel) {
    return channel->min <= channel->max && channel->step >= 0;
}

/* Whatever comes out is in itself sound. */
static void check_sound(const char *path) {
    gw_capture *capture = NULL;
    gw_error error = {0};
    bool right = gw_capture_read(path, NULL, &capture, &error);
    assert_true(right == (capture != NULL));
    assert_true(right != error.set);
    if (!right) {
        assert_true(error.text[0] != '\0');
        return;
    }
    assert_true(capture->samples > 0 && capture->channel_count > 0);
    assert_finite(capture->rate_hz);
    for (size_t c = 0; c < capture->channel_count; c++) {
        double value;
        unsigned char mark;
        const gw_channel *channel = &capture->channels[c];
        assert_finite(channel->min);
        assert_finite(channel->max);
        assert_finite(channel->step);
        assert_true(is_in_order(channel));
        assert_true(gw_capture_fetch(capture, c, capture->samples - 1, 1, &value, &mark, &error));
        assert_finite(value);
        assert_false(gw_capture_fetch(capture, c, capture->samples, 1, &value, &mark, &error));
        gw_error_clear(&error);
    }
    gw_capture_free(capture);
}

static void check_refused(const char *path, const char *word) {
    gw_capture *capture = NULL;
    gw_error error = {0};
    assert_false(gw_capture_read(path, NULL, &capture, &error));
    assert_null(capture);
    if (strstr(error.text, word) == NULL)
        fail_msg("'%s' does not speak of %s", error.text, word);
}

static void test_no_files(void **state) {
    (void)state;
    check_refused(path_in("nowhere.csv"), "No such file");
    check_refused(scratch_folder, "folder");
    check_refused("/dev/zero", "device");
    const char *pipe = path_in("pipe.csv");
    assert_int_equal(mkfifo(pipe, 0600), 0);
    check_refused(pipe, "pipe"); /* no one ever writes to it */
}

static uint64_t next_random(uint64_t *state) {
    uint64_t z = *state += UINT64_C(0x9E3779B97F4A7C15); /* splitmix64, fixed seed */
    z = (z ^ z >> 30) * UINT64_C(0xBF58476D1CE4E5B9);
    z = (z ^ z >> 27) * UINT64_C(0x94D049BB133111EB);
    return z ^ z >> 31;
}

/* Cuts, doubles and changes bytes. */
static size_t spoil(unsigned char *bytes, size_t length, uint64_t *seed) {
    static const char odd[] = "\0\r\n,;\t\"'-+.eE:#\xff\xb5 0123456789";
    size_t changes = 1 + next_random(seed) % 6;
    for (size_t i = 0; i < changes && length > 0; i++) {
        size_t at = next_random(seed) % length, count = 1 + next_random(seed) % 16;
        count = count < length - at ? count : length - at;
        switch (next_random(seed) % 5) {
        case 0:
            bytes[at] = (unsigned char)next_random(seed);
            break;
        case 1:
            bytes[at] = (unsigned char)odd[next_random(seed) % (sizeof odd - 1)];
            break;
        case 2:
            length = at;
            break;
        case 3:
            memmove(bytes + at, bytes + at + count, length - at - count);
            length -= count;
            break;
        default:
            if (length + count > FILE_MAX)
                break;
            memmove(bytes + at + count, bytes + at, length - at);
            length += count;
        }
    }
    return length;
}

static void spoil_folder(const char *from) {
    static unsigned char whole[FILE_MAX], spoilt[FILE_MAX];
    DIR *files = opendir(from);
    uint64_t seed = 42;
    assert_non_null(files);
    for (struct dirent *entry; (entry = readdir(files)) != NULL;) {
        char path[1024];
        snprintf(path, sizeof path, "%s/%s", from, entry->d_name);
        FILE *file = fopen(path, "rb");
        size_t length = file != NULL && entry->d_name[0] != '.' ? fread(whole, 1, sizeof whole, file) : 0;
        if (file != NULL)
            fclose(file);
        for (int i = 0; i < ROUNDS && length > 0 && strstr(entry->d_name, ".json") == NULL; i++) {
            memcpy(spoilt, whole, length);
            size_t left = spoil(spoilt, length, &seed);
            check_sound(write_file(strstr(entry->d_name, ".wav") != NULL ? "x.wav" : "x.csv", spoilt, left));
        }
    }
    closedir(files);
}

static void test_spoilt_files(void **state) {
    (void)state;
    spoil_folder(GAINWALK_TESTS "/capture/data");
    spoil_folder(GAINWALK_TESTS "/capture/own");
}

static void test_noise(void **state) {
    (void)state;
    static unsigned char bytes[FILE_MAX];
    static const char printable[] = "0123456789.,;- \n\r\t\"eEmVus:#=abcxyz";
    uint64_t seed = 4;
    for (int round = 0; round < 60; round++) {
        size_t length = 1 + next_random(&seed) % 4000;
        for (size_t i = 0; i < length; i++)
            bytes[i] = round % 2 ? (unsigned char)printable[next_random(&seed) % (sizeof printable - 1)]
                                 : (unsigned char)next_random(&seed);
        check_sound(write_file("noise.csv", bytes, length));
    }
}

/* Every prefix of a file. */
static void test_cut_anywhere(void **state) {
    (void)state;
    static const char text[] =
        "Rate: 1000 Hz\nT (ms),U (mV),I\n0.0,1.50,2e-3\n1.0,1.25,3e-3\n2.0,1.125,4e-3\n3.0,\xe2\x88\x9e,5e-3\n";
    for (size_t length = 1; length < sizeof text; length++)
        check_sound(write_file("cut.csv", text, length));
}

/* A last line that is cut never yields a sample that the whole file does not have. */
static void test_cut_last_line(void **state) {
    (void)state;
    static const char head[] = "T,U\n0.000,1.25\n0.001,2.50\n0.002,3.75\n", last[] = "0.003,4.50";
    char text[128];
    for (size_t length = 1; length < sizeof last; length++) {
        snprintf(text, sizeof text, "%s%.*s", head, (int)length, last);
        gw_capture *capture = NULL;
        gw_error error = {0};
        if (!gw_capture_read(write_file("last.csv", text, strlen(text)), NULL, &capture, &error))
            fail_msg("%s", error.text);
        bool whole = length + 1 == sizeof last;
        assert_int_equal(capture->samples, whole ? 4 : 3);
        assert_int_equal(capture->remarks.count > 1, !whole);
        gw_capture_free(capture);
    }
}

static char *repeat(const char *text, size_t count, size_t *length) {
    size_t one = strlen(text);
    char *all = malloc(one * count + 1);
    assert_non_null(all);
    for (size_t i = 0; i < count; i++)
        memcpy(all + i * one, text, one);
    all[one * count] = '\0';
    *length = one * count;
    return all;
}

static void test_large_shapes(void **state) {
    (void)state;
    static const struct {
        const char *text;
        size_t count;
    } shapes[] = {{"1,", 2000000},      {"1,2,3,4,5,6,7,8,", 200000},
                  {"\"", 1000000},      {",", 1000000},
                  {"\n", 1000000},      {"9", 1000000},
                  {"1\n", 300000},      {"a", 3000000},
                  {"1,2\n1\n", 100000}, {"#", 500000},
                  {"k=1\n", 50000},     {"-", 100000},
                  {"\r", 100000},       {"1 ", 500000}};
    for (size_t i = 0; i < sizeof shapes / sizeof *shapes; i++) {
        size_t length;
        char *text = repeat(shapes[i].text, shapes[i].count, &length);
        check_sound(write_file("large.csv", text, length));
        free(text);
    }
}

/* Many rows of more columns than are read. */
static void test_too_wide(void **state) {
    (void)state;
    size_t length;
    char *row = repeat("1.5,", 3000, &length);
    row[length - 1] = '\n';
    size_t all;
    char *text = repeat(row, 5, &all);
    check_refused(write_file("wide.csv", text, all), "columns");
    free(text);
    free(row);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_no_files),     cmocka_unit_test(test_spoilt_files),  cmocka_unit_test(test_noise),
        cmocka_unit_test(test_cut_anywhere), cmocka_unit_test(test_cut_last_line), cmocka_unit_test(test_large_shapes),
        cmocka_unit_test(test_too_wide),
    };
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
