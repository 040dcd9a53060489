/* Sweeps: losses at the ends of the band, and corners, of a stage whose response is known in closed form. */
#include "walk_testing.h"

enum { LINES = 120 }; /* ten octaves from 20 Hz on, twelve lines each */

/* The responses of two points to what was fed in. */
typedef struct swept {
    gw_response_line lines[2][LINES];
    gw_response responses[2];
} swept;

/* A low-pass of the first order behind a level; corner 0: flat. */
static double passed(double frequency_hz, double corner_hz) {
    return corner_hz > 0 ? 1 / hypot(1, frequency_hz / corner_hz) : 1;
}

static void put_swept(bench *b, swept *s, int i, double level_v, double corner_hz, double u95) {
    gw_readings *r = put_sine(b, i ? "B" : "A", level_v * passed(1000, corner_hz), 0);
    r->signal = GW_SIGNAL_SWEEP;
    for (int k = 0; k < LINES; k++) {
        double hz = 20 * exp2(k / 12.0);
        s->lines[i][k] = (gw_response_line){hz, 10 * level_v * passed(hz, corner_hz), 1, u95};
    }
    s->responses[i] = (gw_response){.lines = s->lines[i],
                                    .count = LINES,
                                    .middle_hz = 1000,
                                    .middle_gain = 10 * level_v * passed(1000, corner_hz),
                                    .stimulus_rms = 0.1};
    b->points[i].response = &s->responses[i];
}

static const double corner_10k_3n3_hz = 1 / (6.283185307179586 * 10e3 * 3.3e-9);

/* As it should be: the corner is where |H| has fallen to half the power of 1 kHz, f0 sqrt(1 + 2 (1 kHz/f0)²), read as
 * well as the gains are there: twice their u95 (both points' as squares), for the slope of a first order there is 1/2.
 */
static void a_low_pass_in_order(void **state) {
    (void)state;
    swept s;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sweep\nsweep = sweep.wav\n[point A]\n[point B]\nstage = lowpass r=10k c=3n3\n");
    put_swept(&b, &s, 0, 0.1, 0, 0.01);
    put_swept(&b, &s, 1, 0.1, corner_10k_3n3_hz, 0.01);
    /* what it is swept through makes its level swing, its frequency wander and its spectrum full of lines */
    gw_readings *through = &b.readings[1];
    through->clues.wobble_depth = 0.6;
    through->clues.wobble_hz = 3;
    say(through, GW_FREQUENCY, 3100, 1, 0);
    say(through, GW_THD, 0.5, 1e-3, 0);
    say(through, GW_HUM, 0.05, 1e-4, bench_accuracy);
    const gw_walk *walk = walk_of(&b);
    assert_or_explain(walk->finding_count == 0, walk);
    const gw_judgement *corner = &stage_to(&b, "B")->high_corner;
    double should_hz = corner_10k_3n3_hz * sqrt(1 + 2e6 / (corner_10k_3n3_hz * corner_10k_3n3_hz));
    assert_int_equal(corner->status, GW_OK);
    assert_close(corner->value, should_hz, 0.01 * should_hz);
    assert_true(corner->has_expected);
    assert_close(corner->expected, should_hz, 0.01 * should_hz);
    assert_false(stage_to(&b, "B")->low_corner.has_expected); /* it passes all that is lower */
    assert_close(corner->u95, 2 * hypot(0.01, 0.01) * should_hz, 0.03 * 0.0283 * should_hz);
    bench_close(&b);
}

/* Three times the capacitor: 9.5 dB are gone at 20 kHz. It is a fault where the lines are known to 14 %, and may be
 * none where they are known to their own size. */
static void a_low_pass_with_the_wrong_capacitor(void **state) {
    (void)state;
    static const double u95[] = {0.1, 1.2};
    for (int k = 0; k < 2; k++) {
        swept s;
        bench b;
        bench_open(&b,
                   "[chain]\nstimulus = sweep\nsweep = sweep.wav\n[point A]\n[point B]\nstage = lowpass r=10k c=3n3\n");
        put_swept(&b, &s, 0, 0.1, 0, u95[k]);
        put_swept(&b, &s, 1, 0.1, corner_10k_3n3_hz / 3, u95[k]);
        const gw_walk *walk = walk_of(&b);
        assert_or_explain(find(&b, GW_FOUND_HIGHS_LOST, "B") != NULL, walk);
        assert_int_equal(stage_to(&b, "B")->high_corner.status, k == 0 ? GW_OFF : GW_UNSURE);
        bench_close(&b);
    }
}

/* What the parts' tolerances allow at the end of the band is no loss. A corner 1.8 times too low is 4.5 dB at 18 kHz
 * more than expected, |H| = 1/sqrt(1 + (f/f0)²), against 1 kHz. Resistor and capacitor 20 % too large each put it 1.44
 * times too low, which takes 2.8 dB of that and leaves less than the 3 dB of a corner; at 1 % they take 0.2 dB. */
