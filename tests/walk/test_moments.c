/* Gaps, lines and bends out of the pictures of a capture, where its readings tell too little. */
#include "walk_testing.h"

#include <math.h>

static const double pi = 3.14159265358979323846;
enum { COLUMNS = 720, LINES = 400 };

typedef struct picture {
    double low[COLUMNS], high[COLUMNS];
} picture;

static const char single[] = "[chain]\nstimulus = sine 1 kHz 1 V\nmains = 50 Hz\n[point J1]\n[point W1]\nstage = wire\n"
                             "[point C2]\nstage = coupling c=10u load=47k\n";

/* The voltage at a time of a record of 12 ms, 12 periods, on `dc`. */
typedef double voltage(double time_s, double dc);

static double sine_on(double time_s, double dc) {
    return dc + sqrt(2) * sin(2 * pi * 1000 * time_s);
}

/* All of it is gone from 3 to 5.5 ms, the DC too. */
static double gated(double time_s, double dc) {
    return time_s > 3e-3 && time_s < 5.5e-3 ? 0 : sine_on(time_s, dc);
}

static void draw(gw_readings *r, picture *p, voltage *of, double dc) {
    const double end = 12e-3;
    r->waveform = (gw_trace){.count = COLUMNS, .end = end, .low = p->low, .high = p->high};
    r->source.duration_s = end;
    for (int i = 0; i < COLUMNS; i++) {
        double one = of(end * i / COLUMNS, dc), other = of(end * (i + 1) / COLUMNS, dc);
        p->low[i] = fmin(one, other);
        p->high[i] = fmax(one, other);
    }
}

static void say_lost(gw_readings *r) {
    r->signal = GW_SIGNAL_NOISE;
    say(r, GW_LEVEL, 2, 0.3, bench_accuracy);
    say(r, GW_AC_RMS, 2.2, 0.3, bench_accuracy);
    say(r, GW_PEAK_TO_PEAK, 6, 0.01, bench_accuracy);
    say_nothing(r, GW_DC, "no steady signal");
    say_nothing(r, GW_FREQUENCY, "no periodic signal");
    say_nothing(r, GW_THD, "no periodic signal");
    say_nothing(r, GW_DROPOUTS, "no steady signal");
}

static void gaps_that_take_the_dc_along_are_seen_in_the_picture(void **state) {
    (void)state;
    bench b;
    static picture p;
    bench_open(&b, single);
    put_sine(&b, "J1", 1, 4.5);
    gw_readings *r = put_sine(&b, "W1", 1, 4.5);
    say_lost(r);
    draw(r, &p, gated, 4.5);
    put_sine(&b, "C2", 1, 0);
    expect_fault(&b, GW_FOUND_CUTS_OUT, "J1", "W1");
    assert_non_null(strstr(b.walk->verdict.summary, "1 dropout, at 3.0"));
    /* without gaps the picture invents none: what hides there is for another capture to show */
    draw(r, &p, sine_on, 4.5);
    walk_of(&b);
    assert_or_explain(!find(&b, GW_FOUND_CUTS_OUT, "W1"), b.walk);
    bench_close(&b);
}

/* A sine without DC, its source's and its own: gone from 3 to 5.5 ms. */
static void gaps_of_a_sine_are_seen_in_the_picture(void **state) {
    (void)state;
    bench b;
    static picture p;
    bench_open(&b, single);
    put_sine(&b, "J1", 1, 0);
    gw_readings *r = put_sine(&b, "W1", 1, 0);
    say_lost(r);
    draw(r, &p, gated, 0);
    expect_fault(&b, GW_FOUND_CUTS_OUT, "J1", "W1");
    const char *at = strstr(b.walk->verdict.summary, "1 dropout, at ");
    assert_non_null(at);
    assert_close(strtod(at + strlen("1 dropout, at "), NULL), 3, 0.25); /* ms, to a quarter of a period */
    const char *length = strstr(at, " for ");
    assert_non_null(length);
    assert_close(strtod(length + strlen(" for "), NULL), 2.5, 0.5); /* a quarter at either end */
    bench_close(&b);
}

/* Hum that comes and goes, as a loose ground brings it, is most of what is there: its gaps are none of the signal's. */
static void gaps_of_hum_are_no_gaps_of_the_signal(void **state) {
    (void)state;
    bench b;
    static picture p;
    bench_open(&b, single);
    put_sine(&b, "J1", 1, 0);
    gw_readings *r = put_sine(&b, "W1", 1, 0);
    say_lost(r);
    say(r, GW_HUM, 2.1, 0.1, bench_accuracy);
    draw(r, &p, gated, 0);
    walk_of(&b);
    assert_or_explain(!find(&b, GW_FOUND_CUTS_OUT, "W1"), b.walk);
    bench_close(&b);
}

