/* DC: coupling capacitors, offsets, biases, AC coupling. */
#include "walk_testing.h"

static const char tarn[] = "[chain]\n"
                           "stimulus = sine 1 kHz 100 mV\n"
                           "[point J1]\n"
                           "[point Q1]\n"
                           "gain = 20 dB ± 1 dB\n"
                           "dc = 5 V ± 0.5 V\n"
                           "[point C9]\n"
                           "stage = coupling c=10u load=47k\n"
                           "[point U2]\n"
                           "stage = noninverting rf=10k rg=10k\n"
                           "[point C12]\n"
                           "stage = coupling c=10u load=47k\n";

static void put_healthy(bench *b) {
    put_sine(b, "J1", 0.1, 0);
    put_sine(b, "Q1", 1, 5.02);
    put_sine(b, "C9", 1, 0.4e-3);
    put_sine(b, "U2", 2, 2e-3);
    put_sine(b, "C12", 2, 0);
}

static void coupling_is_confirmed_in_words(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    say(&b.readings[2], GW_DC, 0.4e-3, 0.6e-3, 0);
    expect_clear(&b);
    const char *note = stage_to(&b, "C9")->note;
    assert_non_null(note);
    assert_non_null(strstr(note, "blocks DC: 5.02 V before, 0.4 ± 1.2 mV left"));
    /* 1/(2 pi 10u 47k) = 0.339 Hz; settled to 1 % after ln 100 of 0.47 s = 2.16 s */
    assert_non_null(strstr(note, "0.34 Hz"));
    assert_non_null(strstr(note, "2.2 s"));
    assert_null(stage_to(&b, "U2")->note);
    bench_close(&b);
}

/* What is left says nothing where no DC came, or where it is known no better than what came. */
static void blocking_is_claimed_only_where_it_shows(void **state) {
    (void)state;
    static const struct {
        double before_v, left_v, u_v; /* standard uncertainty of what is left */
        const char *words;
    } cases[] = {
        {8e-3, 6e-3, 0.1e-3, "little DC to block: "},
        {5, 0, 2.65, "whether it blocks DC is not shown: "},
        {-5, -0.01, 0.1, "blocks DC: "},
        {5, 1.2, 0.01, "does not block DC: "},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        bench b;
        bench_open(&b, tarn);
        put_healthy(&b);
        put_sine(&b, "Q1", 1, cases[i].before_v);
        say(&b.readings[2], GW_DC, cases[i].left_v, cases[i].u_v, 0);
        walk_of(&b);
        const char *note = stage_to(&b, "C9")->note;
        assert_non_null(note);
        if (strncmp(note, cases[i].words, strlen(cases[i].words)) != 0)
            fail_msg("'%s' expected: %s", cases[i].words, note);
        bench_close(&b);
    }
}

static void leaky_capacitor_is_found_and_what_follows_is_not_shouted(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    put_sine(&b, "C9", 1, 1.2);
    put_sine(&b, "U2", 2, 2.4);
    expect_fault(&b, GW_FOUND_DC_PASSED, "Q1", "C9");
    assert_non_null(strstr(b.walk->findings[0].causes[0], "leaky coupling capacitor"));
    assert_non_null(strstr(stage_to(&b, "C9")->note, "does not block DC"));
    /* the next stage amplifies what came in: in order */
    assert_int_equal(stage_to(&b, "U2")->dc.status, GW_OK);
    assert_int_equal(stage_to(&b, "C12")->dc.status, GW_OK);
    bench_close(&b);
}

/* Limits of a DC that is not nothing: behind a capacitor anything in them is in order; what is beyond them passed where
 * more than half their width came in, and is the stage's own where less did. */
static void what_came_in_through_a_capacitor_about_a_bias(void **state) {
    (void)state;
    static const double in_v[] = {0.5, 3, 9};
    for (int i = 0; i < 3; i++) {
        bench b;
        bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\nstage = coupling c=10u load=100k\n"
                       "dc = 1 V ± 2 V\n");
        put_sine(&b, "A", 1, in_v[i]);
        put_sine(&b, "B", 1, 4.5);
        expect_fault(&b, i ? GW_FOUND_DC_PASSED : GW_FOUND_DC_SHIFT, "A", "B");
        put_sine(&b, "B", 1, 2);
        expect_clear(&b);
        bench_close(&b);
    }
}

