/* Rails come before the signal. */
#include "walk_testing.h"

#include <math.h>

static const char tarn[] = "[chain]\n"
                           "stimulus = sine 1 kHz 100 mV\n"
                           "mains = 50 Hz\n"
                           "[point J1]\n"
                           "[point U1]\n"
                           "stage = noninverting rf=90k rg=10k\n"
                           "[point S1]\n"
                           "stage = wire\n"
                           "[point U2]\n"
                           "stage = follower\n"
                           "hum = < 5 mV\n"
                           "[rail +15]\n"
                           "dc = 15 V ± 5 %\n"
                           "ripple = < 5 mV\n"
                           "[rail -15]\n"
                           "dc = -15 V ± 5 %\n"
                           "ripple = < 5 mV\n";

static void put_healthy(bench *b) {
    put_sine(b, "J1", 0.1, 0);
    put_sine(b, "U1", 1, 0);
    put_sine(b, "S1", 1, 0);
    gw_readings *r = put_sine(b, "U2", 1, 0);
    r->source.step = 1e-3;
    say_below(r, GW_HUM, 1e-3);
    put_rail(b, "+15", 15.02, 0);
    put_rail(b, "-15", -15.05, 0);
}

static void expect_rail(bench *b, gw_finding_code code, const char *rail) {
    const gw_walk *walk = walk_of(b);
    assert_or_explain(walk->verdict.status == GW_VERDICT_FAULT, walk);
    assert_or_explain(walk->findings[walk->verdict.finding].code == code, walk);
    assert_int_equal(walk->verdict.rail, bench_rail(b, rail));
    assert_int_equal(walk->verdict.from, -1);
    assert_int_equal(walk->verdict.to, -1);
    assert_int_equal(walk->verdict.point, -1);
    assert_non_null(strstr(walk->verdict.summary, rail));
}

static void rails_in_order(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    expect_clear(&b);
    assert_int_equal(b.walk->rails[0].status, GW_OK);
    bench_close(&b);
}

static void missing_rail_explains_the_dead_stage(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    put_rail(&b, "-15", 0.4, 0);
    put_silence(&b, "U1", 1e-3, 13);
    put_silence(&b, "S1", 1e-3, 13);
    put_silence(&b, "U2", 1e-3, 13);
    expect_rail(&b, GW_FOUND_RAIL_OFF, "-15");
    assert_or_explain(count_findings(b.walk, GW_OFF, true) == 1, b.walk);
    assert_int_equal(find(&b, GW_FOUND_SIGNAL_LOST, "U1")->follows, b.walk->verdict.finding);
    bench_close(&b);
}

static void bad_rail_does_not_explain_a_broken_wire(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    put_rail(&b, "+15", 12, 0);
    put_silence(&b, "S1", 1e-3, 0);
    put_silence(&b, "U2", 1e-3, 0);
    expect_rail(&b, GW_FOUND_RAIL_OFF, "+15");
    assert_or_explain(count_findings(b.walk, GW_OFF, true) == 2, b.walk);
    assert_int_equal(find(&b, GW_FOUND_SIGNAL_LOST, "S1")->follows, -1);
    bench_close(&b);
}

static void ripple_tells_smoothing_from_rectifier(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    gw_readings *rail = put_rail(&b, "+15", 15.02, 60e-3);
    rail->clues.hum_twice_v = 60e-3;
    rail->clues.hum_mains_v = 2e-3;
    gw_readings *r = put_sine(&b, "U2", 1, 0);
    r->source.step = 1e-3;
    say(r, GW_HUM, 30e-3, 1e-4, 0);
    r->clues.hum_twice_v = 30e-3;
    expect_rail(&b, GW_FOUND_RIPPLE_HIGH, "+15");
    assert_non_null(strstr(b.walk->findings[0].causes[0], "smoothing capacitor"));
    assert_non_null(strstr(b.walk->findings[0].evidence, "twice the mains"));
    assert_int_equal(find(&b, GW_FOUND_HUM_ADDED, "U2")->follows, 0);
    rail->clues.hum_twice_v = 2e-3;
    rail->clues.hum_mains_v = 60e-3;
    expect_rail(&b, GW_FOUND_RIPPLE_HIGH, "+15");
    assert_non_null(strstr(b.walk->findings[0].causes[0], "rectifier diode"));
    bench_close(&b);
}

