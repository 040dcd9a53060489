/* Slow amplitude modulation: found with its frequency and depth, not invented. */
#include "assert_close.h"
#include "measure/wobble.h"
#include "signals.h"

#include <string.h>

static void modulate(double *x, size_t n, double rate_hz, double carrier_hz, double wobble_hz, double depth) {
    for (size_t i = 0; i < n; i++) {
        double t = (double)i / rate_hz;
        x[i] = (1 + depth * sin(two_pi * wobble_hz * t + 1)) * sin(two_pi * carrier_hz * t);
    }
}

static void motor_boating(void **state) {
    (void)state;
    static const struct {
        double carrier_hz, wobble_hz, depth, seconds;
    } cases[] = {{1000, 2, 0.3, 2}, {1000, 1.3, 0.8, 3}, {997, 7.7, 0.03, 2},
                 {220, 18, 0.1, 1}, {50, 4, 0.5, 2},     {10000, 12, 0.2, 0.5}};
    uint64_t seed = 61;
    for (size_t c = 0; c < sizeof cases / sizeof *cases; c++) {
        size_t n = (size_t)(48e3 * cases[c].seconds);
        double *x = new_volts(n);
        modulate(x, n, 48e3, cases[c].carrier_hz, cases[c].wobble_hz, cases[c].depth);
        add_noise(x, n, 0.01, &seed);
        gw_wobble wobble;
        assert_true(gw_wobble_find(x, NULL, n, 48e3, 0, 0, cases[c].carrier_hz, &wobble));
        assert_true(wobble.found);
        assert_close(wobble.frequency_hz, cases[c].wobble_hz, 0.2 / cases[c].seconds);
        /* RMS over a period of a deep modulation follows 1 + depth cos; its own square bends it a little */
        assert_close(wobble.depth, cases[c].depth, 0.05 * cases[c].depth + 0.002);
        free(x);
    }
}

/* Three periods in a record of forty windows of 48 samples (20 ms at 50 Hz of signal, as long as its period) leave no
 * doubt where nothing else is there: what the line explains is all there is. */
static void a_short_record_is_enough_where_nothing_else_sways(void **state) {
    (void)state;
    enum { RATE = 2400, N = 40 * 48 };
    double *x = new_volts(N);
    gw_wobble wobble;
    modulate(x, N, RATE, 50, 3.75, 0.2);
    assert_true(gw_wobble_find(x, NULL, N, RATE, 0, 0, 50, &wobble));
    assert_true(wobble.found);
    assert_close(wobble.frequency_hz, 3.75, 0.2);
    assert_close(wobble.depth, 0.2, 0.02);
    free(x);
}

static void steady_sines_do_not_wobble(void **state) {
    (void)state;
    uint64_t seed = 62;
    int alarms = 0;
    for (int t = 0; t < 300; t++) {
        double rate = 2000 + 46e3 * random_even(&seed), hz = 40 + rate / 5 * random_even(&seed);
        size_t n = (size_t)(rate * (0.1 + 1.5 * random_even(&seed)));
        double *x = new_volts(n), amplitude = 3 + 120 * random_even(&seed);
        add_sine(x, n, rate, amplitude, hz, 7 * random_even(&seed));
        add_noise(x, n, t % 2 ? 0.7 * amplitude * random_even(&seed) : 0, &seed);
        quantise(x, n, 1);
        gw_wobble wobble;
        assert_true(gw_wobble_find(x, NULL, n, rate, 1, 0, hz, &wobble));
        alarms += wobble.found;
        free(x);
    }
    print_message("wobble in steady sines: %d of 300\n", alarms);
    assert_in_range(alarms, 0, 1);
}

static void fades_and_fast_modulation_are_no_wobble(void **state) {
    (void)state;
    enum { N = 48000 };
    double *x = new_volts(N);
    gw_wobble wobble;
    for (size_t i = 0; i < N; i++)
        x[i] = (1 + 0.5 * (double)i / N) * sin(0.13 * (double)i); /* warms up */
    assert_true(gw_wobble_find(x, NULL, N, 48e3, 0, 0, 48e3 * 0.13 / two_pi, &wobble));
    assert_false(wobble.found);
    modulate(x, N, 48e3, 1000, 35, 0.3); /* tremolo of a ring modulator: above the range */
    assert_true(gw_wobble_find(x, NULL, N, 48e3, 0, 0, 1000, &wobble));
    assert_false(wobble.found);
    modulate(x, N, 48e3, 1000, 1.2, 0.3); /* not two cycles */
    assert_true(gw_wobble_find(x, NULL, N, 48e3, 0, 0, 1000, &wobble));
    assert_false(wobble.found);
    memset(x, 0, N * sizeof *x);
    assert_true(gw_wobble_find(x, NULL, N, 48e3, 0, 0, 1000, &wobble));
    assert_false(wobble.found);
    assert_true(gw_wobble_find(x, NULL, N, 48e3, 0, 0, 0, &wobble));
    assert_false(wobble.found);
    free(x);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(motor_boating),
        cmocka_unit_test(a_short_record_is_enough_where_nothing_else_sways),
        cmocka_unit_test(steady_sines_do_not_wobble),
        cmocka_unit_test(fades_and_fast_modulation_are_no_wobble),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