static void leaky_capacitor_drives_the_next_stage_to_its_rail(void **state) {
    (void)state;
    bench b;
    char text[900];
    snprintf(text, sizeof text, "%s[rail +15]\ndc = 15 V ± 10 %%\n[rail -15]\ndc = -15 V ± 10 %%\n", tarn);
    bench_open(&b, text);
    put_healthy(&b);
    put_rail(&b, "+15", 15.02, 0);
    put_rail(&b, "-15", -15.05, 0);
    put_sine(&b, "C9", 1, 9);
    put_silence(&b, "U2", 5e-3, 13.6);
    put_silence(&b, "C12", 5e-3, 0);
    expect_fault(&b, GW_FOUND_DC_PASSED, "Q1", "C9");
    bench_close(&b);
}

static void two_leaky_capacitors_are_two_faults(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    put_sine(&b, "C9", 1, 0.5);
    put_sine(&b, "U2", 2, 1.0);
    put_sine(&b, "C12", 2, 0.4);
    const gw_walk *walk = walk_of(&b);
    assert_or_explain(count_findings(walk, GW_OFF, true) == 2, walk);
    assert_int_equal(walk->verdict.to, bench_point(&b, "C9"));
    assert_int_equal(walk->findings[1].code, GW_FOUND_DC_PASSED);
    bench_close(&b);
}

static void wrong_stated_dc_is_a_shift_and_a_statement_below_follows(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 100 mV\n[point J1]\n[point U1]\nstage = follower\ndc = 0 V ± 20 mV\n"
                   "[point S1]\nstage = wire\ndc = 0 V ± 20 mV\n[point U2]\nstage = follower\ndc = 0 V ± 20 mV\n");
    put_sine(&b, "J1", 0.1, 0);
    put_sine(&b, "U1", 0.1, 3);
    put_sine(&b, "S1", 0.1, 3);
    put_sine(&b, "U2", 0.1, 3);
    expect_fault(&b, GW_FOUND_DC_SHIFT, "J1", "U1");
    assert_int_equal(b.walk->finding_count, 3);
    assert_int_equal(b.walk->findings[1].follows, 0);
    assert_int_equal(b.walk->findings[2].follows, 0);
    assert_int_equal(b.walk->points[bench_point(&b, "U2")].status, GW_UNJUDGED);
    bench_close(&b);
}

static void independent_shift_below_is_found_too(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 100 mV\n[point J1]\n[point U1]\nstage = follower\ndc = 0 V ± 20 mV\n"
                   "[point U2]\nstage = follower\ndc = 0 V ± 20 mV\n");
    put_sine(&b, "J1", 0.1, 0);
    put_sine(&b, "U1", 0.1, 1);
    put_sine(&b, "U2", 0.1, -4);
    const gw_walk *walk = walk_of(&b);
    assert_or_explain(count_findings(walk, GW_OFF, true) == 2, walk);
    bench_close(&b);
}

/* Common practice: 5 mV of input offset times a noise gain of 101 is 0.5 V, and normal. */
static void offset_times_noise_gain_is_normal(void **state) {
    (void)state;
    bench b;
    bench_open(&b,
               "[chain]\nstimulus = sine 1 kHz 10 mV\n[point J1]\n[point U1]\nstage = noninverting rf=100k rg=1k\n");
    put_sine(&b, "J1", 0.01, 0);
    put_sine(&b, "U1", 1.01, 0.45);
    expect_clear(&b);
    put_sine(&b, "U1", 1.01, 0.9);
    expect_fault(&b, GW_FOUND_DC_SHIFT, "J1", "U1");
    bench_close(&b);
}

