/* The fewest digits of a double, by whole numbers of 128 bits: what the C library's printf and strtod find by trying.
 */
#include "assert_close.h"
#include "base/shortest.h"
#include "trials.h"

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static uint64_t random_state = 11;

/* A linear congruential generator's high bits (Knuth, 3.3.4, line 26). */
static uint64_t random_bits(void) {
    uint64_t out = 0;
    for (int k = 0; k < 2; k++) {
        random_state = random_state * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
        out = out << 32 | random_state >> 32;
    }
    return out;
}

static bool check(double value) {
    char expected[40], told[40] = "untouched";
    if (!gw_shortest_print(value, told))
        return false;
    for (int digits = 15; digits <= 17; digits++) {
        snprintf(expected, sizeof expected, "%.*g", digits, value);
        if (strtod(expected, NULL) == value)
            break;
    }
    assert_string_equal(told, expected);
    return true;
}

/* Doubles of any bits in the range that it takes: it settles nearly all of them. */
static void test_any_double(void **unused) {
    (void)unused;
    int settled = 0, all = trials_of(300000);
    for (int k = 0; k < all; k++) {
        double unit = 1 + (double)(random_bits() >> 12) * 0x1p-52;
        int power = (int)(random_bits() % 85) - 36; /* 1.5e-11 to 5.6e14 */
        double value = ldexp(unit, power) * (random_bits() & 1 ? -1 : 1);
        settled += check(value);
    }
    assert_true(settled > all - all / 1000);
}

/* Decimal numbers as instruments print them, and their neighbours among the doubles. */
static void test_decimals(void **unused) {
    (void)unused;
    int settled = 0, all = trials_of(100000);
    for (int k = 0; k < all; k++) {
        char text[40];
        uint64_t limit = UINT64_C(1) << (random_bits() % 57);
        snprintf(text, sizeof text, "%llue%d", (unsigned long long)(random_bits() % limit) + 1,
                 (int)(random_bits() % 27) - 25);
        double value = strtod(text, NULL);
        settled += check(value);
        check(nextafter(value, 0));
        check(nextafter(value, HUGE_VAL));
    }
    assert_true(settled > all / 2); /* the others are too large or too small */
}

static void test_edges(void **unused) {
    (void)unused;
    char told[40];
    static const double left[] = {0, -0.0, 1e-12, 1e15, 1e300, 5e-324, 1, 2, 0.25, HUGE_VAL, -HUGE_VAL, NAN};
    for (size_t k = 0; k < sizeof left / sizeof *left; k++)
        assert_false(gw_shortest_print(left[k], told));
    for (int k = -11; k < 15; k++) {
        double value = strtod((snprintf(told, sizeof told, "1e%d", k), told), NULL);
        check(value);
        check(nextafter(value, 0));
        check(nextafter(value, 1e300));
        check(-3 * value);
    }
    assert_true(gw_shortest_print(100.5, told));
    assert_string_equal(told, "100.5");
    assert_true(gw_shortest_print(-0.00012, told));
    assert_string_equal(told, "-0.00012");
    assert_true(gw_shortest_print(1.2e-5, told));
    assert_string_equal(told, "1.2e-05");
    assert_true(gw_shortest_print(1.0 / 3, told));
    assert_string_equal(told, "0.3333333333333333");
    assert_true(gw_shortest_print(48000, told));
    assert_string_equal(told, "48000");
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_any_double), cmocka_unit_test(test_decimals),
                                       cmocka_unit_test(test_edges)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
