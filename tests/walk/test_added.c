/* Lines, losses of an end of the band, and causes: what is named, and what is left alone. */
#include "walk_testing.h"

static void put_tone(bench *b, const char *name, size_t k, double hz, double rms) {
    gw_readings *r = &b->readings[bench_point(b, name)];
    r->tones = b->tones[bench_point(b, name)];
    r->tones[k] = (gw_tone){.frequency_hz = hz, .rms = rms, .u95 = 0.01 * rms, .kind = GW_TONE_OTHER};
    r->tone_count = k + 1;
}

/* Of two tones that a stage adds the louder is named, in whatever order they were read. */
static void the_louder_tone_is_named(void **state) {
    (void)state;
    static const double rms[2][2] = {{0.02, 0.08}, {0.08, 0.02}};
    for (size_t k = 0; k < 2; k++) {
        bench b;
        bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\nstage = follower\n");
        put_sine(&b, "A", 1, 0);
        put_sine(&b, "B", 1, 0);
        put_tone(&b, "B", 0, 5430, rms[k][0]);
        put_tone(&b, "B", 1, 8710, rms[k][1]);
        expect_fault(&b, GW_FOUND_TONE_ADDED, "A", "B");
        const char *evidence = find(&b, GW_FOUND_TONE_ADDED, "B")->evidence;
        assert_or_explain(strstr(evidence, k == 0 ? "8.71" : "5.43") != NULL, b.walk);
        assert_or_explain(strstr(evidence, k == 0 ? "5.43" : "8.71") == NULL, b.walk);
        bench_close(&b);
    }
}

/* A tone that came in and passes is not the stage's; one that grows fourfold in a stage of no gain is. */
static void a_tone_that_came_in_is_passed_on(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\nstage = follower\n");
    put_sine(&b, "A", 1, 0);
    put_sine(&b, "B", 1, 0);
    put_tone(&b, "A", 0, 5430, 0.08);
    put_tone(&b, "B", 0, 5430, 0.08);
    expect_clear(&b);
    put_tone(&b, "A", 0, 5430, 0.02);
    expect_fault(&b, GW_FOUND_TONE_ADDED, "A", "B");
    bench_close(&b);
}

/* A tone that all carry but the input of a stage, whose capture is too short to show it, is not that stage's: it came
 * from further up. One that is four times as loud beside the signal as up there is. */
static void a_tone_from_further_up_is_no_stages_own(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\nstage = follower\n[point C]\n"
                   "stage = follower\n");
    put_sine(&b, "A", 1, 0);
    put_sine(&b, "B", 1, 0);
    put_sine(&b, "C", 1, 0);
    put_tone(&b, "A", 0, 5430, 0.08);
    put_tone(&b, "C", 0, 5430, 0.08);
    expect_clear(&b);
    put_tone(&b, "A", 0, 5430, 0.02);
    expect_fault(&b, GW_FOUND_TONE_ADDED, "B", "C");
    bench_close(&b);
}

/* A sine cut to a square wave (its THD to the tenth order is 0.429) lost its level to the cut: one fault. */
static void a_square_wave_lost_its_level_to_the_cut(void **state) {
    (void)state;
    bench b;
    bench_open(&b,
               "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\nstage = amp\ngain = 20 dB\nthd = < 1 %\n");
    put_sine(&b, "A", 1, 0);
    gw_readings *r = put_sine(&b, "B", 3.5, 0);
    say(r, GW_THD, 0.429, 1e-3, 0);
    say(r, GW_CLIP_HIGH, 0.45, 0.01, 0);
    say(r, GW_CLIP_LOW, 0.45, 0.01, 0);
    r->clues.high = r->clues.low = (gw_flat){.clipped = true, .share = 0.45, .level_v = 4};
    const gw_walk *walk = walk_of(&b);
    assert_or_explain(walk->finding_count > 0, walk);
    gw_finding_code code = walk->findings[walk->verdict.finding].code;
    assert_or_explain(code == GW_FOUND_CLIPPED || code == GW_FOUND_DISTORTION_ADDED, walk);
    assert_or_explain(count_findings(walk, GW_OFF, true) == 1, walk);
    bench_close(&b);
}

