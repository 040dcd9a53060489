/* Faults that captures of unequal length, or of another kind than what was fed in, show all the same. */
#include "walk_testing.h"

#include <math.h>

/* ---- noise ---- */

enum { COLUMNS = 64 };
static double columns[2][COLUMNS];

/* White noise through a first-order high-pass (0 Hz: none), as a spectrum from the first line of a record of `seconds`
 * to half the rate. A line of noise shrinks with the square root of the record's length. */
static void put_noise(bench *b, int i, double seconds, double corner_hz) {
    gw_readings *r = put_sine(b, i ? "B" : "A", 0.2, 0);
    double start = 1 / seconds, end = 48e3;
    r->signal = GW_SIGNAL_NOISE;
    r->source.duration_s = seconds;
    r->source.rate_hz = 96e3;
    r->source.step = 1e-6;
    say_nothing(r, GW_FREQUENCY, "noise");
    say_nothing(r, GW_THD, "noise");
    say(r, GW_NOISE, 0.2, 1e-3, 0);
    for (int k = 0; k < COLUMNS; k++) {
        double hz = start * exp(log(end / start) * (k + 0.5) / COLUMNS), ratio = hz / fmax(corner_hz, 1e-9);
        columns[i][k] = 1e-3 / sqrt(seconds) * ratio / sqrt(1 + ratio * ratio);
    }
    r->spectrum = (gw_trace){.start = start, .end = end, .log_x = true, .high = columns[i], .count = COLUMNS};
}

static void lows_are_missed_in_records_of_unequal_length(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = noise\n[point A]\n[point B]\nstage = coupling c=56u load=33k\n");
    put_noise(&b, 0, 0.49, 0);
    put_noise(&b, 1, 0.53, 0);
    expect_clear(&b);
    put_noise(&b, 1, 0.53, 1000);
    expect_fault(&b, GW_FOUND_LOWS_LOST, "A", "B");
    bench_close(&b);
}

/* ---- two tones ---- */

static void put_lines(bench *b, const char *name, const double *hz, const double *rms, size_t count, bool fed) {
    int i = bench_point(b, name);
    gw_readings *r = put_sine(b, name, 1, 0);
    say_nothing(r, GW_THD, "no sine");
    say(r, GW_FREQUENCY, 400, 1e-3, 0);
    r->signal = fed ? GW_SIGNAL_TWO_TONE : GW_SIGNAL_NOISE;
    r->tones = b->tones[i];
    r->tone_count = count;
    for (size_t k = 0; k < count; k++)
        b->tones[i][k] = (gw_tone){
            .frequency_hz = hz[k], .rms = rms[k], .u95 = 1e-4, .kind = fed && k < 2 ? GW_TONE_STIMULUS : GW_TONE_OTHER};
    if (!fed)
        say(r, GW_LEVEL, 1e-3, 1e-4, 0);
}

/* Sum and difference of 400 Hz and 1 kHz are what a bent stage makes of them, whatever the capture was read as; a tone
 * that they cannot make is the stage's own. */
static void bent_tones_are_distortion(void **state) {
    (void)state;
    static const double hz[] = {400, 1000, 600, 1400}, own_hz[] = {400, 1000, 617, 1433};
    static const double rms[] = {0.7, 0.7, 0.15, 0.15};
    bench b;
    bench_open(&b, "[chain]\nstimulus = two-tone\n[point A]\n[point B]\nstage = follower\n");
    put_lines(&b, "A", hz, rms, 2, true);
    put_lines(&b, "B", hz, rms, 4, false);
    expect_fault(&b, GW_FOUND_DISTORTION_ADDED, "A", "B");
    put_lines(&b, "B", own_hz, rms, 4, false);
    expect_fault(&b, GW_FOUND_TONE_ADDED, "A", "B");
    bench_close(&b);
}

/* ---- swings of the level ---- */

/* A level that swings is a stage's own where the signal is there to swing, and is loud enough to be one. A rest of it
 * 40 dB down, and a capture that hides it, may swing as they like. */
static void only_a_signal_swings(void **state) {
    (void)state;
    static const struct {
        double signal_v, noise_v;
        bool swings;
    } known[] = {{1, 0, true}, {0.01, 0, false}, {0, 1e-3, false}, {0, 0.9, false}};
    for (size_t k = 0; k < sizeof known / sizeof *known; k++) {
        bench b;
        bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\nstage = follower\n");
        put_sine(&b, "A", 1, 0);
        gw_readings *r =
            known[k].signal_v > 0 ? put_sine(&b, "B", known[k].signal_v, 0) : put_silence(&b, "B", known[k].noise_v, 0);
        r->clues.wobble_hz = 4;
        r->clues.wobble_depth = 0.5;
        const gw_walk *walk = walk_of(&b);
        assert_or_explain((find(&b, GW_FOUND_TONE_ADDED, "B") != NULL) == known[k].swings, walk);
        bench_close(&b);
    }
}

/* ---- mains beside a low stimulus ---- */

/* Where the signal lies so near to one mains frequency that nothing is said of hum, a line on the other is hum still; a
 * tone that is on neither is the stage's own. */
