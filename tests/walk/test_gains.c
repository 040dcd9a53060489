/* Gains, losses and the levels of the Tarn spring echo's dry path. */
#include "walk_testing.h"

static const char tarn[] = "[chain]\n"
                           "title = Tarn spring echo, dry path\n"
                           "stimulus = sine 1 kHz 100 mV\n"
                           "[point J1]\n"
                           "[point U1]\n"
                           "stage = noninverting rf=47k rg=4k7\n"
                           "dc = 0 V ± 20 mV\n"
                           "[point C9]\n"
                           "stage = coupling c=10u load=47k\n"
                           "[point VOL]\n"
                           "stage = divider top=10k bottom=10k\n"
                           "[point OUT]\n"
                           "stage = noninverting rf=10k rg=10k\n";

/* 1 + 47/4.7 = 11; coupling 1; divider 0.5; 2 */
static void put_healthy(bench *b) {
    put_sine(b, "J1", 0.1, 0);
    put_sine(b, "U1", 1.1, 5e-3);
    put_sine(b, "C9", 1.1, 0);
    put_sine(b, "VOL", 0.55, 0);
    put_sine(b, "OUT", 1.1, 1e-3);
}

static void healthy_chain_is_clear(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    expect_clear(&b);
    assert_non_null(strstr(b.walk->verdict.summary, "in order"));
    assert_non_null(strstr(b.walk->verdict.summary, "cable"));
    assert_int_equal(b.walk->stage_count, 4);
    assert_close(stage_to(&b, "U1")->gain.expected, 11, 1e-9);
    assert_int_equal(b.walk->next_count, 1);
    assert_int_equal(b.walk->next[0].point, -1);
    bench_close(&b);
}

static void dead_stage_is_one_fault(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    put_silence(&b, "U1", 2e-3, 5e-3);
    put_silence(&b, "C9", 2e-3, 0);
    put_silence(&b, "VOL", 1e-3, 0);
    put_silence(&b, "OUT", 2e-3, 0);
    expect_fault(&b, GW_FOUND_SIGNAL_LOST, "J1", "U1");
    assert_true(b.walk->verdict.exact);
    assert_int_equal(b.walk->points[bench_point(&b, "OUT")].status, GW_UNJUDGED);
    bench_close(&b);
}

static void low_gain_is_found_where_it_is(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    put_sine(&b, "VOL", 0.25, 0);
    put_sine(&b, "OUT", 0.5, 1e-3);
    expect_fault(&b, GW_FOUND_LEVEL_LOW, "C9", "VOL");
    assert_non_null(strstr(b.walk->findings[0].evidence, "expected -6.0 ± 1.0 dB"));
    bench_close(&b);
}

/* Common practice: an open leg of the feedback network leaves 0 dB exactly. */
static void unity_gain_names_the_feedback_leg(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    put_sine(&b, "U1", 0.1, 1e-3);
    put_sine(&b, "C9", 0.1, 0);
    put_sine(&b, "VOL", 0.05, 0);
    put_sine(&b, "OUT", 0.1, 1e-3);
    expect_fault(&b, GW_FOUND_LEVEL_LOW, "J1", "U1");
    assert_non_null(strstr(b.walk->findings[0].causes[0], "open leg of the feedback network"));
    bench_close(&b);
}

static void unity_gain_that_is_expected_names_no_feedback_leg(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    put_sine(&b, "U1", 0.3, 1e-3);
    put_sine(&b, "C9", 0.3, 0);
    put_sine(&b, "VOL", 0.15, 0);
    put_sine(&b, "OUT", 0.3, 1e-3);
    expect_fault(&b, GW_FOUND_LEVEL_LOW, "J1", "U1");
    for (size_t i = 0; i < b.walk->findings[0].cause_count; i++)
        assert_null(strstr(b.walk->findings[0].causes[i], "feedback network"));
    bench_close(&b);
}

static void two_faults_in_series_are_both_found(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    put_sine(&b, "U1", 0.5, 5e-3);
    put_sine(&b, "C9", 0.5, 0);
    put_sine(&b, "VOL", 0.25, 0);
    put_sine(&b, "OUT", 0.15, 0);
    const gw_walk *walk = walk_of(&b);
    assert_or_explain(count_findings(walk, GW_OFF, true) == 2, walk);
    assert_int_equal(walk->verdict.to, bench_point(&b, "U1"));
    assert_int_equal(walk->findings[1].to, bench_point(&b, "OUT"));
    assert_non_null(strstr(walk->verdict.summary, "another fault"));
    bench_close(&b);
}

