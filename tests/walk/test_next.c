/* The walk from the first capture on: where to probe next, and the verdict's sentence. */
#include "walk_testing.h"

/* A line of wires: points P0 … Pn. */
static void line_of(bench *b, int stages, const char *extra) {
    char text[4000];
    int length = snprintf(text, sizeof text, "[chain]\nstimulus = sine 1 kHz 1 V\n[point P0]\n");
    for (int i = 1; i <= stages; i++)
        length += snprintf(text + length, sizeof text - (size_t)length, "[point P%d]\nstage = wire\n%s", i,
                           extra ? extra : "");
    bench_open(b, text);
}

static void probe(bench *b, int point, int broken_before) {
    char name[16];
    snprintf(name, sizeof name, "P%d", point);
    if (broken_before >= 0 && point >= broken_before)
        put_silence(b, name, 1e-3, 0);
    else
        put_sine(b, name, 1, 0);
}

/* Follows `next` until the stage is known; the number of probes. `first` and the last point are captured already. */
static int probes_to_the_fault(int stages, int broken_before, bool ends) {
    bench b;
    int probes = 0;
    line_of(&b, stages, NULL);
    if (ends) {
        probe(&b, 0, broken_before);
        probe(&b, stages, broken_before);
    }
    for (;;) {
        const gw_walk *walk = walk_of(&b);
        if (walk->verdict.status == GW_VERDICT_FAULT && walk->verdict.exact) {
            assert_int_equal(walk->verdict.to, broken_before);
            assert_int_equal(walk->verdict.from, broken_before - 1);
            break;
        }
        assert_true(probes <= stages && walk->next_count > 0 && walk->next[0].point >= 0);
        assert_or_explain(b.points[walk->next[0].point].state == GW_PROBE_NONE, walk);
        probe(&b, walk->next[0].point, broken_before);
        probes++;
    }
    bench_close(&b);
    return probes;
}

/* Half-split between a good first and a bad last point: ⌈log2 n⌉ at most, and the mean of the method (binary-search
 * mathematics). */
static void half_split_between_good_and_bad_end(void **state) {
    (void)state;
    const struct {
        int n, worst;
        double mean;
    } known[] = {{4, 2, 2.0000},  {5, 3, 2.4000},  {7, 3, 2.8571}, {8, 3, 3.0000},
                 {10, 4, 3.4000}, {16, 4, 4.0000}, {32, 5, 5.0000}};
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
        int worst = 0, sum = 0;
        for (int broken = 1; broken <= known[i].n; broken++) {
            int probes = probes_to_the_fault(known[i].n, broken, true);
            worst = probes > worst ? probes : worst;
            sum += probes;
        }
        assert_int_equal(worst, known[i].worst);
        assert_close((double)sum / known[i].n, known[i].mean, 1e-4);
    }
}

/* From nothing: the source and what lies outside are suspects too. */
static void from_the_first_capture_on(void **state) {
    (void)state;
    for (int n = 4; n <= 32; n *= 2) {
        int sum = 0, log = 0;
        while (1 << log < n)
            log++;
        for (int broken = 1; broken <= n; broken++)
            sum += probes_to_the_fault(n, broken, false);
        assert_true((double)sum / n <= log + 1);
    }
}

static void nothing_probed_yet(void **state) {
    (void)state;
    bench b;
    line_of(&b, 8, NULL);
    const gw_walk *walk = walk_of(&b);
    assert_int_equal(walk->verdict.status, GW_VERDICT_INCOMPLETE);
    assert_int_equal(walk->finding_count, 0);
    assert_true(walk->next_count == 1 && walk->next[0].point >= 3 && walk->next[0].point <= 5);
    assert_true(walk->probes_expected > 3 && walk->probes_expected < 4);
    assert_non_null(strstr(walk->verdict.summary, "Nothing has been probed"));
    assert_true(remarks_on(&b, "no file bears a point's name")); /* where it was looked */
    assert_int_equal(gw_walk_exit(walk), 3);
    for (size_t i = 0; i < walk->point_count; i++)
        assert_int_equal(walk->points[i].status, GW_UNPROBED);
    bench_close(&b);
}

static void each_capture_narrows_the_span(void **state) {
    (void)state;
    bench b;
    line_of(&b, 8, NULL);
    probe(&b, 0, 6);
    probe(&b, 8, 6);
    const gw_walk *walk = walk_of(&b);
    assert_int_equal(walk->next[0].point, 4);
    assert_close(walk->probes_expected, 3, 1e-9);
    assert_non_null(strstr(walk->verdict.summary, "probe P4 next"));
    assert_string_equal(walk->next[0].why, "halves what is left");
    probe(&b, 4, 6);
    walk = walk_of(&b);
    assert_int_equal(walk->verdict.from, 4);
    assert_int_equal(walk->next[0].point, 6);
    assert_close(walk->probes_expected, 2, 1e-9);
    probe(&b, 6, 6);
    walk = walk_of(&b);
    assert_int_equal(walk->next[0].point, 5);
    assert_close(walk->probes_expected, 1, 1e-9);
    probe(&b, 5, 6);
    walk = walk_of(&b);
    assert_true(walk->verdict.exact);
    assert_close(walk->probes_expected, 0, 1e-9);
    bench_close(&b);
}

