/* Numbers in and out against the C library in the "C" locale, and the same in a locale with a decimal comma. */
#include "assert_close.h"

#include "gainwalk/base.h"
#include "trials.h"

#include <locale.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static uint64_t next_random(uint64_t *state) {
    /* xorshift64* (Vigna 2016), fixed seed */
    *state ^= *state >> 12;
    *state ^= *state << 25;
    *state ^= *state >> 27;
    return *state * UINT64_C(2685821657736338717);
}

static void same_as_library(const char *text) {
    double got = 0, wanted = strtod(text, NULL);
    if (!isfinite(wanted)) {
        assert_false(gw_number_parse(text, strlen(text), &got));
        return;
    }
    if (!gw_number_parse(text, strlen(text), &got) || memcmp(&got, &wanted, sizeof got) != 0)
        fail_msg("'%s' read as %.17g, expected %.17g", text, got, wanted);
}

static void hard_cases_are_exact(void **state) {
    (void)state;
    const char *const cases[] = {
        "0",
        "-0",
        "+0.0",
        "1",
        "-1.5e3",
        ".5",
        "5.",
        "1e22",
        "1e23",
        "9007199254740993",
        "9007199254740992.5",
        "1.7976931348623157e308",
        "1.7976931348623159e308",
        "2.2250738585072011e-308",
        "4.9406564584124654e-324",
        "2.4703282292062327e-324",
        "1e-400",
        "1e400",
        "0.000000000000000000000000000000000000001e39",
        "123456789012345678901234567890",
        "0.1234567890123456789012345678901234567890",
        "1e0000000000000000001",
        "179769313486231580793728971405301e276",
        "6.62607015e-34",
        "8.5e-45",
        "000000000000000000000000.125",
        "100000000000000000000000000000000000000e-38",
        "0e999999999999",
        "-372.00E-09",
        /* halfway cases: Clinger 1990 and the folklore of strtod testing (from memory) */
        "8.41e+21",
        "9.5367431640625e-07",
        "2.2250738585072012e-308",
        "1.00000000000000011102230246251565",
        "1.00000000000000011102230246251565404236316680908203125",
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++)
        same_as_library(cases[i]);
}

static void random_numbers_are_exact(void **state) {
    (void)state;
    uint64_t seed = 20260101;
    char text[64];
    for (int i = 0; i < trials_of(300000); i++) {
        uint64_t bits = next_random(&seed);
        double value = 0;
        memcpy(&value, &bits, sizeof value);
        if (!isfinite(value))
            continue;
        snprintf(text, sizeof text, "%.*e", (int)(next_random(&seed) % 19), value);
        same_as_library(text);
        snprintf(text, sizeof text, "%.*f", (int)(next_random(&seed) % 12), (double)(int64_t)next_random(&seed) / 1e13);
        same_as_library(text);
    }
}

static void look_alikes_are_refused(void **state) {
    (void)state;
    const char *const cases[] = {"",     "-",   "+",  ".",  "e5",    "1e",  "1e+",  "0x10", "inf",         "nan",
                                 "INFO", "1,5", " 1", "1 ", "1.2.3", "--1", "1e5e", "1d5",  "\xE2\x88\x92"};
    double got = 42;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++)
        if (gw_number_parse(cases[i], strlen(cases[i]), &got))
            fail_msg("'%s' was taken for a number", cases[i]);
    assert_close(got, 42, 0);
    size_t used = 0;
    assert_true(gw_number_prefix("12.5e mV", 8, &got, &used));
    assert_int_equal(used, 4);
    assert_close(got, 12.5, 0);
}

static void printing_is_short_and_round_trips(void **state) {
    (void)state;
    char text[32];
    assert_string_equal(gw_number_print(0.1, 6, text, sizeof text), "0.1");
    assert_string_equal(gw_number_print(-0.0, 6, text, sizeof text), "0");
    assert_string_equal(gw_number_print(123456789e9, 3, text, sizeof text), "1.23e+17");
    assert_string_equal(gw_number_fixed(-0.001, 2, text, sizeof text), "0.00");
    assert_string_equal(gw_number_fixed(2.345678, 3, text, sizeof text), "2.346");
    uint64_t seed = 7;
    for (int i = 0; i < trials_of(20000); i++) {
        uint64_t bits = next_random(&seed);
        double value = 0, back = 0;
        memcpy(&value, &bits, sizeof value);
        if (!isfinite(value) || value == 0)
            continue;
        gw_number_print(value, 17, text, sizeof text);
        assert_true(gw_number_parse(text, strlen(text), &back));
        assert_memory_equal(&back, &value, sizeof value);
    }
}

/* What has more places than digits is written out as people read it; beyond 1e10 it keeps its exponent. */
static void whole_numbers_bear_no_exponent(void **state) {
    (void)state;
    static const struct {
        double value;
        int digits;
        const char *text;
    } cases[] = {{99.7, 2, "100"},          {187, 2, "190"},           {-187, 2, "-190"},
                 {999.6, 3, "1000"},        {1234567, 1, "1000000"},   {8.5e9, 2, "8500000000"},
                 {12e9, 1, "1e+10"},        {1.5e300, 3, "1.5e+300"},  {99.4, 2, "99"},
                 {0.0001234, 2, "0.00012"}, {0.00001234, 2, "1.2e-05"}};
    char text[40];
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
        assert_string_equal(gw_number_print(cases[i].value, cases[i].digits, text, sizeof text), cases[i].text);
}

static void decimal_comma_locale_changes_nothing(void **state) {
    (void)state;
    /* made by the build in the folder that LOCPATH names */
    if (setlocale(LC_ALL, "de_DE.UTF-8") == NULL)
        skip();
    assert_string_equal(localeconv()->decimal_point, ",");
    char text[32];
    double value = 0;
    bool parsed = gw_number_parse("1234567890.12345678901", 22, &value);
    gw_number_print(0.5, 3, text, sizeof text);
    char fixed[32];
    gw_number_fixed(2.5, 2, fixed, sizeof fixed);
    setlocale(LC_ALL, "C");
    assert_true(parsed);
    assert_close(value, 1234567890.1234567, 1e-6);
    assert_string_equal(text, "0.5");
    assert_string_equal(fixed, "2.50");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(hard_cases_are_exact),           cmocka_unit_test(random_numbers_are_exact),
        cmocka_unit_test(look_alikes_are_refused),        cmocka_unit_test(printing_is_short_and_round_trips),
        cmocka_unit_test(whole_numbers_bear_no_exponent), cmocka_unit_test(decimal_comma_locale_changes_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