/* Sampled 2.02 times a period a steady sine falls and rises in the picture as it beats with the samples: what
 * a period's swing is, two samples don't tell. */
static void samples_that_beat_with_the_sine_are_no_gaps(void **state) {
    (void)state;
    bench b;
    static picture p;
    bench_open(&b, single);
    put_sine(&b, "J1", 1, 0);
    gw_readings *r = put_sine(&b, "W1", 1, 0);
    say_lost(r);
    for (int i = 0; i < COLUMNS; i++)
        p.low[i] = p.high[i] = sqrt(2) * sin(2 * pi * i / 2.02);
    r->source.duration_s = COLUMNS / 2.02e3;
    r->waveform = (gw_trace){.count = COLUMNS, .end = r->source.duration_s, .low = p.low, .high = p.high};
    walk_of(&b);
    assert_or_explain(!find(&b, GW_FOUND_CUTS_OUT, "W1"), b.walk);
    bench_close(&b);
}

/* A tenth of a volt on much more DC, all of it gone from 3 to 5.5 ms. */
static double gated_dc(double time_s, double dc) {
    return time_s > 3e-3 && time_s < 5.5e-3 ? 0 : dc + 0.1 * sqrt(2) * sin(2 * pi * 1000 * time_s);
}

/* The signal is a third of the DC. */
static double gated_half(double time_s, double dc) {
    return time_s > 3e-3 && time_s < 5.5e-3 ? 0 : dc * (1 + 0.35 * sin(2 * pi * 1000 * time_s));
}

/* What is left of a square wave behind an open capacitor: spikes down to nothing, for a thirtieth of the time. */
static double spiked(double time_s, double dc) {
    return fmod(time_s + 0.3e-3, 1e-3) < 3.4e-5 ? 0 : dc;
}

static void gaps_in_much_dc_are_seen_though_the_signal_is_not(void **state) {
    (void)state;
    bench b;
    static picture p;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 100 mV\nmains = 50 Hz\n[point U1]\n[point W1]\nstage = wire\n"
                   "[point C2]\nstage = coupling c=10u load=47k\n[point W2]\nstage = wire\n");
    put_sine(&b, "U1", 0.1, 12);
    gw_readings *r = put_sine(&b, "W1", 0.1, 9.5);
    say_lost(r);
    say(r, GW_AC_RMS, 4.9, 0.5, bench_accuracy);
    say(r, GW_DC, 9.5, 1, bench_accuracy);
    r->source.step = 0.06;
    draw(r, &p, gated_dc, 12);
    /* behind the capacitor nothing steady is left, and that is not its fault */
    gw_readings *later = put_sine(&b, "C2", 0.1, 0);
    say_lost(later);
    say(later, GW_AC_RMS, 4.9, 0.5, bench_accuracy);
    expect_fault(&b, GW_FOUND_CUTS_OUT, "U1", "W1");
    assert_non_null(strstr(b.walk->verdict.summary, "1 dropout, at 3.0"));
    assert_non_null(strstr(b.walk->verdict.summary, "the DC goes with it"));
    const gw_finding *behind = find(&b, GW_FOUND_CAPTURE_POOR, "C2");
    assert_or_explain(behind && behind->follows >= 0, b.walk);
    /* nor have the gaps a pitch that would be the signal's, be its line among their harmonics or not */
    gw_harmonic line = {.order = 8, .frequency_hz = 1000, .rms = 0.1, .u95 = 0.01, .resolved = true};
    r->signal = GW_SIGNAL_PERIODIC;
    say(r, GW_LEVEL, 4.5, 0.1, bench_accuracy);
    say(r, GW_FREQUENCY, 125, 0.01, 0);
    r->harmonics = &line;
    r->harmonic_count = 1;
    expect_fault(&b, GW_FOUND_CUTS_OUT, "U1", "W1");
    say_lost(r);
    r->harmonic_count = 0;
    draw(r, &p, gated_half, 12);
    expect_fault(&b, GW_FOUND_CUTS_OUT, "U1", "W1");
    /* nor does a fit that makes a signal of it all hide them */
    put_sine(&b, "W1", 1, 9.5);
    say(r, GW_AC_RMS, 5.4, 0.5, bench_accuracy);
    draw(r, &p, gated_half, 12);
    expect_fault(&b, GW_FOUND_CUTS_OUT, "U1", "W1");
    say_lost(r);
    r->source.step = 0.06;
    say(r, GW_AC_RMS, 4.9, 0.5, bench_accuracy);
    say(r, GW_DC, 9.5, 1, bench_accuracy);
    draw(r, &p, spiked, 12);
    walk_of(&b);
    assert_or_explain(!find(&b, GW_FOUND_CUTS_OUT, "W1"), b.walk);
    draw(r, &p, gated_dc, 12);
    /* the same record where no such DC comes in: nobody knows what it is */
    put_sine(&b, "U1", 0.1, 0);
    walk_of(&b);
    assert_or_explain(!find(&b, GW_FOUND_CUTS_OUT, "W1"), b.walk);
    bench_close(&b);
}