static void a_dead_point_in_the_middle_with_nothing_before_it(void **state) {
    (void)state;
    bench b;
    line_of(&b, 8, NULL);
    probe(&b, 4, 2);
    const gw_walk *walk = walk_of(&b);
    assert_or_explain(walk->verdict.status == GW_VERDICT_FAULT, walk);
    assert_int_equal(walk->verdict.from, -1);
    assert_int_equal(walk->verdict.to, 4);
    assert_false(walk->verdict.exact);
    assert_true(walk->next[0].point == 1 || walk->next[0].point == 2);
    bench_close(&b);
}

static void hard_and_unlikely_points_come_later(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\nstage = wire\n[point C]\nstage = wire\n"
                   "reach = hard\n[point D]\nstage = wire\n[point E]\nstage = wire\n");
    put_sine(&b, "A", 1, 0);
    put_silence(&b, "E", 1e-3, 0);
    const gw_walk *walk = walk_of(&b);
    assert_int_not_equal(walk->next[0].point, bench_point(&b, "C"));
    assert_non_null(strstr(walk->next[0].why, "cost"));
    bench_close(&b);
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\nstage = wire\n[point C]\nstage = wire\n"
                   "[point D]\nstage = wire\n[point E]\nstage = wire\nsuspect = 20\n");
    put_sine(&b, "A", 1, 0);
    put_silence(&b, "E", 1e-3, 0);
    walk = walk_of(&b);
    assert_int_equal(walk->next[0].point, bench_point(&b, "D"));
    bench_close(&b);
}

static void tree_is_walked_into_the_open_branch(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\nstage = wire\n[point C]\nstage = wire\n"
                   "[point X]\nafter = A\nstage = wire\n[point Y]\nstage = wire\n");
    put_sine(&b, "A", 1, 0);
    put_sine(&b, "C", 1, 0);
    const gw_walk *walk = walk_of(&b);
    assert_int_equal(walk->verdict.status, GW_VERDICT_INCOMPLETE);
    assert_true(walk->next[0].point == bench_point(&b, "X") || walk->next[0].point == bench_point(&b, "Y"));
    put_sine(&b, "Y", 1, 0);
    expect_clear(&b);
    bench_close(&b);
}

/* Both branches are dead behind a point that nobody probed: the fault lies in what they share. */
static void two_dead_branches_share_their_fault(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\nstage = wire\n[point C]\nstage = wire\n"
                   "[point X]\nafter = B\nstage = wire\n");
    put_sine(&b, "A", 1, 0);
    put_silence(&b, "C", 1e-3, 0);
    put_silence(&b, "X", 1e-3, 0);
    expect_fault(&b, GW_FOUND_SIGNAL_LOST, "A", "B");
    assert_true(b.walk->verdict.exact);
    assert_int_equal(b.walk->finding_count, 1);
    assert_non_null(strstr(b.walk->findings[0].evidence, "at C and X alike"));
    /* off by unlike amounts they are two */
    put_sine(&b, "C", 0.5, 0);
    put_sine(&b, "X", 0.2, 0);
    walk_of(&b);
    assert_or_explain(count_findings(b.walk, GW_OFF, true) == 2, b.walk);
    /* off by the same they are one */
    put_sine(&b, "C", 0.2, 0);
    expect_fault(&b, GW_FOUND_LEVEL_LOW, "A", "B");
    bench_close(&b);
}

/* Off by the same is by the same ratio to what each way should have, which need not be the same: half of 2 V and half
 * of 1 V is one fault in front of both (-6 dB), half of the one and a fifth of the other is two. */
static void branches_of_unlike_gain_share_their_fault(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\nstage = wire\n[point C]\n"
                   "gain = 2 ± 1 dB\n[point X]\nafter = B\nstage = wire\n");
    put_sine(&b, "A", 1, 0);
    put_sine(&b, "C", 1, 0);
    put_sine(&b, "X", 0.5, 0);
    expect_fault(&b, GW_FOUND_LEVEL_LOW, "A", "B");
    put_sine(&b, "X", 0.2, 0);
    walk_of(&b);
    assert_or_explain(count_findings(b.walk, GW_OFF, true) == 2, b.walk);
    bench_close(&b);
}

/* One branch is dead and the other alive: what both share is cleared though nobody probed it. */
static void live_branch_clears_what_it_shares(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\nstage = wire\n[point C]\nstage = wire\n"
                   "[point X]\nafter = B\nstage = wire\n");
    put_sine(&b, "A", 1, 0);
    put_silence(&b, "C", 1e-3, 0);
    walk_of(&b);
    assert_int_equal(b.walk->verdict.from, bench_point(&b, "A"));
    assert_false(b.walk->verdict.exact);
    put_sine(&b, "X", 1, 0);
    expect_fault(&b, GW_FOUND_SIGNAL_LOST, "B", "C");
    assert_true(b.walk->verdict.exact);
    /* not where its own gain is out */
    put_sine(&b, "X", 0.2, 0);
    walk_of(&b);
    assert_int_equal(b.walk->verdict.from, bench_point(&b, "A"));
    bench_close(&b);
}

