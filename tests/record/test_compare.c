/* Comparisons: better, worse and same within the uncertainty; what cannot be compared, and why. */
#include "assert_close.h"

#include "report/invented.h"

#include <stdlib.h>

/* Two walks alike, to be changed by a test. */
typedef struct pair {
    gw_walk *before, *after;
    gw_comparison *made;
} pair;

static int set_up(void **state) {
    pair *made = test_calloc(1, sizeof *made);
    made->before = invented_walk();
    made->after = invented_walk();
    *state = made;
    return 0;
}

static int tear_down(void **state) {
    pair *made = *state;
    gw_comparison_free(made->made);
    invented_free(made->before);
    invented_free(made->after);
    test_free(made);
    return 0;
}

static gw_readings *readings_at(gw_walk *walk, size_t index) {
    return (gw_readings *)(uintptr_t)walk->points[index].readings;
}

static const gw_comparison_point *compare(pair *of, const char *name) {
    gw_error error = {0};
    gw_comparison_free(of->made);
    assert_true(gw_compare_run(of->before, of->after, &of->made, &error));
    for (size_t i = 0; i < of->made->point_count; i++)
        if (strcmp(of->made->points[i].name, name) == 0)
            return &of->made->points[i];
    fail_msg("no point %s", name);
    return NULL;
}

static void make_clear(gw_walk *walk) {
    walk->verdict = (gw_verdict){.status = GW_VERDICT_CLEAR,
                                 .finding = -1,
                                 .from = -1,
                                 .to = -1,
                                 .point = -1,
                                 .rail = -1,
                                 .exact = true,
                                 .summary = "every probed point is in order"};
    walk->finding_count = 0;
}

static void alike_is_same(void **state) {
    pair *of = *state;
    compare(of, "J1");
    assert_int_equal(of->made->better + of->made->worse + of->made->different, 0);
    assert_int_equal(of->made->same, 6);           /* five points and a rail */
    assert_int_equal(of->made->not_comparable, 2); /* one unprobed, one unreadable */
    assert_true(of->made->comparable);
    assert_non_null(strstr(of->made->summary, "Not repaired"));
}

/* 6.9 mV and 6.2 mV, each within 0.5 mV: 0.7 mV apart, sqrt(0.5) mV allowed. 7.0 mV is over it. */
static void difference_counts_beyond_the_root_sum_of_squares(void **state) {
    pair *of = *state;
    readings_at(of->before, 1)->values[GW_DC] = invented_value(0.0062, 0.0005);
    readings_at(of->after, 1)->values[GW_DC] = invented_value(0.0069, 0.0005);
    const gw_change *dc = &compare(of, "U1-7")->changes[GW_CHANGE_DC];
    assert_int_equal(dc->status, GW_CHANGE_SAME);
    assert_null(dc->why);
    assert_close(dc->change, 0.0007, 1e-12);
    assert_close(dc->u95, 0.000707106781, 1e-9);
    readings_at(of->after, 1)->values[GW_DC] = invented_value(0.0070, 0.0005);
    dc = &compare(of, "U1-7")->changes[GW_CHANGE_DC];
    assert_int_equal(dc->status, GW_CHANGE_SAME); /* a change, but 0 V ± 20 mV holds both times */
    assert_non_null(dc->why);
}

static void repair_is_told(void **state) {
    pair *of = *state;
    make_clear(of->after);
    of->after->stages[1].gain = invented_gain(-0.1, -0.03, GW_OK);
    of->after->points[2].status = GW_OK;
    readings_at(of->after, 2)->values[GW_LEVEL] = invented_value(1.08, 0.03);
    const gw_comparison_point *point = compare(of, "C9");
    assert_int_equal(point->status, GW_CHANGE_BETTER);
    assert_int_equal(point->changes[GW_CHANGE_GAIN].status, GW_CHANGE_BETTER);
    /* from -31.2 dB to -0.1 dB: 31.1 dB, a ratio of 35.89 */
    assert_close(point->changes[GW_CHANGE_GAIN].change, 35.892, 0.001);
    assert_int_equal(of->made->better, 1);
    assert_non_null(strstr(of->made->summary, "Repaired: the fault between U1-7 and C9"));
    assert_null(strstr(of->made->summary, "worse"));
}

static void damage_is_told(void **state) {
    pair *of = *state;
    make_clear(of->before);
    of->before->stages[1].gain = invented_gain(-0.1, -0.03, GW_OK);
    const gw_comparison_point *point = compare(of, "C9");
    assert_int_equal(point->changes[GW_CHANGE_GAIN].status, GW_CHANGE_WORSE);
    assert_non_null(strstr(of->made->summary, "Worse: in order before, and now the fault between U1-7 and C9"));
}

