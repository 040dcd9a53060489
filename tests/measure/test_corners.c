/* Bounds of what the parts of a measurement take: lists that are full, samples that are none, records without anything.
 */
#include "measure/coarse.h"
#include "measure/demand.h"
#include "measure/edges.h"
#include "measure/measured.h"
#include "measure/tally.h"

#include <string.h>

enum { N = 1200 };

/* A line joins the list where the record can show it: from 0.8 of 1.2 cycles to half a cycle short of half the rate. */
static void a_wish_lies_within_the_record(void **state) {
    (void)state;
    double *v = new_volts(N);
    gw_fit fit;
    gw_wishes list = {.count = 0};
    assert_true(gw_fit_begin(&fit, v, NULL, N, NULL));
    fit.base[GW_BASE_SIGNAL] = 0.01;
    fit.base[GW_BASE_SECOND] = 0.0099;
    static const struct {
        double base;
        int signal, second;
        bool joins;
    } wishes[] = {
        {0.01, 3, 0, true},
        {0.01, 1, -1, false}, /* 0.12 cycles in the record */
        {0.01, -3, 0, false}, /* no frequency is below zero */
        {0.96 / N * 1.01, 1, 0, true},
        {0.96 / N * 0.99, 1, 0, false},
        {(0.5 - 0.6 / N) / 8, 8, 0, true},
        {(0.5 - 0.4 / N) / 8, 8, 0, false},
    };
    for (size_t i = 0; i < sizeof wishes / sizeof *wishes; i++) {
        list.count = 0;
        fit.base[GW_BASE_SIGNAL] = wishes[i].base;
        gw_wish_add(&fit, &list, wishes[i].signal, wishes[i].second, 0, 1);
        assert_int_equal(list.count, wishes[i].joins);
    }
    list.count = GW_WISHES_MAX;
    fit.base[GW_BASE_SIGNAL] = 0.01;
    gw_wish_add(&fit, &list, 3, 0, 0, 1);
    assert_int_equal(list.count, GW_WISHES_MAX);
    gw_fit_end(&fit);
    free(v);
}

/* What stands in place of a missing sample is no edge, at neither side of it: a square of 1 V. */
static void a_missing_sample_is_no_edge(void **state) {
    (void)state;
    static const double stand_ins[] = {0, 1000, -1000};
    static double volts[N];
    static unsigned char marks[N];
    gw_edges found[3];
    for (int k = 0; k < 3; k++) {
        for (size_t i = 0; i < N; i++) {
            volts[i] = i / 25 % 2 ? 1 : -1;
            marks[i] = i == 310 ? GW_SAMPLE_MISSING : GW_SAMPLE_PRESENT;
        }
        volts[310] = stand_ins[k];
        assert_true(gw_edges_unresolved(volts, marks, N, 50, 1e-3, &found[k]));
        assert_close(found[k].height_v, 2, 1e-9);
        assert_close(found[k].count, 47, 1e-9); /* every 25 samples, the first after 25 */
    }
}

/* Nothing at all, and no steps of which it could be less than one: no bound is made of that. */
static void zeros_without_steps_have_no_level(void **state) {
    (void)state;
    double *v = new_volts(N);
    for (size_t i = 0; i < N; i++)
        v[i] = 0;
    gw_readings *r = measured(v, N, 48e3, 0);
    const gw_reading *level = &r->values[GW_LEVEL];
    assert_true(level->state == GW_READING_NONE);
    assert_non_null(level->why);
    gw_readings_free(r);
    free(v);
}

/* 1, 2, 3 and 4 V, each known to a hair: their mean is known to their deviation over the root of how many they are,
 * with n - 1 degrees of freedom: sqrt(5/3/4). */
static void a_mean_is_known_by_what_its_parts_scatter(void **state) {
    (void)state;
    gw_tally tally = {0};
    for (int k = 1; k <= 4; k++) {
        gw_reading one = {.state = GW_READING_VALUE, .value = k, .u_random = 1e-9, .u95 = 2e-9};
        gw_tally_add(&tally, GW_DC, &one, 1);
    }
    gw_reading mean = gw_tally_reading(&tally, GW_DC);
    assert_int_equal(mean.state, GW_READING_VALUE);
    assert_close(mean.value, 2.5, 1e-12);
    assert_close(mean.u_random, 0.64549722436790280, 1e-9);
}

/* A sine of 1 V in steps of 10 mV: what noise there is is less than what the steps would be by themselves, 2.9 mV, or
 * of their size; never volts. */
static void noise_below_the_steps_is_bounded_by_them(void **state) {
    (void)state;
    static double v[N];
    for (size_t i = 0; i < N; i++)
        v[i] = floor(100 * sin(two_pi * 0.0213 * (double)i) + 0.5) / 100;
    gw_readings *r = measured(v, N, 48e3, 0.01);
    assert_int_equal(r->values[GW_NOISE].state, GW_READING_BELOW);
    assert_true(r->values[GW_NOISE].value < 0.01);
    gw_readings_free(r);
}

/* Each edge stands anywhere within its sample, which is a variance of 1/12. A straight line through three moments leans
 * by half the difference of the outer two: 2/4 of 1/12. Through four it is 1/12 over 1.5² + 0.5² + 0.5² + 1.5² = 5, and
 * half of that where each period has two edges. */