/* Lines of orders that THD leaves out, 0.12 V each, five of them, are all that the whole is more than a sine of 1 V:
 * they are the sine's own. Where no such lines are found, 0.27 V are beside it, for which the peaks leave room. */
static void high_harmonics_are_the_signals_own(void **state) {
    (void)state;
    for (int found = 0; found < 2; found++) {
        bench b;
        bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\nstage = follower\n");
        put_sine(&b, "A", 1, 0);
        gw_readings *r = put_sine(&b, "B", 1, 0);
        for (int k = 0; k < 6; k++) {
            int order = k ? 9 + 2 * k : 1;
            b.harmonics[1][k] = (gw_harmonic){
                .order = order, .frequency_hz = 1000.0 * order, .rms = k ? 0.12 : 1, .u95 = 1e-3, .resolved = true};
        }
        r->harmonics = b.harmonics[1];
        r->harmonic_count = found ? 6 : 1;
        say(r, GW_AC_RMS, sqrt(1 + 5 * 0.12 * 0.12), 2e-4, bench_accuracy);
        say(r, GW_PEAK_TO_PEAK, 3.15, 1e-2, bench_accuracy);
        if (found)
            expect_clear(&b);
        else
            expect_fault(&b, GW_FOUND_TONE_ADDED, "A", "B");
        bench_close(&b);
    }
}

/* Twenty columns a decade: 3 kHz lie in the one from 2.82 to 3.16 kHz, 3.4 kHz in the next, to 3.55 kHz (10 to the
 * power of twentieths). Where hum cannot be told only a line tells of what is beside a sine of 1 kHz, and what stands
 * in a column that holds a harmonic may be that. */
static void a_column_that_holds_a_harmonic_shows_no_line_of_its_own(void **state) {
    (void)state;
    enum { LINES = 80, THIRD = 49, BETWEEN = 50 };
    for (int tone = 0; tone < 2; tone++) {
        bench b;
        double lines[LINES] = {0};
        bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\nstage = follower\n");
        gw_readings *r = put_sine(&b, "A", 1, 0);
        say_nothing(r, GW_HUM, "less than two cycles of the mains");
        r = put_sine(&b, "B", 1, 0);
        say_nothing(r, GW_HUM, "less than two cycles of the mains");
        say(r, GW_AC_RMS, hypot(1, 0.6), 2e-4, bench_accuracy);
        say(r, GW_PEAK_TO_PEAK, 2.83 * 1.6, 1e-2, bench_accuracy);
        r->spectrum = (gw_trace){.count = LINES, .start = 10, .end = 100e3, .log_x = true, .high = lines};
        lines[tone ? BETWEEN : THIRD] = 0.5;
        if (tone)
            expect_fault(&b, GW_FOUND_TONE_ADDED, "A", "B");
        else
            assert_or_explain(walk_of(&b) && !find(&b, GW_FOUND_TONE_ADDED, "B"), b.walk);
        bench_close(&b);
    }
}

/* ---- noise as a stimulus ---- */

enum { COLUMNS = 64 };
static double columns[2][COLUMNS];
static const double seconds = 0.5, end_hz = 48e3;

/* White noise that is `share` of itself from `from_hz` up, as a spectrum of a record of half a second. */
static void put_noise(bench *b, int i, double from_hz, double share) {
    gw_readings *r = put_sine(b, i ? "B" : "A", 0.2, 0);
    r->signal = GW_SIGNAL_NOISE;
    r->source.duration_s = seconds;
    r->source.rate_hz = 2 * end_hz;
    r->source.step = 1e-6;
    say_nothing(r, GW_FREQUENCY, "noise");
    say_nothing(r, GW_THD, "noise");
    say(r, GW_NOISE, 0.2, 1e-3, 0);
    for (int k = 0; k < COLUMNS; k++)
        columns[i][k] = 1e-3 * (exp(log(end_hz * seconds) * (k + 0.5) / COLUMNS) / seconds < from_hz ? 1 : share);
    r->spectrum = (gw_trace){.start = 1 / seconds, .end = end_hz, .log_x = true, .high = columns[i], .count = COLUMNS};
}

static void open_noise(bench *b) {
    bench_open(b, "[chain]\nstimulus = noise\n[point A]\n[point B]\nstage = follower\n");
    put_noise(b, 0, 1, 1);
}