static void what_the_tolerances_take_at_the_end_is_no_loss(void **state) {
    (void)state;
    static const char *const tolerances[] = {"20 %", "1 %"};
    for (int k = 0; k < 2; k++) {
        char text[200];
        swept s;
        bench b;
        snprintf(text, sizeof text,
                 "[chain]\nstimulus = sweep\nsweep = sweep.wav\n[point A]\n[point B]\n"
                 "stage = lowpass r=10k c=3n3 tol=%s\n",
                 tolerances[k]);
        bench_open(&b, text);
        put_swept(&b, &s, 0, 0.1, 0, 0.01);
        put_swept(&b, &s, 1, 0.1, corner_10k_3n3_hz / 1.8, 0.01);
        if (k == 0)
            expect_clear(&b);
        else
            expect_fault(&b, GW_FOUND_HIGHS_LOST, "A", "B");
        bench_close(&b);
    }
}

/* What is told of a stage's response, by its kind or stated, holds to the 3 dB that the trade calls a corner; where
 * nothing is told 6 dB are let pass. The lines about 18 kHz are down by 4.5 dB: |H| = 10^(-4.5/20) = 0.596 of a
 * first-order low-pass is at 1.35 times its corner, which so is at 13.3 kHz. */
static void half_the_power_is_a_loss_where_the_response_is_told(void **state) {
    (void)state;
    static const struct {
        const char *stage;
        bool lost;
    } stages[] = {{"stage = wire\n", true},
                  {"stage = amp\ngain = 0 dB\nresponse = 20 Hz .. 20 kHz\n", true},
                  {"stage = amp\ngain = 0 dB\n", false}};
    for (size_t i = 0; i < sizeof stages / sizeof *stages; i++) {
        char text[200];
        swept s;
        bench b;
        snprintf(text, sizeof text, "[chain]\nstimulus = sweep\nsweep = sweep.wav\n[point A]\n[point B]\n%s",
                 stages[i].stage);
        bench_open(&b, text);
        put_swept(&b, &s, 0, 0.1, 0, 0.01);
        put_swept(&b, &s, 1, 0.1, 13.3e3, 0.01);
        if (stages[i].lost)
            expect_fault(&b, GW_FOUND_HIGHS_LOST, "A", "B");
        else
            expect_clear(&b);
        bench_close(&b);
    }
}

/* From the reference channel to the first point lies a stage where one is stated, or a gain; else nothing is judged. */
static void from_the_reference_to_the_first_point(void **state) {
    (void)state;
    static const struct {
        const char *text;
        bool judged;
    } known[] = {{"gain = 0 dB ± 3 dB\n", true}, {"stage = follower\n", true}, {"stage = amp\n", true}, {"", false}};
    for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
        char text[200];
        swept s;
        bench b;
        snprintf(text, sizeof text,
                 "[chain]\nstimulus = sweep\n[instrument]\nreference = 1\n[point A]\n%s[point B]\nstage = wire\n",
                 known[i].text);
        bench_open(&b, text);
        for (int p = 0; p < 2; p++) {
            put_swept(&b, &s, p, 0.1, 1500, 0.01);
            say_sine(&b.references[p], 1000, 0.1, 0);
            b.references[p].signal = GW_SIGNAL_NOISE;
            b.points[p].reference = &b.references[p];
        }
        const gw_walk *walk = walk_of(&b);
        assert_or_explain((find(&b, GW_FOUND_HIGHS_LOST, "A") != NULL) == known[i].judged, walk);
        assert_or_explain(find(&b, GW_FOUND_HIGHS_LOST, "B") == NULL, walk);
        bench_close(&b);
    }
}

/* Of a file that was played the response knows only the numbers in it (here full scale over ten): how many volts they
 * became is the reference channel's to say. */
static void a_played_file_has_no_volts(void **state) {
    (void)state;
    swept s;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sweep\nsweep = sweep.wav\n[instrument]\nreference = 1\n[point A]\n"
                   "gain = 0 dB ± 1 dB\n[point B]\nstage = wire\n");
    for (int p = 0; p < 2; p++) {
        put_swept(&b, &s, p, 0.5, 0, 0.01);
        say_sine(&b.references[p], 1000, 0.5, 0);
        b.points[p].reference = &b.references[p];
    }
    expect_clear(&b);
    assert_close(stage_to(&b, "A")->gain.value, 1, 1e-6);
    bench_close(&b);
}

/* A tone that is no sweep has no response, and however loud it is the sweep is not in it. */
static void a_steady_tone_is_no_sweep(void **state) {
    (void)state;
    for (int loud = 0; loud < 2; loud++) {
        swept s;
        bench b;
        bench_open(&b, "[chain]\nstimulus = sweep\nsweep = sweep.wav\n[point A]\n[point B]\nstage = wire\n");
        put_swept(&b, &s, 0, 0.1, 0, 0.01);
        put_sine(&b, "B", loud ? 0.1 : 1e-4, 0);
        expect_fault(&b, GW_FOUND_SIGNAL_LOST, "A", "B");
        bench_close(&b);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_low_pass_in_order),
        cmocka_unit_test(a_low_pass_with_the_wrong_capacitor),
        cmocka_unit_test(what_the_tolerances_take_at_the_end_is_no_loss),
        cmocka_unit_test(half_the_power_is_a_loss_where_the_response_is_told),
        cmocka_unit_test(from_the_reference_to_the_first_point),
        cmocka_unit_test(a_played_file_has_no_volts),
        cmocka_unit_test(a_steady_tone_is_no_sweep),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
