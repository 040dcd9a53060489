/* What the pictures of a signal tell the walk: the swing of a period put together from its harmonics, and gaps in the
 * waveform. */
#include "walk_testing.h"

#include "walk/walker.h"

static const double two_pi = 6.283185307179586;

/* A sine swings 2 sqrt(2) times its RMS, wherever in its period the record begins. */
static void a_sine_swings_from_peak_to_peak(void **state) {
    (void)state;
    for (int i = 0; i < 8; i++) {
        gw_harmonic line = {
            .order = 1, .frequency_hz = 1000, .rms = 0.5, .phase_rad = two_pi * i / 8, .resolved = true};
        gw_readings readings = {.harmonics = &line, .harmonic_count = 1};
        assert_close(gw_outline_swing(&readings), 0.5 * 2 * sqrt(2), 1e-3);
    }
}

/* cos x - cos(3x)/3 has its peaks where x is an eighth of a turn from the axis: sqrt(1/2) (1 + 1/3) to either side. */
static void harmonics_swing_together(void **state) {
    (void)state;
    gw_harmonic lines[] = {{.order = 1, .rms = sqrt(0.5), .resolved = true},
                           {.order = 3, .rms = sqrt(0.5) / 3, .phase_rad = two_pi / 2, .resolved = true}};
    gw_readings readings = {.harmonics = lines, .harmonic_count = 2};
    assert_close(gw_outline_swing(&readings), 2 * sqrt(0.5) * 4 / 3, 1e-3);
}

/* ---- gaps ---- */

enum { COLUMNS = 400, PERIODS = 20 };
static const double fed_hz = 400;

/* A picture of 50 ms: a sine of 400 Hz that is gone from the fifth period to the tenth, and a slower one of 40 Hz
 * beside it, which never is. */
static bool gaps_seen(double sine_v, double slow_v, gw_cuts *cuts) {
    double low[COLUMNS], high[COLUMNS];
    for (int i = 0; i < COLUMNS; i++) {
        double turn = (double)i * PERIODS / COLUMNS, gone = turn >= 5 && turn < 10 ? 0 : 1;
        high[i] = gone * sine_v * sin(two_pi * turn) + slow_v * sin(two_pi * turn / 10);
        low[i] = high[i];
    }
    gw_readings readings = {.waveform = {.count = COLUMNS, .end = PERIODS / fed_hz, .low = low, .high = high}};
    gw_walker walker = {.arena = gw_arena_new(), .shape = GW_SHAPE_SINE};
    gw_node node = {.readings = &readings};
    assert_non_null(walker.arena);
    bool seen = gw_cuts_take(&walker, &node, NULL, fed_hz, false);
    assert_false(walker.failed);
    assert_int_equal(node.detected, seen);
    gw_arena_free(walker.arena);
    *cuts = node.cuts;
    return seen;
}

static void a_sine_that_is_gone_for_a_while_has_a_gap(void **state) {
    (void)state;
    gw_cuts cuts;
    const double slow[] = {0, 0.2};
    for (int i = 0; i < 2; i++) {
        assert_true(gaps_seen(1, slow[i], &cuts));
        assert_int_equal(cuts.count, 1);
        assert_close(cuts.start_s, 5 / fed_hz, 0.7 / fed_hz);
        assert_close(cuts.length_s, 5 / fed_hz, 1.2 / fed_hz);
        assert_close(cuts.level_v, sqrt(0.5), 0.15 * sqrt(0.5));
    }
}

/* A slow tone alone stands still at its peaks for a period of the faster one that was fed in: those are no gaps, for
 * what it moves between is not the signal. */
static void a_slow_tone_has_no_gaps(void **state) {
    (void)state;
    gw_cuts cuts;
    assert_false(gaps_seen(0, 1, &cuts));
    assert_false(gaps_seen(0.01, 1, &cuts));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_sine_swings_from_peak_to_peak),
        cmocka_unit_test(harmonics_swing_together),
        cmocka_unit_test(a_sine_that_is_gone_for_a_while_has_a_gap),
        cmocka_unit_test(a_slow_tone_has_no_gaps),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