static void unprobed_points_are_judged_across(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    b.points[2].state = b.points[3].state = GW_PROBE_NONE;
    expect_clear(&b);
    const gw_walk_stage *stage = stage_to(&b, "OUT");
    assert_int_equal(stage->across, 3);
    assert_string_equal(stage->kind, "several");
    assert_close(stage->gain.expected, 1, 1e-6);
    put_sine(&b, "OUT", 0.3, 0);
    expect_fault(&b, GW_FOUND_LEVEL_LOW, "U1", "OUT");
    assert_false(b.walk->verdict.exact);
    assert_true(b.walk->next_count >= 1);
    assert_int_equal(b.walk->next[0].point, bench_point(&b, "C9"));
    bench_close(&b);
}

/* Spreads of three stages of ±1 dB: 1.73 dB as root sum of squares, 3 dB at worst. Between the two nobody can tell. */
static void several_stages_are_unsure_between_square_and_linear_sum(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    b.points[2].state = b.points[3].state = GW_PROBE_NONE;
    put_sine(&b, "OUT", 1.1 * 0.89, 1e-3); /* -1.0 dB */
    expect_clear(&b);
    put_sine(&b, "OUT", 1.1 * 0.75, 1e-3); /* -2.5 dB */
    expect_verdict(&b, GW_VERDICT_UNSURE);
    assert_non_null(strstr(b.walk->findings[0].settle, "between"));
    put_sine(&b, "OUT", 1.1 * 0.60, 1e-3); /* -4.4 dB */
    expect_fault(&b, GW_FOUND_LEVEL_LOW, "U1", "OUT");
    bench_close(&b);
}

/* T-chain-rss, T-chain-wc: five stages of 11 with resistors of 1 %, each 0.15807 dB at its worst: root sum of squares
 * of these 0.3535 dB, all of them at once 0.7904 dB. No more than the first is in order, no less than the second
 * certain. */
static void five_stages_of_one_per_cent(void **state) {
    (void)state;
    static const struct {
        double db;
        gw_status status;
    } gains[] = {{0, GW_OK},        {0.345, GW_OK},     {-0.345, GW_OK}, {0.362, GW_UNSURE}, {-0.362, GW_UNSURE},
                 {0.78, GW_UNSURE}, {-0.78, GW_UNSURE}, {0.80, GW_OFF},  {-0.80, GW_OFF}};
    char chain[800] = "[chain]\nstimulus = sine 1 kHz 10 uV\n[point P0]\n";
    for (int k = 1; k <= 5; k++)
        snprintf(chain + strlen(chain), sizeof chain - strlen(chain), "[point P%d]\ngain = x11 ± 0.1580733 dB\n", k);
    for (size_t k = 0; k < sizeof gains / sizeof *gains; k++) {
        bench b;
        bench_open(&b, chain);
        put_sine(&b, "P0", 1e-5, 0);
        put_sine(&b, "P5", 1e-5 * pow(11, 5) * pow(10, gains[k].db / 20), 0);
        b.points[0].same_file = b.points[5].same_file = "both.csv"; /* no accuracy between them */
        walk_of(&b);
        const gw_judgement *gain = &stage_to(&b, "P5")->gain;
        assert_close(20 * log10(gain->high / gain->expected), 0.3534627, 1e-4);
        assert_close(20 * log10(gain->high / gain->expected), 0.3534627, 1e-6);
        assert_int_equal(gain->status, gains[k].status);
        bench_close(&b);
    }
}

/* The same by their parts, of 10 %: more than the 1 dB that is given where nothing is stated; T-non-max-0.1 and
 * T-non-min-0.1 by the root of five. */
static void five_stages_of_ten_per_cent(void **state) {
    (void)state;
    char chain[800] = "[chain]\nstimulus = sine 1 kHz 10 uV\n[point P0]\n";
    for (int k = 1; k <= 5; k++)
        snprintf(chain + strlen(chain), sizeof chain - strlen(chain),
                 "[point P%d]\nstage = noninverting rf=100k rg=10k tol=10 %%\n", k);
    bench b;
    bench_open(&b, chain);
    put_sine(&b, "P0", 1e-5, 0);
    put_sine(&b, "P5", 1e-5 * pow(11, 5), 0);
    walk_of(&b);
    const gw_judgement *gain = &stage_to(&b, "P5")->gain;
    assert_close(20 * log10(gain->high / gain->expected), sqrt(5) * 1.5982354, 1e-4);
    assert_close(20 * log10(gain->expected / gain->low), sqrt(5) * 1.5692799, 1e-4);
    bench_close(&b);
}

