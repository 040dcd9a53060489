/* The capture is doubted before the stage. Each is a pitfall that the trade names. */
#include "walk_testing.h"

static const char tarn[] = "[chain]\n"
                           "stimulus = sine 1 kHz 100 mV\n"
                           "[point J1]\n"
                           "[point U1]\n"
                           "stage = noninverting rf=47k rg=4k7\n"
                           "[point C9]\n"
                           "stage = coupling c=10u load=47k\n"
                           "[point VOL]\n"
                           "stage = divider top=10k bottom=10k\n"
                           "[point OUT]\n"
                           "stage = noninverting rf=10k rg=10k\n";

static void put_healthy(bench *b) {
    put_sine(b, "J1", 0.1, 0);
    put_sine(b, "U1", 1.1, 5e-3);
    put_sine(b, "C9", 1.1, 0);
    put_sine(b, "VOL", 0.55, 0);
    put_sine(b, "OUT", 1.1, 1e-3);
}

static void expect_doubt(bench *b, gw_finding_code code, const char *point) {
    const gw_walk *walk = walk_of(b);
    assert_or_explain(walk->verdict.status == GW_VERDICT_UNSURE, walk);
    assert_or_explain(walk->findings[walk->verdict.finding].code == code, walk);
    assert_int_equal(walk->verdict.point, bench_point(b, point));
    assert_or_explain(strncmp(walk->verdict.summary, "At ", 3) == 0, walk); /* of a capture, not between two points */
    assert_int_equal(walk->verdict.from, -1);
    assert_int_equal(walk->verdict.to, -1);
    assert_or_explain(count_findings(walk, GW_OFF, false) == 0, walk);
    assert_int_equal(walk->next[0].point, bench_point(b, point));
    assert_int_equal(gw_walk_exit(walk), 3);
}

/* A x1/x10 switch: one point ±20.0 dB, the next stage ∓20.0 dB (common practice). */
static void probe_switch_is_suspected_at_every_inner_point(void **state) {
    (void)state;
    const char *points[] = {"U1", "C9", "VOL"};
    const double levels[] = {1.1, 1.1, 0.55};
    for (int i = 0; i < 3; i++)
        for (int up = 0; up < 2; up++) {
            bench b;
            bench_open(&b, tarn);
            put_healthy(&b);
            put_sine(&b, points[i], levels[i] * (up ? 10 : 0.1), 0);
            expect_doubt(&b, GW_FOUND_PROBE_SUSPECT, points[i]);
            assert_non_null(strstr(b.walk->findings[0].causes[0], "x1 or x10"));
            /* 20 log 10, and which way */
            assert_or_explain(strstr(b.walk->findings[0].evidence, up ? "level +20" : "level -20"), b.walk);
            bench_close(&b);
        }
}

/* A probe's switch leaves what comes behind it as it should be. 20 dB too much at one point and 14 dB too little behind
 * it are 6 dB too much from there on, by more than any uncertainty: no single capture read wrong explains both. */
static void what_is_not_undone_behind_is_no_probe_error(void **state) {
    (void)state;
    for (int up = 0; up < 2; up++) {
        double much = up ? 10 : 0.1, rest = up ? 2 : 0.5;
        bench b;
        bench_open(&b, tarn);
        put_sine(&b, "J1", 0.1, 0);
        put_sine(&b, "U1", 1.1 * much, 0);
        put_sine(&b, "C9", 1.1 * rest, 0);
        put_sine(&b, "VOL", 0.55 * rest, 0);
        put_sine(&b, "OUT", 1.1 * rest, 0);
        expect_verdict(&b, GW_VERDICT_FAULT);
        assert_or_explain(!find(&b, GW_FOUND_PROBE_SUSPECT, "U1"), b.walk);
        assert_int_equal(stage_to(&b, "U1")->gain.status, GW_OFF);
        assert_int_equal(stage_to(&b, "C9")->gain.status, GW_OFF);
        assert_int_equal(b.walk->verdict.from, bench_point(&b, "J1"));
        assert_int_equal(b.walk->verdict.to, bench_point(&b, "U1"));
        bench_close(&b);
    }
}

