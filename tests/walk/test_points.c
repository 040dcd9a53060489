/* Points by themselves: pitch, stated level, polarity, siblings, highs and lows. */
#include "walk_testing.h"

static void pitch_follows_the_stimulus(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\nstage = follower\n[point C]\n"
                   "stage = wire\n");
    const char *points[] = {"A", "B", "C"};
    for (int i = 0; i < 3; i++)
        put_sine(&b, points[i], 1, 0);
    expect_clear(&b);
    for (int i = 1; i < 3; i++)
        say(&b.readings[i], GW_FREQUENCY, 1030, 0.1, 0);
    expect_fault(&b, GW_FOUND_PITCH_OFF, "A", "B");
    for (int i = 0; i < 3; i++)
        say(&b.readings[i], GW_FREQUENCY, 1010, 0.1, 0);
    expect_clear(&b);
    for (int i = 0; i < 3; i++)
        say(&b.readings[i], GW_FREQUENCY, 440 + 0.3 * i, 0.1, 0); /* time bases differ a little */
    expect_fault(&b, GW_FOUND_PITCH_OFF, NULL, "A");
    assert_int_equal(b.walk->finding_count, 1);
    assert_non_null(strstr(b.walk->findings[0].causes[0], "another frequency"));
    bench_close(&b);
}

static void stated_frequency_has_its_own_limits(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[point VCO]\nfrequency = 440 Hz ± 1 %\n[point OUT]\nstage = wire\nfrequency = 440 Hz ± 1 %\n");
    for (int i = 0; i < 2; i++)
        say_sine(put(&b, i ? "OUT" : "VCO"), 441, 1, 0);
    expect_clear(&b);
    for (int i = 0; i < 2; i++)
        say_sine(put(&b, i ? "OUT" : "VCO"), 450, 1, 0);
    expect_fault(&b, GW_FOUND_PITCH_OFF, NULL, "VCO");
    assert_int_equal(b.walk->finding_count, 2);
    assert_int_equal(b.walk->findings[1].follows, 0);
    bench_close(&b);
}

static void stated_levels_localise_without_gains(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 100 mV\n[point A]\nlevel = 100 mV ± 2 dB\n[point B]\n"
                   "level = 775 mV ± 2 dB\n[point C]\nlevel = 1.5 V ± 2 dB\n");
    put_sine(&b, "A", 0.1, 0);
    put_sine(&b, "B", 0.775, 0);
    put_sine(&b, "C", 1.5, 0);
    expect_clear(&b);
    put_sine(&b, "B", 0.3, 0);
    put_sine(&b, "C", 0.6, 0);
    expect_fault(&b, GW_FOUND_LEVEL_LOW, "A", "B");
    assert_int_equal(b.walk->points[1].level.status, GW_OFF);
    bench_close(&b);
}

/* ---- polarity ---- */

static void phase(bench *b, int i, double phase_rad) {
    b->harmonics[i][0] = (gw_harmonic){
        .order = 1, .frequency_hz = 1000, .rms = 1, .u95 = 1e-3, .phase_rad = phase_rad, .resolved = true};
    b->readings[i].harmonics = b->harmonics[i];
    b->readings[i].harmonic_count = 1;
}

static void polarity_is_judged_only_within_one_file(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\nstage = inverting rf=10k rin=10k\n"
                   "[point C]\nstage = wire\n");
    const char *points[] = {"A", "B", "C"};
    for (int i = 0; i < 3; i++)
        put_sine(&b, points[i], 1, 0);
    phase(&b, 0, 0.4);
    phase(&b, 1, 0.4 + 3.1416);
    phase(&b, 2, 0.4 + 3.1416);
    expect_clear(&b);
    assert_int_equal(stage_to(&b, "B")->polarity, GW_POLARITY_UNKNOWN);
    for (int i = 0; i < 3; i++)
        b.points[i].same_file = "three.wav";
    expect_clear(&b); /* an inverting stage inverts */
    assert_int_equal(stage_to(&b, "B")->polarity, GW_POLARITY_FLIPPED);
    assert_int_equal(stage_to(&b, "B")->polarity_status, GW_OK);
    assert_int_equal(stage_to(&b, "C")->polarity, GW_POLARITY_KEPT);
    phase(&b, 2, 0.4);
    expect_fault(&b, GW_FOUND_POLARITY_FLIPPED, "B", "C");
    bench_close(&b);
}

