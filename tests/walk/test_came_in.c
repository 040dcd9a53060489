/* What came in, what the signal is itself, what only one sort of signal can show, and what a bend takes along: no
 * faults of their own. */
#include "walk_testing.h"

#include "walk/added.h"

#include <math.h>

/* An input that may hold as much as its uncertainty says explains an output three times the most of that, not three
 * times the least. */
static void an_input_is_taken_at_its_most(void **state) {
    (void)state;
    static const struct {
        double out, in, in_u95;
        gw_status status;
    } known[] = {
        {0.5, 0.1, 0, GW_OFF}, {0.5, 0.1, 0.09, GW_UNJUDGED}, {0.5, 0.16, 0, GW_OFF}, {0.9, 0.1, 0.09, GW_OFF}};
    for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
        gw_added a = {.fed = true,
                      .has = true,
                      .out = known[i].out,
                      .in = known[i].in,
                      .in_u95 = known[i].in_u95,
                      .whole = 1,
                      .gross = 0.05};
        assert_int_equal(gw_added_gross(&a), known[i].status);
    }
}

/* 1 kHz comes out of the low-pass at 0.157 of what it was, hum of 50 Hz at 0.954 (closed form): the hum's gain is its
 * own. As much as came in is none of the stage's; a fifth of the signal on top of it is. */
static void hum_passes_a_filter_at_its_own_gain(void **state) {
    (void)state;
    const double rc = 1e-3, signal = 1 / hypot(1, 6.283185307179586 * 1000 * rc),
                 hum = 1 / hypot(1, 6.283185307179586 * 50 * rc);
    for (int added = 0; added < 2; added++) {
        bench b;
        bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\nmains = 50 Hz\n[point A]\n[point B]\n"
                       "stage = lowpass r=10k c=100n\nhum = < 10 mV\n");
        put_sine(&b, "A", 1, 0);
        put_sine(&b, "B", signal, 0);
        say(&b.readings[0], GW_HUM, 0.05, 1e-4, 0);
        say(&b.readings[1], GW_HUM, 0.05 * hum + added * 0.03, 1e-4, 0);
        if (added)
            expect_fault(&b, GW_FOUND_HUM_ADDED, "A", "B");
        else
            assert_or_explain(walk_of(&b) && !find(&b, GW_FOUND_HUM_ADDED, "B"), b.walk);
        bench_close(&b);
    }
}

/* Hum of 50 Hz, 200 Hz and 400 Hz, of 2, 3 and 6 mV, beside a stimulus of 200 Hz: the latter two are the signal's. */
static void hum_on_the_signals_lines_is_the_signals(void **state) {
    (void)state;
    gw_walker walker = {.frequency_hz = 200};
    gw_tone tones[] = {{.frequency_hz = 50, .rms = 2e-3, .kind = GW_TONE_MAINS},
                       {.frequency_hz = 200, .rms = 3e-3, .kind = GW_TONE_MAINS},
                       {.frequency_hz = 400, .rms = 6e-3, .kind = GW_TONE_MAINS}};
    gw_readings readings = {.tones = tones, .tone_count = 3};
    say(&readings, GW_HUM, 7e-3, 1e-5, 0); /* 4 + 9 + 36 = 49 */
    assert_close(gw_shape_hum(&walker, &readings), 2e-3, 1e-9);
    walker.frequency_hz = 1000; /* none of them is */
    assert_close(gw_shape_hum(&walker, &readings), 7e-3, 1e-9);
}

enum { COLUMNS = 100 };

static void put_spectrum(gw_readings *r, double *columns) {
    memset(columns, 0, COLUMNS * sizeof *columns);
    r->spectrum = (gw_trace){.count = COLUMNS, .start = 10, .end = 100e3, .log_x = true, .high = columns};
}

static double *column_at(double *columns, double frequency_hz) {
    return &columns[(int)(COLUMNS * log(frequency_hz / 10) / log(1e4))];
}

/* A line elsewhere in the input's spectrum explains no tone in the output. */
static void another_line_of_the_input_is_no_excuse(void **state) {
    (void)state;
    static const double elsewhere_hz[] = {0, 55, 3100, 61e3};
    double columns[COLUMNS];
    for (size_t k = 0; k < sizeof elsewhere_hz / sizeof *elsewhere_hz; k++) {
        bench b;
        bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\nstage = follower\n");
        put_spectrum(put_sine(&b, "A", 1, 0), columns);
        gw_readings *r = put_sine(&b, "B", 1, 0);
        b.tones[1][0] = (gw_tone){.kind = GW_TONE_OTHER, .frequency_hz = 7310, .rms = 0.2, .u95 = 1e-3};
        r->tones = b.tones[1];
        r->tone_count = 1;
        if (elsewhere_hz[k] > 0)
            *column_at(columns, elsewhere_hz[k]) = 0.3;
        expect_fault(&b, GW_FOUND_TONE_ADDED, "A", "B");
        *column_at(columns, 7310) = 0.2;
        assert_or_explain(walk_of(&b) && !find(&b, GW_FOUND_TONE_ADDED, "B"), b.walk);
        bench_close(&b);
    }
}

/* The whole is signal, harmonics and what stands beside them, in power: an oscillation of half the signal is told
 * beside harmonics of any size, and none is made of the harmonics. */
