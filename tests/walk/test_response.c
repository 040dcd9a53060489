/* Highs and lows by the lines of a periodic signal: which of them tell, and how well. */
#include "walk_testing.h"

#include <math.h>

static const double pi = 3.14159265358979323846;

typedef double line_of(int order, double a);

/* Of height 1 for a share of the period: Fourier series, RMS. */
static double pulse(int order, double share) {
    return 2 / (order * pi) * fabs(sin(order * pi * share)) / sqrt(2);
}

/* Of both ways alike, through a first-order low pass at so many times its frequency; 0: none. */
static double square(int order, double corner) {
    double filter = corner > 0 ? 1 / hypot(1, order / corner) : 1;
    return order % 2 ? 2 / (order * pi) / sqrt(2) * 2 * filter : 0;
}

/* A triangle of which a bend has made even lines, so much of the first. */
static double bent_triangle(int order, double bend) {
    return order % 2 ? 1.0 / order / order : bend / order;
}

static void put_lines(bench *b, const char *name, double f_hz, double samples, line_of *of, double a) {
    int at = bench_point(b, name);
    gw_readings *r = put_sine(b, name, 1, 0);
    double power = 0;
    for (int k = 0; k < 10; k++) {
        double rms = of(k + 1, a);
        b->harmonics[at][k] = (gw_harmonic){
            .order = k + 1, .frequency_hz = f_hz * (k + 1), .rms = rms, .u95 = 1e-4, .resolved = rms > 1e-4};
        power += rms * rms;
    }
    r->signal = GW_SIGNAL_PERIODIC;
    r->harmonics = b->harmonics[at];
    r->harmonic_count = 10;
    r->source.rate_hz = samples * f_hz;
    r->source.step = 1e-4;
    say(r, GW_FREQUENCY, f_hz, 1e-5 * f_hz, 0);
    say(r, GW_LEVEL, sqrt(power), 1e-4, bench_accuracy);
    say(r, GW_AC_RMS, sqrt(power), 1e-4, bench_accuracy);
    say_nothing(r, GW_THD, "the stimulus is no sine");
}

static const char two[] = "[chain]\nstimulus = periodic 1 kHz\n[point A]\n[point B]\nstage = follower\n";

static bool finds(bench *b, gw_finding_code code, const char *point) {
    walk_of(b);
    return find(b, code, point) != NULL;
}

/* With 40 samples a period a pulse is wider by a third of a sample here than there, which its lines near a null show
 * most: the 10th is a quarter of what it was. */
static void lines_near_a_null_hang_on_where_samples_fall(void **state) {
    (void)state;
    bench b;
    bench_open(&b, two);
    put_lines(&b, "A", 1000, 40, pulse, 0.090);
    put_lines(&b, "B", 1000, 40, pulse, 0.0975);
    assert_close(pulse(10, 0.0975) / pulse(10, 0.090), 0.254, 0.01);
    assert_or_explain(!finds(&b, GW_FOUND_HIGHS_LOST, "B"), b.walk);
    /* with a thousand samples that is no matter of samples */
    put_lines(&b, "A", 1000, 1000, pulse, 0.090);
    put_lines(&b, "B", 1000, 1000, pulse, 0.0975);
    assert_or_explain(finds(&b, GW_FOUND_HIGHS_LOST, "B"), b.walk);
    /* nor is a corner at the fundamental one, even with 40: the ninth is 16 dB down against the first */
    put_lines(&b, "A", 1000, 40, square, 0);
    put_lines(&b, "B", 1000, 40, square, 1);
    assert_or_explain(finds(&b, GW_FOUND_HIGHS_LOST, "B"), b.walk);
    bench_close(&b);
}

/* A bend makes even lines, the next stage's opposite bend takes them away: neither passes anything. */
static void lines_that_were_not_fed_in_tell_no_response(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = periodic 1 kHz\n[point A]\n[point B]\nstage = emitter rc=1k re=1k\n[point C]\n"
                   "stage = emitter rc=1k re=1k\n");
    put_lines(&b, "A", 1000, 500, bent_triangle, 0);
    put_lines(&b, "B", 1000, 500, bent_triangle, 0.06);
    put_lines(&b, "C", 1000, 500, bent_triangle, 0.006);
    assert_or_explain(!finds(&b, GW_FOUND_LOWS_LOST, "C") && !find(&b, GW_FOUND_HIGHS_LOST, "C"), b.walk);
    /* what was fed in does */
    put_lines(&b, "A", 1000, 500, bent_triangle, 0.06);
    assert_or_explain(finds(&b, GW_FOUND_HIGHS_LOST, "C") || find(&b, GW_FOUND_LOWS_LOST, "C"), b.walk);
    bench_close(&b);
}

/* The first point whose capture can be built upon speaks for what was fed in. One before it whose capture overran its
 * input and shows but one line, or that nobody has captured, says nothing of that. */