static void probe_switch_at_the_first_point_shows_by_the_stated_stimulus(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    put_sine(&b, "J1", 0.01, 0);
    expect_doubt(&b, GW_FOUND_PROBE_SUSPECT, "J1");
    bench_close(&b);
}

static void probe_switch_where_two_branches_start(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[point IN]\n[point A]\nstage = wire\n[point B]\nafter = IN\nstage = follower\n");
    put_sine(&b, "IN", 0.01, 0);
    put_sine(&b, "A", 0.1, 0);
    put_sine(&b, "B", 0.1, 0);
    expect_doubt(&b, GW_FOUND_PROBE_SUSPECT, "IN");
    bench_close(&b);
}

static void twenty_decibels_lost_for_good_are_a_fault(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    put_sine(&b, "C9", 0.11, 0);
    put_sine(&b, "VOL", 0.055, 0);
    put_sine(&b, "OUT", 0.11, 0);
    expect_fault(&b, GW_FOUND_LEVEL_LOW, "U1", "C9");
    bench_close(&b);
}

static void floating_probe_is_told_from_a_dead_stage(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    say_mains(put(&b, "C9"), 0.3);
    expect_doubt(&b, GW_FOUND_PROBE_SUSPECT, "C9");
    assert_non_null(strstr(b.walk->findings[0].causes[0], "not touching"));
    /* the walk uses what is left: the gain is judged across */
    assert_int_equal(stage_to(&b, "VOL")->across, 2);
    assert_int_equal(stage_to(&b, "VOL")->gain.status, GW_OK);
    bench_close(&b);
}

/* The same read as noise with hum: what is no mains is too little for the stimulus. */
static void floating_probe_read_as_noise(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    gw_readings *r = put_silence(&b, "C9", 2e-3, 0);
    r->signal = GW_SIGNAL_NOISE;
    say(r, GW_AC_RMS, 0.7501, 1e-3, bench_accuracy);
    say(r, GW_HUM, 0.75, 1e-3, bench_accuracy);
    say(r, GW_NOISE, 2e-3, 1e-4, 0);
    expect_doubt(&b, GW_FOUND_PROBE_SUSPECT, "C9");
    assert_non_null(strstr(b.walk->findings[0].causes[0], "not touching"));
    bench_close(&b);
}

/* Twice the mains' frequency fed in, and nothing stated: beside a DC it may have been read as noise and hum, and is the
 * signal all the same. What a dead stage leaves is noise, and not what was fed in. */
static void unstated_stimulus_on_the_mains(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nmains = 50 Hz\n[point A]\n[point B]\nstage = follower\n[point C]\nstage = coupling c=10u "
                   "load=47k\n[point D]\nstage = wire\n");
    const char *names[] = {"A", "B", "C", "D"};
    for (int i = 0; i < 4; i++)
        say_sine(put_sine(&b, names[i], 0.1, 0), 100, 0.1, i == 1 ? 6 : 0);
    gw_readings *r = &b.readings[1];
    b.tones[1][0] = (gw_tone){.frequency_hz = 100, .rms = 0.1, .u95 = 1e-3, .kind = GW_TONE_MAINS};
    r->tones = b.tones[1];
    r->tone_count = 1;
    r->signal = GW_SIGNAL_NOISE;
    say(r, GW_LEVEL, 2e-3, 1e-4, 0);
    say(r, GW_NOISE, 2e-3, 1e-4, 0);
    say(r, GW_HUM, 0.1, 1e-3, bench_accuracy);
    say_nothing(r, GW_FREQUENCY, "no periodic signal");
    say_nothing(r, GW_THD, "no periodic signal");
    expect_clear(&b);
    r = put_silence(&b, "D", 1e-3, 0);
    r->signal = GW_SIGNAL_NOISE;
    say(r, GW_LEVEL, 1e-3, 1e-4, 0);
    say(r, GW_NOISE, 1e-3, 1e-4, 0);
    expect_fault(&b, GW_FOUND_SIGNAL_LOST, "C", "D");
    say_sine(put_sine(&b, "B", 0.1, 0), 100, 0.1, 6);
    expect_fault(&b, GW_FOUND_SIGNAL_LOST, "C", "D");
    bench_close(&b);
}

