/* Text of two and four bytes a character as UTF-8 in a file of its own: also where a character lies across two of the
 * parts that are converted at a time, and where bytes make no sense. Expected bytes: RFC 3629, RFC 2781. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "capture/wide.h"

enum { CHARACTERS = 50001, PLACE_MAX = 64 };

/* U+1D11E, a clef: a pair of surrogates in UTF-16. */
static const unsigned char clef_16[] = {0x34, 0xD8, 0x1E, 0xDD}, clef_32[] = {0x1E, 0xD1, 0x01, 0x00};
static const char clef_8[] = "\xF0\x9D\x84\x9E";

static void put_newline(FILE *out, size_t unit) {
    for (size_t i = 0; i < unit; i++)
        fputc(i == 0 ? '\n' : 0, out);
}

static void convert(const char *encoding, size_t unit, size_t mark, const unsigned char *one, const char *form) {
    char path[PLACE_MAX] = "/tmp/gainwalk-wide-XXXXXX";
    int file = mkstemp(path);
    FILE *out = fdopen(file, "wb");
    assert_non_null(out);
    for (size_t i = 0; i < mark; i++)
        fputc('x', out);
    put_newline(out, unit); /* what follows lies across two parts */
    for (size_t i = 0; i < CHARACTERS; i++)
        fwrite(one, 1, 4, out);
    put_newline(out, unit);
    fputc('y', out); /* no whole character: left out */
    assert_int_equal(fclose(out), 0);
    gw_input from, to;
    gw_error error = {0};
    assert_true(gw_input_open(&from, path, &error));
    assert_true(gw_wide_keep(&from, encoding, mark, unit, &to, &error));
    size_t length = strlen(form), whole = CHARACTERS * length + 2;
    assert_int_equal(to.size, whole);
    char *found = malloc(whole);
    assert_non_null(found);
    assert_int_equal(gw_input_read(&to, 0, found, whole), whole);
    for (size_t i = 0; i < CHARACTERS; i++)
        assert_memory_equal(found + 1 + i * length, form, length);
    assert_int_equal(found[0], '\n');
    assert_int_equal(found[whole - 1], '\n');
    free(found);
    gw_input_close(&from);
    gw_input_close(&to);
    unlink(path);
}

static void test_characters(void **state) {
    (void)state;
    for (size_t mark = 0; mark <= 4; mark += 2)
        convert("UTF-16LE", 2, mark, clef_16, clef_8);
    convert("UTF-32LE", 4, 4, clef_32, clef_8);
}

/* Two low surrogates, and a number beyond all characters. */
static void test_nonsense(void **state) {
    (void)state;
    static const unsigned char low[] = {0x1E, 0xDD, 0x1E, 0xDD}, beyond[] = {0, 0, 0xFF, 0};
    convert("UTF-16LE", 2, 2, low, "??");
    convert("UTF-32LE", 4, 4, beyond, "?");
}

static void test_no_folder(void **state) {
    (void)state;
    gw_input from = {.path = "a", .descriptor = -1, .size = 2}, to;
    gw_error error = {0};
    setenv("TMPDIR", "/nowhere/at/all", 1);
    assert_true(gw_wide_keep(&from, "UTF-16LE", 0, 2, &to, &error));
    assert_int_equal(to.descriptor, -1);
    unsetenv("TMPDIR");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_characters),
        cmocka_unit_test(test_nonsense),
        cmocka_unit_test(test_no_folder),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