/* Noise that a stage adds while a rail ripples is the rail's noise first; on clean rails it is the stage's own. */
static void noise_beside_ripple_is_the_rails(void **state) {
    (void)state;
    for (int k = 0; k < 2; k++) {
        bench b;
        bench_open(&b, tarn);
        put_healthy(&b);
        put_rail(&b, "+15", 15.02, k ? 60e-3 : 0);
        say(&b.readings[3], GW_NOISE, 0.2, 1e-3, 0);
        walk_of(&b);
        const gw_finding *noise = find(&b, GW_FOUND_NOISE_ADDED, "U2");
        assert_or_explain(noise && noise->cause_count > 0, b.walk);
        assert_int_equal(strcmp(noise->causes[0], "noise of a rail") == 0, k);
        bench_close(&b);
    }
}

/* A rail whose ripple is all that moves may be read as a signal of 100 Hz, without a figure for hum. */
static void rail_that_was_read_as_a_signal(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    gw_readings *rail = put_rail(&b, "+15", 15.02, 0);
    rail->signal = GW_SIGNAL_PERIODIC;
    say(rail, GW_FREQUENCY, 100.01, 0.01, 0);
    say(rail, GW_LEVEL, 0.4, 1e-3, bench_accuracy);
    say_nothing(rail, GW_HUM, "the signal itself stands on the mains frequency");
    expect_rail(&b, GW_FOUND_RIPPLE_HIGH, "+15");
    assert_non_null(strstr(b.walk->findings[0].evidence, "twice the mains"));
    assert_non_null(strstr(b.walk->findings[0].causes[0], "smoothing capacitor"));
    say(rail, GW_FREQUENCY, 50, 0.01, 0);
    expect_rail(&b, GW_FOUND_RIPPLE_HIGH, "+15");
    assert_non_null(strstr(b.walk->findings[0].causes[0], "rectifier diode"));
    say(rail, GW_LEVEL, 2e-3, 1e-5, bench_accuracy);
    expect_clear(&b);
    bench_close(&b);
}

/* Read as a signal of the mains' frequency: which of its harmonics is the larger tells smoothing from a rectifier. */
static void harmonics_of_a_rail_tell_which_half_waves_are_there(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    gw_readings *rail = put_rail(&b, "+15", 15.02, 0);
    gw_harmonic lines[] = {{.order = 1, .frequency_hz = 50, .rms = 3e-3, .resolved = true},
                           {.order = 2, .frequency_hz = 100, .rms = 0.4, .resolved = true}};
    rail->signal = GW_SIGNAL_PERIODIC;
    rail->harmonics = lines;
    rail->harmonic_count = 2;
    say(rail, GW_FREQUENCY, 50, 0.01, 0);
    say(rail, GW_LEVEL, 0.4, 1e-3, bench_accuracy);
    say_nothing(rail, GW_HUM, "the signal itself stands on the mains frequency");
    expect_rail(&b, GW_FOUND_RIPPLE_HIGH, "+15");
    assert_non_null(strstr(b.walk->findings[0].evidence, "twice the mains"));
    lines[0].rms = 0.4;
    lines[1].rms = 3e-3;
    expect_rail(&b, GW_FOUND_RIPPLE_HIGH, "+15");
    assert_non_null(strstr(b.walk->findings[0].evidence, "at the mains frequency"));
    bench_close(&b);
}

/* Noise on a rail whose hum cannot be read is a bound: within the limit where it is below, open where it is above. */
static void noise_of_a_rail_bounds_its_ripple(void **state) {
    (void)state;
    for (int wide = 0; wide < 2; wide++) {
        bench b;
        bench_open(&b, wide ? "[chain]\nstimulus = sine 1 kHz 100 mV\n[point A]\n[rail plus]\nripple = < 5 mV\n"
                            : "[chain]\nstimulus = sine 1 kHz 100 mV\n[point A]\n[rail plus]\nripple = < 1 mV\n");
        put_sine(&b, "A", 0.1, 0);
        gw_readings *rail = put_rail(&b, "plus", 15, 0);
        rail->signal = GW_SIGNAL_NOISE;
        say(rail, GW_AC_RMS, 3e-3, 1e-5, 0);
        say_nothing(rail, GW_HUM, "the record is too short");
        walk_of(&b);
        assert_true(b.walk->rails[0].ripple.below);
        assert_close(b.walk->rails[0].ripple.value, 3e-3, 1e-12);
        assert_int_equal(b.walk->rails[0].ripple.status, wide ? GW_OK : GW_UNSURE);
        bench_close(&b);
    }
}

/* A generator that gives nothing is a fault of its own, whatever the rails are like, even if a gain is stated of what
 * drives the first point; what the chain's own amplifier loses is a missing rail's. */