static void silent_point_before_a_live_one_is_the_probe(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[point A]\n[point B]\n[point C]\n");
    put_sine(&b, "A", 0.1, 0);
    put_silence(&b, "B", 1e-3, 0);
    put_sine(&b, "C", 1, 0);
    expect_doubt(&b, GW_FOUND_PROBE_SUSPECT, "B");
    bench_close(&b);
}

/* Feed-through past a dead stage is no proof of life. */
static void leakage_past_a_dead_stage_is_no_probe_error(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    put_silence(&b, "U1", 1e-3, 0);
    put_sine(&b, "C9", 5e-3, 0);
    put_sine(&b, "VOL", 2.5e-3, 0);
    put_sine(&b, "OUT", 5e-3, 0);
    expect_fault(&b, GW_FOUND_SIGNAL_LOST, "J1", "U1");
    bench_close(&b);
}

static void clipped_in_the_recorder_is_the_capture(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    gw_readings *r = put_sine(&b, "C9", 0.8, 0);
    r->clues.high = (gw_flat){.share = 0.2, .level_v = 1, .clipped = true, .recorder = true};
    r->clues.low = (gw_flat){.share = 0.2, .level_v = -1, .clipped = true, .recorder = true};
    say(r, GW_THD, 0.13, 1e-3, 0);
    expect_doubt(&b, GW_FOUND_CAPTURE_POOR, "C9");
    assert_non_null(strstr(b.walk->findings[0].causes[0], "larger than the screen"));
    bench_close(&b);
}

/* No linear stage un-clips. */
static void clipping_that_is_gone_at_the_next_point_was_the_screen(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    gw_readings *r = put_sine(&b, "C9", 0.8, 0);
    r->clues.high = (gw_flat){.share = 0.2, .level_v = 1, .clipped = true};
    r->clues.low = (gw_flat){.share = 0.2, .level_v = -1, .clipped = true};
    say(r, GW_THD, 0.13, 1e-3, 0);
    expect_doubt(&b, GW_FOUND_CAPTURE_POOR, "C9");
    bench_close(&b);
}

/* 256 codes from end to end and flat there: the screen's edge, also where no next point tells. */
static void capture_that_fills_the_screen_is_clipped_by_it(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    gw_readings *r = put_sine(&b, "OUT", 0.7, 0);
    r->clues.high = (gw_flat){.share = 0.2, .level_v = 1, .clipped = true};
    r->clues.low = (gw_flat){.share = 0.2, .level_v = -1, .clipped = true};
    r->clues.codes = 256;
    say(r, GW_THD, 0.13, 1e-3, 0);
    expect_doubt(&b, GW_FOUND_CAPTURE_POOR, "OUT");
    bench_close(&b);
}

/* Flat at one end of the recorder's range is as flat as at both; how much of the record is said. */
static void clipped_at_one_end_of_the_recorder(void **state) {
    (void)state;
    for (int low = 0; low < 2; low++) {
        bench b;
        bench_open(&b, tarn);
        put_healthy(&b);
        gw_readings *r = put_sine(&b, "C9", 0.9, 0);
        *(low ? &r->clues.low : &r->clues.high) =
            (gw_flat){.share = 0.2, .level_v = low ? -1 : 1, .clipped = true, .recorder = true};
        say(r, GW_THD, 0.13, 1e-3, 0);
        expect_doubt(&b, GW_FOUND_CAPTURE_POOR, "C9");
        assert_or_explain(strstr(b.walk->findings[0].evidence, "recorder: 20 % of the record"), b.walk);
        bench_close(&b);
    }
}

/* A sine's crest factor is the root of two; one of 1.25 in all 256 codes has lost its crests at the screen's edges,
 * also where no sample stands still. A triangle's is 1.73, and a square's 1 in health. */