/* Mains of 0.25 V that a probe picks up where it touches nothing: as a piece of 440 Hz is long, it moves now more, now
 * less. */
static double mains_alone(double time_s, double dc) {
    return dc + 0.25 * sin(2 * pi * 50 * 6.5 * time_s); /* 78 ms in the 12 ms of the picture */
}

static void mains_that_moves_within_a_period_has_no_gaps(void **state) {
    (void)state;
    bench b;
    static picture p;
    bench_open(&b, "[chain]\nstimulus = sine 440 Hz 150 mV\nmains = 50 Hz\n[point J1]\n[point VR1]\n"
                   "gain = -13 dB ± 3 dB\n[point W2]\nstage = wire\n");
    put_sine(&b, "J1", 0.15, 0);
    gw_readings *r = put(&b, "VR1");
    say_mains(r, 0.175);
    draw(r, &p, mains_alone, 0);
    r->waveform.end = r->source.duration_s = 78e-3;
    put_sine(&b, "W2", 0.034, 0);
    expect_verdict(&b, GW_VERDICT_UNSURE);
    assert_or_explain(find(&b, GW_FOUND_PROBE_SUSPECT, "VR1") && !find(&b, GW_FOUND_CUTS_OUT, "VR1"), b.walk);
    bench_close(&b);
}

/* With nothing fed in, an output that slides away has the DC that a meter would show; 0 to 1 V within 12 ms here, less
 * than a cycle of the mains, is nothing that a mean could be taken of. */
static double sliding(double time_s, double dc) {
    return dc * time_s / 12e-3;
}

static void output_that_slides_away_has_a_mean(void **state) {
    (void)state;
    bench b;
    static picture p;
    bench_open(&b, "[chain]\nstimulus = none\nmains = 50 Hz\n[point J1]\n[point U1]\nstage = follower\n"
                   "dc = 0 V ± 50 mV\n");
    put_silence(&b, "J1", 1e-3, 0);
    gw_readings *r = put_silence(&b, "U1", 1e-3, 0);
    say_nothing(r, GW_DC, "less than 1.2 cycles of the signal in the record");
    draw(r, &p, sliding, 1);
    expect_clear(&b);
    r->waveform.end = r->source.duration_s = 0.12; /* 6 cycles of the mains: 0.5 V ± 27 mV */
    expect_fault(&b, GW_FOUND_DC_SHIFT, "J1", "U1");
    bench_close(&b);
}

/* Hum of 0.2 V about 0.3 V, six cycles of it: the mean of the picture is the DC. What the room behind the picture's
 * last column holds is none of it. */
static void mean_of_a_picture_is_the_dc(void **state) {
    (void)state;
    bench b;
    static picture p;
    bench_open(&b, "[chain]\nstimulus = none\nmains = 50 Hz\n[point J1]\n[point U1]\nstage = follower\n"
                   "dc = 0 V ± 50 mV\n");
    put_silence(&b, "J1", 1e-3, 0);
    gw_readings *r = put_silence(&b, "U1", 1e-3, 0);
    say_nothing(r, GW_DC, "less than 1.2 cycles of the signal in the record");
    r->waveform = (gw_trace){.count = COLUMNS - 1, .end = 0.12, .low = p.low, .high = p.high};
    r->source.duration_s = 0.12;
    for (int i = 0; i < COLUMNS; i++)
        p.low[i] = p.high[i] = i < COLUMNS - 1 ? 0.3 + 0.2 * sin(2 * pi * 6 * (i + 0.5) / (COLUMNS - 1)) : 900;
    expect_fault(&b, GW_FOUND_DC_SHIFT, "J1", "U1");
    assert_close(stage_to(&b, "U1")->dc.value, 0.3, 1e-3);
    bench_close(&b);
}

/* Up by 4 V a second from -0.6 V on, fetched back by 0.8 V at 60 ms (of 120 ms, ten times the picture's 12 ms). */
static double fetched_back(double time_s, double dc) {
    double t = 10 * time_s;
    return dc - 0.6 + 4 * t - (t > 60e-3 ? 0.8 : 0);
}

