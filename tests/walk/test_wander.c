/* Music as the source: what it plays differs from capture to capture. */
#include "walk_testing.h"

#include <math.h>

static const char *const names[] = {"A", "B", "C", "D", "E"};
enum { COUNT = 5 };

/* As the measuring reads captures of music: here a note, there noise, at levels that come and go. */
static const double note_hz[COUNT] = {110, 329.6, 0, 146.8, 0};
static const double played_v[COUNT] = {0.2, 0.11, 0.31, 0.08, 0.25};

typedef struct music {
    bench bench;
    gw_pair pairs[COUNT];
    bool reference;
    double gain[COUNT]; /* from the source to the point */
} music;

static void open_music(music *m, const char *stimulus, bool reference) {
    char text[400];
    memset(m, 0, sizeof *m);
    snprintf(text, sizeof text,
             "[chain]\n%s\n[instrument]\naccuracy = 0.5 %%\n%s[point A]\n[point B]\nstage = wire\n"
             "[point C]\ngain = 20 dB\n[point D]\nstage = wire\n[point E]\ngain = -6 dB\n",
             stimulus, reference ? "reference = 2\n" : "");
    bench_open(&m->bench, text);
    m->reference = reference;
    for (int i = 0; i < COUNT; i++)
        m->gain[i] = i < 2 ? 1 : i < 4 ? 10 : 5;
}

static void say_music(gw_readings *r, int i, double volts) {
    bool note = note_hz[i] > 0;
    say_sine(r, note ? note_hz[i] : 1000, volts, 0);
    r->signal = note ? GW_SIGNAL_PERIODIC : GW_SIGNAL_NOISE;
    r->noise_floor_v = 1e-5;
    say_nothing(r, GW_THD, "the signal is no sine");
    say(r, GW_NOISE, 0.8 * volts, 0.01 * volts, 0.005);
    say(r, GW_LEVEL, note ? 0.6 * volts : 0.8 * volts, 0.01 * volts, 0.005);
    say(r, GW_AC_RMS, volts, 1e-4 * volts, 0.005);
    if (!note)
        say_nothing(r, GW_FREQUENCY, "no periodic signal");
}

static void play(music *m) {
    for (int i = 0; i < COUNT; i++) {
        say_music(put(&m->bench, names[i]), i, played_v[i] * m->gain[i]);
        if (!m->reference)
            continue;
        say_music(&m->bench.references[i], i, played_v[i]);
        m->bench.points[i].reference = &m->bench.references[i];
        m->pairs[i] = (gw_pair){
            .valid = true, .gain = m->gain[i], .gain_u95 = 0.004 * m->gain[i], .polarity = 1, .coherence = 0.99};
        m->bench.points[i].pair = &m->pairs[i];
    }
}

static void no_gain_is_certain_without_a_reference(void **state) {
    (void)state;
    music m;
    open_music(&m, "title = music", false);
    play(&m);
    const gw_walk *walk = walk_of(&m.bench);
    assert_or_explain(walk->verdict.status == GW_VERDICT_UNSURE, walk);
    assert_or_explain(count_findings(walk, GW_OFF, false) == 0, walk);
    assert_or_explain(remarks_on(&m.bench, "no steady tone"), walk);
    bench_close(&m.bench);
}

static void the_reference_channel_tells_gains(void **state) {
    (void)state;
    music m;
    open_music(&m, "stimulus = unknown", true);
    play(&m);
    m.bench.readings[2].clues.wobble_depth = 0.6; /* as music does */
    m.bench.readings[2].clues.wobble_hz = 2;
    expect_clear(&m.bench);
    assert_close(stage_to(&m.bench, "C")->gain.value, 10, 1e-9);
    for (int i = 2; i < COUNT; i++) /* the stage to C makes half of what it should */
        m.gain[i] /= 2;
    play(&m);
    expect_fault(&m.bench, GW_FOUND_LEVEL_LOW, "B", "C");
    bench_close(&m.bench);
}

static void silence_is_silence(void **state) {
    (void)state;
    music m;
    open_music(&m, "stimulus = unknown", false);
    play(&m);
    put_silence(&m.bench, "E", 5e-5, 0);
    const gw_walk *walk = walk_of(&m.bench);
    assert_or_explain(walk->verdict.status == GW_VERDICT_FAULT, walk);
    assert_or_explain(walk->findings[walk->verdict.finding].code == GW_FOUND_SIGNAL_LOST, walk);
    assert_int_equal(walk->verdict.to, bench_point(&m.bench, "E"));
    bench_close(&m.bench);
}

