/* Distortion, noise, hum, tones, clipping, cut-outs, crackle: where they begin, and only there. */
#include "walk_testing.h"

#include <math.h>

static const char tarn[] = "[chain]\n"
                           "stimulus = sine 1 kHz 100 mV\n"
                           "mains = 50 Hz\n"
                           "[point J1]\n"
                           "[point U1]\n"
                           "stage = noninverting rf=90k rg=10k\n"
                           "thd = < 0.5 %\n"
                           "noise = < 10 mV\n"
                           "hum = < 5 mV\n"
                           "[point Q2]\n"
                           "stage = amp\n"
                           "gain = 0 dB ± 3 dB\n"
                           "thd = < 0.5 %\n"
                           "noise = < 10 mV\n"
                           "hum = < 5 mV\n"
                           "[point OUT]\n"
                           "stage = wire\n";

static void put_healthy(bench *b) {
    put_sine(b, "J1", 0.1, 0);
    const char *points[] = {"U1", "Q2", "OUT"};
    for (int i = 0; i < 3; i++) {
        gw_readings *r = put_sine(b, points[i], 1, 0);
        r->source.step = 1e-3;
        say_below(r, GW_NOISE, 1e-3);
        say_below(r, GW_HUM, 1e-3);
    }
}

static void limits_that_are_kept_are_ok(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    expect_clear(&b);
    assert_int_equal(stage_to(&b, "U1")->thd_added.status, GW_OK);
    assert_int_equal(stage_to(&b, "U1")->noise_added.status, GW_OK);
    assert_int_equal(stage_to(&b, "U1")->hum_added.status, GW_OK);
    assert_true(stage_to(&b, "U1")->thd_added.below);
    bench_close(&b);
}

static void distortion_belongs_to_the_stage_that_adds_it(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    say(&b.readings[2], GW_THD, 0.02, 3e-4, 0);
    say(&b.readings[3], GW_THD, 0.02, 3e-4, 0);
    expect_fault(&b, GW_FOUND_DISTORTION_ADDED, "U1", "Q2");
    assert_non_null(strstr(b.walk->findings[0].evidence, "2 %"));
    /* the same in every capture from the first on: it was fed in */
    for (int i = 0; i < 4; i++)
        say(&b.readings[i], GW_THD, 0.02, 3e-4, 0);
    expect_clear(&b);
    bench_close(&b);
}

static void noise_that_rises_by_the_gain_is_not_the_stages(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    say(&b.readings[0], GW_NOISE, 5e-3, 5e-5, 0);
    for (int i = 1; i < 4; i++)
        say(&b.readings[i], GW_NOISE, 50e-3, 5e-4, 0);
    expect_clear(&b);
    /* more than that is */
    for (int i = 2; i < 4; i++)
        say(&b.readings[i], GW_NOISE, 90e-3, 9e-4, 0);
    expect_fault(&b, GW_FOUND_NOISE_ADDED, "U1", "Q2");
    bench_close(&b);
}

static void noise_of_about_a_step_is_the_instruments(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    for (int i = 1; i < 4; i++) {
        b.readings[i].source.step = 20e-3;
        say(&b.readings[i], GW_NOISE, 18e-3, 2e-4, 0);
    }
    walk_of(&b);
    assert_or_explain(count_findings(b.walk, GW_OFF, false) == 0, b.walk);
    bench_close(&b);
}

/* A capture on a coarse range (for its DC) cannot tell whose its noise is: the next point can, and then the fault lies
 * somewhere between the last quiet point and that one. */
static void noise_that_a_coarse_capture_hides_lies_somewhere_before_the_next(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\nstage = amp\ngain = 0 dB\n[point C]\n"
                   "stage = coupling c=10u load=47k\n");
    put_sine(&b, "A", 1, 0);
    say(put_sine(&b, "B", 1, 12), GW_NOISE, 0.3, 3e-3, 0);
    b.readings[1].source.step = 0.5;
    say(put_sine(&b, "C", 1, 0), GW_NOISE, 0.2, 2e-3, 0);
    expect_fault(&b, GW_FOUND_NOISE_ADDED, "A", "C");
    assert_false(b.walk->verdict.exact);
    assert_int_equal(b.walk->next[0].point, bench_point(&b, "B"));
    assert_non_null(strstr(b.walk->next[0].why, "finer range"));
    bench_close(&b);
}