/* What is lost beyond the band that was asked for, 20 Hz to 20 kHz, is no loss; what is lost in it is. */
static void losses_beyond_the_band_are_none(void **state) {
    (void)state;
    bench b;
    open_noise(&b);
    put_noise(&b, 1, 24e3, 0.01);
    expect_clear(&b);
    put_noise(&b, 1, 14e3, 0.01);
    expect_clear(&b); /* the eighth of the octaves about 26 kHz */
    put_noise(&b, 1, 3e3, 0.1);
    assert_or_explain(walk_of(&b)->finding_count > 0, b.walk);
    assert_non_null(find(&b, GW_FOUND_HIGHS_LOST, "B"));
    bench_close(&b);
}

/* A shelf whose middle is as low as its upper end is a slope all the same. */
static void a_shelf_is_a_loss_of_highs(void **state) {
    (void)state;
    bench b;
    open_noise(&b);
    put_noise(&b, 1, 310, 0.25);
    assert_or_explain(walk_of(&b)->finding_count > 0, b.walk);
    assert_non_null(find(&b, GW_FOUND_HIGHS_LOST, "B"));
    bench_close(&b);
}

/* Highs that are weak where the middle stands out above both ends are a resonance, not a filter's slope. */
static void a_resonance_is_no_slope(void **state) {
    (void)state;
    bench b;
    open_noise(&b);
    put_noise(&b, 1, 310, 4);
    for (int k = 0; k < COLUMNS; k++)
        if (exp(log(end_hz * seconds) * (k + 0.5) / COLUMNS) / seconds > 4e3)
            columns[1][k] /= 16;
    assert_or_explain(walk_of(&b) != NULL && !find(&b, GW_FOUND_HIGHS_LOST, "B"), b.walk);
    bench_close(&b);
}

/* ---- two tones ---- */

static void put_pair(bench *b, const char *name, double low_hz, double high_hz, double read_hz) {
    gw_readings *r = put_sine(b, name, 0.2, 0);
    r->signal = GW_SIGNAL_TWO_TONE;
    say(r, GW_FREQUENCY, read_hz, 1e-3, 0);
    put_tone(b, name, 0, low_hz, 0.19);
    put_tone(b, name, 1, high_hz, 0.05);
    r->tones[0].kind = r->tones[1].kind = GW_TONE_STIMULUS;
}

/* Two tones move together or not at all: a first that was misread beside a second in its place is no fault of pitch. */
static void the_second_tone_speaks_for_the_first(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = two-tone 60 Hz 7 kHz 200 mV\n[point A]\n[point B]\nstage = follower\n");
    put_pair(&b, "A", 60, 7000, 60);
    put_pair(&b, "B", 60, 7000, 64);
    assert_or_explain(walk_of(&b) != NULL && !find(&b, GW_FOUND_PITCH_OFF, "B"), b.walk);
    put_pair(&b, "B", 64, 7466, 64); /* both moved, as of a tape that runs fast */
    assert_or_explain(walk_of(&b) != NULL && find(&b, GW_FOUND_PITCH_OFF, "B"), b.walk);
    bench_close(&b);
}

/* Of two tones the lower comes through 4 dB up and the higher 2.5 dB down, where 0 dB was stated and 3 dB is a corner:
 * the highs are lost, though the lows are further off. With the higher in its place they are not: that is a rise. */
static void highs_are_lost_beside_lows_that_rise(void **state) {
    (void)state;
    static const double high_db[] = {-2.5, 0};
    for (size_t k = 0; k < 2; k++) {
        bench b;
        bench_open(&b, "[chain]\nstimulus = two-tone 400 Hz 7 kHz 1 V\n[point A]\n[point B]\nstage = amp\n"
                       "gain = 0 dB ± 6 dB\n");
        for (int i = 0; i < 2; i++) {
            double low = i ? 0.7 * pow(10, 4.0 / 20) : 0.7, high = i ? 0.7 * pow(10, high_db[k] / 20) : 0.7;
            const char *name = i ? "B" : "A";
            gw_readings *r = put_sine(&b, name, hypot(low, high), 0);
            r->signal = GW_SIGNAL_TWO_TONE;
            say(r, GW_FREQUENCY, 400, 1e-3, 0);
            put_tone(&b, name, 0, 400, low);
            put_tone(&b, name, 1, 7000, high);
            r->tones[0].kind = r->tones[1].kind = GW_TONE_STIMULUS;
        }
        const gw_walk *walk = walk_of(&b);
        assert_or_explain((find(&b, GW_FOUND_HIGHS_LOST, "B") != NULL) == (k == 0), walk);
        assert_or_explain(!find(&b, GW_FOUND_LOWS_LOST, "B"), walk);
        bench_close(&b);
    }
}