/* U-gain-2chdb: two independent ±3 % channels give a gain 0.426 dB of expanded uncertainty (GUM 5.1.2). */
static void accuracies_add_as_root_sum_of_squares(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    walk_of(&b);
    const gw_judgement *gain = &stage_to(&b, "U1")->gain;
    assert_close(gain->u95 / gain->value, 0.0489898, 1e-4); /* 2 √2 · 3 %/√3, and 4e-4 of noise beside it */
    assert_close(20 / log(10) * gain->u95 / gain->value, 0.42552, 1e-3);
    bench_close(&b);
}

static void accuracy_cancels_in_one_file(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    b.points[0].same_file = b.points[1].same_file = "both.csv";
    walk_of(&b);
    assert_close(stage_to(&b, "U1")->gain.u95 / 11, 2 * sqrt(2) * 2e-4, 1e-6);
    assert_close(stage_to(&b, "C9")->gain.u95, 0.049, 1e-3);
    bench_close(&b);
}

static void gain_near_the_limit_is_unsure_and_says_what_settles_it(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    const char *points[] = {"U1", "C9", "VOL", "OUT"};
    const double levels[] = {1.1, 1.1, 0.55, 1.1};
    for (int i = 0; i < 4; i++)
        put_sine(&b, points[i], levels[i] * 0.88, 0); /* -1.1 dB in the first stage, u95 0.43 dB */
    const gw_walk *walk = walk_of(&b);
    assert_or_explain(walk->verdict.status == GW_VERDICT_UNSURE, walk);
    assert_int_equal(walk->finding_count, 1);
    assert_non_null(walk->findings[0].settle);
    assert_non_null(strstr(walk->verdict.summary, "Nothing is wrong for certain"));
    assert_int_equal(gw_walk_exit(walk), 3);
    assert_int_equal(walk->next[0].point, bench_point(&b, "U1"));
    bench_close(&b);
}

static void simple_decision_takes_the_value_alone(void **state) {
    (void)state;
    bench b;
    char text[900];
    snprintf(text, sizeof text, "%s", tarn);
    char *at = strstr(text, "title");
    snprintf(text + (at - text), sizeof text - (size_t)(at - text), "decision = simple\n%s", strstr(tarn, "title"));
    bench_open(&b, text);
    put_healthy(&b);
    put_sine(&b, "OUT", 1.1 * 0.90, 0); /* -0.92 dB of ±1 dB */
    expect_clear(&b);
    put_sine(&b, "OUT", 1.1 * 0.88, 0); /* -1.11 dB */
    expect_fault(&b, GW_FOUND_LEVEL_LOW, "VOL", "OUT");
    bench_close(&b);
}

static void loss_needs_no_expectation(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[point A]\n[point B]\n[point C]\n");
    put_sine(&b, "A", 0.1, 0);
    put_sine(&b, "B", 2, 0);
    put_sine(&b, "C", 0.2, 0);
    expect_clear(&b);
    assert_int_equal(stage_to(&b, "B")->gain.status, GW_UNJUDGED);
    put_silence(&b, "C", 1e-3, 0);
    expect_fault(&b, GW_FOUND_SIGNAL_LOST, "B", "C");
    put_sine(&b, "C", 4e-3, 0); /* -54 dB */
    expect_fault(&b, GW_FOUND_SIGNAL_LOST, "B", "C");
    bench_close(&b);
}

static void pad_that_is_declared_is_healthy(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\ngain = -40 dB ± 1 dB\n[point C]\n"
                   "gain = 40 dB\n");
    put_sine(&b, "A", 1, 0);
    put_sine(&b, "B", 0.01, 0);
    put_sine(&b, "C", 1, 0);
    expect_clear(&b);
    bench_close(&b);
}

static void reference_channel_lets_the_stimulus_move(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    put_sine(&b, "C9", 1.1 * 0.4, 0);
    put_sine(&b, "VOL", 0.55 * 0.4, 0);
    put_sine(&b, "OUT", 1.1 * 0.4, 0);
    expect_fault(&b, GW_FOUND_LEVEL_LOW, "U1", "C9");
    for (int i = 0; i < 5; i++) {
        say_sine(&b.references[i], 1000, i < 2 ? 0.1 : 0.04, 0);
        b.points[i].reference = &b.references[i];
    }
    expect_clear(&b);
    assert_false(remarks_on(&b, "steady stimulus"));
    /* where it moved, four accuracies stand in the gain; where it did not, two */
    assert_close(stage_to(&b, "C9")->gain.u95, 2 * 2 * 0.03 / sqrt(3), 1e-3);
    assert_close(stage_to(&b, "VOL")->gain.u95, 0.5 * 2 * sqrt(2) * 0.03 / sqrt(3), 1e-3);
    bench_close(&b);
}