static void what_is_fed_in_needs_no_rail(void **state) {
    (void)state;
    for (int fed = 0; fed < 2; fed++) {
        bench b;
        bench_open(&b, "[chain]\nstimulus = sine 1 kHz 100 mV\n[point A]\ngain = 0 dB\n[point B]\ngain = 20 dB\n"
                       "[rail plus]\ndc = 15 V ± 5 %\n");
        if (fed)
            put_sine(&b, "A", 0.1, 0);
        else
            put_silence(&b, "A", 1e-3, 0);
        put_silence(&b, "B", 1e-3, 0);
        put_rail(&b, "plus", 0.4, 0);
        expect_rail(&b, GW_FOUND_RAIL_OFF, "plus");
        const gw_finding *lost = find(&b, GW_FOUND_SIGNAL_LOST, fed ? "B" : "A");
        assert_or_explain(lost && lost->follows == (fed ? b.walk->verdict.finding : -1), b.walk);
        bench_close(&b);
    }
}

/* U-scope-3u: a scope of 3 % gives 15 V an expanded uncertainty of 0.52 V, which leaves 0.23 V of ±0.75 V. */
static void scope_cannot_confirm_five_per_cent_but_a_meter_can(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    gw_readings *rail = put_rail(&b, "+15", 15.3, 0);
    say(rail, GW_DC, 15.3, 1e-3, 0.03);
    walk_of(&b);
    assert_or_explain(b.walk->verdict.status == GW_VERDICT_UNSURE, b.walk);
    assert_int_equal(b.walk->verdict.rail, bench_rail(&b, "+15"));
    assert_non_null(strstr(b.walk->findings[0].settle, "meter"));
    bench_close(&b);
    char text[900];
    snprintf(text, sizeof text, "%s", tarn);
    char *at = strstr(text, "dc = 15 V ± 5 %\n");
    size_t rest = (size_t)(at - text);
    snprintf(text + rest, sizeof text - rest, "reading = 15.3 V ± 0.5 %%\n%s", strstr(tarn, "dc = 15 V ± 5 %\n"));
    bench_open(&b, text);
    put_healthy(&b);
    b.rails[0].state = GW_PROBE_NONE;
    expect_clear(&b);
    assert_int_equal(b.walk->rails[0].status, GW_OK);
    assert_close(b.walk->rails[0].dc.value, 15.3, 1e-12);
    bench_close(&b);
}

static void unmeasured_rail_is_named_where_it_could_explain(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    b.rails[0].state = b.rails[1].state = GW_PROBE_NONE;
    put_silence(&b, "U2", 1e-3, 0);
    expect_fault(&b, GW_FOUND_SIGNAL_LOST, "S1", "U2");
    assert_int_equal(b.walk->next_count, 2);
    assert_int_equal(b.walk->next[0].rail, 0);
    put_healthy(&b);
    b.rails[0].state = b.rails[1].state = GW_PROBE_NONE;
    expect_clear(&b);
    bench_close(&b);
}

static void rail_alone_is_a_fault(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    put_rail(&b, "+15", 13.2, 0);
    expect_rail(&b, GW_FOUND_RAIL_OFF, "+15");
    assert_int_equal(gw_walk_exit(b.walk), 1);
    bench_close(&b);
}

/* A meter at a point that was not captured: DC is judged, the signal is not. */
static void metered_point_is_judged_for_dc(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\nstage = follower\nreading = 4.2 V ± 1 %\n"
                   "dc = 0 V ± 50 mV\n[point C]\nstage = coupling c=10u load=100k\n");
    put_sine(&b, "A", 1, 0);
    put_sine(&b, "C", 1, 0);
    expect_fault(&b, GW_FOUND_DC_SHIFT, "A", "B");
    bench_close(&b);
}

/* A saw of 2 V at 50 Hz, as one open diode leaves it, has 2 V/sqrt(12) of ripple: its edges are steps 20 ms from each
 * other, whatever a fit finds of its lines. */
static void edges_in_step_with_the_mains_are_ripple(void **state) {
    (void)state;
    bench b;
    static gw_event edges[] = {{.kind = GW_EVENT_STEP, .start_s = 0.0203, .size_v = -1.9},
                               {.kind = GW_EVENT_STEP, .start_s = 0.0403, .size_v = -1.9},
                               {.kind = GW_EVENT_STEP, .start_s = 0.0603, .size_v = -1.9}};
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz\nmains = 50 Hz\n[point A]\n[rail +15]\ndc = 15 V ± 10 %\n"
                   "ripple = < 100 mV\n");
    put_sine(&b, "A", 1, 0);
    gw_readings *r = put_rail(&b, "+15", 15, 0.054);
    say(r, GW_AC_RMS, 2 / sqrt(12), 0.01, bench_accuracy);
    expect_clear(&b); /* noise, for all that is known */
    r->events = edges;
    r->event_count = 3;
    const gw_walk *walk = walk_of(&b);
    assert_or_explain(walk->verdict.status == GW_VERDICT_FAULT, walk);
    assert_int_equal(walk->findings[walk->verdict.finding].code, GW_FOUND_RIPPLE_HIGH);
    assert_close(walk->rails[0].ripple.value, 0.577, 0.001);
    edges[1].start_s = 0.02031; /* twice at one moment: no half cycle lies between */
    expect_clear(&b);
    edges[1].start_s = 0.0403;
    bench_close(&b);
}