/* ---- harmonics above the band ---- */

/* Lines that THD leaves out count as they are: known to a twentieth they are a fault, known to their own size they may
 * be none; whatever the level that they are a share of. */
static void harmonics_count_as_well_as_they_are_known(void **state) {
    (void)state;
    static const double levels_v[] = {0.05, 20}, known_to[] = {0.05, 1.2};
    for (size_t l = 0; l < 2; l++)
        for (size_t k = 0; k < 2; k++) {
            bench b;
            bench_open(&b, "[chain]\nstimulus = sine 15 kHz\n[point A]\n[point B]\nstage = follower\n");
            put_sine(&b, "A", levels_v[l], 0);
            gw_readings *r = put_sine(&b, "B", levels_v[l], 0);
            double rms = 0.1 * levels_v[l];
            r->harmonics = b.harmonics[bench_point(&b, "B")];
            for (int order = 2; order <= 3; order++) /* neither stands alone */
                r->harmonics[r->harmonic_count++] = (gw_harmonic){.order = order,
                                                                  .frequency_hz = order * 15e3,
                                                                  .rms = rms,
                                                                  .u95 = known_to[k] * rms,
                                                                  .u_random = known_to[k] * rms / 2,
                                                                  .resolved = true};
            const gw_walk *walk = walk_of(&b);
            const gw_finding *found = find(&b, GW_FOUND_DISTORTION_ADDED, "B");
            assert_or_explain(k == 0 ? found && found->status == GW_OFF : !found || found->status != GW_OFF, walk);
            bench_close(&b);
        }
}

/* A capture of too few codes says nothing of what came in, and not that nothing did: THD that was there before it came
 * in, and THD that nothing else before it has came from somewhere. */
static void thd_behind_a_coarse_capture(void **state) {
    (void)state;
    static const struct {
        bool bent[3], coarse[3], added;
    } known[] = {{{true, true, true}, {false, true, false}, false},
                 {{false, true, true}, {false, true, false}, true},
                 {{false, false, true}, {true, true, false}, true}};
    for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
        bench b;
        bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\nstage = follower\n[point C]\n"
                       "stage = follower\n");
        for (int k = 0; k < 3; k++) {
            gw_readings *r = put_sine(&b, k == 0 ? "A" : k == 1 ? "B" : "C", 1, 0);
            r->clues.too_coarse = known[i].coarse[k];
            if (known[i].bent[k])
                say(r, GW_THD, 0.2, 1e-3, 0);
        }
        const gw_walk *walk = walk_of(&b);
        assert_or_explain((find(&b, GW_FOUND_DISTORTION_ADDED, "C") != NULL) == known[i].added, walk);
        bench_close(&b);
    }
}

/* ---- noise and dropouts ---- */

/* Noise of a tenth of the signal is found whether or not somebody said what is fed in; only a second tone in a signal
 * that nobody stated passes for noise. */
static void noise_is_found_without_a_word_of_the_stimulus(void **state) {
    (void)state;
    static const struct {
        const char *text;
        double tone_v;
        bool found;
    } known[] = {
        {"[point A]\n[point B]\nstage = follower\n", 0, true},
        {"[chain]\nstimulus = sine 1 kHz\n[point A]\n[point B]\nstage = follower\n", 0, true},
        {"[point A]\n[point B]\nstage = follower\n", 0.9, false},
    };
    for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
        bench b;
        bench_open(&b, known[i].text);
        put_sine(&b, "A", 1, 0);
        say(put_sine(&b, "B", 1, 0), GW_NOISE, 0.1, 1e-3, bench_accuracy);
        if (known[i].tone_v > 0) {
            put_tone(&b, "A", 0, 1370, known[i].tone_v);
            put_tone(&b, "B", 0, 1370, known[i].tone_v);
        }
        assert_or_explain(walk_of(&b) != NULL && (find(&b, GW_FOUND_NOISE_ADDED, "B") != NULL) == known[i].found,
                          b.walk);
        bench_close(&b);
    }
}