/* Common practice: a single-supply stage stands at half the supply before its coupling capacitor. */
static void half_supply_is_by_design(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 100 mV\n[point J1]\n[point U1]\nstage = noninverting rf=10k rg=10k\n"
                   "[point C2]\nstage = coupling c=1u load=100k\n[rail +9]\ndc = 9 V ± 5 %\n");
    put_rail(&b, "+9", 9.02, 0);
    put_sine(&b, "J1", 0.1, 0);
    put_sine(&b, "U1", 0.2, 4.6);
    put_sine(&b, "C2", 0.2, 0);
    expect_clear(&b);
    assert_int_equal(stage_to(&b, "U1")->dc.status, GW_UNJUDGED);
    bench_close(&b);
    /* half of the declared supply is a bias wherever it stands, a third of it is not */
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 100 mV\n[point J1]\n[point U1]\nstage = noninverting rf=10k rg=10k\n"
                   "[point U2]\nstage = follower\n[rail +9]\ndc = 9 V ± 5 %\n");
    put_rail(&b, "+9", 9.02, 0);
    put_sine(&b, "J1", 0.1, 0);
    put_sine(&b, "U1", 0.2, 4.7);
    put_sine(&b, "U2", 0.2, 4.7);
    expect_clear(&b);
    put_sine(&b, "U1", 0.2, 3);
    put_sine(&b, "U2", 0.2, 3);
    expect_fault(&b, GW_FOUND_DC_SHIFT, "J1", "U1");
    bench_close(&b);
    /* and without a rail in the file, too: what comes next blocks it */
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 100 mV\n[point J1]\n[point U1]\nstage = noninverting rf=10k rg=10k\n"
                   "[point C2]\nstage = coupling c=1u load=100k\n");
    put_sine(&b, "J1", 0.1, 0);
    put_sine(&b, "U1", 0.2, 4.6);
    put_sine(&b, "C2", 0.2, 0);
    expect_clear(&b);
    bench_close(&b);
}

/* Behind the coupling capacitor half the supply is its leak, or the bias of what follows: nobody can tell, but in order
 * it is not. */
static void half_supply_behind_the_capacitor_is_doubted(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 100 mV\n[point U1]\ndc = 4.5 V\n[point C2]\n"
                   "stage = coupling c=1u load=100k\n[rail +9]\ndc = 9 V ± 5 %\n");
    put_rail(&b, "+9", 9.02, 0);
    put_sine(&b, "U1", 0.1, 4.5);
    put_sine(&b, "C2", 0.1, 4.3);
    expect_verdict(&b, GW_VERDICT_UNSURE);
    const gw_finding *found = find(&b, GW_FOUND_DC_PASSED, "C2");
    assert_or_explain(found && found->settle && strstr(found->settle, "state `dc`"), b.walk);
    put_sine(&b, "C2", 0.1, 3);
    expect_fault(&b, GW_FOUND_DC_PASSED, "U1", "C2");
    bench_close(&b);
}

/* A leg to ground through a capacitor passes the bias once, whatever the gain. */
static void bias_may_pass_once(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 100 mV\n[point J1]\ndc = 4.5 V\n[point U1]\n"
                   "stage = noninverting rf=100k rg=10k\n[point U2]\nstage = inverting rf=20k rin=10k\n");
    put_sine(&b, "J1", 0.1, 4.5);
    put_sine(&b, "U1", 1.1, 4.52);
    put_sine(&b, "U2", 2.2, 4.49);
    expect_clear(&b);
    bench_close(&b);
}

/* A meter reads 3 V at an output that was not captured. Where the stage passes its signal that may be the bias it works
 * about, which nobody stated; where next to nothing of the signal comes out behind it, the stage does not work, and 3 V
 * where none are expected are wrong. */
static void output_at_a_bias_works_about_it(void **state) {
    (void)state;
    for (int lost = 0; lost < 2; lost++) {
        bench b;
        bench_open(&b,
                   "[chain]\nstimulus = sine 1 kHz 100 mV\n[point A]\n[point U1]\n"
                   "stage = noninverting rf=90k rg=10k\nreading = 3 V\n[point C1]\nstage = coupling c=10u load=47k\n");
        put_sine(&b, "A", 0.1, 0);
        put_sine(&b, "C1", lost ? 1e-3 : 1, 0);
        if (lost)
            expect_fault(&b, GW_FOUND_DC_SHIFT, "A", "U1");
        else
            expect_clear(&b);
        assert_int_equal(b.walk->points[bench_point(&b, "U1")].dc.status, lost ? GW_OFF : GW_UNJUDGED);
        bench_close(&b);
    }
}