/* A stated gain with a sign inverts, whatever the stage is made of. */
static void a_negative_gain_inverts(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\ngain = -1\n");
    for (int i = 0; i < 2; i++) {
        put_sine(&b, i ? "B" : "A", 1, 0);
        phase(&b, i, 0.4 + 3.1416 * i);
        b.points[i].same_file = "two.csv";
    }
    expect_clear(&b);
    assert_int_equal(stage_to(&b, "B")->polarity_status, GW_OK);
    phase(&b, 1, 0.4);
    expect_fault(&b, GW_FOUND_POLARITY_FLIPPED, "A", "B");
    bench_close(&b);
}

/* Wires exchanged flip the DC as well: one fault. */
static void flipped_wire_flips_the_dc(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\ndc = 4 V\n[point W]\nstage = wire\n");
    for (int i = 0; i < 2; i++) {
        put_sine(&b, i ? "W" : "A", 1, i ? -4 : 4);
        phase(&b, i, 3.1416 * i);
        b.points[i].same_file = "two.csv";
    }
    expect_fault(&b, GW_FOUND_POLARITY_FLIPPED, "A", "W");
    bench_close(&b);
}

static void polarity_of_an_unknown_stage_is_not_judged(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\nstage = amp\ngain = 0 dB\n");
    for (int i = 0; i < 2; i++) {
        put_sine(&b, i ? "B" : "A", 1, 0);
        phase(&b, i, 3.1 * i);
        b.points[i].same_file = "two.wav";
    }
    expect_clear(&b);
    assert_int_equal(stage_to(&b, "B")->polarity, GW_POLARITY_FLIPPED);
    assert_int_equal(stage_to(&b, "B")->polarity_status, GW_UNJUDGED);
    bench_close(&b);
}

static void polarity_by_the_reference_channel(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\nstage = wire\n");
    static gw_harmonic reference[2];
    for (int i = 0; i < 2; i++) {
        put_sine(&b, i ? "B" : "A", 1, 0);
        say_sine(&b.references[i], 1000, 1, 0);
        reference[i] = (gw_harmonic){.order = 1, .rms = 1, .phase_rad = 2.0 * i, .resolved = true};
        b.references[i].harmonics = &reference[i];
        b.references[i].harmonic_count = 1;
        b.points[i].reference = &b.references[i];
    }
    phase(&b, 0, 0.3);
    phase(&b, 1, 2.3);
    expect_clear(&b);
    assert_int_equal(stage_to(&b, "B")->polarity_status, GW_OK);
    phase(&b, 1, 2.3 - 3.1416);
    expect_fault(&b, GW_FOUND_POLARITY_FLIPPED, "A", "B");
    bench_close(&b);
}

/* The first stage turns it round, and the reference channel stands before it. */
static void polarity_of_the_first_point_by_the_reference_channel(void **state) {
    (void)state;
    bench b;
    static gw_harmonic reference = {.order = 1, .rms = 1, .phase_rad = 1, .resolved = true};
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\nstage = inverting rf=10k rin=10k\n");
    put_sine(&b, "A", 1, 0);
    say_sine(&b.references[0], 1000, 1, 0);
    b.references[0].harmonics = &reference;
    b.references[0].harmonic_count = 1;
    b.points[0].reference = &b.references[0];
    phase(&b, 0, 1 + 3.1416);
    expect_clear(&b);
    assert_int_equal(stage_to(&b, "A")->polarity, GW_POLARITY_FLIPPED);
    phase(&b, 0, 1);
    expect_fault(&b, GW_FOUND_POLARITY_FLIPPED, NULL, "A");
    bench_close(&b);
}