static void output_that_slides_and_is_fetched_back_does_not_crackle(void **state) {
    (void)state;
    bench b;
    static picture p;
    static gw_event events[] = {{.kind = GW_EVENT_CRACKLE, .start_s = 59e-3, .length_s = 1e-3, .size_v = -0.6},
                                {.kind = GW_EVENT_STEP, .start_s = 60e-3, .size_v = -0.8}};
    bench_open(&b, "[chain]\nstimulus = none\nmains = 50 Hz\n[point J1]\n[point U1]\nstage = follower\n"
                   "dc = 0 V ± 500 mV\n[point W2]\nstage = wire\n");
    put_silence(&b, "J1", 1e-3, 0);
    gw_readings *r = put_silence(&b, "U1", 1e-3, -0.3);
    r->events = events;
    r->event_count = 2;
    say(r, GW_PEAK_TO_PEAK, 0.8, 0.01, bench_accuracy);
    draw(r, &p, fetched_back, 0);
    r->waveform.end = r->source.duration_s = 0.12;
    put_silence(&b, "W2", 1e-3, -0.3);
    /* lowest over 20 ms: 4 V/s times 10 ms over the -1.16 V that it is fetched back to */
    expect_fault(&b, GW_FOUND_DC_SHIFT, "J1", "U1");
    assert_non_null(strstr(b.walk->verdict.summary, "DC -1.1"));
    assert_non_null(strstr(b.walk->verdict.summary, "it slides away, 4"));
    assert_non_null(strstr(find(&b, GW_FOUND_DC_SHIFT, "U1")->causes[0], "hold capacitor"));
    /* the same steps from rest to rest crackle */
    draw(r, &p, sine_on, -0.3);
    r->waveform.end = r->source.duration_s = 0.12;
    expect_fault(&b, GW_FOUND_CRACKLE, "J1", "U1");
    bench_close(&b);
}

/* 5 mV of hum, drawn ten times as fast: six cycles where the 12 ms of the picture stand for 0.12 s. */
static double fine_hum(double time_s, double dc) {
    return dc + 5e-3 * sin(2 * pi * 500 * time_s);
}

/* A mean out of the picture is no better than the instrument: 3 % of 5 V, a rectangular distribution, are 5 V * 0.03 /
 * √3 standard, twice that expanded (JCGM 100, 4.3.7 and 6.3.3), 0.173 V; what is left of 5 mV of hum in six cycles of
 * it is next to nothing beside that. So with either sign. */
static void mean_of_a_picture_is_as_good_as_the_instrument(void **state) {
    (void)state;
    for (int sign = -1; sign <= 1; sign += 2) {
        bench b;
        static picture p;
        char text[200];
        snprintf(text, sizeof text,
                 "[chain]\nstimulus = none\nmains = 50 Hz\n[point J1]\n[point U1]\nstage = follower\n"
                 "dc = %s5.1 V ± 50 mV\n",
                 sign < 0 ? "-" : "");
        bench_open(&b, text);
        put_silence(&b, "J1", 1e-3, 0);
        gw_readings *r = put_silence(&b, "U1", 1e-3, 0);
        say_nothing(r, GW_DC, "less than 1.2 cycles of the signal in the record");
        draw(r, &p, fine_hum, sign * 5);
        r->waveform.end = r->source.duration_s = 0.12;
        walk_of(&b);
        assert_close(stage_to(&b, "U1")->dc.value, sign * 5, 5e-3);
        assert_close(stage_to(&b, "U1")->dc.u95, 0.1732, 2e-3);
        assert_or_explain(b.walk->verdict.status == GW_VERDICT_UNSURE, b.walk);
        bench_close(&b);
    }
}

/* Up by 40 V a second, and back to nothing every 30 ms: two of three stretches of 10 ms have no step within. */
static double often_fetched_back(double time_s, double dc) {
    return dc + 40 * fmod(time_s, 30e-3);
}

/* 80 ms of it, in the front half of the room that a picture has; what stands behind is none of it. */
static void slide_ends_with_the_picture(void **state) {
    (void)state;
    bench b;
    static picture p;
    const double end = 80e-3;
    const int columns = COLUMNS / 2;
    bench_open(&b, "[chain]\nstimulus = none\nmains = 50 Hz\n[point J1]\n[point U1]\nstage = follower\n"
                   "dc = 0 V ± 50 mV\n");
    put_silence(&b, "J1", 1e-3, 0);
    gw_readings *r = put_silence(&b, "U1", 1e-3, 0);
    say_nothing(r, GW_DC, "less than 1.2 cycles of the signal in the record");
    r->waveform = (gw_trace){.count = (size_t)columns, .end = end, .low = p.low, .high = p.high};
    r->source.duration_s = end;
    for (int i = 0; i < COLUMNS; i++)
        p.low[i] = p.high[i] = i < columns ? often_fetched_back(end * (i + 0.5) / columns, 0) : 0;
    expect_fault(&b, GW_FOUND_DC_SHIFT, "J1", "U1");
    assert_or_explain(strstr(b.walk->verdict.summary, "it slides away, 40 V/s"), b.walk);
    bench_close(&b);
}