/* A dropout beside hum three times the signal may be the hum's sway; without hum it is one. */
static void hum_sways_what_looks_like_a_dropout(void **state) {
    (void)state;
    for (int k = 0; k < 2; k++) {
        bench b;
        bench_open(&b, "[chain]\nstimulus = sine 1 kHz\n[point A]\n[point B]\nstage = follower\n");
        put_sine(&b, "A", 1, 0);
        gw_readings *r = put_sine(&b, "B", 1, 0);
        say(r, GW_DROPOUTS, 1, 0, 0);
        if (k == 1)
            say(r, GW_HUM, 3, 0.01, bench_accuracy);
        assert_or_explain(walk_of(&b) != NULL && (find(&b, GW_FOUND_CUTS_OUT, "B") != NULL) == (k == 0), b.walk);
        bench_close(&b);
    }
}

/* ---- DC ---- */

/* Where a signal is fed in, a DC that the measuring could not tell is not taken from the picture. */
static void a_dc_that_cannot_be_told_is_not_guessed(void **state) {
    (void)state;
    static double low[] = {8, 8, 8, 8}, high[] = {9, 9, 9, 9};
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz\n[point A]\n[point B]\nstage = follower\ndc = 5 V ± 10 %\n");
    put_sine(&b, "A", 0.1, 5);
    gw_readings *r = put_sine(&b, "B", 0.1, 5);
    say_nothing(r, GW_DC, "too short");
    r->waveform = (gw_trace){.start = 0, .end = 0.1, .low = low, .high = high, .count = 4};
    const gw_walk *walk = walk_of(&b);
    assert_or_explain(stage_to(&b, "B")->dc.status == GW_UNJUDGED && !stage_to(&b, "B")->dc.has_value, walk);
    bench_close(&b);
}

/* That DC is as good as the instrument's zero is said where DC is judged and nobody stated the zero. */
static void the_instruments_zero_is_spoken_of(void **state) {
    (void)state;
    static const struct {
        const char *text;
        double dc_v;
        bool said;
    } known[] = {
        {"[chain]\nstimulus = sine 1 kHz\n[point A]\n[point B]\nstage = follower\ndc = 5 V ± 10 %\n", 5, true},
        {"[chain]\nstimulus = sine 1 kHz\n[point A]\n[point B]\nstage = follower\ndc = 5 V ± 10 %\n", 9, true},
        {"[chain]\nstimulus = sine 1 kHz\n[instrument]\nzero = 5 mV\n[point A]\n[point B]\nstage = follower\ndc = 5 V "
         "± 10 %\n",
         5, false},
    };
    for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
        bench b;
        bench_open(&b, known[i].text);
        put_sine(&b, "A", 0.1, 5);
        put_sine(&b, "B", 0.1, known[i].dc_v);
        assert_or_explain(walk_of(&b) != NULL && remarks_on(&b, "instrument's zero") == known[i].said, b.walk);
        bench_close(&b);
    }
}

/* ---- causes ---- */

/* What a technician suspects first, by the kind of stage and what it does to the level. */
static void the_likeliest_cause_of_a_loss(void **state) {
    (void)state;
    static const struct {
        const char *stage;
        double passed; /* of what it should pass */
        const char *first;
    } known[] = {
        {"wire", 0.6, "oxidised switch, pot or connector contact"},
        {"pot position=50 % taper=linear value=10k load=1M", 0.6, "oxidised switch, pot or connector contact"},
        {"wire", 0.1, "probe switch at x10 where the file says x1"},
    };
    for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
        char text[300];
        bench b;
        snprintf(text, sizeof text, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\nstage = %s\n",
                 known[i].stage);
        bench_open(&b, text);
        put_sine(&b, "A", 1, 0);
        put_sine(&b, "B", 1, 0);
        double should = stage_to((walk_of(&b), &b), "B")->gain.expected;
        put_sine(&b, "B", should * known[i].passed, 0);
        expect_fault(&b, GW_FOUND_LEVEL_LOW, "A", "B");
        const gw_finding *found = find(&b, GW_FOUND_LEVEL_LOW, "B");
        if (!strstr(found->causes[0], known[i].first))
            fail_msg("%s: '%s' instead of '%s'", known[i].stage, found->causes[0], known[i].first);
        bench_close(&b);
    }
}

