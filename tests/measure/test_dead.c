/* Stretches where next to nothing moves: where and how long they are, against where the signal was taken away. */
#include "assert_close.h"
#include "measure/dead.h"
#include "signals.h"

enum { N = 8000, TRIALS = 50 };

/* A sine of many periods, gone twice, for about as long: both are told to a 512th of the record at either end, whatever
 * the rate and the level. */
static void where_a_sine_is_gone(void **state) {
    (void)state;
    uint64_t random = 21;
    double *v = new_volts(N);
    for (int t = 0; t < TRIALS; t++) {
        double rate = 1e3 * pow(1e3, random_even(&random)), peak = 1e-2 * pow(1e4, random_even(&random));
        double cycles = 40 + 60 * random_even(&random), length = N * (0.05 + 0.1 * random_even(&random));
        double starts[] = {N * (0.1 + 0.2 * random_even(&random)), N * (0.5 + 0.3 * random_even(&random))};
        for (size_t i = 0; i < N; i++) {
            bool gone = false;
            for (int k = 0; k < 2; k++)
                gone = gone || ((double)i >= starts[k] && (double)i < starts[k] + length);
            v[i] = peak * (3 + (gone ? 0 : sin(two_pi * cycles * (double)i / N)));
        }
        gw_block block = {.volts = v, .count = N, .rate_hz = rate};
        gw_event found[GW_DEAD_MAX];
        size_t count;
        double near = 2 * N / 512.0;
        assert_true(gw_dead_stretches(&block, found, &count));
        assert_int_equal(count, 2);
        assert_close(gw_dead_error_s(&block) * rate, N / 512.0, 1e-9);
        for (int k = 0; k < 2; k++) {
            assert_close(found[k].start_s * rate, starts[k], near);
            assert_close(found[k].length_s * rate, length, near);
        }
    }
    free(v);
}

/* A whole sine stays within an eighth of its swing for acos(3/4) to either side of a crest: 0.23 periods. */
static void a_whole_sine_is_never_gone_for_long(void **state) {
    (void)state;
    double *v = new_volts(N);
    for (double cycles = 3.3; cycles < 40; cycles *= 1.4) {
        for (size_t i = 0; i < N; i++)
            v[i] = sin(two_pi * cycles * (double)i / N);
        gw_block block = {.volts = v, .count = N, .rate_hz = N};
        gw_event found[GW_DEAD_MAX];
        size_t count;
        assert_true(gw_dead_stretches(&block, found, &count));
        for (size_t k = 0; k < count; k++)
            assert_true(found[k].length_s < 2 * acos(0.75) / two_pi / cycles + 2.0 / 512);
    }
    free(v);
}

/* Two pauses of the same length, at the levels of either rail: the second does not lie where the first does, and the
 * one that the others are held against is the first. */
static void of_two_as_long_the_first_is_meant(void **state) {
    (void)state;
    double *v = new_volts(N);
    static const double levels[] = {1, -1};
    for (size_t i = 0; i < N; i++)
        v[i] = sin(two_pi * 80 * (double)i / N);
    for (size_t k = 0; k < 2; k++)
        for (size_t i = 2000 + 3000 * k; i < 3000 + 3000 * k; i++)
            v[i] = levels[k];
    gw_block block = {.volts = v, .count = N, .rate_hz = N};
    gw_event found[GW_DEAD_MAX];
    size_t count;
    assert_true(gw_dead_stretches(&block, found, &count));
    assert_int_equal(count, 1);
    assert_close(found[0].start_s, 0.25, 2.0 / 512);
    assert_close(found[0].length_s, 0.125, 2.0 / 512);
    free(v);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(where_a_sine_is_gone),
        cmocka_unit_test(a_whole_sine_is_never_gone_for_long),
        cmocka_unit_test(of_two_as_long_the_first_is_meant),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