static void mains_beside_the_signal_is_hum(void **state) {
    (void)state;
    static const struct {
        double hz;
        gw_finding_code code;
    } rows[] = {{49.96, GW_FOUND_HUM_ADDED}, {99.9, GW_FOUND_HUM_ADDED}, {53.1, GW_FOUND_TONE_ADDED}};
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 61.5 Hz 18 mV\n[point A]\n[point B]\nstage = wire\n");
    for (size_t k = 0; k < sizeof rows / sizeof *rows; k++) {
        for (int i = 0; i < 2; i++) {
            gw_readings *r = put_sine(&b, i ? "B" : "A", 0.018, 0);
            say(r, GW_FREQUENCY, 61.5, 1e-3, 0);
            say_nothing(r, GW_HUM, "the signal itself stands on the mains frequency");
            r->clues.mains_hz = 0;
            if (i == 0)
                continue;
            b.tones[1][0] = (gw_tone){.frequency_hz = rows[k].hz, .rms = 0.0047, .u95 = 1e-4, .kind = GW_TONE_OTHER};
            r->tones = b.tones[1];
            r->tone_count = 1;
            say(r, GW_AC_RMS, hypot(0.018, 0.0047), 1e-5, 0.03);
            say(r, GW_PEAK_TO_PEAK, 2.83 * (0.018 + 0.0047), 1e-4, 0.03);
        }
        expect_fault(&b, rows[k].code, "A", "B");
    }
    bench_close(&b);
}

/* 50 Hz lies within a resolution cell of twice 22.74 Hz, so that the fit leaves it in the rest: less than the hum that
 * is seen at its multiples, it is a part of that; more than that is something else. */
static void rest_beside_hum_is_hum(void **state) {
    (void)state;
    static const double rest[] = {0.0045, 0.012};
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 22.74 Hz\nmains = 50 Hz\n[point A]\n[point B]\nstage = wire\n");
    for (int k = 0; k < 2; k++) {
        put_sine(&b, "A", 0.03, 0);
        gw_readings *r = put_sine(&b, "B", 0.03, 0);
        say(r, GW_HUM, 0.0055, 3e-4, 0.03);
        say(r, GW_AC_RMS, hypot(hypot(0.03, 0.0055), rest[k]), 1e-5, 0.03);
        say(r, GW_PEAK_TO_PEAK, 2.83 * (0.03 + 0.0055 + rest[k]), 1e-4, 0.03);
        walk_of(&b);
        assert_or_explain(find(&b, GW_FOUND_HUM_ADDED, "B"), b.walk);
        assert_or_explain((find(&b, GW_FOUND_TONE_ADDED, "B") != NULL) == (k == 1), b.walk);
    }
    bench_close(&b);
}

/* The eleventh harmonic of 22.74 Hz is the fifth of the mains to the record's resolution: with hum found, it is hum's,
 * and no tone of the stage's own; without hum it is. */
static void a_harmonic_on_the_mains_is_no_tone(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 22.74 Hz\nmains = 50 Hz\n[point A]\n[point B]\nstage = wire\n");
    for (int i = 0; i < 2; i++) {
        gw_readings *r = put_sine(&b, i ? "B" : "A", 0.03, 0);
        say(r, GW_FREQUENCY, 22.74, 1e-3, 0);
        if (i == 0)
            continue;
        b.harmonics[1][0] = (gw_harmonic){.order = 1, .frequency_hz = 22.74, .rms = 0.03, .resolved = true};
        b.harmonics[1][1] =
            (gw_harmonic){.order = 11, .frequency_hz = 250.1, .rms = 0.0025, .u95 = 1e-4, .resolved = true};
        r->harmonics = b.harmonics[1];
        r->harmonic_count = 2;
        say(r, GW_HUM, 0.0055, 3e-4, 0.03);
        say(r, GW_AC_RMS, hypot(hypot(0.03, 0.0055), 0.0025), 1e-5, 0.03);
    }
    expect_fault(&b, GW_FOUND_HUM_ADDED, "A", "B");
    for (size_t k = 0; k < b.walk->finding_count; k++)
        assert_int_not_equal(b.walk->findings[k].code, GW_FOUND_TONE_ADDED);
    bench_close(&b);
}

/* Two tones at half of what should come are off where they are known well, and may be in order where they are not.
 */
static void lines_are_as_certain_as_they_were_read(void **state) {
    (void)state;
    static const double hz[] = {400, 1000, 617}, in[] = {0.02, 0.02}, out[] = {0.01, 0.01, 0.0004},
                        u95[] = {1e-4, 9e-3};
    for (size_t k = 0; k < 2; k++) {
        bench b;
        bench_open(&b, "[chain]\nstimulus = two-tone\n[point A]\n[point B]\nstage = follower\n");
        put_lines(&b, "A", hz, in, 2, true);
        say(&b.readings[0], GW_LEVEL, 0.02 * sqrt(2), 1e-5, 0);
        put_lines(&b, "B", hz, out, 3, false);
        for (size_t i = 0; i < 2; i++)
            b.tones[1][i].u95 = u95[k];
        const gw_walk *walk = walk_of(&b);
        assert_or_explain(stage_to(&b, "B")->gain.status == (k == 0 ? GW_OFF : GW_UNSURE), walk);
        assert_close(stage_to(&b, "B")->gain.value, 0.5, 0.01);
        bench_close(&b);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lows_are_missed_in_records_of_unequal_length),
        cmocka_unit_test(bent_tones_are_distortion),
        cmocka_unit_test(mains_beside_the_signal_is_hum),
        cmocka_unit_test(rest_beside_hum_is_hum),
        cmocka_unit_test(a_harmonic_on_the_mains_is_no_tone),
        cmocka_unit_test(lines_are_as_certain_as_they_were_read),
        cmocka_unit_test(only_a_signal_swings),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