/* Through a sound card, or AC-coupled, a rail shows no volts: that is no fault of the rail. */
static void rail_whose_dc_is_hidden_is_not_judged(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz\n[point A]\n[rail +15]\ndc = 15 V ± 5 %\n");
    put_sine(&b, "A", 1, 0);
    put_rail(&b, "+15", 0, 0)->dc_hidden = true;
    walk_of(&b);
    assert_or_explain(b.walk->finding_count == 0, b.walk);
    assert_string_equal(b.walk->rails[0].dc.why, "the capture hides DC");
    b.rail_readings[0].dc_hidden = false;
    walk_of(&b);
    assert_or_explain(b.walk->finding_count == 1 && b.walk->findings[0].code == GW_FOUND_RAIL_OFF, b.walk);
    bench_close(&b);
}

/* A supply on the bench: one point, four rails, of which the third is off. */
static void more_rails_than_points(void **state) {
    (void)state;
    bench b;
    bench_open(
        &b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[rail +15]\ndc = 15 V ± 5 %\n[rail -15]\ndc = -15 V ± 5 %\n"
            "[rail +5]\ndc = 5 V ± 5 %\n[rail +48]\ndc = 48 V ± 5 %\n");
    put_sine(&b, "A", 1, 0);
    put_rail(&b, "+15", 15, 0);
    put_rail(&b, "-15", -15, 0);
    put_rail(&b, "+48", 48, 0);
    assert_or_explain(walk_of(&b)->finding_count == 0, b.walk);
    put_rail(&b, "+5", 3.2, 0);
    const gw_walk *walk = walk_of(&b);
    assert_or_explain(walk->finding_count == 1 && walk->findings[0].code == GW_FOUND_RAIL_OFF, walk);
    assert_int_equal(walk->findings[0].rail, bench_rail(&b, "+5"));
    bench_close(&b);
}

static void rail_of_no_stated_voltage_is_not_judged(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz\n[point A]\n[rail X]\nripple = < 100 mV\n");
    put_sine(&b, "A", 1, 0);
    put_rail(&b, "X", 7, 0);
    walk_of(&b);
    assert_or_explain(b.walk->finding_count == 0, b.walk);
    assert_int_equal(b.walk->rails[0].dc.status, GW_UNJUDGED);
    assert_string_equal(b.walk->rails[0].dc.why, "no voltage is stated");
    bench_close(&b);
}

/* Two rails that are off and ripple: the findings of either come together, in the same order for both. */
static void findings_of_each_rail_come_in_one_order(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    put_rail(&b, "+15", 11, 60e-3);
    put_rail(&b, "-15", -11, 60e-3);
    const gw_walk *walk = walk_of(&b);
    assert_or_explain(walk->finding_count == 4, walk);
    for (int k = 0; k < 4; k++)
        assert_or_explain(walk->findings[k].rail == bench_rail(&b, k < 2 ? "+15" : "-15"), walk);
    assert_or_explain(walk->findings[0].code == walk->findings[2].code, walk);
    assert_or_explain(walk->findings[1].code == walk->findings[3].code, walk);
    bench_close(&b);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(rail_of_no_stated_voltage_is_not_judged),
        cmocka_unit_test(rails_in_order),
        cmocka_unit_test(missing_rail_explains_the_dead_stage),
        cmocka_unit_test(bad_rail_does_not_explain_a_broken_wire),
        cmocka_unit_test(ripple_tells_smoothing_from_rectifier),
        cmocka_unit_test(noise_beside_ripple_is_the_rails),
        cmocka_unit_test(rail_that_was_read_as_a_signal),
        cmocka_unit_test(harmonics_of_a_rail_tell_which_half_waves_are_there),
        cmocka_unit_test(noise_of_a_rail_bounds_its_ripple),
        cmocka_unit_test(scope_cannot_confirm_five_per_cent_but_a_meter_can),
        cmocka_unit_test(what_is_fed_in_needs_no_rail),
        cmocka_unit_test(unmeasured_rail_is_named_where_it_could_explain),
        cmocka_unit_test(rail_alone_is_a_fault),
        cmocka_unit_test(metered_point_is_judged_for_dc),
        cmocka_unit_test(edges_in_step_with_the_mains_are_ripple),
        cmocka_unit_test(more_rails_than_points),
        cmocka_unit_test(rail_whose_dc_is_hidden_is_not_judged),
        cmocka_unit_test(findings_of_each_rail_come_in_one_order),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