static void crests_that_are_gone_at_the_screens_edge(void **state) {
    (void)state;
    static const struct {
        gw_signal signal;
        double crest, codes;
        bool poor;
    } known[] = {{GW_SIGNAL_SINE, 1.25, 256, true},
                 {GW_SIGNAL_SINE, 1.4142, 256, false},
                 {GW_SIGNAL_SINE, 1.25, 200, false},
                 {GW_SIGNAL_PERIODIC, 1, 256, false},
                 {GW_SIGNAL_PERIODIC, 1.732, 256, false}};
    for (size_t k = 0; k < sizeof known / sizeof *known; k++) {
        bench b;
        bench_open(&b, "[chain]\nstimulus = periodic 1 kHz 1 V\n[point A]\n[point B]\nstage = follower\n");
        put_sine(&b, "A", 1, 0)->signal = known[k].signal;
        gw_readings *r = put_sine(&b, "B", 1, 0);
        r->signal = known[k].signal;
        r->clues.codes = known[k].codes;
        say(r, GW_PEAK_TO_PEAK, 2 * known[k].crest, 1e-3, bench_accuracy);
        assert_or_explain(walk_of(&b) && !find(&b, GW_FOUND_CAPTURE_POOR, "B") == !known[k].poor, b.walk);
        if (known[k].poor)
            assert_or_explain(strstr(b.walk->findings[0].evidence, "crests cut off"), b.walk);
        bench_close(&b);
    }
}

/* A capture too coarse to see the signal is no ground to build on: what comes after it is judged from before it. */
static void hidden_signal_in_the_middle_is_stepped_over(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    put_silence(&b, "C9", 1, 0);
    expect_doubt(&b, GW_FOUND_CAPTURE_POOR, "C9");
    assert_int_equal(stage_to(&b, "VOL")->across, 2);
    put_silence(&b, "VOL", 1e-3, 0);
    put_silence(&b, "OUT", 1e-3, 0);
    expect_fault(&b, GW_FOUND_SIGNAL_LOST, "U1", "VOL");
    assert_false(b.walk->verdict.exact);
    assert_int_equal(b.walk->next[0].point, bench_point(&b, "C9"));
    bench_close(&b);
}

/* "THD below 120 %" here and 20 % there is no sign that the next point has less. */
static void bound_is_no_ground_for_doubt(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    gw_readings *r = put_sine(&b, "C9", 0.85, 0);
    r->clues.low = (gw_flat){.share = 0.3, .level_v = -1, .clipped = true};
    say_below(r, GW_THD, 1.2);
    r = put_sine(&b, "VOL", 0.425, 0);
    r->clues.low = (gw_flat){.share = 0.3, .level_v = -0.5, .clipped = true};
    say(r, GW_THD, 0.15, 1e-3, 0);
    r = put_sine(&b, "OUT", 0.85, 0);
    r->clues.low = (gw_flat){.share = 0.3, .level_v = -1, .clipped = true};
    say(r, GW_THD, 0.15, 1e-3, 0);
    expect_fault(&b, GW_FOUND_CLIPPED, "U1", "C9");
    bench_close(&b);
}

/* A capture that hides the signal leaves the search where it was: a fresh point first, then this one again. */
static void fresh_point_comes_before_a_second_try(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_sine(&b, "J1", 0.1, 0);
    put_silence(&b, "C9", 3, 0);
    const gw_walk *walk = walk_of(&b);
    assert_or_explain(walk->verdict.status == GW_VERDICT_UNSURE, walk);
    assert_int_equal(walk->next_count, 2);
    assert_int_equal(b.points[walk->next[0].point].state, GW_PROBE_NONE);
    assert_int_equal(walk->next[1].point, bench_point(&b, "C9"));
    bench_close(&b);
}

static void hum_of_the_ground_lead_is_gone_at_the_next_point(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    gw_readings *r = put_sine(&b, "C9", 1.1, 0);
    say(r, GW_HUM, 0.2, 1e-3, 0);
    r->clues.hum_mains_v = 0.2;
    expect_doubt(&b, GW_FOUND_CAPTURE_POOR, "C9");
    bench_close(&b);
}

