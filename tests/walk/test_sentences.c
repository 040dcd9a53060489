/* What findings say beside what they are: figures in their sentences, what would settle a doubt, causes in order.
 * Expected words are those of the interface; figures are what was put in. */
#include "walk_testing.h"

/* A tenfold stage and a wire, 100 mV fed in. */
static const char line[] = "[chain]\nstimulus = sine 1 kHz 100 mV\n[point A]\n[point B]\nstage = noninverting rf=9k "
                           "rg=1k\n[point C]\nstage = wire\n[rail plus]\ndc = 15 V ± 5 %\n";

static void what_goes_in_is_the_level_before_the_stage(void **state) {
    (void)state;
    bench b;
    bench_open(&b, line);
    put_sine(&b, "A", 0.1, 0);
    put_sine(&b, "B", 1, 0);
    put_silence(&b, "C", 1e-4, 0);
    expect_fault(&b, GW_FOUND_SIGNAL_LOST, "B", "C");
    assert_or_explain(strstr(b.walk->findings[0].evidence, "where 1.00 V go in") != NULL, b.walk);
    bench_close(&b);
}

/* The stage's own tolerance of 1 dB leaves a figure of 1.1 dB open both times, once for the instrument's accuracy and
 * once for what the captures scatter. */
static void what_settles_a_gain_is_where_the_doubt_is_from(void **state) {
    (void)state;
    static const char *const ways[] = {"one channel on one range", "finer range", "more cycles"};
    for (int way = 0; way < 3; way++) {
        bench b;
        bench_open(&b, line);
        gw_readings *in = put_sine(&b, "A", 0.1, 0), *out = put_sine(&b, "B", 0.88, 0);
        if (way > 0) {
            say(in, GW_LEVEL, 0.1, 2e-3, 0);
            say(out, GW_LEVEL, 0.88, 2e-2, 0);
        }
        out->clues.too_short = way == 2;
        walk_of(&b);
        const gw_finding *found = find(&b, GW_FOUND_LEVEL_LOW, "B");
        assert_or_explain(found && found->status == GW_UNSURE, b.walk);
        for (int other = 0; other < 3; other++)
            assert_or_explain((strstr(found->settle, ways[other]) != NULL) == (other == way), b.walk);
        bench_close(&b);
    }
}

/* THD is a share already; hum in volts is told as a share of the signal too: 50 mV of 1 V are 5 %. */
static void only_volts_are_told_as_a_share(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 100 mV\n[point A]\n[point B]\nstage = noninverting rf=9k rg=1k\n"
                   "thd = < 1 %\nhum = < 20 mV\n");
    put_sine(&b, "A", 0.1, 0);
    say(put_sine(&b, "B", 1, 0), GW_THD, 0.02, 3e-4, 0);
    expect_fault(&b, GW_FOUND_DISTORTION_ADDED, "A", "B");
    assert_or_explain(strstr(b.walk->findings[0].evidence, "of the signal") == NULL, b.walk);
    gw_readings *r = put_sine(&b, "B", 1, 0);
    say(r, GW_HUM, 50e-3, 1e-4, 0);
    r->clues.hum_mains_v = 50e-3;
    expect_fault(&b, GW_FOUND_HUM_ADDED, "A", "B");
    assert_or_explain(strstr(b.walk->findings[0].evidence, "5 % of the signal") != NULL, b.walk);
    bench_close(&b);
}