/* ---- siblings ---- */

static const char voices[] = "[point IN]\n[point V1]\ngroup = voices\n[point V2]\nafter = IN\ngroup = voices\n"
                             "[point V3]\nafter = IN\ngroup = voices\n[point V4]\nafter = IN\ngroup = voices\n";

static void put_voices(bench *b, double v1, double v2, double v3, double v4) {
    put_sine(b, "IN", 0.1, 0);
    put_sine(b, "V1", v1, 0);
    put_sine(b, "V2", v2, 0);
    put_sine(b, "V3", v3, 0);
    put_sine(b, "V4", v4, 0);
}

static void odd_one_out_needs_no_schematic(void **state) {
    (void)state;
    bench b;
    bench_open(&b, voices);
    put_voices(&b, 0.50, 0.52, 0.47, 0.51);
    expect_clear(&b);
    put_voices(&b, 0.50, 0.52, 0.20, 0.51);
    expect_fault(&b, GW_FOUND_ODD_ONE_OUT, "IN", "V3");
    assert_int_equal(b.walk->verdict.point, bench_point(&b, "V3"));
    /* 0.2 V of 0.505 V, between the two in the middle */
    assert_or_explain(strstr(b.walk->findings[0].evidence, "8.0 dB") != NULL, b.walk);
    bench_close(&b);
}

static void one_of_three_is_odd(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[point IN]\n[point V1]\ngroup = voices\n[point V2]\nafter = IN\ngroup = voices\n"
                   "[point V3]\nafter = IN\ngroup = voices\n");
    put_sine(&b, "IN", 0.1, 0);
    put_sine(&b, "V1", 0.5, 0);
    put_sine(&b, "V2", 0.52, 0);
    put_sine(&b, "V3", 0.2, 0);
    expect_fault(&b, GW_FOUND_ODD_ONE_OUT, "IN", "V3");
    assert_or_explain(count_findings(b.walk, GW_OFF, false) == 1, b.walk);
    /* 0.2 V of 0.5 V, the middle one: 8.0 dB */
    assert_or_explain(strstr(b.walk->findings[0].evidence, "8.0 dB") != NULL, b.walk);
    bench_close(&b);
}

/* Each group among itself: filters of a gain of their own beside the voices are no odd ones, and one of either kind is
 * found among its own, whichever group the chain names first. */
static void groups_have_odd_ones_of_their_own(void **state) {
    (void)state;
    static const char *const filters[] = {"F1", "F2", "F3"};
    bench b;
    char text[600];
    snprintf(text, sizeof text,
             "%s[point F1]\nafter = IN\ngroup = filters\n[point F2]\nafter = IN\ngroup = filters\n"
             "[point F3]\nafter = IN\ngroup = filters\n",
             voices);
    bench_open(&b, text);
    put_voices(&b, 0.50, 0.52, 0.47, 0.51);
    for (int i = 0; i < 3; i++)
        put_sine(&b, filters[i], 0.1, 0);
    expect_clear(&b);
    put_sine(&b, "F2", 0.04, 0); /* -8 dB */
    expect_fault(&b, GW_FOUND_ODD_ONE_OUT, "IN", "F2");
    put_sine(&b, "F2", 0.1, 0);
    put_sine(&b, "V2", 0.2, 0);
    expect_fault(&b, GW_FOUND_ODD_ONE_OUT, "IN", "V2");
    bench_close(&b);
}

/* 1 to 2 dB of mismatch on a pot near the bottom of its travel is healthy (common practice). */
static void two_decibels_among_siblings_are_health(void **state) {
    (void)state;
    bench b;
    bench_open(&b, voices);
    put_voices(&b, 0.50, 0.50, 0.397, 0.50); /* -2.0 dB, the others exactly alike */
    expect_clear(&b);
    bench_close(&b);
}

