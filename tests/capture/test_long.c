/* Long text captures: read through a window into files, the same as if all of it were in memory, in little memory. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>

#include "assert_close.h"
#include "capture/room.h"
#include "gainwalk/capture.h"
#include "scratch.h"

/* 600,000 rows are some 13 MB of text: a dozen windows, and tables beyond what is kept in memory. */
enum { ROWS = 600000, BLOCK = 50000, MEMORY_MB = 24 };

/* Where a line is cut within this figure, what is left of it still looks like a time. */
enum { START_S = 12345 };

/* Whole millivolts, so that k / 1000.0 is the double nearest to what is printed. */
static int millivolts(size_t row, int channel) {
    return (int)((row * (channel ? 7919U : 104729U)) % 4001U) - 2000;
}

typedef struct text {
    const char *name;
    const char *end_of_line;
    size_t hole_at;   /* a row whose second channel is empty; 0 none */
    size_t odd_every; /* every so many rows one is written otherwise: digits more than any, blanks; 0 never */
    size_t gap_at;    /* a row from which on time is a second later; 0 none */
    size_t note_at;   /* before this row there is a line of text; 0 none */
    size_t note_size; /* of so many letters */
    const char *tail; /* what stands behind the last row */
    size_t zeros;     /* zero bytes behind that */
    bool wide;        /* every character in two bytes (UTF-16LE with its mark) */
} text;

static void put(FILE *file, const text *t, const char *line) {
    for (; *line != '\0'; line++) {
        fputc(*line, file);
        if (t->wide)
            fputc(0, file);
    }
}

static const char *write_text(const text *t) {
    const char *path = path_in(t->name);
    char line[96];
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    if (t->wide)
        assert_int_equal(fwrite("\xFF\xFE", 1, 2, file), 2);
    put(file, t, "Time,IN,OUT\ns,V,V\n");
    for (size_t i = 0; i < ROWS; i++) {
        if (t->note_at > 0 && i == t->note_at)
            for (size_t k = 0; k <= t->note_size; k++)
                put(file, t, k < t->note_size ? "x" : t->end_of_line);
        size_t micros = i + (t->gap_at > 0 && i >= t->gap_at ? 1000000 : 0);
        int length = snprintf(line, sizeof line, "%zu.%06zu,%.3f,", START_S + micros / 1000000, micros % 1000000,
                              millivolts(i, 0) / 1000.0);
        if (!(t->hole_at > 0 && i == t->hole_at))
            snprintf(line + length, sizeof line - (size_t)length, "%.3f", millivolts(i, 1) / 1000.0);
        put(file, t, line);
        if (t->odd_every > 0 && i % t->odd_every == t->odd_every - 1)
            put(file, t, i / t->odd_every % 2 ? "00000" : "  ");
        put(file, t, t->end_of_line);
    }
    put(file, t, t->tail != NULL ? t->tail : "");
    for (size_t k = 0; k < t->zeros; k++)
        fputc(0, file);
    assert_int_equal(fclose(file), 0);
    return path;
}

static gw_capture *read_by(const char *path, int jobs) {
    gw_capture_options options = {.jobs = jobs};
    gw_capture *capture = NULL;
    gw_error error = {0};
    if (!gw_capture_read(path, &options, &capture, &error))
        fail_msg("%s", error.text);
    return capture;
}

/* By three threads, which must tell what one tells; samples are checked by the caller. */
static gw_capture *read_right(const char *path) {
    gw_capture *one = read_by(path, 1), *many = read_by(path, 3);
    assert_close(many->rate_hz, one->rate_hz, 0);
    assert_close(many->start_s, one->start_s, 0);
    assert_int_equal(many->samples, one->samples);
    assert_int_equal(many->remarks.count, one->remarks.count);
    for (size_t i = 0; i < one->remarks.count; i++)
        assert_string_equal(many->remarks.items[i], one->remarks.items[i]);
    assert_int_equal(many->channel_count, one->channel_count);
    for (size_t c = 0; c < one->channel_count; c++) {
        assert_close(many->channels[c].min, one->channels[c].min, 0);
        assert_close(many->channels[c].max, one->channels[c].max, 0);
        assert_close(many->channels[c].step, one->channels[c].step, 0);
        assert_int_equal(many->channels[c].missing, one->channels[c].missing);
    }
    gw_capture_free(one);
    return many;
}

/* Rows `first` to `first + samples` of the text, every sample of them. */
static void check_samples(const gw_capture *capture, size_t first, size_t samples, size_t hole) {
    double *values = malloc(BLOCK * sizeof *values);
    unsigned char *marks = malloc(BLOCK);
    gw_error error = {0};
    size_t wrong = 0;
    assert_non_null(values);
    assert_non_null(marks);
    assert_int_equal(capture->samples, samples);
    assert_int_equal(capture->channel_count, 2);
    for (size_t c = 0; c < 2; c++)
        for (size_t at = 0; at < samples; at += BLOCK) {
            size_t count = samples - at < BLOCK ? samples - at : BLOCK;
            assert_true(gw_capture_fetch(capture, c, at, count, values, marks, &error));
            for (size_t i = 0; i < count; i++) {
                bool missing = c == 1 && hole > 0 && first + at + i == hole;
                double right = missing ? 0 : millivolts(first + at + i, (int)c) / 1000.0;
                wrong += memcmp(&values[i], &right, sizeof right) != 0 && !(values[i] == 0 && right == 0);
                wrong += marks[i] != (missing ? GW_SAMPLE_MISSING : GW_SAMPLE_PRESENT);
            }
        }
    assert_int_equal(wrong, 0);
    free(values);
    free(marks);
}