/* Whichever of two equal rails is low, the same causes are told in the same order. */
static void the_first_rail_is_told_as_any_other(void **state) {
    (void)state;
    static const char *const names[] = {"one", "two"};
    static const double volts[] = {12, 16.5, 0.3}; /* low, high, gone */
    for (int k = 0; k < 3; k++) {
        bench b[2];
        for (int rail = 0; rail < 2; rail++) {
            bench_open(&b[rail], "[chain]\nstimulus = sine 1 kHz 100 mV\n[point A]\n[rail one]\ndc = 15 V ± 5 %\n"
                                 "[rail two]\ndc = 15 V ± 5 %\n");
            put_sine(&b[rail], "A", 0.1, 0);
            put_rail(&b[rail], names[rail], volts[k], 0);
            put_rail(&b[rail], names[!rail], 15, 0);
            walk_of(&b[rail]);
            assert_or_explain(b[rail].walk->verdict.rail == rail, b[rail].walk);
        }
        const gw_finding *one = &b[0].walk->findings[0], *two = &b[1].walk->findings[0];
        assert_int_equal(one->cause_count, two->cause_count);
        for (size_t i = 0; i < one->cause_count; i++)
            assert_string_equal(one->causes[i], two->causes[i]);
        bench_close(&b[0]);
        bench_close(&b[1]);
    }
}

/* A signal that may only be too small to see is low for certain, and no more; with an output that stands at the supply
 * it is gone. The capture's noise hides up to 60 mV where 1 V is due. */
static void an_output_at_the_rail_has_lost_its_signal(void **state) {
    (void)state;
    static const double dc[] = {2, 13.5};
    for (int stuck = 0; stuck < 2; stuck++) {
        bench b;
        bench_open(&b, line);
        put_sine(&b, "A", 0.1, 0);
        put_silence(&b, "B", 60e-3, dc[stuck]);
        put_rail(&b, "plus", 15, 0);
        walk_of(&b);
        assert_or_explain(find(&b, stuck ? GW_FOUND_SIGNAL_LOST : GW_FOUND_LEVEL_LOW, "B") != NULL, b.walk);
        assert_or_explain(find(&b, stuck ? GW_FOUND_LEVEL_LOW : GW_FOUND_SIGNAL_LOST, "B") == NULL, b.walk);
        bench_close(&b);
    }
}

/* Impulses of four steps of the capture: a contact's where a signal goes through, too small to count in silence. */
static void impulses_count_from_fewer_steps_where_a_signal_is(void **state) {
    (void)state;
    for (int silent = 0; silent < 2; silent++) {
        bench b;
        bench_open(&b, silent ? "[chain]\nstimulus = none\n[point A]\n[point B]\nstage = wire\n"
                              : "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\nstage = wire\n");
        gw_event events[] = {{GW_EVENT_CRACKLE, 0.011, 1e-4, 0.1},
                             {GW_EVENT_CRACKLE, 0.0237, 1e-4, -0.1},
                             {GW_EVENT_CRACKLE, 0.0391, 1e-4, 0.1}};
        gw_readings *in = silent ? put_silence(&b, "A", 1e-3, 0) : put_sine(&b, "A", 1, 0);
        gw_readings *out = silent ? put_silence(&b, "B", 1e-3, 0) : put_sine(&b, "B", 1, 0);
        in->source.step = out->source.step = 0.025;
        out->events = events;
        out->event_count = 3;
        walk_of(&b);
        assert_or_explain((find(&b, GW_FOUND_CRACKLE, "B") == NULL) == silent, b.walk);
        bench_close(&b);
    }
}

/* A capture of noise in steps of so many volts; its figures are said after. */
static gw_readings *put_noisy(bench *b, const char *name, double step_v) {
    gw_readings *r = put_sine(b, name, 0.01, 0);
    r->signal = GW_SIGNAL_NOISE;
    r->source.step = step_v;
    return r;
}

/* Noise of 10 mV seen in steps of 20 mV may be the converter's own, all of it: a wire's gain is known to no better than
 * twice half of it. Of a sine as small a fit tells more. */
static void noise_below_a_step_is_hardly_known(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = noise\n[point A]\n[point B]\nstage = wire\n");
    for (int i = 0; i < 2; i++) {
        gw_readings *r = put_noisy(&b, i ? "B" : "A", i ? 0.02 : 1e-5);
        say(r, GW_NOISE, 0.01, 1e-5, 0);
        say_nothing(r, GW_LEVEL, "noise");
        say_nothing(r, GW_FREQUENCY, "no periodic signal");
    }
    walk_of(&b);
    const gw_judgement *gain = &stage_to(&b, "B")->gain;
    assert_true(gain->has_value);
    assert_or_explain(gain->u95 >= 0.99 && gain->u95 < 1.3, b.walk);
    bench_close(&b);
}

