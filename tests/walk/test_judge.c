/* Guard bands, and the table of findings. */
#include "walk_testing.h"

#include "walk/walker.h"

/* JCGM 106:2012, ILAC-G8:09/2019: guard band w = U. Limits 9..11. */
static void guard_band_is_the_expanded_uncertainty(void **state) {
    (void)state;
    const struct {
        double value, u95;
        gw_status status;
    } known[] = {{10, 0.5, GW_OK},       {10.5, 0.5, GW_OK},   {10.51, 0.5, GW_UNSURE}, {11, 0.5, GW_UNSURE},
                 {11.5, 0.5, GW_UNSURE}, {11.51, 0.5, GW_OFF}, {8.49, 0.5, GW_OFF},     {8.6, 0.5, GW_UNSURE},
                 {9.5, 0.5, GW_OK},      {10, 1.5, GW_UNSURE}, {20, 1.5, GW_OFF}};
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++)
        assert_int_equal(gw_judge_range(known[i].value, known[i].u95, 9, 11, false, 0), known[i].status);
}

/* Simple acceptance (ILAC-G8, 4.2.1), but for what the resolution cannot decide. */
static void simple_acceptance_takes_the_value(void **state) {
    (void)state;
    assert_int_equal(gw_judge_range(10.99, 0.5, 9, 11, true, 0.1), GW_OK);
    assert_int_equal(gw_judge_range(11.05, 0.5, 9, 11, true, 0.1), GW_UNSURE);
    assert_int_equal(gw_judge_range(11.2, 0.5, 9, 11, true, 0.1), GW_OFF);
}

static void upper_limit_and_bounds(void **state) {
    (void)state;
    assert_int_equal(gw_judge_limit(0.4, 0.05, false, 0.5, false, 0), GW_OK);
    assert_int_equal(gw_judge_limit(0.48, 0.05, false, 0.5, false, 0), GW_UNSURE);
    assert_int_equal(gw_judge_limit(0.6, 0.05, false, 0.5, false, 0), GW_OFF);
    assert_int_equal(gw_judge_limit(0.4, 0, true, 0.5, false, 0), GW_OK);
    assert_int_equal(gw_judge_limit(0.6, 0, true, 0.5, false, 0), GW_UNSURE); /* below 0.6: may be anything under it */
}

/* U-pc: result 0.5 dB, limits ±1 dB, u = 0.25 dB: 97.7 % of conformance, so U = 0.5 dB is just inside. */
static void conformance_probability_at_the_guard_band(void **state) {
    (void)state;
    assert_int_equal(gw_judge_range(0.5, 0.5, -1, 1, false, 0), GW_OK);
    assert_int_equal(gw_judge_range(0.5001, 0.5, -1, 1, false, 0), GW_UNSURE);
}

static void worse_status_wins(void **state) {
    (void)state;
    assert_int_equal(gw_status_worse(GW_OK, GW_OFF), GW_OFF);
    assert_int_equal(gw_status_worse(GW_UNSURE, GW_OK), GW_UNSURE);
    assert_int_equal(gw_status_worse(GW_UNJUDGED, GW_OK), GW_OK);
    assert_int_equal(gw_status_worse(GW_OFF, GW_UNSURE), GW_OFF);
}

/* 1/x of an x that is known to a half reaches to twice its value, of an x that may be nothing beyond any limit; of one
 * that is known well it is known as well. */
static void what_may_be_nothing_bounds_no_ratio(void **state) {
    (void)state;
    static const struct {
        double random, least, most;
    } rows[] = {{0.01, 0.02, 0.021}, {0.25, 0.999, 1.2}, {1.0 / 3, 1.999, 2.2}, {0.5, 10, INFINITY}, {2, 10, INFINITY}};
    gw_figure to = {.has = true, .value = 1};
    for (size_t k = 0; k < sizeof rows / sizeof *rows; k++) {
        gw_figure from = {.has = true, .value = 1, .random = rows[k].random};
        gw_figure ratio = gw_figure_ratio(&to, &from, false);
        assert_close(ratio.value, 1, 1e-12);
        assert_true(gw_figure_u95(&ratio) >= rows[k].least && gw_figure_u95(&ratio) <= rows[k].most);
        assert_true(isfinite(gw_figure_u95(&ratio)));
    }
}

static void every_finding_has_a_whole_row(void **state) {
    (void)state;
    static const char *const codes[] = {
        "signal-lost",      "level-low",     "level-high",  "dc-shift",   "dc-passed",        "clipped",
        "distortion-added", "noise-added",   "hum-added",   "tone-added", "polarity-flipped", "cuts-out",
        "crackle",          "highs-lost",    "lows-lost",   "pitch-off",  "rail-off",         "ripple-high",
        "odd-one-out",      "probe-suspect", "capture-poor"};
    assert_int_equal(GW_FINDING_COUNT, sizeof codes / sizeof codes[0]);
    for (int i = 0; i < GW_FINDING_COUNT; i++) {
        const gw_finding_info *info = &gw_finding_infos[i];
        assert_string_equal(info->code, codes[i]);
        assert_true(strlen(info->meaning) > 20 && strlen(info->sentence) > 5 && strlen(info->lookalikes) > 10);
        assert_non_null(info->causes[2].cause);
        for (int k = 0; k < GW_CAUSES_MAX && info->causes[k].cause; k++)
            assert_true(strlen(info->causes[k].cause) > 8 && strlen(info->causes[k].confirm) > 10);
        for (int k = 1; k < GW_CAUSES_MAX; k++)
            assert_false(info->causes[k].cause && !info->causes[k - 1].cause);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(guard_band_is_the_expanded_uncertainty),
        cmocka_unit_test(simple_acceptance_takes_the_value),
        cmocka_unit_test(upper_limit_and_bounds),
        cmocka_unit_test(conformance_probability_at_the_guard_band),
        cmocka_unit_test(worse_status_wins),
        cmocka_unit_test(what_may_be_nothing_bounds_no_ratio),
        cmocka_unit_test(every_finding_has_a_whole_row),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