static void what_was_fed_in_is_read_where_the_signal_shows(void **state) {
    (void)state;
    for (int spoilt = 1; spoilt >= 0; spoilt--) {
        bench b;
        bench_open(&b, "[chain]\nstimulus = periodic 1 kHz\n[point A]\n[point B]\nstage = wire\n[point C]\n"
                       "stage = follower\n");
        if (spoilt) {
            put_lines(&b, "A", 1000, 500, square, 0);
            b.readings[0].harmonic_count = 1;
            b.readings[0].clues.overloaded = true;
        }
        put_lines(&b, "B", 1000, 500, square, 0);
        put_lines(&b, "C", 1000, 500, square, 1);
        assert_or_explain(finds(&b, GW_FOUND_HIGHS_LOST, "C"), b.walk);
        bench_close(&b);
    }
}

/* Any waveform of hardly more than a period can be made of another period's lines: they tell of no response. */
static void lines_of_hardly_a_period_tell_no_response(void **state) {
    (void)state;
    static const double cycles[2] = {1.4, 3.5};
    for (int k = 0; k < 2; k++) {
        bench b;
        bench_open(&b, two);
        put_lines(&b, "A", 1000, 500, square, 0);
        put_lines(&b, "B", 1000, 500, square, 1);
        b.readings[1].clues.cycles = cycles[k];
        b.readings[1].source.duration_s = cycles[k] * 1e-3;
        assert_or_explain(finds(&b, GW_FOUND_HIGHS_LOST, "B") == (k == 1), b.walk);
        bench_close(&b);
    }
}

/* A transformer that ends at 30 kHz: -3.8 dB for the 9th of 4 kHz, -1.6 dB at 20 kHz, where the band ends. */
static void what_is_lost_above_the_band_is_nobodys_loss(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = periodic 4 kHz\n[point A]\n[point B]\nstage = transformer ratio=1\n");
    put_lines(&b, "A", 4000, 250, square, 0);
    put_lines(&b, "B", 4000, 250, square, 7.5);
    assert_or_explain(!finds(&b, GW_FOUND_HIGHS_LOST, "B"), b.walk);
    put_lines(&b, "B", 4000, 250, square, 2);
    assert_or_explain(finds(&b, GW_FOUND_HIGHS_LOST, "B"), b.walk);
    bench_close(&b);
}

/* A film on a contact leaves little of a triangle's first line and makes others of it: that is a loss, not a corner. */
static void contact_has_no_corner(void **state) {
    (void)state;
    static const char *const kinds[] = {"wire", "coupling c=1u load=100k"};
    for (int i = 0; i < 2; i++) {
        bench b;
        char text[160];
        snprintf(text, sizeof text, "[chain]\nstimulus = periodic 1 kHz\n[point A]\n[point B]\nstage = %s\n", kinds[i]);
        bench_open(&b, text);
        put_lines(&b, "A", 1000, 500, bent_triangle, 0);
        put_lines(&b, "B", 1000, 500, bent_triangle, 0);
        for (int k = 0; k < 10; k++)
            b.harmonics[1][k].rms *= k ? 0.6 : 0.1;
        say(&b.readings[1], GW_LEVEL, 0.12, 1e-4, bench_accuracy);
        say(&b.readings[1], GW_AC_RMS, 0.12, 1e-4, bench_accuracy);
        expect_fault(&b, i ? GW_FOUND_LOWS_LOST : GW_FOUND_LEVEL_LOW, "A", "B");
        bench_close(&b);
    }
}

/* ---- levels of what is broad ---- */

static void put_noise(bench *b, const char *name, double level_v) {
    gw_readings *r = put_sine(b, name, level_v, 0);
    r->signal = GW_SIGNAL_NOISE;
    say(r, GW_NOISE, level_v, 0.01 * level_v, bench_accuracy);
    say_nothing(r, GW_FREQUENCY, "no periodic signal");
    say_nothing(r, GW_THD, "no periodic signal");
}

/* The largest of n exponential values is their mean times the nth harmonic number (order statistics). */
static double largest_of(int n) {
    double sum = 0;
    for (int k = 1; k <= n; k++)
        sum += 1.0 / k;
    return n > 0 ? sum : 1;
}

/* Pink noise of 20 Hz to 20 kHz through a first-order high pass at fc keeps ln((H^2 + fc^2)/(L^2 + fc^2))/2 of
 * ln(H/L) of its power: at 159 Hz -1.56 dB. White noise would lose nothing. */