static void siblings_are_compared_in_dc_and_pitch(void **state) {
    (void)state;
    bench b;
    bench_open(&b, voices);
    put_voices(&b, 0.5, 0.5, 0.5, 0.5);
    say(&b.readings[2], GW_DC, 1.5, 1e-3, 0);
    expect_fault(&b, GW_FOUND_ODD_ONE_OUT, "IN", "V2");
    put_voices(&b, 0.5, 0.5, 0.5, 0.5);
    for (int i = 1; i < 5; i++)
        say(&b.readings[i], GW_FREQUENCY, i == 4 ? 1019 : 1000, 0.05, 0);
    expect_clear(&b);
    bench_close(&b);
}

static void odd_one_out_follows_from_its_own_fault(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 100 mV\n[point IN]\n[point A1]\nstage = follower\ngroup = g\n"
                   "[point A2]\nafter = IN\nstage = follower\ngroup = g\n[point A3]\nafter = IN\nstage = follower\n"
                   "group = g\n");
    put_sine(&b, "IN", 0.1, 0);
    put_sine(&b, "A1", 0.1, 0);
    put_sine(&b, "A2", 0.03, 0);
    put_sine(&b, "A3", 0.1, 0);
    expect_fault(&b, GW_FOUND_LEVEL_LOW, "IN", "A2");
    bench_close(&b);
}

/* ---- highs and lows of a saw ---- */

static void put_saw(bench *b, int i, const char *name, double gain, double corner_hz, bool high_pass) {
    gw_readings *r = put_sine(b, name, gain, 0);
    r->signal = GW_SIGNAL_PERIODIC;
    double power = 0;
    for (int k = 0; k < 10; k++) {
        double f = 200 * (k + 1), ratio = corner_hz > 0 ? f / corner_hz : 0;
        double filter = corner_hz <= 0 ? 1 : high_pass ? ratio / sqrt(1 + ratio * ratio) : 1 / sqrt(1 + ratio * ratio);
        double rms = gain * 0.78 / (k + 1) * filter;
        power += rms * rms;
        b->harmonics[i][k] =
            (gw_harmonic){.order = k + 1, .frequency_hz = f, .rms = rms, .u95 = 2e-3 * gain, .resolved = true};
    }
    r->harmonics = b->harmonics[i];
    r->harmonic_count = 10;
    say(r, GW_LEVEL, sqrt(power), 1e-4, bench_accuracy);
    say(r, GW_AC_RMS, sqrt(power), 1e-4, bench_accuracy);
    say_nothing(r, GW_THD, "the stimulus is no sine");
}

static void highs_are_lost_against_what_the_stage_should_do(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = periodic 200 Hz 1 V\n[point A]\n[point B]\nstage = follower\n[point C]\n"
                   "stage = wire\n");
    put_saw(&b, 0, "A", 1, 0, false);
    put_saw(&b, 1, "B", 1, 0, false);
    put_saw(&b, 2, "C", 1, 0, false);
    expect_clear(&b);
    put_saw(&b, 1, "B", 1, 600, false);
    put_saw(&b, 2, "C", 1, 600, false);
    expect_fault(&b, GW_FOUND_HIGHS_LOST, "A", "B");
    bench_close(&b);
}

/* Noise and two tones have no phase of their own: what they share with the reference channel tells which way round they
 * are. */
static void polarity_of_noise_is_told_against_the_reference(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = noise 1 V\n[instrument]\nreference = 1\n[point A]\n[point B]\nstage = wire\n"
                   "[point C]\nstage = inverting rf=10k rin=10k\n");
    gw_pair pairs[3] = {{.valid = true, .coherence = 0.9, .polarity = 1},
                        {.valid = true, .coherence = 0.9, .polarity = 1},
                        {.valid = true, .coherence = 0.9, .polarity = -1}};
    const char *names[] = {"A", "B", "C"};
    for (int i = 0; i < 3; i++) {
        gw_readings *r = put_sine(&b, names[i], 1, 0);
        r->signal = GW_SIGNAL_NOISE;
        say(r, GW_NOISE, 1, 1e-3, bench_accuracy);
        say_nothing(r, GW_THD, "no periodic signal");
        b.points[i].pair = &pairs[i];
    }
    expect_clear(&b);
    assert_int_equal(stage_to(&b, "C")->polarity, GW_POLARITY_FLIPPED);
    pairs[1].polarity = pairs[2].polarity = -1;
    walk_of(&b);
    assert_or_explain(find(&b, GW_FOUND_POLARITY_FLIPPED, "B") != NULL, b.walk);
    pairs[2].polarity = 1; /* B and all behind it */
    expect_fault(&b, GW_FOUND_POLARITY_FLIPPED, "A", "B");
    /* channels with little in common tell nothing */
    pairs[1].coherence = pairs[2].coherence = 0.3;
    expect_clear(&b);
    assert_int_equal(stage_to(&b, "B")->polarity, GW_POLARITY_UNKNOWN);
    bench_close(&b);
}