/* A limit of 5 mV for ripple: 5.2 mV known to 0.4 mV, and a capture that cannot see less than 8 mV, leave it open. */
static void ripple_near_its_limit_is_unsure(void **state) {
    (void)state;
    static const char *const whys[] = {"the limit lies within the uncertainty",
                                       "the capture cannot show as little as the limit"};
    for (int bound = 0; bound < 2; bound++) {
        bench b;
        bench_open(&b, "[chain]\nstimulus = sine 1 kHz 100 mV\n[point A]\n[rail plus]\ndc = 15 V ± 5 %\n"
                       "ripple = < 5 mV\n");
        put_sine(&b, "A", 0.1, 0);
        gw_readings *rail = put_rail(&b, "plus", 15, 5.2e-3);
        if (bound)
            say_below(rail, GW_HUM, 8e-3);
        else
            say(rail, GW_HUM, 5.2e-3, 0.2e-3, 0);
        expect_verdict(&b, GW_VERDICT_UNSURE);
        assert_string_equal(b.walk->rails[0].ripple.why, whys[bound]);
        assert_or_explain(b.walk->finding_count == 1 && b.walk->findings[0].code == GW_FOUND_RIPPLE_HIGH, b.walk);
        assert_non_null(strstr(b.walk->findings[0].settle, "AC-coupled"));
        bench_close(&b);
    }
}

/* Of a gain at its limit and a capture that cannot be read the sentence is about whichever the signal passes first. */
static void the_first_of_two_open_questions_is_told(void **state) {
    (void)state;
    for (int first = 0; first < 2; first++) {
        bench b;
        bench_open(&b,
                   "[chain]\nstimulus = sine 1 kHz 100 mV\n[point A]\n[point B]\nstage = noninverting rf=9k rg=1k\n"
                   "[point C]\nstage = wire\n[point D]\nstage = noninverting rf=9k rg=1k\n[point E]\nstage = wire\n");
        const double levels[] = {0.1, 1, 1, 10, 10};
        for (int i = 0; i < 5; i++) /* -1.1 dB in one of the stages, u95 0.43 dB */
            say_sine(put(&b, b.chain->points[i].name), 1000, levels[i] * (i >= (first ? 3 : 1) ? 0.88 : 1), 0);
        const char *poor = first ? "B" : "D";
        gw_readings *r = put(&b, poor);
        r->clues.overloaded = true;
        walk_of(&b);
        assert_or_explain(b.walk->verdict.status == GW_VERDICT_UNSURE, b.walk);
        assert_or_explain(b.walk->finding_count == 2 && find(&b, GW_FOUND_CAPTURE_POOR, poor), b.walk);
        assert_int_equal(b.walk->verdict.finding, 0);
        assert_int_equal(b.walk->findings[0].code, first ? GW_FOUND_CAPTURE_POOR : GW_FOUND_LEVEL_LOW);
        bench_close(&b);
    }
}

/* One period of a square holds its frequency by no more than where it was cut: it is not judged. */
static void one_period_of_a_square_has_no_frequency_to_judge(void **state) {
    (void)state;
    for (int few = 0; few < 2; few++) {
        bench b;
        bench_open(&b, "[chain]\nstimulus = periodic 100 Hz 1 V\n[point A]\nfrequency = 100 Hz ± 1 %\n");
        gw_readings *r = put_sine(&b, "A", 1, 0);
        r->signal = GW_SIGNAL_PERIODIC;
        say(r, GW_FREQUENCY, 110, 0.1, 0);
        r->clues.cycles = few ? 1.2 : 100;
        walk_of(&b);
        const gw_judgement *frequency = &b.walk->points[0].frequency;
        assert_int_equal(frequency->status, few ? GW_UNJUDGED : GW_OFF);
        if (few)
            assert_string_equal(frequency->why, "too few periods in the record");
        bench_close(&b);
    }
}