/* One capture of two channels: what is fed in, and the point behind the first stage. 47/4.7 = 10; 68/4.7 is 3.2 dB
 * more. */
static void reference_judges_the_first_point_too(void **state) {
    (void)state;
    static const char *const stages[] = {"inverting rf=47k rin=4k7", "inverting rf=68k rin=4k7"};
    for (int wrong = 0; wrong < 2; wrong++) {
        bench b;
        char text[200];
        snprintf(text, sizeof text,
                 "[chain]\nstimulus = sine 1 kHz\n[instrument]\nreference = 1\n[point U1]\nstage = %s\n",
                 stages[wrong]);
        bench_open(&b, text);
        put_sine(&b, "U1", 1.0, 1e-3);
        say_sine(&b.references[0], 1000, 0.1, 0);
        b.points[0].reference = &b.references[0];
        const gw_walk *walk = walk_of(&b);
        assert_int_equal(walk->verdict.status, wrong ? GW_VERDICT_FAULT : GW_VERDICT_CLEAR);
        /* the stage stands among the others, from the source on */
        assert_int_equal(walk->stage_count, 1);
        assert_int_equal(stage_to(&b, "U1")->from, -1);
        assert_close(stage_to(&b, "U1")->gain.value, 10, 0.01);
        assert_close(stage_to(&b, "U1")->gain.expected, wrong ? 68 / 4.7 : 10, 1e-6);
        if (wrong) {
            assert_int_equal(walk->findings[walk->verdict.finding].code, GW_FOUND_LEVEL_LOW);
            assert_int_equal(walk->verdict.from, -1);
            assert_int_equal(walk->verdict.to, 0);
        }
        bench_close(&b);
    }
}

/* A pad of -24.6 dB that nobody could probe, and a stage of which no gain is known behind it: 4 mV of 72 mV may be all
 * that there should be; 0.2 mV is not. */
static void known_losses_count_where_a_gain_is_unknown(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz\n[point A]\n[point R1]\nstage = divider top=12k bottom=750\n"
                   "[point V1]\nstage = amp\n");
    put_sine(&b, "A", 72e-3, 0);
    put_silence(&b, "V1", 4e-3, 0);
    walk_of(&b);
    assert_or_explain(!find(&b, GW_FOUND_SIGNAL_LOST, "V1"), b.walk);
    put_silence(&b, "V1", 0.2e-3, 0);
    walk_of(&b);
    assert_or_explain(find(&b, GW_FOUND_SIGNAL_LOST, "V1"), b.walk);
    bench_close(&b);
}

static void without_reference_a_remark_says_so(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    walk_of(&b);
    assert_true(remarks_on(&b, "steady stimulus"));
    for (int i = 0; i < 5; i++)
        b.points[i].same_file = "all.wav";
    walk_of(&b);
    assert_false(remarks_on(&b, "steady stimulus"));
    bench_close(&b);
}

static void nothing_fed_in_is_before_the_first_point(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    const char *points[] = {"J1", "U1", "C9", "VOL", "OUT"};
    for (int i = 0; i < 5; i++)
        put_silence(&b, points[i], 1e-3, 0);
    expect_fault(&b, GW_FOUND_SIGNAL_LOST, NULL, "J1");
    assert_non_null(strstr(b.walk->findings[0].causes[0], "nothing is fed in"));
    bench_close(&b);
}

static void fault_in_one_branch_leaves_the_other_clear(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 100 mV\n[point IN]\n[point U1]\nstage = noninverting rf=10k rg=10k\n"
                   "[point DRY]\nstage = wire\n[point WET]\nafter = U1\ngain = -6 dB ± 1 dB\n[point SUM]\n"
                   "gain = 0 dB ± 1 dB\n");
    put_sine(&b, "IN", 0.1, 0);
    put_sine(&b, "U1", 0.2, 0);
    put_sine(&b, "DRY", 0.2, 0);
    put_silence(&b, "WET", 2e-4, 0);
    put_silence(&b, "SUM", 2e-4, 0);
    expect_fault(&b, GW_FOUND_SIGNAL_LOST, "U1", "WET");
    assert_int_equal(stage_to(&b, "DRY")->status, GW_OK);
    assert_int_equal(b.walk->points[bench_point(&b, "DRY")].status, GW_OK);
    bench_close(&b);
}

