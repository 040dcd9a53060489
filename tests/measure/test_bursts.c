/* Bursts of a waveform of many lines that come again and again: their pauses are their own, as long as each burst is
 * like the one before. Expected is what the records are made of. */
#include "measure/measured.h"

enum { N = 2500, ORDERS = 4 };
static const double rate = 250e3;

/* The first orders of a sawtooth (Fourier series). */
static double sawtooth(double turn) {
    double sum = 0;
    for (int order = 1; order <= ORDERS; order++)
        sum += sin(two_pi * order * turn) / order;
    return sum;
}

/* `on` cycles of sawtooth, `off` of nothing, over and over: from three bursts on, a comb of their own few, long periods
 * explains all there is, and a sawtooth with gaps explains no more. */
static void pauses_that_come_again_are_no_dropouts(void **state) {
    (void)state;
    static const int on[] = {3, 5, 7};
    uint64_t random = 76;
    double *v = new_volts(N);
    for (size_t k = 0; k < sizeof on / sizeof *on; k++)
        for (int off = 2; off <= 4; off++) {
            double bursts = 3.1 + 3 * random_even(&random), phase = random_even(&random);
            for (size_t i = 0; i < N; i++) {
                double turn = bursts * (double)i / N + phase, cycle = (turn - floor(turn)) * (on[k] + off);
                v[i] = cycle < on[k] ? sawtooth(cycle) : 0;
            }
            add_noise(v, N, 0.02, &random);
            gw_readings *r = measured(v, N, rate, 0);
            assert_int_equal(r->signal, GW_SIGNAL_PERIODIC);
            assert_close(value_of(r, GW_FREQUENCY) * N / rate, bursts, 0.01);
            assert_close(value_of(r, GW_DROPOUTS), 0, 0);
            gw_readings_free(r);
        }
    free(v);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(pauses_that_come_again_are_no_dropouts),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