/* A stage that filters changes the shape of a saw by design. 1/(2 pi 10k 26.5n) = 600 Hz. */
static void filter_that_filters_is_healthy(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = periodic 200 Hz 1 V\n[point A]\n[point B]\nstage = lowpass r=10k c=26.526n\n");
    put_saw(&b, 0, "A", 1, 0, false);
    put_saw(&b, 1, "B", 1, 600, false);
    expect_clear(&b);
    /* and one that has become ten times as dull is not */
    put_saw(&b, 1, "B", 1, 60, false);
    walk_of(&b);
    assert_or_explain(b.walk->verdict.status == GW_VERDICT_FAULT, b.walk);
    bench_close(&b);
}

/* A coupling capacitor that has lost its capacity: 20 dB a decade is left, full level at high frequency. */
static void dry_capacitor_loses_the_lows(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = periodic 200 Hz 1 V\n[point A]\n[point C1]\nstage = coupling c=1u load=47k\n");
    put_saw(&b, 0, "A", 1, 0, false);
    put_saw(&b, 1, "C1", 1, 0, false);
    expect_clear(&b);
    put_saw(&b, 1, "C1", 1, 600, true);
    expect_fault(&b, GW_FOUND_LOWS_LOST, "A", "C1");
    assert_non_null(strstr(b.walk->findings[b.walk->verdict.finding].causes[0], "dry coupling"));
    bench_close(&b);
}

static void saw_that_is_lower_all_over_is_a_low_level(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = periodic 200 Hz 1 V\n[point A]\n[point B]\nstage = follower\n");
    put_saw(&b, 0, "A", 1, 0, false);
    put_saw(&b, 1, "B", 0.3, 0, false);
    expect_fault(&b, GW_FOUND_LEVEL_LOW, "A", "B");
    bench_close(&b);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(pitch_follows_the_stimulus),
        cmocka_unit_test(stated_frequency_has_its_own_limits),
        cmocka_unit_test(stated_levels_localise_without_gains),
        cmocka_unit_test(polarity_is_judged_only_within_one_file),
        cmocka_unit_test(a_negative_gain_inverts),
        cmocka_unit_test(flipped_wire_flips_the_dc),
        cmocka_unit_test(polarity_of_an_unknown_stage_is_not_judged),
        cmocka_unit_test(polarity_by_the_reference_channel),
        cmocka_unit_test(polarity_of_the_first_point_by_the_reference_channel),
        cmocka_unit_test(odd_one_out_needs_no_schematic),
        cmocka_unit_test(one_of_three_is_odd),
        cmocka_unit_test(groups_have_odd_ones_of_their_own),
        cmocka_unit_test(two_decibels_among_siblings_are_health),
        cmocka_unit_test(siblings_are_compared_in_dc_and_pitch),
        cmocka_unit_test(odd_one_out_follows_from_its_own_fault),
        cmocka_unit_test(polarity_of_noise_is_told_against_the_reference),
        cmocka_unit_test(highs_are_lost_against_what_the_stage_should_do),
        cmocka_unit_test(filter_that_filters_is_healthy),
        cmocka_unit_test(dry_capacitor_loses_the_lows),
        cmocka_unit_test(saw_that_is_lower_all_over_is_a_low_level),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