static void hum_of_the_input_is_not_the_stages(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    say(&b.readings[0], GW_HUM, 5e-3, 5e-5, 0);
    for (int i = 1; i < 4; i++)
        say(&b.readings[i], GW_HUM, 50e-3, 5e-4, 0);
    expect_clear(&b);
    say_below(&b.readings[0], GW_HUM, 1e-4);
    for (int i = 1; i < 4; i++) {
        b.readings[i].clues.hum_mains_v = 1e-3;
        b.readings[i].clues.hum_twice_v = 50e-3;
    }
    expect_fault(&b, GW_FOUND_HUM_ADDED, "J1", "U1");
    assert_non_null(strstr(b.walk->findings[0].causes[0], "smoothing capacitor"));
    bench_close(&b);
}

/* 200 Hz and its harmonics lie on multiples of the mains: the signal's own lines are no hum. */
static void harmonics_on_the_mains_are_no_hum(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = periodic 200 Hz 1 V\nmains = 50 Hz\n[point A]\n[point B]\nstage = follower\n");
    for (int i = 0; i < 2; i++) {
        gw_readings *r = put_sine(&b, i ? "B" : "A", 1, 0);
        r->signal = GW_SIGNAL_PERIODIC;
    }
    b.tones[1][0] = (gw_tone){.frequency_hz = 400, .rms = 0.3, .u95 = 1e-3, .kind = GW_TONE_MAINS, .order = 8};
    b.readings[1].tones = b.tones[1];
    b.readings[1].tone_count = 1;
    say(&b.readings[1], GW_HUM, 0.3, 1e-3, 0);
    expect_clear(&b);
    bench_close(&b);
}

static void loss_is_not_also_noise_hum_and_distortion(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 100 mV\n[point A]\n[point B]\nstage = follower\n[point C]\n"
                   "stage = follower\n");
    put_sine(&b, "A", 0.1, 0);
    gw_readings *r = put_sine(&b, "B", 8e-3, 0); /* -22 dB */
    say(r, GW_NOISE, 1e-3, 1e-5, 0);
    say(r, GW_HUM, 1e-3, 1e-5, 0);
    r = put_sine(&b, "C", 8e-3, 0);
    say(r, GW_NOISE, 2.5e-3, 1e-5, 0);
    say(r, GW_HUM, 2e-3, 1e-5, 0);
    expect_fault(&b, GW_FOUND_LEVEL_LOW, "A", "B");
    assert_int_equal(b.walk->finding_count, 1);
    bench_close(&b);
}

static void harmonics_of_a_dead_signal_mean_nothing(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    for (int i = 2; i < 4; i++) {
        gw_readings *r = put_sine(&b, i == 2 ? "Q2" : "OUT", 2e-3, 0);
        say(r, GW_THD, 0.4, 1e-2, 0);
        say(r, GW_NOISE, 30e-3, 1e-4, 0);
        r->clues.high.clipped = true;
        r->clues.high.share = 0.3;
    }
    expect_fault(&b, GW_FOUND_SIGNAL_LOST, "U1", "Q2");
    assert_int_equal(b.walk->finding_count, 1);
    bench_close(&b);
}

static void without_a_limit_only_gross_departures_count(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\nstage = amp\ngain = 0 dB\n");
    put_sine(&b, "A", 1, 0);
    gw_readings *r = put_sine(&b, "B", 1, 0);
    say(r, GW_THD, 0.03, 1e-3, 0); /* tape, transconductance amplifiers: 3 % in health (common practice) */
    say(r, GW_NOISE, 0.02, 1e-3, 0);
    say(r, GW_HUM, 0.02, 1e-3, 0);
    expect_clear(&b);
    assert_int_equal(stage_to(&b, "B")->thd_added.status, GW_UNJUDGED);
    assert_close(stage_to(&b, "B")->thd_added.value, 0.03, 1e-3);
    say(r, GW_THD, 0.12, 1e-3, 0);
    expect_fault(&b, GW_FOUND_DISTORTION_ADDED, "A", "B");
    bench_close(&b);
}