static void ac_coupled_capture_never_says_dc_in_order(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    for (int i = 0; i < 5; i++) {
        say(&b.readings[i], GW_DC, 0, 1e-3, 0);
        b.readings[i].dc_hidden = true;
    }
    expect_verdict(&b, GW_VERDICT_CLEAR);
    for (size_t i = 0; i < b.walk->stage_count; i++)
        assert_int_equal(b.walk->stages[i].dc.status, GW_UNJUDGED);
    assert_non_null(strstr(b.walk->verdict.summary, "DC"));
    bench_close(&b);
}

/* A sound card blocks DC: it never says "in order"; but what comes through it all the same is there. */
static void sound_card_never_says_dc_in_order(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    say(&b.readings[2], GW_DC, 1e-5, 1e-6, 0);
    b.readings[2].source.wav = true;
    expect_clear(&b);
    assert_int_equal(stage_to(&b, "C9")->dc.status, GW_UNJUDGED);
    assert_false(stage_to(&b, "C9")->dc.has_value);
    assert_null(strstr(stage_to(&b, "C9")->note, "left"));
    assert_non_null(strstr(stage_to(&b, "C9")->note, "hides DC"));
    assert_non_null(strstr(b.walk->verdict.summary, "DC"));
    say(&b.readings[2], GW_DC, 0.5, 1e-3, 0);
    put_sine(&b, "U2", 2, 1);
    expect_fault(&b, GW_FOUND_DC_PASSED, "Q1", "C9");
    bench_close(&b);
}

static void undeclared_ac_coupling_is_suspected(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    for (int i = 0; i < 5; i++) {
        say(&b.readings[i], GW_DC, 0, 1e-3, 0);
        b.readings[i].clues.dc_exactly_zero = true;
    }
    walk_of(&b);
    assert_or_explain(count_findings(b.walk, GW_OFF, false) == 0, b.walk);
    for (size_t i = 0; i < b.walk->stage_count; i++)
        assert_int_equal(b.walk->stages[i].dc.status, GW_UNJUDGED);
    bool said = false;
    for (size_t i = 0; i < b.walk->remarks.count; i++)
        said = said || strstr(b.walk->remarks.items[i], "AC coupling");
    assert_true(said);
    bench_close(&b);
    /* one capture alone that reads 0 while its stage passes the signal: unsure, not off */
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 100 mV\n[point A]\n[point Q1]\ngain = 20 dB\ndc = 5 V\n[point Q2]\n"
                   "gain = 0 dB\ndc = 7 V\n");
    put_sine(&b, "A", 0.1, 0);
    put_sine(&b, "Q1", 1, 3e-3);
    put_sine(&b, "Q2", 1, 7);
    walk_of(&b);
    assert_or_explain(count_findings(b.walk, GW_OFF, false) == 0, b.walk);
    assert_int_equal(b.walk->verdict.status, GW_VERDICT_UNSURE);
    assert_non_null(strstr(b.walk->findings[0].settle, "DC coupling"));
    /* every capture like that: nobody declared the coupling, and DC is not judged */
    put_sine(&b, "Q2", 1, -2e-3);
    expect_clear(&b);
    assert_int_equal(stage_to(&b, "Q1")->dc.status, GW_UNJUDGED);
    /* but a stage that passes no signal may well have lost its supply */
    put_silence(&b, "Q1", 1e-3, 0);
    put_silence(&b, "Q2", 1e-3, 0);
    expect_fault(&b, GW_FOUND_SIGNAL_LOST, "A", "Q1");
    assert_int_equal(stage_to(&b, "Q1")->dc.status, GW_OFF);
    bench_close(&b);
}

/* A limit finer than three steps of the capture is never off. */
static void limit_finer_than_three_steps_is_not_off(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    gw_readings *r = put_sine(&b, "C9", 1, 0.1);
    r->source.step = 40e-3;
    say(r, GW_DC, 0.1, 1e-3, 0);
    walk_of(&b);
    assert_or_explain(count_findings(b.walk, GW_OFF, false) == 0, b.walk);
    say(r, GW_DC, 0.3, 1e-3, 0);
    put_sine(&b, "U2", 2, 0.6);
    expect_fault(&b, GW_FOUND_DC_PASSED, "Q1", "C9");
    bench_close(&b);
}