/* A piece of a mains cycle taken out of a short record: the DC is no better known than what it was moved by. */
static void dc_beside_a_bend_is_doubted_by_it(void **state) {
    (void)state;
    bench b;
    static picture p;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\nmains = 50 Hz\n[point J1]\n[point U1]\nstage = follower\n");
    put_sine(&b, "J1", 1, 0);
    gw_readings *r = put_sine(&b, "U1", 1, 0.1);
    say_nothing(r, GW_HUM, "the record is too short");
    draw(r, &p, sine_on, 0.1);
    expect_fault(&b, GW_FOUND_DC_SHIFT, "J1", "U1");
    say_nothing(r, GW_DRIFT, "the record is too short to tell a drift from hum");
    expect_fault(&b, GW_FOUND_DC_SHIFT, "J1", "U1"); /* the record's own mean agrees */
    /* and so does that of the picture's front half, whatever stands in the room behind */
    r->waveform.count = COLUMNS / 2;
    r->waveform.end /= 2;
    p.low[COLUMNS / 2] = p.high[COLUMNS / 2] = INFINITY;
    expect_fault(&b, GW_FOUND_DC_SHIFT, "J1", "U1");
    draw(r, &p, sine_on, 0.02);
    walk_of(&b);
    assert_or_explain(b.walk->verdict.status != GW_VERDICT_FAULT, b.walk);
    bench_close(&b);
}

/* ---- lines ---- */

static void put_tone(bench *b, const char *name, double frequency_hz, double rms, double rate_hz) {
    int i = bench_point(b, name);
    gw_readings *r = put_sine(b, name, 1, 0);
    b->tones[i][0] = (gw_tone){.frequency_hz = frequency_hz, .rms = rms, .u95 = 1e-3, .kind = GW_TONE_OTHER};
    r->tones = b->tones[i];
    r->tone_count = rms > 0 ? 1 : 0;
    r->source.rate_hz = rate_hz;
}

/* 77.5 kHz sampled at 100 kHz shows at 22.5 kHz (sampling theorem): one line, and not two. */
static void line_that_a_low_rate_folds_down_was_there(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point J1]\n[point U1]\nstage = follower\n");
    put_tone(&b, "J1", 22.5e3, 0.1, 100e3);
    put_tone(&b, "U1", 77.5e3, 0.1, 1e6);
    expect_clear(&b);
    put_tone(&b, "J1", 77.5e3, 0.1, 1e6);
    put_tone(&b, "U1", 22.5e3, 0.1, 100e3);
    expect_clear(&b);
    put_tone(&b, "U1", 32.5e3, 0.1, 100e3);
    expect_fault(&b, GW_FOUND_TONE_ADDED, "J1", "U1");
    /* 47.33 kHz: at 2.67 kHz where 50 kHz sample it, at 7.33 kHz where 20 kHz do */
    put_tone(&b, "J1", 2.67e3, 0.1, 50e3);
    put_tone(&b, "U1", 7.33e3, 0.1, 20e3);
    expect_clear(&b);
    put_tone(&b, "U1", 8.41e3, 0.1, 20e3);
    expect_fault(&b, GW_FOUND_TONE_ADDED, "J1", "U1");
    bench_close(&b);
}

/* Harmonics of an edge fold down between the lines, alike at one rate: 7 % that the input does not have at the same
 * rate is no such line, at another rate it may be. */
static void line_beside_a_waveform_is_judged_at_one_rate(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = periodic 200 Hz 1 V\n[point A]\n[point U1]\nstage = follower\n");
    for (int same = 0; same < 2; same++) {
        put_tone(&b, "A", 0, 0, same ? 6e3 : 9e3);
        put_tone(&b, "U1", 2609, 0.07, 6e3);
        if (same)
            expect_fault(&b, GW_FOUND_TONE_ADDED, "A", "U1");
        else
            expect_clear(&b);
    }
    bench_close(&b);
}

/* A line at 750 Hz beside hum is the 15th of a rectifier's comb; one at 455 Hz where there is no hum is 1.1 % from the
 * 9th of nothing. */
static void line_on_the_mains_is_hum_where_there_is_some(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\nmains = 50 Hz\n[point A]\n[point U1]\nstage = follower\n");
    put_tone(&b, "A", 0, 0, 100e3);
    put_tone(&b, "U1", 750, 0.05, 100e3);
    say(&b.readings[1], GW_HUM, 0.3, 1e-3, bench_accuracy);
    expect_fault(&b, GW_FOUND_HUM_ADDED, "A", "U1");
    assert_or_explain(!find(&b, GW_FOUND_TONE_ADDED, "U1"), b.walk);
    put_tone(&b, "U1", 455, 0.1, 100e3);
    expect_fault(&b, GW_FOUND_TONE_ADDED, "A", "U1");
    bench_close(&b);
}