/* White noise of 20 Hz to 20 kHz through a low-pass of the first order at fc keeps fc (atan(20 kHz/fc) - atan(20
 * Hz/fc)) over 19.98 kHz of its power. Of n lines of noise the largest is the nth harmonic number times their mean. */
static void white_noise_through_a_low_pass(void **state) {
    (void)state;
    enum { FINE = 400 };
    static double fine[FINE];
    bench b;
    bench_open(&b, "[chain]\nstimulus = noise\n[point A]\n[point B]\nstage = lowpass r=10k c=10n\n");
    for (int i = 0; i < 2; i++) {
        put_noise(&b, i, 1, 1);
        for (int k = 0; k < FINE; k++) {
            double low_hz = exp(log(end_hz * seconds) * k / FINE) / seconds;
            double high_hz = exp(log(end_hz * seconds) * (k + 1) / FINE) / seconds, number = 0;
            for (int n = 1; n <= fmax(1, round((high_hz - low_hz) * seconds)); n++)
                number += 1.0 / n;
            fine[k] = 1e-3 * sqrt(number);
        }
        b.readings[i].spectrum.high = fine;
        b.readings[i].spectrum.count = FINE;
    }
    walk_of(&b);
    const double corner_hz = 1 / (6.283185307179586 * 10e3 * 10e-9);
    double share = corner_hz * (atan(20e3 / corner_hz) - atan(20 / corner_hz)) / 19980;
    print_message("%g, in closed form %g\n", stage_to(&b, "B")->gain.expected, sqrt(share));
    assert_close(stage_to(&b, "B")->gain.expected, sqrt(share), 0.02 * sqrt(share));
    bench_close(&b);
}

/* A probe that floats picks up far more mains than a silent output holds: a trace of them, found as the period of next
 * to nothing, leaves the dead stage the likeliest. */
static void a_trace_of_mains_is_no_floating_probe(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\nstage = amp\ngain = 0 dB\n");
    put_sine(&b, "A", 1, 0);
    say(put_silence(&b, "B", 1e-4, 0), GW_FREQUENCY, 50, 0.1, 0);
    expect_fault(&b, GW_FOUND_SIGNAL_LOST, "A", "B");
    const gw_finding *found = &b.walk->findings[b.walk->verdict.finding];
    assert_or_explain(!strstr(found->causes[0], "probe does not touch"), b.walk);
    bench_close(&b);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_trace_of_mains_is_no_floating_probe),
        cmocka_unit_test(white_noise_through_a_low_pass),
        cmocka_unit_test(the_louder_tone_is_named),
        cmocka_unit_test(losses_beyond_the_band_are_none),
        cmocka_unit_test(a_tone_that_came_in_is_passed_on),
        cmocka_unit_test(a_tone_from_further_up_is_no_stages_own),
        cmocka_unit_test(a_square_wave_lost_its_level_to_the_cut),
        cmocka_unit_test(high_harmonics_are_the_signals_own),
        cmocka_unit_test(a_shelf_is_a_loss_of_highs),
        cmocka_unit_test(the_second_tone_speaks_for_the_first),
        cmocka_unit_test(the_likeliest_cause_of_a_loss),
        cmocka_unit_test(a_resonance_is_no_slope),
        cmocka_unit_test(noise_is_found_without_a_word_of_the_stimulus),
        cmocka_unit_test(hum_sways_what_looks_like_a_dropout),
        cmocka_unit_test(a_dc_that_cannot_be_told_is_not_guessed),
        cmocka_unit_test(harmonics_count_as_well_as_they_are_known),
        cmocka_unit_test(the_instruments_zero_is_spoken_of),
        cmocka_unit_test(highs_are_lost_beside_lows_that_rise),
        cmocka_unit_test(thd_behind_a_coarse_capture),
        cmocka_unit_test(a_column_that_holds_a_harmonic_shows_no_line_of_its_own),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
