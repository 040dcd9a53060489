/* Errors, arenas, text, words. */
#include "assert_close.h"

#include "gainwalk/base.h"

#include <stdlib.h>
#include <string.h>

static void first_error_wins(void **state) {
    (void)state;
    gw_error error = {0};
    char text[900];
    assert_false(gw_error_set(&error, "chain.ini", 12, "unknown key '%s'", "gian"));
    assert_false(gw_error_set(&error, "other.ini", 1, "later"));
    assert_string_equal(gw_error_print(&error, text, sizeof text), "chain.ini:12: unknown key 'gian'");
    assert_false(gw_error_set(NULL, "x", 1, "nobody listens"));
    gw_error_clear(&error);
    assert_string_equal(gw_error_print(&error, text, sizeof text), "");
    gw_error_set(&error, NULL, 0, "out of paper");
    assert_string_equal(gw_error_print(&error, text, sizeof text), "out of paper");
}

static void long_errors_are_cut_at_a_whole_character(void **state) {
    (void)state;
    for (size_t shift = 0; shift < 4; shift++) {
        gw_error error = {0};
        char big[2000];
        memset(big, 'x', shift);
        for (size_t i = shift; i + 3 < sizeof big; i += 3)
            memcpy(big + i, "\xE2\x82\xAC", 4);
        gw_error_set(&error, big, 0, "%s", big);
        size_t length = strlen(error.text);
        assert_true(length < sizeof error.text);
        assert_int_equal((length - shift) % 3, 0);
        assert_int_equal((strlen(error.file) - shift) % 3, 0);
    }
}

static void arena_gives_zeroed_aligned_memory(void **state) {
    (void)state;
    gw_arena *arena = gw_arena_new();
    for (size_t size = 0; size < 10000; size = size * 2 + 1) {
        unsigned char *bytes = gw_arena_take(arena, size);
        assert_non_null(bytes);
        assert_int_equal((uintptr_t)bytes % _Alignof(max_align_t), 0);
        for (size_t i = 0; i < size; i++) {
            assert_int_equal(bytes[i], 0);
            bytes[i] = 0xAA;
        }
    }
    assert_null(gw_arena_array(arena, SIZE_MAX / 2, 4));
    assert_string_equal(gw_arena_printf(arena, "%d of %s", 3, "many"), "3 of many");
    assert_null(gw_arena_string(arena, NULL));
    gw_arena_free(arena);
    gw_arena_free(NULL);
}

static void text_and_strings_grow(void **state) {
    (void)state;
    gw_text text = {0};
    assert_string_equal(gw_text_string(&text), "");
    for (int i = 0; i < 1000; i++)
        gw_text_printf(&text, "%d,", i);
    assert_false(text.failed);
    assert_int_equal(text.length, 10 * 2 + 90 * 3 + 900 * 4);
    gw_text_free(&text);
    gw_strings list = {0};
    for (int i = 0; i < 100; i++)
        assert_true(gw_strings_printf(&list, "item %d", i));
    assert_int_equal(list.count, 100);
    assert_string_equal(list.items[99], "item 99");
    gw_strings_free(&list);
    gw_strings_free(NULL);
}

static void nearest_word_is_a_slip_or_nothing(void **state) {
    (void)state;
    const char *const known[] = {"gain", "dc", "thd", "channel", "capture", "coupling", NULL};
    assert_string_equal(gw_word_nearest("gian", known), "gain");
    assert_string_equal(gw_word_nearest("Chanel", known), "channel");
    assert_string_equal(gw_word_nearest("captrue", known), "capture");
    assert_null(gw_word_nearest("zebra", known));
    assert_null(gw_word_nearest("", known + 3));
    assert_true(gw_word_equal("CouPling", "coupling"));
    assert_false(gw_word_equal("coupling", "couplin"));
}

/* A part that memory was out for makes what it went into fail, and nothing mends that. */
static void a_part_that_failed_fails_the_whole(void **state) {
    (void)state;
    gw_text out = {0}, part = {0};
    gw_text_add(&part, "x");
    gw_text_part_free(&out, &part);
    assert_false(out.failed);
    assert_null(part.data);
    part.failed = true;
    gw_text_part_free(&out, &part);
    assert_true(out.failed);
    assert_false(part.failed);
    gw_text_part_free(&out, &part);
    assert_true(out.failed);
    gw_text_free(&out);
}

/* An arena knows that it could not give what was asked, by size and by count. */
static void an_arena_knows_that_it_failed(void **state) {
    (void)state;
    for (int way = 0; way < 2; way++) {
        gw_arena *arena = gw_arena_new();
        assert_non_null(gw_arena_take(arena, 100));
        assert_false(gw_arena_failed(arena));
        assert_null(way ? gw_arena_array(arena, SIZE_MAX / 2, 3) : gw_arena_take(arena, SIZE_MAX));
        assert_true(gw_arena_failed(arena));
        gw_arena_free(arena);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_part_that_failed_fails_the_whole),
        cmocka_unit_test(an_arena_knows_that_it_failed),
        cmocka_unit_test(first_error_wins),
        cmocka_unit_test(long_errors_are_cut_at_a_whole_character),
        cmocka_unit_test(arena_gives_zeroed_aligned_memory),
        cmocka_unit_test(text_and_strings_grow),
        cmocka_unit_test(nearest_word_is_a_slip_or_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