static void limit_finer_than_the_capture_is_unsure(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    for (int i = 1; i < 4; i++)
        say_below(&b.readings[i], GW_THD, 0.008);
    walk_of(&b);
    assert_or_explain(b.walk->verdict.status == GW_VERDICT_UNSURE, b.walk);
    assert_non_null(strstr(b.walk->findings[0].settle, "bits"));
    bench_close(&b);
}

static void few_codes_invent_harmonics(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    for (int i = 1; i < 4; i++) {
        b.readings[i].clues.too_coarse = true;
        b.readings[i].clues.codes = 4;
        say(&b.readings[i], GW_THD, 0.06, 1e-3, 0);
    }
    walk_of(&b);
    assert_or_explain(count_findings(b.walk, GW_OFF, false) == 0, b.walk);
    bench_close(&b);
}

/* The harmonics of a saw, square or triangle are its shape (common practice). */
static void saw_has_no_distortion(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = periodic 200 Hz 1 V\n[point A]\n[point B]\nstage = follower\nthd = < 0.5 %\n");
    const char *points[] = {"A", "B"};
    for (int i = 0; i < 2; i++) {
        gw_readings *r = put_sine(&b, points[i], 1, 0);
        r->signal = GW_SIGNAL_PERIODIC;
        say(r, GW_THD, 0.8, 1e-3, 0);
        for (int k = 0; k < 8; k++)
            b.harmonics[i][k] = (gw_harmonic){.order = k + 1,
                                              .frequency_hz = 200 * (k + 1),
                                              .rms = 0.78 / (k + 1),
                                              .u95 = 1e-3,
                                              .u_random = 5e-4,
                                              .resolved = true};
        r->harmonics = b.harmonics[i];
        r->harmonic_count = 8;
    }
    expect_clear(&b);
    bench_close(&b);
}

static gw_readings *clip(gw_readings *r, double high, double low, double thd) {
    r->clues.high = (gw_flat){.share = high, .level_v = 1.2, .clipped = high > 0};
    r->clues.low = (gw_flat){.share = low, .level_v = -1.2, .clipped = low > 0};
    say(r, GW_THD, thd, 1e-3, 0);
    return r;
}

static void clipping_names_itself_and_not_its_shadows(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    /* a sine cut at half its amplitude: fundamental 0.609, THD 23.3 % (closed form, H-series) */
    clip(put_sine(&b, "Q2", 0.609, 0), 0.33, 0.33, 0.2325);
    clip(put_sine(&b, "OUT", 0.609, 0), 0.33, 0.33, 0.2325);
    expect_fault(&b, GW_FOUND_CLIPPED, "U1", "Q2");
    assert_non_null(strstr(b.walk->findings[b.walk->verdict.finding].causes[0], "driven too hard"));
    bench_close(&b);
}

/* The same where nobody saw the flat tops: the THD alone explains the loss; of a larger loss it does not. */
static void bend_explains_the_loss_it_makes(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\nstage = follower\n");
    put_sine(&b, "A", 1, 0);
    say(put_sine(&b, "B", 0.818, 0), GW_THD, 0.134, 1e-3, 0); /* cut at 0.7071 of the amplitude: -1.74 dB */
    walk_of(&b);
    say(put_sine(&b, "B", 0.609, 0), GW_THD, 0.2325, 1e-3, 0); /* cut at half the amplitude: -4.3 dB */
    expect_fault(&b, GW_FOUND_DISTORTION_ADDED, "A", "B");
    say(put_sine(&b, "B", 0.25, 0), GW_THD, 0.12, 1e-3, 0);
    expect_fault(&b, GW_FOUND_LEVEL_LOW, "A", "B");
    /* cut at 0.24 of the amplitude, fundamental 0.303, THD 35.8 % (Fourier series); a tenth is more than that takes */
    say(put_sine(&b, "B", 0.303, 0), GW_THD, 0.358, 1e-3, 0);
    expect_fault(&b, GW_FOUND_DISTORTION_ADDED, "A", "B");
    say(put_sine(&b, "B", 0.1, 0), GW_THD, 0.358, 1e-3, 0);
    expect_fault(&b, GW_FOUND_LEVEL_LOW, "A", "B");
    bench_close(&b);
}