/* 42.2 kHz sampled at 20 kHz shows at 2.2 kHz, on the 11th harmonic of 200 Hz by chance, and at 7.8 kHz at 50 kHz. */
static void line_folded_onto_a_harmonic_was_there(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 200 Hz 1 V\n[point J1]\n[point U1]\nstage = follower\n");
    put_tone(&b, "J1", 0, 0, 20e3);
    put_tone(&b, "U1", 7.8e3, 0.1, 50e3);
    expect_fault(&b, GW_FOUND_TONE_ADDED, "J1", "U1");
    static gw_harmonic chance = {.order = 11, .frequency_hz = 2200, .rms = 0.1, .u95 = 1e-3, .resolved = true};
    b.readings[0].harmonics = &chance;
    b.readings[0].harmonic_count = 1;
    expect_clear(&b);
    bench_close(&b);
}

/* Orders 41 and 53 of 200 Hz, each alone: bending makes neither (it falls with the order). The larger one is told. */
static void of_lone_lines_the_loudest_is_told(void **state) {
    (void)state;
    static gw_harmonic lines[] = {{.order = 41, .frequency_hz = 8200, .rms = 0.25, .u95 = 1e-3, .resolved = true},
                                  {.order = 53, .frequency_hz = 10600, .rms = 0.1, .u95 = 1e-3, .resolved = true}};
    for (int turn = 0; turn < 2; turn++) {
        bench b;
        bench_open(&b, "[chain]\nstimulus = sine 200 Hz 1 V\n[point J1]\n[point U1]\nstage = follower\n");
        put_tone(&b, "J1", 0, 0, 250e3);
        put_tone(&b, "U1", 0, 0, 250e3);
        lines[0].rms = turn ? 0.1 : 0.25;
        lines[1].rms = turn ? 0.25 : 0.1;
        b.readings[1].harmonics = lines;
        b.readings[1].harmonic_count = 2;
        expect_fault(&b, GW_FOUND_TONE_ADDED, "J1", "U1");
        assert_or_explain(strstr(b.walk->verdict.summary, turn ? "10.6" : "8.2") != NULL, b.walk);
        bench_close(&b);
    }
}

/* A line of 8.2 kHz comes in, and the stage passes it on with the gain that the signal has: by ten, nothing is added,
 * though the input's capture has a neighbour beside it that the other has not. Ten times of that is the stage's. */
static void a_lone_line_is_held_against_what_the_gain_makes_of_it(void **state) {
    (void)state;
    static const struct {
        const char *gain;
        double out_v, line_in_v, line_out_v;
        bool added;
    } known[] = {{"20 dB", 10, 0.05, 0.5, false},
                 {"20 dB", 10, 0.005, 0.5, true},
                 {"-20 dB", 0.1, 0.005, 0.0005, false},
                 {"-20 dB", 0.1, 0.005, 0.005, true}};
    for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
        bench b;
        char text[200];
        gw_harmonic *in = b.harmonics[0], *out = b.harmonics[1];
        snprintf(text, sizeof text,
                 "[chain]\nstimulus = sine 200 Hz 1 V\n[point J1]\n[point U1]\nstage = amp\ngain = %s\n",
                 known[i].gain);
        bench_open(&b, text);
        put_sine(&b, "J1", 1, 0);
        put_sine(&b, "U1", known[i].out_v, 0);
        for (int k = 0; k < 2; k++)
            in[k] = (gw_harmonic){.order = 41 + k,
                                  .frequency_hz = 200 * (41 + k),
                                  .rms = known[i].line_in_v,
                                  .u95 = 1e-5,
                                  .resolved = true};
        out[0] = in[0];
        out[0].rms = known[i].line_out_v;
        b.readings[0].harmonics = in;
        b.readings[0].harmonic_count = 2;
        b.readings[1].harmonics = out;
        b.readings[1].harmonic_count = 1;
        walk_of(&b);
        assert_or_explain((find(&b, GW_FOUND_TONE_ADDED, "U1") != NULL) == known[i].added, b.walk);
        bench_close(&b);
    }
}

