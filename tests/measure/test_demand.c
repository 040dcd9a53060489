/* Which lines join a fit: those that a record demands, each by itself or many together. */
#include "assert_close.h"
#include "measure/demand.h"
#include "measure/signals.h"

enum { N = 1000, CYCLES = 10, PULSED = 40 };

/* At mid-record, where the fit has its phases. */
static void add_bin(double *volts, int bin, double peak, double phase) {
    for (size_t i = 0; i < N; i++)
        volts[i] += peak * cos(two_pi * bin * ((double)i - 0.5 * (N - 1)) / N + phase);
}

/* A tick once a cycle on a sine of 1 V: orders 2 to 40, each a line of `tick` by itself. Noise of 10 mV that has none
 * of its power on the harmonics, so that each line brings what it holds, N·tick²/2, and no more: 450 of the 499 lines
 * of the record. */
static double *ticking_new(double tick) {
    double *volts = new_volts(N);
    uint64_t random = 64;
    for (int bin = 1; bin < N / 2; bin++)
        if (bin % CYCLES)
            add_bin(volts, bin, 10e-3 * sqrt(2 / 450.0), two_pi * random_even(&random));
    add_bin(volts, CYCLES, 1, 0.3);
    for (int order = 2; order <= PULSED; order++)
        add_bin(volts, order * CYCLES, tick, 0);
    return volts;
}

/* 39 lines that bring 7.5 variances each: chance alone brings one line as much twice in a hundred (chi-square, two
 * degrees of freedom), so that none is let in by itself; but of all it brings 78 with a deviation of 12.5, not 292.
 * Lines of 2 variances, just what chance brings, are none. */
static void lines_of_a_tick_join_together(void **state) {
    (void)state;
    for (int ticks = 0; ticks < 2; ticks++) {
        double tick = 10e-3 * sqrt(2 * (ticks ? 7.5 : 2) / N), *volts = ticking_new(tick);
        gw_error error = {0};
        gw_model model = {.tone = true, .cycles = CYCLES};
        gw_fit *fit = &model.fit;
        assert_true(gw_fit_begin(fit, volts, NULL, N, &error));
        fit->base[GW_BASE_SIGNAL] = (double)CYCLES / N;
        fit->base_free[GW_BASE_SIGNAL] = true;
        assert_true(gw_fit_add(fit, 1, 0, 0, &error));
        assert_true(gw_fit_solve(fit, &error));
        assert_true(gw_lines_grow(&model, &error));
        assert_int_equal(fit->line_count, ticks ? PULSED : 1);
        for (size_t k = 1; k < fit->line_count; k++) {
            assert_in_range(fit->lines[k].multiple[GW_BASE_SIGNAL], 2, PULSED);
            assert_close(fit->lines[k].cosine, tick, 0.05 * tick);
            assert_close(fit->lines[k].sine, 0, 0.05 * tick);
        }
        gw_fit_end(fit);
        free(volts);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lines_of_a_tick_join_together),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