static void gain_of_a_filter_hangs_on_the_noise_that_comes_in(void **state) {
    (void)state;
    enum { COLUMNS = 500 };
    static double lines[COLUMNS];
    bench b;
    bench_open(&b, "[chain]\nstimulus = noise 1 V\n[point A]\n[point C1]\nstage = coupling c=100n load=10k\n");
    double fc = 1 / (2 * pi * 10e3 * 100e-9), end = 22050;
    double kept = log((4e8 + fc * fc) / (400 + fc * fc)) / 2 / log(1000);
    put_noise(&b, "A", 1);
    put_noise(&b, "C1", sqrt(kept));
    for (int i = 0; i < COLUMNS; i++) {
        double low = exp(log(end) * i / COLUMNS), high = exp(log(end) * (i + 1) / COLUMNS);
        lines[i] = sqrt(largest_of((int)(high - low + 0.5)) / sqrt(low * high));
    }
    b.readings[0].spectrum = (gw_trace){.count = COLUMNS, .start = 1, .end = end, .log_x = true, .high = lines};
    walk_of(&b);
    assert_close(stage_to(&b, "C1")->gain.expected, sqrt(kept), 0.01);
    assert_int_equal(stage_to(&b, "C1")->gain.status, GW_OK);
    bench_close(&b);
}

/* Noise of 1 V in the reference channel, of which 0.3 V has been read as a tone: it is 1 V all the same. */
static void noise_in_the_reference_channel_is_all_of_it(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = noise 1 V\n[instrument]\nreference = 1\n[point A]\n[point B]\n"
                   "stage = follower\n");
    for (int i = 0; i < 2; i++) {
        put_noise(&b, i ? "B" : "A", 1);
        gw_readings *fed = &b.references[i];
        say_sine(fed, 33, 1, 0);
        fed->signal = i ? GW_SIGNAL_PERIODIC : GW_SIGNAL_NOISE;
        say(fed, GW_LEVEL, i ? 0.3 : 1, 1e-3, bench_accuracy);
        say(fed, GW_NOISE, i ? sqrt(1 - 0.09) : 1, 1e-3, bench_accuracy);
        b.points[i].reference = fed;
    }
    walk_of(&b);
    assert_close(stage_to(&b, "B")->gain.value, 1, 0.01);
    bench_close(&b);
}

/* Noise of N over c periods: N^2/c of it repeats in them by chance and passes for the signal's, the rest is left. */
static void noise_that_repeats_by_chance_is_no_level(void **state) {
    (void)state;
    bench b;
    double noise = 0.6, cycles = 3;
    bench_open(&b, two);
    put_lines(&b, "A", 1000, 500, square, 0);
    put_lines(&b, "B", 1000, 500, square, 0);
    for (int i = 0; i < 2; i++) {
        gw_readings *r = &b.readings[i];
        r->source.duration_s = cycles / 1000;
        r->clues.cycles = cycles;
        say(r, GW_LEVEL, i ? sqrt(1 + noise * noise / cycles) : 1, 1e-4, bench_accuracy);
        say(r, GW_AC_RMS, i ? sqrt(1 + noise * noise) : 1, 1e-4, bench_accuracy);
    }
    walk_of(&b);
    assert_close(stage_to(&b, "B")->gain.value, 1, 1e-3);
    bench_close(&b);
}

/* Steps of the converter twice as large as the signal leave the fit one line of it, as exact as that line is: nothing
 * of what is left beside it repeats in it. */
static void one_line_of_a_comb_is_its_level(void **state) {
    (void)state;
    bench b;
    bench_open(&b, two);
    put_lines(&b, "A", 1000, 500, square, 0);
    put_lines(&b, "B", 1000, 500, square, 0);
    gw_readings *r = &b.readings[1];
    say(&b.readings[0], GW_LEVEL, 1, 1e-4, bench_accuracy);
    say(&b.readings[0], GW_AC_RMS, 1, 1e-4, bench_accuracy);
    r->harmonic_count = 1;
    r->source.duration_s = 5e-3;
    r->clues.cycles = 5;
    say(r, GW_LEVEL, 1, 0.1, bench_accuracy);
    say(r, GW_AC_RMS, 2.2, 0.1, bench_accuracy); /* 1.96 beside it: 1.96^2/4 is 0.96 */
    walk_of(&b);
    assert_close(stage_to(&b, "B")->gain.value, 1, 1e-3);
    assert_int_not_equal(stage_to(&b, "B")->gain.status, GW_OFF);
    bench_close(&b);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lines_near_a_null_hang_on_where_samples_fall),
        cmocka_unit_test(lines_that_were_not_fed_in_tell_no_response),
        cmocka_unit_test(contact_has_no_corner),
        cmocka_unit_test(gain_of_a_filter_hangs_on_the_noise_that_comes_in),
        cmocka_unit_test(noise_in_the_reference_channel_is_all_of_it),
        cmocka_unit_test(noise_that_repeats_by_chance_is_no_level),
        cmocka_unit_test(one_line_of_a_comb_is_its_level),
        cmocka_unit_test(what_was_fed_in_is_read_where_the_signal_shows),
        cmocka_unit_test(lines_of_hardly_a_period_tell_no_response),
        cmocka_unit_test(what_is_lost_above_the_band_is_nobodys_loss),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