/* Half a volt at 8.2 kHz beside a signal of 4 V is an eighth of it: 12.5 %, in two digits. */
static void share_of_a_lone_line_is_told(void **state) {
    (void)state;
    static gw_harmonic line = {.order = 41, .frequency_hz = 8200, .rms = 0.5, .u95 = 1e-3, .resolved = true};
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 200 Hz 4 V\n[point J1]\n[point U1]\nstage = follower\n");
    put_sine(&b, "J1", 4, 0);
    gw_readings *r = put_sine(&b, "U1", 4, 0);
    r->harmonics = &line;
    r->harmonic_count = 1;
    expect_fault(&b, GW_FOUND_TONE_ADDED, "J1", "U1");
    const char *share = strstr(find(&b, GW_FOUND_TONE_ADDED, "U1")->evidence, "kHz, ");
    assert_or_explain(share, b.walk);
    assert_close(strtod(share + strlen("kHz, "), NULL), 12.5, 0.6);
    bench_close(&b);
}

/* What the measuring made a tone of at one point and not at the other is in both spectra. */
static void line_that_the_inputs_spectrum_shows_came_in(void **state) {
    (void)state;
    bench b;
    static double lines[LINES];
    bench_open(&b, "[chain]\nstimulus = sine 60 Hz 1 V\n[point J1]\n[point U1]\nstage = follower\n");
    put_tone(&b, "J1", 8e3, 0, 250e3);
    put_tone(&b, "U1", 8e3, 0.25, 250e3);
    expect_fault(&b, GW_FOUND_TONE_ADDED, "J1", "U1");
    b.readings[0].spectrum = (gw_trace){.count = LINES, .start = 10, .end = 125e3, .log_x = true, .high = lines};
    expect_fault(&b, GW_FOUND_TONE_ADDED, "J1", "U1");
    int at = (int)(LINES * log(8e3 / 10) / log(125e3 / 10));
    lines[at] = 0.2;
    expect_clear(&b);
    bench_close(&b);
}

/* The ninth harmonic of a square of 400 Hz, 3.6 kHz, is the input's own: no trace of a tone at 3.676 kHz, which a
 * record of a tenth of a second keeps apart from it by seven lines. */
static void harmonic_beside_a_tone_is_not_the_tone(void **state) {
    (void)state;
    bench b;
    double lines[LINES] = {0};
    bench_open(&b, "[chain]\nstimulus = periodic 400 Hz\n[point J1]\n[point U1]\nstage = follower\n");
    put_tone(&b, "J1", 400, 0, 20e3);
    put_tone(&b, "U1", 3676, 0.25, 10e3);
    for (int i = 0; i < 2; i++) {
        b.readings[i].signal = GW_SIGNAL_PERIODIC;
        b.readings[i].source.duration_s = 0.1;
    }
    static gw_harmonic ninth = {.order = 9, .frequency_hz = 3600, .rms = 0.1, .u95 = 1e-3, .resolved = true};
    b.readings[0].harmonics = &ninth;
    b.readings[0].harmonic_count = 1;
    b.readings[0].spectrum = (gw_trace){.count = LINES, .start = 10, .end = 10e3, .log_x = true, .high = lines};
    lines[(int)(LINES * log(3600.0 / 10) / log(1000))] = 0.1;
    expect_fault(&b, GW_FOUND_TONE_ADDED, "J1", "U1");
    /* without that harmonic it is one */
    b.readings[0].harmonic_count = 0;
    expect_clear(&b);
    bench_close(&b);
}

/* 122.5 kHz sampled at 200 kHz shows at 77.5 kHz, 277.5 kHz as well (sampling theorem): the input's spectrum may show
 * it where its readings have made something else of it. */
static void line_folded_out_of_the_inputs_spectrum_came_in(void **state) {
    (void)state;
    const double above_hz[] = {122.5e3, 277.5e3};
    for (int i = 0; i < 2; i++) {
        bench b;
        double lines[LINES] = {0};
        bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point J1]\n[point U1]\nstage = follower\n");
        put_tone(&b, "J1", 1e3, 0, 1e6);
        put_tone(&b, "U1", 77.5e3, 0.25, 200e3);
        b.readings[0].spectrum = (gw_trace){.count = LINES, .start = 10, .end = 500e3, .log_x = true, .high = lines};
        expect_fault(&b, GW_FOUND_TONE_ADDED, "J1", "U1");
        lines[(int)(LINES * log(above_hz[i] / 10) / log(500e3 / 10))] = 0.2;
        expect_clear(&b);
        bench_close(&b);
    }
}