/* Half-wave: DC 0.318 of the peak; the DC is the clipping's. */
static void one_sided_clipping_moves_dc_and_is_named_first(void **state) {
    (void)state;
    bench b;
    char text[900];
    snprintf(text, sizeof text, "%s[rail +12]\ndc = 12 V ± 5 %%\n[rail -12]\ndc = -12 V ± 5 %%\n", tarn);
    char *at = strstr(text, "[point Q2]\n");
    memmove(at + 30, at + 11, strlen(at + 11) + 1);
    memcpy(at, "[point Q2]\ndc = 0 V ± 50 mV\n", strlen("[point Q2]\ndc = 0 V ± 50 mV\n"));
    at[strlen("[point Q2]\ndc = 0 V ± 50 mV\n")] = '\n';
    bench_open(&b, text);
    put_healthy(&b);
    put_rail(&b, "+12", 12, 0);
    put_rail(&b, "-12", -12, 0);
    clip(put_sine(&b, "Q2", 0.5, 0.45), 0, 0.5, 0.435);
    clip(put_sine(&b, "OUT", 0.5, 0.45), 0, 0.5, 0.435);
    say(&b.readings[2], GW_PEAK_TO_PEAK, 1.414, 1e-3, 0);
    expect_fault(&b, GW_FOUND_CLIPPED, "U1", "Q2");
    /* with the negative rail gone, the rail comes first and explains it */
    put_rail(&b, "-12", 0.3, 0);
    walk_of(&b);
    assert_or_explain(b.walk->verdict.status == GW_VERDICT_FAULT, b.walk);
    assert_int_equal(b.walk->verdict.rail, bench_rail(&b, "-12"));
    assert_int_equal(b.walk->verdict.from, -1);
    assert_int_equal(b.walk->verdict.to, -1);
    assert_or_explain(count_findings(b.walk, GW_OFF, true) == 1, b.walk);
    bench_close(&b);
}

/* Single-ended valve stages flatten one side in health, within their limit (common practice). */
static void soft_valve_stage_is_healthy(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 100 mV\n[point A]\n[point V1]\nstage = amp\ngain = 20 dB ± 3 dB\n"
                   "thd = < 5 %\n");
    put_sine(&b, "A", 0.1, 0);
    clip(put_sine(&b, "V1", 1, 0), 0.1, 0, 0.03);
    expect_clear(&b);
    bench_close(&b);
}

static void stage_with_too_much_gain_that_clips_is_level_high(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    clip(put_sine(&b, "U1", 3, 0), 0.1, 0.1, 0.05);
    clip(put_sine(&b, "Q2", 3, 0), 0.1, 0.1, 0.05);
    clip(put_sine(&b, "OUT", 3, 0), 0.1, 0.1, 0.05);
    expect_fault(&b, GW_FOUND_LEVEL_HIGH, "J1", "U1");
    bench_close(&b);
}

static void oscillation_is_a_tone_of_its_own(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    for (int i = 2; i < 4; i++) {
        b.tones[i][0] = (gw_tone){.frequency_hz = 48e3, .rms = 0.2, .u95 = 1e-3, .kind = GW_TONE_OTHER};
        b.readings[i].tones = b.tones[i];
        b.readings[i].tone_count = 1;
    }
    expect_fault(&b, GW_FOUND_TONE_ADDED, "U1", "Q2");
    assert_non_null(strstr(b.walk->findings[0].evidence, "48.00 kHz"));
    /* the same in the input: residue that came in */
    for (int i = 0; i < 2; i++) {
        b.tones[i][0] = (gw_tone){.frequency_hz = 48e3, .rms = i ? 0.2 : 0.02, .u95 = 1e-3, .kind = GW_TONE_OTHER};
        b.readings[i].tones = b.tones[i];
        b.readings[i].tone_count = 1;
    }
    expect_clear(&b);
    bench_close(&b);
}