/* One tone everywhere, but for a stage that sings by itself: that is a fault, not music. */
static void a_singing_stage_is_no_music(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[point A]\n[point B]\nstage = wire\n[point C]\nstage = wire\n[point D]\nstage = wire\n");
    for (int i = 0; i < 4; i++) {
        gw_readings *r = put_sine(&b, names[i], 0.1, 0);
        if (i > 1)
            say(r, GW_FREQUENCY, 7310, 0.1, 0);
    }
    walk_of(&b);
    assert_or_explain(b.walk->verdict.status == GW_VERDICT_FAULT, b.walk);
    assert_int_equal(b.walk->verdict.to, bench_point(&b, "C"));
    bench_close(&b);
}

/* A fault that halves a frequency, or makes overtones of it, is no other note: ratios of 1:2, 1:3, 2:1, 3:1. */
static void small_whole_ratios_are_one_tone(void **state) {
    (void)state;
    static const double tones_hz[] = {220, 440, 110, 660, 73.3};
    bench b;
    bench_open(&b, "[point A]\n[point B]\nstage = wire\n[point C]\nstage = wire\n[point D]\nstage = wire\n"
                   "[point E]\nstage = wire\n");
    for (int i = 0; i < COUNT; i++)
        say(put_sine(&b, names[i], 0.1, 0), GW_FREQUENCY, tones_hz[i], 0.01, 0);
    walk_of(&b);
    assert_or_explain(!remarks_on(&b, "no steady tone"), b.walk);
    for (int i = 0; i < COUNT; i++) /* seconds, fourths and fifths are */
        say(&b.readings[i], GW_FREQUENCY, 220 * pow(2, (2 * i + (i > 2)) / 12.0), 0.01, 0);
    walk_of(&b);
    assert_or_explain(remarks_on(&b, "no steady tone"), b.walk);
    bench_close(&b);
}

/* The reference tells what B's capture got only where it is in it: B is of another moment, and neither the stage before
 * it nor the one behind is judged by it. */
static void a_point_without_the_reference_in_it_tells_no_gain(void **state) {
    (void)state;
    music m;
    open_music(&m, "stimulus = unknown", true);
    play(&m);
    say_music(&m.bench.readings[1], 1, 0.3 * played_v[1]);
    m.pairs[1].coherence = 0.1;
    const gw_walk *walk = walk_of(&m.bench);
    assert_or_explain(count_findings(walk, GW_OFF, false) == 0, walk);
    assert_int_equal(stage_to(&m.bench, "C")->gain.status, GW_UNSURE);
    bench_close(&m.bench);
}

/* A chord: in every capture the same repeats, at levels that differ, and something is left beside it. */
static void put_chord(bench *b, int i, double left) {
    static const double volts[COUNT] = {0.115, 0.091, 0.092, 0.07, 0.1};
    gw_readings *r = put(b, names[i]);
    say_sine(r, 55, volts[i], 0);
    r->signal = GW_SIGNAL_PERIODIC;
    say_nothing(r, GW_THD, "the signal is no sine");
    say(r, GW_NOISE, left * volts[i], 0.01 * volts[i], 0.005);
}

static void chords_that_repeat_for_a_while_are_no_steady_tone(void **state) {
    (void)state;
    for (int loud = 0; loud < 2; loud++) {
        bench b;
        bench_open(&b, "[instrument]\naccuracy = 0.5 %\n[point A]\n[point B]\nstage = wire\n[point C]\nstage = wire\n"
                       "[point D]\nstage = wire\n[point E]\nstage = wire\n");
        for (int i = 0; i < COUNT; i++)
            put_chord(&b, i, loud ? 0.75 : 0.05);
        walk_of(&b);
        /* a generator's waveform leaves next to nothing, and its levels can be held against each other */
        assert_or_explain(b.walk->verdict.status == (loud ? GW_VERDICT_UNSURE : GW_VERDICT_FAULT), b.walk);
        assert_or_explain(remarks_on(&b, "no steady tone") == (loud != 0), b.walk);
        bench_close(&b);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(no_gain_is_certain_without_a_reference),
        cmocka_unit_test(the_reference_channel_tells_gains),
        cmocka_unit_test(silence_is_silence),
        cmocka_unit_test(a_point_without_the_reference_in_it_tells_no_gain),
        cmocka_unit_test(a_singing_stage_is_no_music),
        cmocka_unit_test(small_whole_ratios_are_one_tone),
        cmocka_unit_test(chords_that_repeat_for_a_while_are_no_steady_tone),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