static void poor_capture_does_not_hide_a_fault_elsewhere(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    put_sine(&b, "U1", 11, 5e-3); /* probe switch */
    put_sine(&b, "OUT", 0.2, 1e-3);
    const gw_walk *walk = walk_of(&b);
    assert_or_explain(walk->verdict.status == GW_VERDICT_FAULT, walk);
    assert_int_equal(walk->verdict.from, bench_point(&b, "VOL"));
    assert_int_equal(walk->verdict.to, bench_point(&b, "OUT"));
    assert_non_null(find(&b, GW_FOUND_PROBE_SUSPECT, "U1"));
    bench_close(&b);
}

static void too_short_a_capture_is_said_so(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    gw_readings *r = put_silence(&b, "OUT", 1, 0);
    r->clues.too_short = true;
    r->source.duration_s = 0.7e-3; /* not even a cycle of 1 kHz */
    expect_doubt(&b, GW_FOUND_CAPTURE_POOR, "OUT");
    assert_non_null(strstr(b.walk->findings[0].settle, "time base"));
    bench_close(&b);
}

/* A contact that cuts out is lower at one capture and right at the next: no probe does that. */
static void probe_is_not_doubted_where_the_signal_cuts_out(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 100 mV\n[point A]\n[point W1]\nstage = wire\n[point W2]\n"
                   "stage = wire\n");
    put_sine(&b, "A", 0.1, 0);
    gw_readings *r = put_sine(&b, "W1", 0.08, 0);
    put_sine(&b, "W2", 0.1, 0);
    expect_verdict(&b, GW_VERDICT_UNSURE);
    assert_or_explain(find(&b, GW_FOUND_PROBE_SUSPECT, "W1"), b.walk);
    say(r, GW_DROPOUTS, 2, 0, 0);
    expect_verdict(&b, GW_VERDICT_FAULT);
    assert_or_explain(find(&b, GW_FOUND_CUTS_OUT, "W1") && !find(&b, GW_FOUND_PROBE_SUSPECT, "W1"), b.walk);
    assert_int_equal(b.walk->verdict.to, bench_point(&b, "W1"));
    bench_close(&b);
}

/* A sine of 10 kHz that is bent alike both ways has all of its harmonics above the band: where THD knows of nothing
 * they are there all the same. */
static void harmonics_above_the_band_are_not_gone(void **state) {
    (void)state;
    bench b;
    static gw_harmonic lines[] = {{.order = 1, .frequency_hz = 10e3, .rms = 1, .u95 = 1e-3, .resolved = true},
                                  {.order = 3, .frequency_hz = 30e3, .rms = 0.08, .u95 = 1e-3, .resolved = true}};
    bench_open(&b, "[chain]\nstimulus = sine 10 kHz 1 V\n[point A]\n[point U1]\nstage = follower\n[point W2]\n"
                   "stage = wire\n");
    put_sine(&b, "A", 1, 0);
    gw_readings *r = put_sine(&b, "U1", 1, 0), *next = put_sine(&b, "W2", 1, 0);
    say(r, GW_THD, 0.08, 1e-3, 0);
    expect_verdict(&b, GW_VERDICT_UNSURE); /* gone at the next point: the capture made it */
    next->harmonics = lines;
    next->harmonic_count = 2;
    expect_fault(&b, GW_FOUND_DISTORTION_ADDED, "A", "U1");
    /* nor is what was clipped clipped by the screen */
    r->clues.high = r->clues.low = (gw_flat){.clipped = true, .share = 0.2, .level_v = 1.2};
    expect_fault(&b, GW_FOUND_CLIPPED, "A", "U1");
    next->harmonic_count = 0;
    expect_verdict(&b, GW_VERDICT_UNSURE);
    bench_close(&b);
}