/* A live branch that parts from the dead one where the signal was last seen clears nothing more, and is not named. */
static void live_branch_from_the_last_good_point_clears_nothing(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\nstage = wire\n[point C]\nstage = wire\n"
                   "[point X]\nafter = A\nstage = wire\n");
    put_sine(&b, "A", 1, 0);
    put_silence(&b, "C", 1e-3, 0);
    put_sine(&b, "X", 1, 0);
    expect_fault(&b, GW_FOUND_SIGNAL_LOST, "A", "C");
    assert_false(b.walk->verdict.exact);
    assert_null(strstr(b.walk->findings[0].evidence, "has its signal"));
    bench_close(&b);
}

static void unreadable_capture_leaves_the_rest_judged(void **state) {
    (void)state;
    bench b;
    line_of(&b, 3, NULL);
    for (int i = 0; i < 4; i++)
        probe(&b, i, -1);
    b.points[2] = (gw_probe){.state = GW_PROBE_UNREADABLE, .why = "P2.csv: empty file"};
    const gw_walk *walk = walk_of(&b);
    assert_int_equal(walk->verdict.status, GW_VERDICT_INCOMPLETE);
    assert_int_equal(walk->points[2].status, GW_UNREADABLE);
    assert_string_equal(walk->points[2].why, "P2.csv: empty file");
    assert_int_equal(stage_to(&b, "P3")->across, 2);
    assert_int_equal(stage_to(&b, "P3")->gain.status, GW_OK);
    assert_int_equal(walk->next[0].point, 2);
    assert_int_equal(gw_walk_exit(walk), 2);
    bench_close(&b);
}

static void captures_that_all_fail_are_said_so(void **state) {
    (void)state;
    bench b;
    line_of(&b, 2, NULL);
    for (int i = 0; i < 3; i++)
        b.points[i] = (gw_probe){.state = GW_PROBE_UNREADABLE, .why = "empty file"};
    const gw_walk *walk = walk_of(&b);
    assert_int_equal(walk->verdict.status, GW_VERDICT_INCOMPLETE);
    assert_non_null(strstr(walk->verdict.summary, "No capture could be read, first of all that of P0"));
    assert_int_equal(gw_walk_exit(walk), 2);
    bench_close(&b);
}

static void sentence_says_where_what_how_sure_and_what_next(void **state) {
    (void)state;
    bench b;
    line_of(&b, 3, NULL);
    for (int i = 0; i < 4; i++)
        probe(&b, i, 2);
    const char *summary = walk_of(&b)->verdict.summary;
    assert_non_null(strstr(summary, "Between P1 and P2 (wire)"));
    assert_non_null(strstr(summary, "signal is lost"));
    assert_non_null(strstr(summary, "for certain"));
    assert_non_null(strstr(summary, "to confirm"));
    assert_ptr_equal(strchr(summary, '.') == NULL, false);
    assert_true(summary[strlen(summary) - 1] == '.');
    bench_close(&b);
}

static void nothing_is_fed_in_on_purpose(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = none\n[point A]\n[point B]\nstage = follower\nnoise = < 1 mV\n"
                   "dc = 0 V ± 20 mV\n");
    put_silence(&b, "A", 1e-4, 0);
    gw_readings *r = put_silence(&b, "B", 1e-4, 0);
    r->source.step = 1e-5;
    say(r, GW_NOISE, 2e-4, 1e-6, 0);
    expect_clear(&b);
    say(r, GW_NOISE, 5e-3, 1e-5, 0);
    expect_fault(&b, GW_FOUND_NOISE_ADDED, "A", "B");
    bench_close(&b);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(half_split_between_good_and_bad_end),
        cmocka_unit_test(from_the_first_capture_on),
        cmocka_unit_test(nothing_probed_yet),
        cmocka_unit_test(each_capture_narrows_the_span),
        cmocka_unit_test(a_dead_point_in_the_middle_with_nothing_before_it),
        cmocka_unit_test(hard_and_unlikely_points_come_later),
        cmocka_unit_test(tree_is_walked_into_the_open_branch),
        cmocka_unit_test(two_dead_branches_share_their_fault),
        cmocka_unit_test(branches_of_unlike_gain_share_their_fault),
        cmocka_unit_test(live_branch_clears_what_it_shares),
        cmocka_unit_test(live_branch_from_the_last_good_point_clears_nothing),
        cmocka_unit_test(unreadable_capture_leaves_the_rest_judged),
        cmocka_unit_test(captures_that_all_fail_are_said_so),
        cmocka_unit_test(sentence_says_where_what_how_sure_and_what_next),
        cmocka_unit_test(nothing_is_fed_in_on_purpose),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