/* An oscillation above the band without a line of its own: the whole is more than its parts. */
static void energy_above_the_band_is_found_in_the_whole(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    for (int i = 2; i < 4; i++) {
        say(&b.readings[i], GW_AC_RMS, sqrt(1 + 0.3 * 0.3), 2e-4, bench_accuracy);
        say(&b.readings[i], GW_PEAK_TO_PEAK, 2.83 * 1.3, 1e-2, bench_accuracy);
    }
    expect_fault(&b, GW_FOUND_TONE_ADDED, "U1", "Q2");
    assert_non_null(strstr(b.walk->findings[0].evidence, "beside signal"));
    /* an RMS that no sample shows is a bend that was drawn out beyond the record */
    for (int i = 2; i < 4; i++)
        say(&b.readings[i], GW_PEAK_TO_PEAK, 2.83 * 1.05, 1e-2, bench_accuracy);
    walk_of(&b);
    assert_or_explain(!find(&b, GW_FOUND_TONE_ADDED, "Q2"), b.walk);
    /* peaks that nothing accounts for, where the fit took the rest into the signal */
    put_healthy(&b);
    for (int i = 2; i < 4; i++)
        say(&b.readings[i], GW_PEAK_TO_PEAK, 2.83 * 1.35, 1e-2, 0);
    expect_fault(&b, GW_FOUND_TONE_ADDED, "U1", "Q2");
    put_healthy(&b);
    for (int i = 2; i < 4; i++)
        say(&b.readings[i], GW_AC_RMS, sqrt(1 + 0.3 * 0.3), 2e-4, bench_accuracy);
    /* hiss that the band shows as well reaches beyond it: no tone */
    for (int i = 2; i < 4; i++)
        say(&b.readings[i], GW_NOISE, 0.15, 1e-3, 0);
    walk_of(&b);
    assert_or_explain(!find(&b, GW_FOUND_TONE_ADDED, "Q2"), b.walk);
    bench_close(&b);
}

static void small_residue_is_no_fault(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    b.tones[3][0] = (gw_tone){.frequency_hz = 80e3, .rms = 0.01, .u95 = 1e-4, .kind = GW_TONE_OTHER};
    b.readings[3].tones = b.tones[3];
    b.readings[3].tone_count = 1;
    expect_clear(&b);
    bench_close(&b);
}

/* A line of noise is no tone. 20 kHz for 0.1 s are 2000 cells: a line of 1/45 of the level is expected. */
/* A short piece of a noise stimulus, read as a line and a rest, is still there. */
static void noise_stimulus_read_in_pieces_is_not_lost(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = noise 1 V\n[point A]\n[point B]\ngain = 0 dB ± 4 dB\n[point C]\n"
                   "gain = 0 dB ± 4 dB\n");
    const char *points[] = {"A", "B", "C"};
    for (int i = 0; i < 3; i++) {
        gw_readings *r = put_sine(&b, points[i], i == 1 ? 0.3 : 1, 0);
        r->signal = i == 1 ? GW_SIGNAL_SINE : GW_SIGNAL_NOISE;
        say(r, GW_NOISE, i == 1 ? 0.95 : 1, 0.03, 0);
        if (i == 1)
            say(r, GW_FREQUENCY, 17e3, 20, 0);
    }
    expect_clear(&b);
    say(put_sine(&b, "B", 0.01, 0), GW_NOISE, 0.003, 1e-4, 0);
    say(put_sine(&b, "C", 0.01, 0), GW_NOISE, 0.003, 1e-4, 0);
    expect_fault(&b, GW_FOUND_SIGNAL_LOST, "A", "B");
    bench_close(&b);
}

static void line_of_a_noise_stimulus_is_no_tone(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = noise 1 V\n[point A]\n[point B]\nstage = follower\n");
    for (int i = 0; i < 2; i++) {
        gw_readings *r = put_sine(&b, i ? "B" : "A", 1, 0);
        r->signal = GW_SIGNAL_NOISE;
        say_nothing(r, GW_FREQUENCY, "noise");
    }
    b.tones[1][0] = (gw_tone){.frequency_hz = 17.7e3, .rms = 0.09, .u95 = 1e-3, .kind = GW_TONE_OTHER};
    b.readings[1].tones = b.tones[1];
    b.readings[1].tone_count = 1;
    expect_clear(&b);
    b.tones[1][0].rms = 0.4;
    expect_fault(&b, GW_FOUND_TONE_ADDED, "A", "B");
    bench_close(&b);
}