static void more_edges_tell_a_period_better(void **state) {
    (void)state;
    static const struct {
        double edges, cycles, variance;
    } cases[] = {{3, 3, 1.0 / 24}, {3, 3.4, 1.0 / 24}, {4, 4, 1.0 / 60}, {8, 4, 1.0 / 120}, {9, 4.5, 1.0 / 120}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        gw_edges edges = {.count = cases[i].edges, .height_v = 1};
        assert_close(gw_edges_period_uncertainty(&edges, cases[i].cycles, 50), sqrt(cases[i].variance), 1e-12);
    }
}

/* A square of ±1 V, N samples a period, alike in every one. Either edge stands anywhere within its interval, and both
 * move alike: the positive half is longer or shorter by up to half a sample at either side, and the mean is off by up
 * to 2 V/N. Of what is spread evenly 95 % lies within 0.95 of the most. */
static void an_unseen_place_of_an_edge_moves_the_mean(void **state) {
    (void)state;
    static const size_t samples[] = {20, 25, 32};
    static double v[4 * N];
    uint64_t seed = 5;
    for (size_t s = 0; s < sizeof samples / sizeof *samples; s++) {
        for (size_t i = 0; i < 4 * N; i++)
            v[i] = 2 * (i % samples[s]) < samples[s] ? 1 : -1;
        add_noise(v, 4 * N, 1e-3, &seed);
        gw_readings *r = measured(v, 4 * N, 100e3, 0);
        assert_int_equal(r->values[GW_DC].state, GW_READING_VALUE);
        assert_close(r->values[GW_DC].u95 * (double)samples[s], 0.95 * 2, 0.02);
        gw_readings_free(r);
    }
}

/* The first guess's frequency of a record of a second, 20 000 samples; 0 none. */
static double guessed_hz(double dc, double peak) {
    enum { LONG = 20000 };
    static double v[LONG];
    const gw_stimulus unknown = {.shape = GW_SHAPE_UNKNOWN};
    gw_coarse out;
    for (size_t i = 0; i < LONG; i++)
        v[i] = dc;
    add_sine(v, LONG, LONG, peak, 440.3, 0.7);
    gw_block block = {.volts = v, .count = LONG, .rate_hz = LONG};
    assert_true(gw_coarse_find(&block, &unknown, 0, &out));
    assert_close(out.second, 0, 0);
    return out.signal * LONG;
}

/* Ripple of a microvolt on a supply rail is a tone as much as on nothing, and no rail by itself is one. */
static void the_rail_that_a_tone_stands_on_hides_nothing(void **state) {
    (void)state;
    static const double rails[] = {0, 0.1, 3.3, 10, -48, 400};
    for (size_t k = 0; k < sizeof rails / sizeof *rails; k++) {
        assert_close(guessed_hz(rails[k], 0), 0, 0);
        assert_close(guessed_hz(rails[k], 1e-6), 440.3, 0.35); /* a third of a cycle, as the fit needs it */
    }
}

/* A sine of 1 V in noise of 20 µV, with strangers of 5 mV beside it or its level swaying by a twentieth. A click of 3
 * mV is less than these are, and more than a hundred times the noise: it is heard as well as beside nothing, and where
 * there is none, none is. */
static void a_click_is_heard_under_stray_tones(void **state) {
    (void)state;
    enum { LONG = 9600, AT = 5000 };
    static double v[LONG];
    static const struct {
        int strangers;
        double sways;
    } cases[] = {{0, 0}, {9, 0}, {0, 0.05}};
    for (size_t k = 0; k < 3; k++)
        for (int clicks = 0; clicks < 2; clicks++) {
            uint64_t seed = 7;
            memset(v, 0, sizeof v);
            add_sine(v, LONG, 48e3, 1, 997, 0.3);
            for (size_t i = 0; i < LONG; i++)
                v[i] *= 1 + cases[k].sways * sin(two_pi * 213 * (double)i / 48e3);
            for (int tone = 0; tone < cases[k].strangers; tone++)
                add_sine(v, LONG, 48e3, 5e-3, 3331.7 + 1511 * tone, 1.1);
            add_noise(v, LONG, 20e-6, &seed);
            v[AT] += clicks ? 3e-3 : 0;
            gw_readings *r = measured(v, LONG, 48e3, 0);
            assert_close(r->clues.crackle_count, clicks, 0);
            assert_int_equal(r->event_count, clicks);
            if (clicks) {
                assert_int_equal(r->events[0].kind, GW_EVENT_CRACKLE);
                assert_close(r->events[0].start_s, AT / 48e3, 1e-9);
            }
            gw_readings_free(r);
        }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_wish_lies_within_the_record),
        cmocka_unit_test(a_missing_sample_is_no_edge),
        cmocka_unit_test(more_edges_tell_a_period_better),
        cmocka_unit_test(an_unseen_place_of_an_edge_moves_the_mean),
        cmocka_unit_test(a_mean_is_known_by_what_its_parts_scatter),
        cmocka_unit_test(noise_below_the_steps_is_bounded_by_them),
        cmocka_unit_test(the_rail_that_a_tone_stands_on_hides_nothing),
        cmocka_unit_test(a_click_is_heard_under_stray_tones),
        cmocka_unit_test(zeros_without_steps_have_no_level),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