/* A level that may be anything is no ground to doubt the probe before it. */
static void doubtful_level_is_no_witness(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point C1]\nstage = coupling c=1u load=100k\n"
                   "[point U2]\nstage = follower\n");
    put_sine(&b, "A", 1, 0);
    put_silence(&b, "C1", 1e-3, 0);
    gw_readings *r = put_sine(&b, "U2", 1, 0);
    walk_of(&b);
    assert_or_explain(find(&b, GW_FOUND_PROBE_SUSPECT, "C1"), b.walk);
    say(r, GW_LEVEL, 1, 20, bench_accuracy);
    walk_of(&b);
    assert_or_explain(!find(&b, GW_FOUND_PROBE_SUSPECT, "C1") && find(&b, GW_FOUND_SIGNAL_LOST, "C1"), b.walk);
    bench_close(&b);
}

/* Flat tops at U1 and, rounder, at the next points: the screen did not make them. */
static void clipping_that_goes_on_is_no_screens(void **state) {
    (void)state;
    for (int goes_on = 0; goes_on < 2; goes_on++) {
        bench b;
        bench_open(&b, tarn);
        put_healthy(&b);
        gw_readings *r = put_sine(&b, "U1", 1.1, 5e-3);
        r->clues.high = (gw_flat){.share = 0.2, .level_v = 1.2, .clipped = true};
        r->clues.low = (gw_flat){.share = 0.2, .level_v = -1.2, .clipped = true};
        say(r, GW_THD, 0.2, 1e-3, 0);
        for (int i = 2; i < 5; i++) {
            say(&b.readings[i], GW_THD, 0.01, 1e-4, 0);
            b.readings[i].clues.high.clipped = b.readings[i].clues.low.clipped = goes_on;
        }
        if (!goes_on)
            expect_doubt(&b, GW_FOUND_CAPTURE_POOR, "U1");
        walk_of(&b);
        assert_or_explain((find(&b, GW_FOUND_CLIPPED, "U1") != NULL) == goes_on, b.walk);
        assert_int_equal(b.walk->verdict.status, goes_on ? GW_VERDICT_FAULT : GW_VERDICT_UNSURE);
        bench_close(&b);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(clipping_that_goes_on_is_no_screens),
        cmocka_unit_test(probe_switch_is_suspected_at_every_inner_point),
        cmocka_unit_test(what_is_not_undone_behind_is_no_probe_error),
        cmocka_unit_test(probe_switch_at_the_first_point_shows_by_the_stated_stimulus),
        cmocka_unit_test(probe_switch_where_two_branches_start),
        cmocka_unit_test(twenty_decibels_lost_for_good_are_a_fault),
        cmocka_unit_test(floating_probe_is_told_from_a_dead_stage),
        cmocka_unit_test(floating_probe_read_as_noise),
        cmocka_unit_test(unstated_stimulus_on_the_mains),
        cmocka_unit_test(silent_point_before_a_live_one_is_the_probe),
        cmocka_unit_test(leakage_past_a_dead_stage_is_no_probe_error),
        cmocka_unit_test(clipped_in_the_recorder_is_the_capture),
        cmocka_unit_test(clipping_that_is_gone_at_the_next_point_was_the_screen),
        cmocka_unit_test(capture_that_fills_the_screen_is_clipped_by_it),
        cmocka_unit_test(clipped_at_one_end_of_the_recorder),
        cmocka_unit_test(crests_that_are_gone_at_the_screens_edge),
        cmocka_unit_test(hidden_signal_in_the_middle_is_stepped_over),
        cmocka_unit_test(bound_is_no_ground_for_doubt),
        cmocka_unit_test(fresh_point_comes_before_a_second_try),
        cmocka_unit_test(hum_of_the_ground_lead_is_gone_at_the_next_point),
        cmocka_unit_test(poor_capture_does_not_hide_a_fault_elsewhere),
        cmocka_unit_test(too_short_a_capture_is_said_so),
        cmocka_unit_test(harmonics_above_the_band_are_not_gone),
        cmocka_unit_test(doubtful_level_is_no_witness),
        cmocka_unit_test(probe_is_not_doubted_where_the_signal_cuts_out),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