static void stage_that_oscillates_so_hard_that_nothing_is_left(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    say_sine(put(&b, "Q2"), 31e3, 3, 0);
    say_sine(put(&b, "OUT"), 31e3, 3, 0);
    expect_fault(&b, GW_FOUND_TONE_ADDED, "U1", "Q2");
    bench_close(&b);
}

static void motor_boating_is_told(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    for (int i = 2; i < 4; i++) {
        b.readings[i].clues.wobble_hz = 4;
        b.readings[i].clues.wobble_depth = 0.3;
    }
    expect_fault(&b, GW_FOUND_TONE_ADDED, "U1", "Q2");
    assert_non_null(strstr(b.walk->findings[0].causes[0], "motor-boating"));
    bench_close(&b);
}

static void cut_outs_are_named_and_not_their_shadows(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    gw_event event = {.kind = GW_EVENT_DROPOUT, .start_s = 0.03, .length_s = 5e-3};
    for (int i = 2; i < 4; i++) {
        gw_readings *r = put_sine(&b, i == 2 ? "Q2" : "OUT", 0.6, 0);
        say(r, GW_DROPOUTS, 3, 0, 0);
        say(r, GW_THD, 0.08, 1e-3, 0);
        say(r, GW_NOISE, 0.1, 1e-3, 0);
        r->events = &event;
        r->event_count = 1;
    }
    expect_fault(&b, GW_FOUND_CUTS_OUT, "U1", "Q2");
    assert_non_null(strstr(b.walk->findings[b.walk->verdict.finding].evidence, "30.0 ms"));
    bench_close(&b);
}

/* The capture behind the contact caught no gap, only a lower level; the next one caught the gaps. */
static void intermittent_contact_seen_first_as_a_sag(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    put_sine(&b, "Q2", 0.6, 0);
    say(put_sine(&b, "OUT", 0.55, 0), GW_DROPOUTS, 2, 0, 0);
    expect_fault(&b, GW_FOUND_CUTS_OUT, "U1", "Q2");
    /* by 20 dB and more it is no sag between gaps, but a loss */
    put_sine(&b, "Q2", 0.05, 0);
    say(put_sine(&b, "OUT", 0.05, 0), GW_DROPOUTS, 2, 0, 0);
    walk_of(&b);
    assert_or_explain(find(&b, GW_FOUND_LEVEL_LOW, "Q2") && !find(&b, GW_FOUND_CUTS_OUT, "Q2"), b.walk);
    bench_close(&b);
}

/* A level behind what comes and goes is that of the cuts as well: no second fault. */
static void level_behind_a_cut_follows_it(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    say(put_sine(&b, "Q2", 0.6, 0), GW_DROPOUTS, 3, 0, 0);
    put_sine(&b, "OUT", 0.2, 0);
    expect_fault(&b, GW_FOUND_CUTS_OUT, "U1", "Q2");
    const gw_finding *low = find(&b, GW_FOUND_LEVEL_LOW, "OUT");
    assert_or_explain(low && low->follows >= 0, b.walk);
    bench_close(&b);
}

/* THD that a stage took away is not there to be folded behind it: only what a slower capture showed may be. */
static void distortion_that_was_taken_away_does_not_come_back(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\nstage = lowpass r=10k c=10n\n[point C]\n"
                   "stage = wire\n");
    say(put_sine(&b, "A", 1, 0), GW_THD, 0.4, 1e-3, 0);
    say(put_sine(&b, "B", 0.847, 0), GW_THD, 0.004, 1e-3, 0);
    say(put_sine(&b, "C", 0.847, 0), GW_THD, 0.3, 1e-3, 0);
    b.readings[2].source.rate_hz = 100e3;
    walk_of(&b);
    assert_or_explain(find(&b, GW_FOUND_DISTORTION_ADDED, "C"), b.walk);
    bench_close(&b);
}

