/* The set of distinct values, and the step between them: whatever they are multiples of, however many there are. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdlib.h>

#include "assert_close.h"
#include "capture/summary.h"

enum { N = 40000 };

/* `count` values `gap` apart, none left out, in an order that jumps about; `count` and 7919 have no common factor. */
static void fill(double *values, size_t count, double gap) {
    for (size_t i = 0; i < N; i++)
        values[i] = ((double)(i * 7919 % count) - (double)(count / 2)) * gap;
}

static void check_levels(size_t count, double gap, double finer) {
    static double values[N];
    gw_levels levels = {.finer = finer};
    fill(values, count, gap);
    gw_levels_take(&levels, values, NULL, N / 3);
    gw_levels_take(&levels, values + N / 3, NULL, N - N / 3);
    assert_int_equal(levels.count, count);
    assert_false(levels.full || levels.failed);
    assert_close(gw_levels_step(&levels, 0), gap, 1e-9 * gap);
    for (size_t k = 1; k < levels.count; k++)
        assert_true(levels.distinct[k] > levels.distinct[k - 1]);
    gw_levels_free(&levels);
}

/* Values of which many would stand in the same place of the table, and others that stand beside each other; and where
 * what they are multiples of is of no use. */
static void test_every_value_once(void **state) {
    (void)state;
    static const double gaps[] = {1, 80, 4096, 32768, 1e-3, 0.37, 1e12, 1e-12}, finer[] = {1, 0, 1e308, INFINITY, NAN};
    static const size_t counts[] = {2, 3, 225, 256, 3000, 16384};
    for (size_t g = 0; g < sizeof gaps / sizeof *gaps; g++)
        for (size_t c = 0; c < sizeof counts / sizeof *counts; c++)
            for (size_t k = 0; k < sizeof finer / sizeof *finer; k++)
                check_levels(counts[c], gaps[g], finer[k]);
}

static void test_more_than_are_kept(void **state) {
    (void)state;
    static double values[N];
    gw_levels levels = {.finer = 1};
    fill(values, 16385, 1);
    gw_levels_take(&levels, values, NULL, N);
    assert_true(levels.full);
    assert_int_equal(levels.count, 16384);
    gw_levels_take(&levels, values, NULL, N);
    assert_int_equal(levels.count, 16384);
    gw_levels_free(&levels);
}

/* What is marked is no level; nor are both zeros two. */
static void test_what_is_none(void **state) {
    (void)state;
    double values[] = {0, -0.0, 5, 1, 7, NAN};
    unsigned char marks[] = {GW_SAMPLE_PRESENT, GW_SAMPLE_PRESENT,  GW_SAMPLE_OVERLOAD,
                             GW_SAMPLE_PRESENT, GW_SAMPLE_OVERLOAD, GW_SAMPLE_MISSING};
    gw_levels levels = {.finer = 1000};
    for (int times = 0; times < 2; times++)
        gw_levels_take(&levels, values, marks, 6);
    assert_int_equal(levels.count, 2);
    assert_close(gw_levels_step(&levels, 0), 1, 0);
    gw_levels_free(&levels);
    gw_levels none = {.finer = 1};
    gw_levels_take(&none, values, NULL, 0);
    assert_int_equal(none.count, 0);
    assert_close(gw_levels_step(&none, 0), 0, 0);
    gw_levels_free(&none);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_every_value_once),
        cmocka_unit_test(test_more_than_are_kept),
        cmocka_unit_test(test_what_is_none),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