static bool has_remark(const gw_capture *capture, const char *word) {
    for (size_t i = 0; i < capture->remarks.count; i++)
        if (strstr(capture->remarks.items[i], word) != NULL)
            return true;
    return false;
}

static long peak_kb(void) {
    struct rusage usage;
    assert_int_equal(getrusage(RUSAGE_SELF, &usage), 0);
    return usage.ru_maxrss;
}

/* Comes first: the peak never falls again. A sanitizer holds back what was freed: there memory has no bound. */
static void test_little_memory(void **state) {
    (void)state;
    const char *path = write_text(&(text){.name = "plain.csv", .end_of_line = "\n"});
    long before = peak_kb();
    gw_capture *capture = read_right(path);
    check_samples(capture, 0, ROWS, 0);
    gw_capture_free(capture);
    long grown = peak_kb() - before;
    if (grown > MEMORY_MB * 1024L / 2 &&
        getenv("GAINWALK_SANITIZED") == NULL) /* columns alone are 14 MB, the text is 13 MB */
        fail_msg("%ld KB of memory", grown);
}

static void test_what_is_told(void **state) {
    (void)state;
    gw_capture *capture = read_right(path_in("plain.csv"));
    assert_close(capture->rate_hz, 1e6, 1e-6);
    assert_int_equal(capture->remarks.count, 0);
    assert_string_equal(capture->channels[1].name, "OUT");
    for (size_t c = 0; c < 2; c++) {
        assert_close(capture->channels[c].min, -2, 0);
        assert_close(capture->channels[c].max, 2, 0);
        assert_close(capture->channels[c].step, 0.001, 1e-9);
        assert_close(capture->channels[c].first[1], millivolts(1, (int)c) / 1000.0, 0);
    }
    gw_capture_free(capture);
}

/* A pass less, where nobody asks for the ranges; all else is told, a hole too. */
static void test_without_ranges(void **state) {
    (void)state;
    const char *path = write_text(&(text){.name = "holed.csv", .end_of_line = "\n", .hole_at = 270000});
    gw_capture_options options = {.no_ranges = true};
    gw_capture *with = read_right(path), *without = NULL;
    gw_error error = {0};
    assert_true(gw_capture_read(path, &options, &without, &error));
    for (size_t c = 0; c < 2; c++) {
        const gw_channel *a = &with->channels[c], *b = &without->channels[c];
        assert_true(a->has_range);
        assert_false(b->has_range || b->min != 0 || b->max != 0);
        assert_close(b->step, a->step, 0);
        assert_int_equal(b->missing, c);
        assert_int_equal(b->first_count, a->first_count);
        assert_memory_equal(b->first, a->first, sizeof a->first);
    }
    check_samples(without, 0, ROWS, 270000);
    gw_capture_free(with);
    gw_capture_free(without);
}

/* Whatever the lines end in, and where a window's end falls in them. */
static void test_ends_of_lines(void **state) {
    (void)state;
    static const char *const ends[] = {"\r\n", "\r", "\r\r\n", "\n\n"};
    for (size_t i = 0; i < sizeof ends / sizeof *ends; i++) {
        gw_capture *capture = read_right(write_text(&(text){.name = "ends.csv", .end_of_line = ends[i]}));
        check_samples(capture, 0, ROWS, 0);
        gw_capture_free(capture);
    }
}

/* The other way through: text that must be converted is in memory as a whole. */
static void test_same_as_in_memory(void **state) {
    (void)state;
    gw_capture *wide = read_right(write_text(&(text){.name = "wide.csv", .end_of_line = "\n", .wide = true}));
    gw_capture *plain = read_right(path_in("plain.csv"));
    check_samples(wide, 0, ROWS, 0);
    assert_close(wide->rate_hz, plain->rate_hz, 0);
    for (size_t c = 0; c < 2; c++) {
        assert_close(wide->channels[c].step, plain->channels[c].step, 0);
        assert_string_equal(wide->channels[c].unit, plain->channels[c].unit);
    }
    gw_capture_free(wide);
    gw_capture_free(plain);
}

/* Rows that are not as those before them, here and there. */
static void test_odd_rows(void **state) {
    (void)state;
    static const size_t every[] = {1, 977, 70001, 299999};
    for (size_t i = 0; i < sizeof every / sizeof *every; i++) {
        gw_capture *capture =
            read_right(write_text(&(text){.name = "odd.csv", .end_of_line = "\n", .odd_every = every[i]}));
        check_samples(capture, 0, ROWS, 0);
        gw_capture_free(capture);
    }
}