/* 40 kHz sampled at 50 kHz shows at 10 kHz (sampling theorem). */
static void line_above_the_inputs_half_rate_came_in_folded(void **state) {
    (void)state;
    bench b;
    double lines[LINES] = {0};
    bench_open(&b, "[chain]\nstimulus = sine 60 Hz 1 V\n[point J1]\n[point U1]\nstage = follower\n");
    put_tone(&b, "J1", 10e3, 0, 50e3);
    put_tone(&b, "U1", 40e3, 0.25, 250e3);
    b.readings[0].spectrum = (gw_trace){.count = LINES, .start = 10, .end = 25e3, .log_x = true, .high = lines};
    walk_of(&b);
    assert_or_explain(find(&b, GW_FOUND_TONE_ADDED, "U1"), b.walk);
    lines[(int)(LINES * log(10e3 / 10) / log(25e3 / 10))] = 0.2;
    expect_clear(&b);
    bench_close(&b);
}

/* Four and a half lines beside the stimulus the input's spectrum shows its window's skirt: that is no line of its own.
 */
static void skirts_of_the_stimulus_are_no_line(void **state) {
    (void)state;
    bench b;
    double lines[LINES] = {0};
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point J1]\n[point U1]\nstage = follower\n");
    put_tone(&b, "J1", 1045, 0, 250e3);
    put_tone(&b, "U1", 1045, 0.25, 250e3);
    b.readings[0].spectrum = (gw_trace){.count = LINES, .start = 10, .end = 125e3, .log_x = true, .high = lines};
    lines[(int)(LINES * log(1045.0 / 10) / log(125e3 / 10))] = 0.2;
    expect_fault(&b, GW_FOUND_TONE_ADDED, "J1", "U1");
    bench_close(&b);
}

/* Are gaps that were counted in a signal told, beside hum of so much of its level? */
static bool cuts_out_beside_hum(double share, int gaps) {
    bench b;
    bench_open(&b, single);
    put_sine(&b, "J1", 1, 0);
    gw_readings *r = put_sine(&b, "W1", 1, 0);
    say(r, GW_DROPOUTS, gaps, 0, 0);
    say(r, GW_HUM, share, 0.01 * share, bench_accuracy);
    put_sine(&b, "C2", 1, 0);
    walk_of(&b);
    bool found = find(&b, GW_FOUND_CUTS_OUT, "W1") != NULL;
    bench_close(&b);
    return found;
}

/* Hum nearly as large as the signal sways the envelope, which falls again and again without anything being gone; hum of
 * a twentieth moves it by a twentieth, and hides no gap. */
static void strong_hum_sways_the_envelope(void **state) {
    (void)state;
    for (int gaps = 1; gaps <= 3; gaps++) {
        assert_true(cuts_out_beside_hum(0.05, gaps));
        assert_false(cuts_out_beside_hum(0.9, gaps));
    }
    /* hum of a fifth: one dip may be a chance meeting of both crests, which does not come three times */
    assert_false(cuts_out_beside_hum(0.2, 1));
    assert_true(cuts_out_beside_hum(0.2, 3));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(strong_hum_sways_the_envelope),
        cmocka_unit_test(skirts_of_the_stimulus_are_no_line),
        cmocka_unit_test(gaps_that_take_the_dc_along_are_seen_in_the_picture),
        cmocka_unit_test(gaps_in_much_dc_are_seen_though_the_signal_is_not),
        cmocka_unit_test(gaps_of_a_sine_are_seen_in_the_picture),
        cmocka_unit_test(gaps_of_hum_are_no_gaps_of_the_signal),
        cmocka_unit_test(samples_that_beat_with_the_sine_are_no_gaps),
        cmocka_unit_test(of_lone_lines_the_loudest_is_told),
        cmocka_unit_test(a_lone_line_is_held_against_what_the_gain_makes_of_it),
        cmocka_unit_test(share_of_a_lone_line_is_told),
        cmocka_unit_test(mains_that_moves_within_a_period_has_no_gaps),
        cmocka_unit_test(output_that_slides_away_has_a_mean),
        cmocka_unit_test(mean_of_a_picture_is_the_dc),
        cmocka_unit_test(mean_of_a_picture_is_as_good_as_the_instrument),
        cmocka_unit_test(output_that_slides_and_is_fetched_back_does_not_crackle),
        cmocka_unit_test(slide_ends_with_the_picture),
        cmocka_unit_test(dc_beside_a_bend_is_doubted_by_it),
        cmocka_unit_test(line_that_a_low_rate_folds_down_was_there),
        cmocka_unit_test(line_folded_onto_a_harmonic_was_there),
        cmocka_unit_test(harmonic_beside_a_tone_is_not_the_tone),
        cmocka_unit_test(line_beside_a_waveform_is_judged_at_one_rate),
        cmocka_unit_test(line_on_the_mains_is_hum_where_there_is_some),
        cmocka_unit_test(line_that_the_inputs_spectrum_shows_came_in),
        cmocka_unit_test(line_folded_out_of_the_inputs_spectrum_came_in),
        cmocka_unit_test(line_above_the_inputs_half_rate_came_in_folded),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