/* Two tones beat: no cut-outs. */
static void beat_of_two_tones_is_no_cut_out(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = two-tone 1 kHz 1.4 kHz 1 V\n[point A]\n[point B]\nstage = follower\n");
    for (int i = 0; i < 2; i++) {
        gw_readings *r = put_sine(&b, i ? "B" : "A", 1, 0);
        r->signal = GW_SIGNAL_TWO_TONE;
        say(r, GW_DROPOUTS, i ? 7 : 0, 0, 0);
    }
    expect_clear(&b);
    bench_close(&b);
}

/* A bias line of 48.8 kHz folds onto the sixth harmonic of 200 Hz at 50 and at 10 kHz, and not at 200 kHz: the stage
 * behind a fast capture adds nothing that a slower one before it holds already. */
static void line_folded_onto_a_harmonic_is_no_distortion(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 200 Hz\n[point A]\n[point B]\nstage = wire\n[point C]\nstage = wire\n"
                   "[point D]\nstage = wire\n");
    static const char *const names[] = {"A", "B", "C", "D"};
    for (int folded = 0; folded < 2; folded++) {
        for (int i = 0; i < 4; i++) {
            gw_readings *r = put_sine(&b, names[i], 0.4, 0);
            r->source.rate_hz = i == 1 ? 50e3 : i == 3 ? 10e3 : 200e3;
            if (i == 3 || (folded && i == 1))
                say(r, GW_THD, i == 1 ? 0.048 : 0.06, 1e-3, 0);
        }
        if (!folded)
            expect_fault(&b, GW_FOUND_DISTORTION_ADDED, "C", "D");
    }
    walk_of(&b);
    for (size_t k = 0; k < b.walk->finding_count; k++)
        assert_or_explain(b.walk->findings[k].point != bench_point(&b, "D") || b.walk->findings[k].follows >= 0,
                          b.walk);
    bench_close(&b);
}

static void crackle_needs_more_than_one_impulse(void **state) {
    (void)state;
    bench b;
    bench_open(&b, tarn);
    put_healthy(&b);
    gw_event events[3] = {
        {GW_EVENT_CRACKLE, 0.011, 1e-4, 0.4}, {GW_EVENT_CRACKLE, 0.0237, 1e-4, -0.5}, {GW_EVENT_STEP, 0.03, 1e-4, 0.3}};
    b.readings[3].events = events;
    b.readings[3].event_count = 1;
    expect_clear(&b);
    assert_or_explain(remarks_on(&b, "one impulse at OUT"), b.walk);
    b.readings[2].events = events; /* it came in: nothing to look for at OUT */
    b.readings[2].event_count = 1;
    expect_clear(&b);
    assert_or_explain(!remarks_on(&b, "one impulse at OUT"), b.walk);
    b.readings[2].event_count = 0;
    b.readings[3].event_count = 3;
    expect_fault(&b, GW_FOUND_CRACKLE, "Q2", "OUT");
    assert_non_null(strstr(b.walk->findings[0].evidence, "3 impulses"));
    /* in step with half the mains period: a rectifier's edges, not a contact */
    for (int i = 0; i < 3; i++)
        events[i] = (gw_event){GW_EVENT_CRACKLE, 0.0133 + 0.01 * i, 1e-4, 0.4};
    expect_clear(&b);
    bench_close(&b);
}

/* Hum of 0.3 V, known to 0.2 V: it is far above what the steps hide, so that a probe at x1 would not tell more. */
static void hum_above_the_floor_wants_no_other_probe(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\nmains = 50 Hz\n[point A]\n[point B]\nstage = amp\ngain = 0 "
                   "dB\nhum = < 200 mV\n");
    put_sine(&b, "A", 1, 0);
    say(put_sine(&b, "B", 1, 0), GW_HUM, 0.3, 0.1, 0);
    walk_of(&b);
    assert_or_explain(b.walk->verdict.status == GW_VERDICT_UNSURE, b.walk);
    assert_or_explain(!strstr(b.walk->verdict.summary, "x1") && strstr(b.walk->verdict.summary, "more bits"), b.walk);
    bench_close(&b);
}