/* A wire that loses 6 dB loses them of the DC as well: one fault. */
static void loss_takes_the_dc_along(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\ndc = 6 V\n[point B]\nstage = wire\n");
    put_sine(&b, "A", 1, 6);
    put_sine(&b, "B", 0.5, 3);
    expect_fault(&b, GW_FOUND_LEVEL_LOW, "A", "B");
    assert_int_equal(b.walk->finding_count, 2);
    put_sine(&b, "B", 0.5, 0);
    expect_fault(&b, GW_FOUND_DC_SHIFT, "A", "B");
    bench_close(&b);
}

/* One side of a sine cut to nothing leaves a mean of 1/pi of what is left, peak to peak (Fourier series of the half
 * wave): the DC of a stage that bends so far is the bend's. More DC than that bends the signal, and is the fault. */
static void bending_moves_the_dc_no_further_than_it_can(void **state) {
    (void)state;
    for (int more = 0; more < 2; more++) {
        bench b;
        bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\nstage = amp\ngain = 0 dB ± 2 dB\n"
                       "thd = < 1 %\ndc = 0 V ± 50 mV\n");
        put_sine(&b, "A", 1, 0);
        gw_readings *r = put_sine(&b, "B", 1, more ? 2 : 0.6);
        say(r, GW_THD, 0.2, 1e-3, 0);
        expect_fault(&b, more ? GW_FOUND_DC_SHIFT : GW_FOUND_DISTORTION_ADDED, "A", "B");
        assert_int_equal(b.walk->finding_count, 2);
        bench_close(&b);
    }
}

static void amp_passes_dc_unjudged(void **state) {
    (void)state;
    bench b;
    bench_open(&b,
               "[chain]\nstimulus = sine 1 kHz 100 mV\n[point J1]\n[point Q1]\nstage = amp\ngain = 20 dB\n[point Q2]\n"
               "stage = amp blocks-dc\ngain = 0 dB\n");
    put_sine(&b, "J1", 0.1, 0.2);
    put_sine(&b, "Q1", 1, 7);
    put_sine(&b, "Q2", 1, 0);
    expect_clear(&b);
    assert_int_equal(stage_to(&b, "Q1")->dc.status, GW_UNJUDGED);
    assert_int_equal(stage_to(&b, "Q2")->dc.status, GW_OK);
    bench_close(&b);
}

/* Common practice: DC beyond 80 % of a rail is an op-amp stuck there; it is told with the lost signal, never alone. */
static void stuck_output_is_reported_with_its_lost_signal(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 100 mV\n[point J1]\n[point U1]\nstage = amp\ngain = 20 dB\n"
                   "[rail +15]\ndc = 15 V ± 10 %\n[rail -15]\ndc = -15 V ± 10 %\n");
    put_rail(&b, "+15", 15.1, 0);
    put_rail(&b, "-15", -14.9, 0);
    put_sine(&b, "J1", 0.1, 0);
    put_silence(&b, "U1", 5e-3, 13.5);
    expect_fault(&b, GW_FOUND_SIGNAL_LOST, "J1", "U1");
    assert_non_null(strstr(b.walk->findings[0].causes[0], "stuck"));
    put_sine(&b, "U1", 1, 13.5);
    expect_clear(&b);
    bench_close(&b);
}

/* A DC that lies outside the samples is the fit's, not the circuit's. */
static void dc_outside_the_samples_is_not_judged(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    gw_readings *r = &b.readings[3];
    say(r, GW_PEAK_HIGH, 2.83, 1e-2, 0);
    say(r, GW_PEAK_LOW, -2.83, 1e-2, 0);
    say(r, GW_DC, 50, 0.5, 0);
    expect_clear(&b);
    assert_int_equal(stage_to(&b, "U2")->dc.status, GW_UNJUDGED);
    /* half way between the peaks of a sine is 0; a DC of 0.5 V is at least uncertain by that */
    say(r, GW_DC, 0.5, 1e-2, 0);
    walk_of(&b);
    assert_or_explain(count_findings(b.walk, GW_OFF, false) == 0, b.walk);
    bench_close(&b);
}