/* A coarse capture without signal, whose bound is only 15 dB under: low for certain, lost perhaps. */
static void bound_that_is_not_far_down_says_low(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    put_silence(&b, "OUT", 0.1, 0);
    expect_fault(&b, GW_FOUND_LEVEL_LOW, "VOL", "OUT");
    put_silence(&b, "OUT", 5e-3, 0);
    expect_fault(&b, GW_FOUND_SIGNAL_LOST, "VOL", "OUT");
    bench_close(&b);
}

static void hidden_signal_is_unsure_not_lost(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    gw_readings *r = put_silence(&b, "OUT", 1.5, 0); /* a range of hundreds of volts */
    r->clues.too_coarse = true;
    const gw_walk *walk = walk_of(&b);
    assert_or_explain(walk->verdict.status == GW_VERDICT_UNSURE, walk);
    assert_int_equal(count_findings(walk, GW_OFF, false), 0);
    bench_close(&b);
}

/* Levels that no circuit has, 1e200 V out of 1e-200 V: no gain is told rather than an infinite one. */
static void gain_beyond_all_numbers_is_none(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz\n[point J1]\n[point U1]\nstage = follower\n");
    put_sine(&b, "J1", 1e-200, 0);
    put_sine(&b, "U1", 1e200, 0);
    walk_of(&b);
    const gw_judgement *gain = &stage_to(&b, "U1")->gain;
    assert_or_explain(!gain->has_value || isfinite(gain->value), b.walk);
    bench_close(&b);
}

/* Every sample the same, as of a scope whose probe is grounded: no number is made of that. */
static void nothing_at_all_is_called_so(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\nstage = wire\n");
    put_sine(&b, "A", 1, 0);
    gw_readings *r = put_silence(&b, "B", 0, 0);
    say(r, GW_AC_RMS, 0, 0, 0);
    expect_fault(&b, GW_FOUND_SIGNAL_LOST, "A", "B");
    assert_string_equal(b.walk->findings[0].evidence, "nothing at all where 1.00 V go in");
    bench_close(&b);
}

/* A scope before a stage and a sound card behind it: what full scale is in volts is not known. */
static void volts_and_full_scale_make_no_gain(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz\n[point A]\n[point B]\ngain = 0 dB\n");
    put_sine(&b, "A", 1, 0);
    put_sine(&b, "B", 0.1, 0)->source.unit = "FS";
    walk_of(&b);
    assert_or_explain(count_findings(b.walk, GW_OFF, false) == 0, b.walk);
    assert_int_equal(stage_to(&b, "B")->gain.status, GW_UNJUDGED);
    assert_string_equal(stage_to(&b, "B")->gain.why, "the captures have different units");
    bench_close(&b);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(volts_and_full_scale_make_no_gain),
        cmocka_unit_test(gain_beyond_all_numbers_is_none),
        cmocka_unit_test(healthy_chain_is_clear),
        cmocka_unit_test(dead_stage_is_one_fault),
        cmocka_unit_test(low_gain_is_found_where_it_is),
        cmocka_unit_test(unity_gain_names_the_feedback_leg),
        cmocka_unit_test(unity_gain_that_is_expected_names_no_feedback_leg),
        cmocka_unit_test(two_faults_in_series_are_both_found),
        cmocka_unit_test(unprobed_points_are_judged_across),
        cmocka_unit_test(several_stages_are_unsure_between_square_and_linear_sum),
        cmocka_unit_test(five_stages_of_one_per_cent),
        cmocka_unit_test(five_stages_of_ten_per_cent),
        cmocka_unit_test(accuracies_add_as_root_sum_of_squares),
        cmocka_unit_test(accuracy_cancels_in_one_file),
        cmocka_unit_test(gain_near_the_limit_is_unsure_and_says_what_settles_it),
        cmocka_unit_test(simple_decision_takes_the_value_alone),
        cmocka_unit_test(loss_needs_no_expectation),
        cmocka_unit_test(pad_that_is_declared_is_healthy),
        cmocka_unit_test(reference_channel_lets_the_stimulus_move),
        cmocka_unit_test(reference_judges_the_first_point_too),
        cmocka_unit_test(known_losses_count_where_a_gain_is_unknown),
        cmocka_unit_test(without_reference_a_remark_says_so),
        cmocka_unit_test(nothing_fed_in_is_before_the_first_point),
        cmocka_unit_test(fault_in_one_branch_leaves_the_other_clear),
        cmocka_unit_test(bound_that_is_not_far_down_says_low),
        cmocka_unit_test(hidden_signal_is_unsure_not_lost),
        cmocka_unit_test(nothing_at_all_is_called_so),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