/* Too short for the mains: more than the signal may be hum, unless a line stands where the signal has none. The third
 * harmonic, two lines of the record wide, is the signal's own. */
static void without_hum_only_a_line_tells_of_more(void **state) {
    (void)state;
    enum { COLUMNS = 2000 };
    static double lines[COLUMNS];
    static const double line_hz[] = {3000, 4500};
    for (int k = 0; k < 2; k++) {
        bench b;
        bench_open(&b, tarn);
        put_healthy(&b);
        memset(lines, 0, sizeof lines);
        lines[1 + (int)(COLUMNS * log(line_hz[k] / 10) / log(12.5e3))] = 0.5;
        for (int i = 0; i < 4; i++) {
            say_nothing(&b.readings[i], GW_HUM, "less than two cycles of the mains");
            if (i < 2)
                continue;
            say(&b.readings[i], GW_AC_RMS, sqrt(1 + 0.6 * 0.6), 2e-4, bench_accuracy);
            say(&b.readings[i], GW_PEAK_TO_PEAK, 2.83 * 1.6, 1e-2, bench_accuracy);
            b.readings[i].spectrum =
                (gw_trace){.count = COLUMNS, .start = 10, .end = 125e3, .log_x = true, .high = lines};
        }
        walk_of(&b);
        assert_or_explain((find(&b, GW_FOUND_TONE_ADDED, "Q2") != NULL) == (k == 1), b.walk);
        bench_close(&b);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(without_hum_only_a_line_tells_of_more),
        cmocka_unit_test(hum_above_the_floor_wants_no_other_probe),
        cmocka_unit_test(level_behind_a_cut_follows_it),
        cmocka_unit_test(distortion_that_was_taken_away_does_not_come_back),
        cmocka_unit_test(limits_that_are_kept_are_ok),
        cmocka_unit_test(distortion_belongs_to_the_stage_that_adds_it),
        cmocka_unit_test(noise_that_rises_by_the_gain_is_not_the_stages),
        cmocka_unit_test(noise_of_about_a_step_is_the_instruments),
        cmocka_unit_test(noise_that_a_coarse_capture_hides_lies_somewhere_before_the_next),
        cmocka_unit_test(hum_of_the_input_is_not_the_stages),
        cmocka_unit_test(harmonics_on_the_mains_are_no_hum),
        cmocka_unit_test(loss_is_not_also_noise_hum_and_distortion),
        cmocka_unit_test(harmonics_of_a_dead_signal_mean_nothing),
        cmocka_unit_test(without_a_limit_only_gross_departures_count),
        cmocka_unit_test(limit_finer_than_the_capture_is_unsure),
        cmocka_unit_test(few_codes_invent_harmonics),
        cmocka_unit_test(saw_has_no_distortion),
        cmocka_unit_test(clipping_names_itself_and_not_its_shadows),
        cmocka_unit_test(bend_explains_the_loss_it_makes),
        cmocka_unit_test(one_sided_clipping_moves_dc_and_is_named_first),
        cmocka_unit_test(soft_valve_stage_is_healthy),
        cmocka_unit_test(stage_with_too_much_gain_that_clips_is_level_high),
        cmocka_unit_test(oscillation_is_a_tone_of_its_own),
        cmocka_unit_test(energy_above_the_band_is_found_in_the_whole),
        cmocka_unit_test(small_residue_is_no_fault),
        cmocka_unit_test(noise_stimulus_read_in_pieces_is_not_lost),
        cmocka_unit_test(line_of_a_noise_stimulus_is_no_tone),
        cmocka_unit_test(stage_that_oscillates_so_hard_that_nothing_is_left),
        cmocka_unit_test(motor_boating_is_told),
        cmocka_unit_test(cut_outs_are_named_and_not_their_shadows),
        cmocka_unit_test(intermittent_contact_seen_first_as_a_sag),
        cmocka_unit_test(beat_of_two_tones_is_no_cut_out),
        cmocka_unit_test(line_folded_onto_a_harmonic_is_no_distortion),
        cmocka_unit_test(crackle_needs_more_than_one_impulse),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