/* Noise with a tone in it, 3 mV and 4 mV, is a signal of 5 mV: as much as 5 mV of noise alone that went in. */
static void a_tone_in_the_noise_counts_with_it(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = noise\n[point A]\n[point B]\nstage = wire\n");
    for (int i = 0; i < 2; i++) {
        gw_readings *r = put_noisy(&b, i ? "B" : "A", 1e-6);
        say(r, GW_NOISE, i ? 3e-3 : 5e-3, 1e-5, 0);
        say_nothing(r, GW_LEVEL, "noise");
        say_nothing(r, GW_FREQUENCY, "no periodic signal");
    }
    b.tones[1][0] = (gw_tone){.kind = GW_TONE_OTHER, .frequency_hz = 3000, .rms = 4e-3, .u95 = 1e-5};
    b.readings[1].tones = b.tones[1];
    b.readings[1].tone_count = 1;
    walk_of(&b);
    assert_true(stage_to(&b, "B")->gain.has_value);
    assert_close(stage_to(&b, "B")->gain.value, 1, 1e-6);
    bench_close(&b);
}

/* What is wrong with all that goes in is before the first point; with nothing read there, as much may be between the
 * source and the next: two stages, what feeds the chain and the amplifier. */
static void where_the_first_point_stands_is_told(void **state) {
    (void)state;
    for (int skipped = 0; skipped < 2; skipped++) {
        bench b;
        bench_open(&b, line);
        if (!skipped)
            put_sine(&b, "A", 0.01, 0);
        put_sine(&b, "B", 0.1, 0);
        put_sine(&b, "C", 0.1, 0);
        const char *where = skipped ? "Somewhere between the source and B (2 stages)" : "Before the first point, A,";
        expect_fault(&b, GW_FOUND_LEVEL_LOW, NULL, skipped ? "B" : "A");
        assert_or_explain(strncmp(b.walk->verdict.summary, where, strlen(where)) == 0, b.walk);
        bench_close(&b);
    }
}

/* Noise of 60 mV hides whatever there is behind 100 mV: a gain below 20 lg 0.6 = -4.44 dB. A bound is told in whole
 * decibels, upwards: what is below -4.44 is surely below -4, and not surely below -5. */
static void a_bound_is_told_in_whole_decibels(void **state) {
    (void)state;
    bench b;
    bench_open(&b, line);
    put_sine(&b, "A", 0.1, 0);
    put_silence(&b, "B", 60e-3, 0);
    expect_fault(&b, GW_FOUND_LEVEL_LOW, "A", "B");
    assert_or_explain(strstr(b.walk->findings[0].evidence, "gain below -4 dB, expected") != NULL, b.walk);
    bench_close(&b);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_goes_in_is_the_level_before_the_stage),
        cmocka_unit_test(what_settles_a_gain_is_where_the_doubt_is_from),
        cmocka_unit_test(only_volts_are_told_as_a_share),
        cmocka_unit_test(the_first_rail_is_told_as_any_other),
        cmocka_unit_test(impulses_count_from_fewer_steps_where_a_signal_is),
        cmocka_unit_test(noise_below_a_step_is_hardly_known),
        cmocka_unit_test(a_tone_in_the_noise_counts_with_it),
        cmocka_unit_test(ripple_near_its_limit_is_unsure),
        cmocka_unit_test(the_first_of_two_open_questions_is_told),
        cmocka_unit_test(one_period_of_a_square_has_no_frequency_to_judge),
        cmocka_unit_test(an_output_at_the_rail_has_lost_its_signal),
        cmocka_unit_test(where_the_first_point_stands_is_told),
        cmocka_unit_test(a_bound_is_told_in_whole_decibels),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