static void grid_current_is_no_leak(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 100 mV\n[point J1]\n[point C1]\nstage = coupling c=10n load=1M\n");
    put_sine(&b, "J1", 0.1, 0);
    put_sine(&b, "C1", 0.1, -0.8);
    expect_fault(&b, GW_FOUND_DC_SHIFT, "J1", "C1");
    bench_close(&b);
}

/* The mean of both peaks of a sine is its DC: where they agree it is as certain as it was read. */
static void peaks_that_agree_doubt_no_dc(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\ngain = 0 dB\ndc = 1 V ± 10 %\n");
    put_sine(&b, "A", 1, 0);
    gw_readings *r = put_sine(&b, "B", 1, 1);
    say(r, GW_DC, 1, 1e-4, bench_accuracy);
    say(r, GW_PEAK_HIGH, 2.4142, 1e-3, bench_accuracy);
    say(r, GW_PEAK_LOW, -0.4142, 1e-3, bench_accuracy);
    walk_of(&b);
    const gw_judgement *dc = &b.walk->points[bench_point(&b, "B")].dc;
    assert_close(dc->u95, r->values[GW_DC].u95, 1e-9);
    bench_close(&b);
}

/* 1 % of 10 V is a fifth of a step of 0.5 V: a finer range would tell, more accuracy would not. */
static void dc_finer_than_the_steps_says_so(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\ngain = 0 dB\ndc = 10 V ± 1 %\n");
    put_sine(&b, "A", 1, 0);
    gw_readings *r = put_sine(&b, "B", 1, 10.05);
    r->source.step = 0.5;
    walk_of(&b);
    const gw_judgement *dc = &b.walk->points[bench_point(&b, "B")].dc;
    assert_int_equal(dc->status, GW_UNSURE);
    assert_string_equal(dc->why, "the limit is finer than the capture resolves");
    bench_close(&b);
}

/* Where some of the captures hide their DC the first of them is named, in the order of the chain. */
static void first_of_those_that_hide_dc_is_named(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\nstage = wire\n[point C]\nstage = wire\n");
    put_sine(&b, "A", 1, 0)->dc_hidden = true;
    put_sine(&b, "B", 1, 0)->dc_hidden = true;
    put_sine(&b, "C", 1, 2e-3);
    expect_clear(&b);
    assert_non_null(strstr(b.walk->verdict.summary, "(but for DC at A and others, which the capture hides)"));
    bench_close(&b);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(coupling_is_confirmed_in_words),
        cmocka_unit_test(dc_finer_than_the_steps_says_so),
        cmocka_unit_test(peaks_that_agree_doubt_no_dc),
        cmocka_unit_test(blocking_is_claimed_only_where_it_shows),
        cmocka_unit_test(leaky_capacitor_is_found_and_what_follows_is_not_shouted),
        cmocka_unit_test(leaky_capacitor_drives_the_next_stage_to_its_rail),
        cmocka_unit_test(what_came_in_through_a_capacitor_about_a_bias),
        cmocka_unit_test(two_leaky_capacitors_are_two_faults),
        cmocka_unit_test(wrong_stated_dc_is_a_shift_and_a_statement_below_follows),
        cmocka_unit_test(independent_shift_below_is_found_too),
        cmocka_unit_test(offset_times_noise_gain_is_normal),
        cmocka_unit_test(half_supply_is_by_design),
        cmocka_unit_test(half_supply_behind_the_capacitor_is_doubted),
        cmocka_unit_test(bias_may_pass_once),
        cmocka_unit_test(output_at_a_bias_works_about_it),
        cmocka_unit_test(ac_coupled_capture_never_says_dc_in_order),
        cmocka_unit_test(sound_card_never_says_dc_in_order),
        cmocka_unit_test(undeclared_ac_coupling_is_suspected),
        cmocka_unit_test(limit_finer_than_three_steps_is_not_off),
        cmocka_unit_test(loss_takes_the_dc_along),
        cmocka_unit_test(bending_moves_the_dc_no_further_than_it_can),
        cmocka_unit_test(amp_passes_dc_unjudged),
        cmocka_unit_test(stuck_output_is_reported_with_its_lost_signal),
        cmocka_unit_test(dc_outside_the_samples_is_not_judged),
        cmocka_unit_test(grid_current_is_no_leak),
        cmocka_unit_test(first_of_those_that_hide_dc_is_named),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