static void fault_that_moved_is_told(void **state) {
    pair *of = *state;
    of->after->verdict.to = of->after->verdict.point = 4;
    compare(of, "J1");
    assert_non_null(strstr(of->made->summary, "is gone, but the fault between U1-7 and SEND"));
}

/* Noise that rises with a signal that came back is no worse. */
static void noise_is_held_against_the_level(void **state) {
    pair *of = *state;
    readings_at(of->after, 2)->values[GW_LEVEL] = invented_value(1.08, 0.03);     /* was 30.1 mV */
    readings_at(of->after, 2)->values[GW_NOISE] = invented_value(0.0012, 0.0001); /* was 120 µV */
    const gw_change *noise = &compare(of, "C9")->changes[GW_CHANGE_NOISE];
    assert_int_equal(noise->status, GW_CHANGE_BETTER); /* 0.4 % became 0.11 % */
    readings_at(of->after, 2)->values[GW_NOISE] = invented_value(0.02, 0.0001);
    noise = &compare(of, "C9")->changes[GW_CHANGE_NOISE];
    assert_int_equal(noise->status, GW_CHANGE_WORSE);
    readings_at(of->before, 2)->values[GW_LEVEL] = invented_below(0.0002, "no signal");
    noise = &compare(of, "C9")->changes[GW_CHANGE_NOISE];
    assert_int_equal(noise->status, GW_CHANGE_NOT_COMPARABLE);
}

/* Bounds say something only where they lie apart. */
static void bounds_are_compared_by_what_they_leave_open(void **state) {
    pair *of = *state;
    const gw_change *thd = &compare(of, "J1")->changes[GW_CHANGE_THD];
    assert_int_equal(thd->status, GW_CHANGE_SAME);
    readings_at(of->after, 0)->values[GW_THD] = invented_value(0.003, 0.0002); /* could have been there before */
    assert_int_equal(compare(of, "J1")->changes[GW_CHANGE_THD].status, GW_CHANGE_SAME);
    readings_at(of->after, 0)->values[GW_THD] = invented_value(0.02, 0.0002); /* 2 %, before under 0.4 % */
    assert_int_equal(compare(of, "J1")->changes[GW_CHANGE_THD].status, GW_CHANGE_WORSE);
}

static void unlike_conditions_forbid_comparing(void **state) {
    pair *of = *state;
    of->after->conditions.items[1][0] = 'S'; /* case and blanks are no difference */
    compare(of, "J1");
    assert_true(of->made->comparable);
    free(of->after->conditions.items[1]);
    of->after->conditions.items[1] = strdup("sine 10 kHz 100 mV");
    const gw_comparison_point *point = compare(of, "J1");
    assert_false(of->made->comparable);
    assert_string_equal(of->made->differences.items[0], "stimulus: sine 1 kHz 100 mV before, sine 10 kHz 100 mV after");
    assert_int_equal(point->changes[GW_CHANGE_LEVEL].status, GW_CHANGE_NOT_COMPARABLE);
    assert_string_equal(point->changes[GW_CHANGE_LEVEL].why, "the stimulus differs");
    assert_int_equal(point->changes[GW_CHANGE_DC].status, GW_CHANGE_SAME); /* DC does not hang on it */
    assert_non_null(strstr(of->made->summary, "not measured alike"));
}

static void points_are_matched_by_name(void **state) {
    pair *of = *state;
    of->after->points[0].name = "J9";
    const gw_comparison_point *gone = compare(of, "J1");
    assert_int_equal(gone->after, -1);
    assert_string_equal(gone->why, "only in the earlier record");
    assert_string_equal(compare(of, "J9")->why, "only in the later record");
    assert_int_equal(compare(of, "U1-7")->status, GW_CHANGE_SAME);
}

static void volts_are_not_set_against_full_scale(void **state) {
    pair *of = *state;
    readings_at(of->after, 0)->source.unit = "FS";
    const gw_comparison_point *point = compare(of, "J1");
    assert_int_equal(point->changes[GW_CHANGE_LEVEL].status, GW_CHANGE_NOT_COMPARABLE);
    assert_int_equal(point->changes[GW_CHANGE_THD].status, GW_CHANGE_SAME); /* a ratio */
}

int main(void) {
#define TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)
    const struct CMUnitTest tests[] = {
        TEST(alike_is_same),
        TEST(difference_counts_beyond_the_root_sum_of_squares),
        TEST(repair_is_told),
        TEST(damage_is_told),
        TEST(fault_that_moved_is_told),
        TEST(noise_is_held_against_the_level),
        TEST(bounds_are_compared_by_what_they_leave_open),
        TEST(unlike_conditions_forbid_comparing),
        TEST(points_are_matched_by_name),
        TEST(volts_are_not_set_against_full_scale),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