static void harmonics_hide_no_oscillation_and_are_none(void **state) {
    (void)state;
    static const double thd[] = {0.02, 0.1, 0.3};
    for (int k = 0; k < 12; k++) {
        double harmonics = thd[k / 4], beside = k % 2 ? 0.5 : 0;
        bench b;
        bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\nstage = follower\nthd = < 50 %\n");
        put_sine(&b, "A", 1, 0);
        gw_readings *r = put_sine(&b, "B", 1, 0);
        say(r, GW_THD, harmonics, 1e-3, 0);
        say(r, GW_AC_RMS, sqrt(1 + harmonics * harmonics + beside * beside), 2e-4, bench_accuracy);
        if (k / 2 % 2)
            say_nothing(r, GW_PEAK_TO_PEAK, "samples are missing from the record");
        else
            say(r, GW_PEAK_TO_PEAK, 2.83 * (1 + harmonics + beside), 0.01, bench_accuracy);
        if (beside > 0)
            expect_fault(&b, GW_FOUND_TONE_ADDED, "A", "B");
        else
            assert_or_explain(walk_of(&b) && !find(&b, GW_FOUND_TONE_ADDED, "B"), b.walk);
        bench_close(&b);
    }
}

static gw_readings *put_white(bench *b, const char *name, double level_v, double *columns) {
    gw_readings *r = put_sine(b, name, level_v, 0);
    r->signal = GW_SIGNAL_NOISE;
    r->source.duration_s = 0.5;
    r->source.step = 1e-6;
    say_nothing(r, GW_FREQUENCY, "noise");
    say_nothing(r, GW_THD, "noise");
    say(r, GW_NOISE, level_v, 0.005 * level_v, 0);
    put_spectrum(r, columns);
    return r;
}

/* A spectrum on an axis of even hertz, or without columns, says nothing of octaves. */
static void only_a_spectrum_in_octaves_shows_a_slope(void **state) {
    (void)state;
    double columns[2][COLUMNS];
    for (int octaves = 0; octaves < 2; octaves++) {
        bench b;
        bench_open(&b, "[chain]\nstimulus = noise\n[point A]\n[point B]\nstage = follower\n");
        for (int i = 0; i < 2; i++) {
            put_white(&b, i ? "B" : "A", 0.2, columns[i])->spectrum.log_x = octaves;
            for (int k = 0; k < COLUMNS; k++)
                columns[i][k] = i && k > COLUMNS * 6 / 10 ? 1e-4 : 1e-3;
        }
        assert_or_explain(walk_of(&b) && !find(&b, GW_FOUND_HIGHS_LOST, "B") == !octaves, b.walk);
        bench_close(&b);
    }
}

/* What the highs have lost against the lows is told as it is, whatever the stage's gain: 20 dB here. */
static void a_loss_is_told_against_the_gain(void **state) {
    (void)state;
    static const char *const stages[] = {"divider top=90k bottom=10k", "follower", "noninverting rf=90k rg=10k"};
    static const double gains[] = {0.1, 1, 10};
    double columns[2][COLUMNS];
    for (int g = 0; g < 3; g++) {
        bench b;
        char text[200];
        snprintf(text, sizeof text, "[chain]\nstimulus = noise\n[point A]\n[point B]\nstage = %s\n", stages[g]);
        bench_open(&b, text);
        for (int i = 0; i < 2; i++) {
            put_white(&b, i ? "B" : "A", i ? 0.2 * gains[g] : 0.2, columns[i]);
            for (int k = 0; k < COLUMNS; k++)
                columns[i][k] = 1e-3 * (i ? gains[g] : 1) * (i && k > COLUMNS * 6 / 10 ? 0.1 : 1);
        }
        walk_of(&b);
        assert_or_explain(find(&b, GW_FOUND_HIGHS_LOST, "B") != NULL, b.walk);
        assert_or_explain(strncmp(find(&b, GW_FOUND_HIGHS_LOST, "B")->evidence, "-20", 3) == 0, b.walk);
        bench_close(&b);
    }
}

/* A sine cut at ±c of its amplitude, from where the loss is told at all to where hardly anything is left: fundamental
 * b1 = (2/pi) (a + c sqrt(1 - c²)) with a = asin c, mean square [a - c sqrt(1 - c²) + 2 c² (pi/2 - a)]/pi, both of
 * Fourier's integrals; THD of all orders. What is left is what the bend leaves; of half of that it explains no half. */
static void every_bend_explains_the_loss_it_makes(void **state) {
    (void)state;
    const double pi = 3.14159265358979323846;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\nstage = follower\n");
    put_sine(&b, "A", 1, 0);
    for (double c = 0.23; c < 0.8; c += 0.05) {
        double a = asin(c), root = c * sqrt(1 - c * c), left = 2 / pi * (a + root);
        double thd = sqrt(2 * (a - root + 2 * c * c * (pi / 2 - a)) / pi / (left * left) - 1);
        say(put_sine(&b, "B", left, 0), GW_THD, thd, 1e-3, 0);
        expect_fault(&b, GW_FOUND_DISTORTION_ADDED, "A", "B");
        say(put_sine(&b, "B", 0.5 * left, 0), GW_THD, thd, 1e-3, 0);
        expect_fault(&b, GW_FOUND_LEVEL_LOW, "A", "B");
    }
    bench_close(&b);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_input_is_taken_at_its_most),
        cmocka_unit_test(hum_passes_a_filter_at_its_own_gain),
        cmocka_unit_test(hum_on_the_signals_lines_is_the_signals),
        cmocka_unit_test(another_line_of_the_input_is_no_excuse),
        cmocka_unit_test(harmonics_hide_no_oscillation_and_are_none),
        cmocka_unit_test(only_a_spectrum_in_octaves_shows_a_slope),
        cmocka_unit_test(a_loss_is_told_against_the_gain),
        cmocka_unit_test(every_bend_explains_the_loss_it_makes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
