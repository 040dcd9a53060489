/* Factors of tolerance intervals against published tables, and against what they promise. */
#include "assert_close.h"

#include "gainwalk/record.h"

typedef struct row {
    size_t count;
    double k;
} row;

/* ISO 16269-6:2014, annex E, two-sided, 95 % of the population with 95 % confidence, mean and deviation unknown (values
 * from memory). */
static const row two_sided_95[] = {{2, 36.519}, {3, 9.789}, {4, 6.341}, {5, 5.077},
                                   {6, 4.422},  {8, 3.746}, {10, 3.393}};

/* ISO 16269-6:2014, annex D, one-sided; Owen 1963 gives the same (values from memory). */
static const row one_sided_95[] = {{2, 26.260}, {3, 7.656}, {4, 5.144}, {5, 4.203}, {10, 2.911}, {20, 2.396}};
static const row one_sided_99[] = {{2, 37.094}, {3, 10.553}, {4, 7.042}, {5, 5.741}, {10, 3.981}};

static void check(const row *rows, size_t count, double content, bool two_sided) {
    for (size_t i = 0; i < count; i++) {
        double k = gw_tolerance_factor(rows[i].count, content, 0.95, two_sided);
        assert_close(k, rows[i].k, 0.01 * rows[i].k);   /* a hundredth of a tolerance is no matter */
        assert_close(k, rows[i].k, 1.5e-4 * rows[i].k); /* the tables' own rounding */
    }
}

static void test_published(void **state) {
    (void)state;
    check(two_sided_95, sizeof two_sided_95 / sizeof *two_sided_95, 0.95, true);
    check(one_sided_95, sizeof one_sided_95 / sizeof *one_sided_95, 0.95, false);
    check(one_sided_99, sizeof one_sided_99 / sizeof *one_sided_99, 0.99, false);
}

static void test_limits(void **state) {
    (void)state;
    assert_close(gw_tolerance_factor(0, 0.99, 0.95, true), 0, 0);
    assert_close(gw_tolerance_factor(1, 0.99, 0.95, false), 0, 0);
    /* many samples: the normal distribution's own quantiles, 2.5758 and 2.3263 (tables of the normal distribution); the
     * first-order excess is z sqrt(2)/2 1.645/sqrt(n) */
    assert_close(gw_tolerance_factor(100000, 0.99, 0.95, true), 2.5758, 0.012);
    assert_close(gw_tolerance_factor(100000, 0.99, 0.95, false), 2.3263, 0.012);
}

/* What the factor promises: of many samples of four, 95 % have limits that hold at least 99 %. */
static void test_promise(void **state) {
    (void)state;
    enum { TRIALS = 20000, COUNT = 4 };
    double k = gw_tolerance_factor(COUNT, 0.99, 0.95, true), k1 = gw_tolerance_factor(COUNT, 0.99, 0.95, false);
    int held = 0, held_below = 0;
    for (uint64_t t = 0; t < TRIALS; t++) {
        double x[COUNT], mean = 0, square = 0;
        for (uint64_t i = 0; i < COUNT; i++) {
            double u = gw_random_uniform(11, 2 * (COUNT * t + i)), v = gw_random_uniform(11, 2 * (COUNT * t + i) + 1);
            x[i] = sqrt(-2 * log(1 - u)) * cos(6.283185307179586 * v);
            mean += x[i] / COUNT;
        }
        for (int i = 0; i < COUNT; i++)
            square += (x[i] - mean) * (x[i] - mean);
        double s = sqrt(square / (COUNT - 1));
        held += 0.5 * (erf((mean + k * s) / sqrt(2)) - erf((mean - k * s) / sqrt(2))) >= 0.99;
        held_below += 0.5 * (1 + erf((mean + k1 * s) / sqrt(2))) >= 0.99;
    }
    /* standard error of the share: 0.0015 */
    assert_close((double)held / TRIALS, 0.95, 0.006);
    assert_close((double)held_below / TRIALS, 0.95, 0.006);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_published),
        cmocka_unit_test(test_limits),
        cmocka_unit_test(test_promise),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
