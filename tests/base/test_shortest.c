/* Doubles in as few digits as read back the same: against printing with 15, 16 and 17 digits and reading back. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <float.h>
#include <math.h>
#include <string.h>

#include "base/shortest.h"
#include "gainwalk/base.h"
#include "trials.h"

/* splitmix64 (Steele, Lea & Flood 2014). */
static uint64_t random_bits(uint64_t *state) {
    uint64_t z = (*state += 0x9e3779b97f4a7c15u);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
}

static void judge(double value) {
    char plain[GW_SHORTEST_SIZE], quick[GW_SHORTEST_SIZE];
    double back = 0;
    for (int digits = 15; digits <= 17; digits++) {
        gw_number_print(value, digits, plain, sizeof plain);
        if (gw_number_parse(plain, strlen(plain), &back) && back == value)
            break;
    }
    gw_number_shortest(value, quick);
    if (strcmp(plain, quick) != 0) {
        print_error("%.17g: '%s' instead of '%s'\n", value, quick, plain);
        fail();
    }
}

/* A value, its neighbours, and its opposite. */
static void judge_around(double value) {
    judge(value);
    judge(-value);
    judge(nextafter(value, 0));
    judge(nextafter(value, INFINITY));
}

static void numbers_of_any_size(void **state) {
    (void)state;
    uint64_t seed = 1;
    for (int t = trials_of(100000); t > 0; t--) {
        uint64_t bits = random_bits(&seed);
        double value;
        memcpy(&value, &bits, sizeof value);
        if (isfinite(value))
            judge(value);
        judge(ldexp((double)(bits >> 11), -(int)(random_bits(&seed) % 100)));
    }
}

/* Of few digits, as people write them, and sums of such, which are off by a rounding. */
static void numbers_of_few_digits(void **state) {
    (void)state;
    uint64_t seed = 2;
    for (int t = trials_of(50000); t > 0; t--) {
        double power = pow(10, (double)(random_bits(&seed) % 28) - 12);
        double value = (double)(random_bits(&seed) % 100000) * power;
        judge(value);
        judge(value + 0.1);
        judge(0.001 * (double)(random_bits(&seed) % 1000000));
    }
}

static void limits(void **state) {
    (void)state;
    for (int power = -16; power <= 20; power++)
        judge_around(pow(10, power));
    for (int power = -60; power <= 60; power++)
        judge_around(ldexp(1, power));
    static const double values[] = {0,
                                    DBL_MAX,
                                    DBL_MIN,
                                    1e-310,
                                    0.5,
                                    9.9999999999999995,
                                    99999.99999999999,
                                    1e15,
                                    9.5e14,
                                    1e-4,
                                    9.9999999999999999e-5,
                                    123456789012345680.0,
                                    0.1 + 0.2};
    for (size_t k = 0; k < sizeof values / sizeof *values; k++)
        judge_around(values[k]);
    char text[GW_SHORTEST_SIZE];
    gw_number_shortest(0.1, text);
    assert_string_equal(text, "0.1");
    gw_number_shortest(0.1 + 0.2, text);
    assert_string_equal(text, "0.30000000000000004");
    gw_number_shortest(-1234.5e-9, text);
    assert_string_equal(text, "-1.2345e-06");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(numbers_of_any_size),
        cmocka_unit_test(numbers_of_few_digits),
        cmocka_unit_test(limits),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
