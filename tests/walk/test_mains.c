/* Lines on multiples of the mains where the measuring has no hum for them: they are hum, not a stage's own tone. Levels
 * and orders are those of a ground loop (50, 150 and 250 Hz strong) and of induction (50 Hz alone): common practice. */
#include "walk_testing.h"

static const char two_points[] = "[chain]\nstimulus = periodic 101.7 Hz\nmains = 50 Hz\n[point A]\n[point B]\nstage = "
                                 "divider top=1.2k bottom=3.9k\n";

static gw_readings *put_on_mains(bench *b, const char *name, double level_v, double frequency_hz) {
    int i = bench_point(b, name);
    gw_readings *r = put_sine(b, name, level_v, 0);
    say(r, GW_FREQUENCY, frequency_hz, 1e-3, 0);
    say_nothing(r, GW_HUM, "the signal itself stands on the mains frequency");
    r->source.duration_s = 0.4;
    r->tones = b->tones[i];
    r->tone_count = 0;
    return r;
}

static void put_line(gw_readings *r, double frequency_hz, double rms) {
    r->tones[r->tone_count++] =
        (gw_tone){.frequency_hz = frequency_hz, .rms = rms, .u95 = 0.01 * rms, .kind = GW_TONE_OTHER};
}

static void put_loop(gw_readings *r, double first_v) {
    put_line(r, 49.99, first_v);
    put_line(r, 150.0, 0.8 * first_v);
    put_line(r, 250.0, 0.4 * first_v);
}

/* The stimulus at twice the mains hides that line of the hum; the others show. */
static void lines_beside_a_signal_on_the_mains_are_hum(void **state) {
    (void)state;
    bench b;
    bench_open(&b, two_points);
    put_on_mains(&b, "A", 0.1, 101.7);
    gw_readings *r = put_on_mains(&b, "B", 0.1 * 3.9 / 5.1, 101.7);
    r->signal = GW_SIGNAL_PERIODIC;
    put_loop(r, 0.02);
    put_line(r, 7e3, 50);
    r->tone_count--; /* what lies behind the last line is none */
    walk_of(&b);
    expect_fault(&b, GW_FOUND_HUM_ADDED, "A", "B");
    assert_null(find(&b, GW_FOUND_TONE_ADDED, "B"));
    bench_close(&b);
}

/* The same hum in the input is no fault of the stage. */
static void hum_that_came_in_is_not_added(void **state) {
    (void)state;
    bench b;
    bench_open(&b, two_points);
    put_loop(put_on_mains(&b, "A", 0.1, 101.7), 0.02);
    put_loop(put_on_mains(&b, "B", 0.1 * 3.9 / 5.1, 101.7), 0.02 * 3.9 / 5.1);
    walk_of(&b);
    assert_or_explain(!find(&b, GW_FOUND_HUM_ADDED, "B") && !find(&b, GW_FOUND_TONE_ADDED, "B"), b.walk);
    bench_close(&b);
}

/* A little of it is residue, told and not judged. */
static void a_trace_of_hum_is_not_judged(void **state) {
    (void)state;
    bench b;
    bench_open(&b, two_points);
    put_on_mains(&b, "A", 0.1, 101.7);
    put_loop(put_on_mains(&b, "B", 0.1 * 3.9 / 5.1, 101.7), 0.001);
    walk_of(&b);
    assert_or_explain(b.walk->verdict.status != GW_VERDICT_FAULT, b.walk);
    bench_close(&b);
}

/* Beside 21 Hz no hum was told from the signal. A line at 300 Hz, the fifth of 60 Hz, is hum; one at 310 Hz is not. */
static void a_lone_line_on_the_mains_is_hum(void **state) {
    (void)state;
    static const double at_hz[2] = {300.0, 310.0};
    for (int k = 0; k < 2; k++) {
        bench b;
        bench_open(&b, "[chain]\nstimulus = sine 21 Hz\nmains = 60 Hz\n[point A]\n[point B]\nstage = follower\n");
        put_on_mains(&b, "A", 0.1, 21);
        put_line(put_on_mains(&b, "B", 0.1, 21), at_hz[k], 0.01);
        walk_of(&b);
        expect_fault(&b, k ? GW_FOUND_TONE_ADDED : GW_FOUND_HUM_ADDED, "A", "B");
        bench_close(&b);
    }
}

/* In a tenth of a second a line is known to a hertz: 49.6 Hz is the mains, 46 Hz is not. */
static void a_short_record_leaves_a_line_uncertain(void **state) {
    (void)state;
    static const double at_hz[2] = {49.58, 46.0};
    for (int k = 0; k < 2; k++) {
        bench b;
        bench_open(&b, "[chain]\nstimulus = sine 61.2 Hz\nmains = 50 Hz\n[point A]\n[point B]\nstage = follower\n");
        put_on_mains(&b, "A", 0.1, 61.2);
        gw_readings *r = put_on_mains(&b, "B", 0.1, 61.2);
        r->source.duration_s = 0.1;
        say_below(r, GW_HUM, 0.027);
        put_line(r, at_hz[k], 0.025);
        walk_of(&b);
        expect_fault(&b, k ? GW_FOUND_TONE_ADDED : GW_FOUND_HUM_ADDED, "A", "B");
        bench_close(&b);
    }
}

/* Nobody says what is fed in, and every capture shows 50 Hz: whatever that is, a first-order high-pass with its corner
 * there (10 kΩ, 1/(2 π R f) = 318.3 nF) passes 1/√2 of it. */
static void gain_at_the_mains_is_that_of_its_frequency(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nmains = 50 Hz\n[point A]\n[point B]\nstage = coupling c=318.3n load=10k\n");
    put_on_mains(&b, "A", 1, 50);
    put_on_mains(&b, "B", sqrt(0.5), 50);
    walk_of(&b);
    assert_or_explain(stage_to(&b, "B")->gain.has_expected, b.walk);
    assert_close(stage_to(&b, "B")->gain.expected, sqrt(0.5), 1e-3);
    bench_close(&b);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lines_beside_a_signal_on_the_mains_are_hum),
        cmocka_unit_test(hum_that_came_in_is_not_added),
        cmocka_unit_test(a_trace_of_hum_is_not_judged),
        cmocka_unit_test(a_lone_line_on_the_mains_is_hum),
        cmocka_unit_test(gain_at_the_mains_is_that_of_its_frequency),
        cmocka_unit_test(a_short_record_leaves_a_line_uncertain),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
