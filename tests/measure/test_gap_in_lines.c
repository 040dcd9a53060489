/* Signals of many lines that are gone for a part of a short record. */
#include "measure/measured.h"

enum { N = 2500 };

/* A fundamental with strong second and third harmonics. */
static double three_lines(double turn) {
    return sin(two_pi * turn) + 0.6 * sin(2 * two_pi * turn + 1) + 0.4 * sin(3 * two_pi * turn + 2);
}

static double square(double turn) {
    return turn - floor(turn) < 0.5 ? 1 : -1;
}

/* A signal of many lines that is gone for two of some ten periods: it has its own frequency and level (Parseval; that
 * of a square wave of 1 V) and a gap, and is no comb of long periods with the gap in it. */
static void test_gap_in_many_lines(void **state) {
    (void)state;
    const double levels[] = {sqrt((1 + 0.36 + 0.16) / 2), 1};
    uint64_t random = 74;
    double *v = new_volts(N);
    for (int t = 0; t < 8; t++) {
        double cycles = 10.2 + 0.1 * t, phase = 0.11 * t, hz = cycles * 250e3 / N;
        for (size_t i = 0; i < N; i++) {
            double turn = cycles * (double)i / N;
            v[i] = turn > 5.3 && turn < 7.3 ? 0 : t % 2 ? square(turn + phase) : three_lines(turn + phase);
        }
        add_noise(v, N, 0.0035, &random);
        gw_measure_options options = {.stimulus = {.shape = t / 2 % 2 ? GW_SHAPE_PERIODIC : GW_SHAPE_UNKNOWN}};
        gw_readings *r = measured_with(v, N, 250e3, 0, &options);
        assert_int_equal(r->signal, GW_SIGNAL_PERIODIC);
        assert_close(value_of(r, GW_FREQUENCY), hz, 1e-3 * hz);
        assert_close(value_of(r, GW_LEVEL), levels[t % 2], 0.01 * levels[t % 2]);
        assert_close(value_of(r, GW_DROPOUTS), 1, 0);
        gw_readings_free(r);
    }
    free(v);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_gap_in_many_lines),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