static void test_hole_and_gap(void **state) {
    (void)state;
    enum { HOLE = ROWS - 1234, GAP = 250001 };
    gw_capture *capture =
        read_right(write_text(&(text){.name = "hole.csv", .end_of_line = "\n", .hole_at = HOLE, .gap_at = GAP}));
    check_samples(capture, GAP, ROWS - GAP, HOLE);
    assert_int_equal(capture->channels[1].missing, 1);
    assert_true(has_remark(capture, "segments"));
    gw_capture_free(capture);
}

/* A line of text ends the block, however long it is: more than a window and a half of letters. */
static void test_text_between(void **state) {
    (void)state;
    enum { NOTE = 400000 };
    gw_capture *capture =
        read_right(write_text(&(text){.name = "note.csv", .end_of_line = "\n", .note_at = NOTE, .note_size = 1700000}));
    check_samples(capture, 0, NOTE, 0);
    assert_true(has_remark(capture, "2 blocks"));
    gw_capture_free(capture);
}

static void test_ends_of_files(void **state) {
    (void)state;
    gw_capture *capture =
        read_right(write_text(&(text){.name = "half.csv", .end_of_line = "\n", .tail = "12345.600000,0.1"}));
    check_samples(capture, 0, ROWS, 0);
    assert_true(has_remark(capture, "cut off"));
    gw_capture_free(capture);
    capture = read_right(
        write_text(&(text){.name = "zeros.csv", .end_of_line = "\n", .tail = "12345.600000,0.1", .zeros = 200000}));
    check_samples(capture, 0, ROWS, 0);
    assert_true(has_remark(capture, "200000 zero bytes, cut with the half line"));
    gw_capture_free(capture);
}

static void test_no_text(void **state) {
    (void)state;
    gw_error error = {0};
    gw_capture *capture = NULL;
    const char *path = write_text(&(text){.name = "binary.csv", .end_of_line = "\n"});
    FILE *file = fopen(path, "r+b");
    assert_non_null(file);
    assert_int_equal(fseek(file, 9000000, SEEK_SET), 0);
    fputc(0, file);
    assert_int_equal(fclose(file), 0);
    assert_false(gw_capture_read(path, NULL, &capture, &error));
    assert_non_null(strstr(error.text, "binary"));
    assert_null(capture);
}

/* Where files of its own can't be made, memory serves. */
static void test_no_temporary_folder(void **state) {
    (void)state;
    assert_int_equal(setenv("TMPDIR", "/nowhere/at/all", 1), 0);
    gw_capture *capture = read_right(path_in("plain.csv"));
    check_samples(capture, 0, ROWS, 0);
    gw_capture_free(capture);
    assert_int_equal(unsetenv("TMPDIR"), 0);
}

/* Files of this process end here, as on a full disk: setrlimit's limit, told by EFBIG where its signal is ignored. */
static void limit_files(rlim_t bytes) {
    struct rlimit limit;
    assert_int_equal(getrlimit(RLIMIT_FSIZE, &limit), 0);
    limit.rlim_cur = bytes;
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &limit), 0);
}

/* What could not be kept is no fault of the text: the reason is told that the system gave, wherever it stopped. */
static void test_full_temporary_folder(void **state) {
    (void)state;
    const char *path = path_in("plain.csv");
    static const rlim_t limits[] = {100, 50000, 500000};
    for (size_t i = 0; i < sizeof limits / sizeof limits[0]; i++) {
        gw_error error = {0};
        gw_capture *capture = NULL;
        limit_files(limits[i]);
        bool right = gw_capture_read(path, NULL, &capture, &error);
        limit_files(RLIM_INFINITY);
        assert_false(right);
        assert_null(capture);
        assert_string_equal(error.text, "cannot keep what was read in the folder for temporary files: File too large");
    }
}

/* A room in a file that can't become longer goes on in memory. */
static void test_room_that_outgrows_its_folder(void **state) {
    (void)state;
    size_t old = 1000000, size = 9000000;
    unsigned char *room = gw_room_grow(NULL, 0, old, true), *grown;
    assert_non_null(room);
    memset(room, 7, old);
    limit_files(2000000);
    grown = gw_room_grow(room, old, size, true);
    limit_files(RLIM_INFINITY);
    assert_non_null(grown);
    for (size_t i = 0; i < old; i++)
        assert_int_equal(grown[i], 7);
    memset(grown, 8, size);
    gw_room_free(grown);
}

int main(void) {
    signal(SIGXFSZ, SIG_IGN);
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_little_memory),
        cmocka_unit_test(test_what_is_told),
        cmocka_unit_test(test_without_ranges),
        cmocka_unit_test(test_ends_of_lines),
        cmocka_unit_test(test_same_as_in_memory),
        cmocka_unit_test(test_odd_rows),
        cmocka_unit_test(test_hole_and_gap),
        cmocka_unit_test(test_text_between),
        cmocka_unit_test(test_ends_of_files),
        cmocka_unit_test(test_no_text),
        cmocka_unit_test(test_no_temporary_folder),
        cmocka_unit_test(test_full_temporary_folder),
        cmocka_unit_test(test_room_that_outgrows_its_folder),
    };
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
