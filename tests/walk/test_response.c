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

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lines_near_a_null_hang_on_where_samples_fall),
        cmocka_unit_test(lines_that_were_not_fed_in_tell_no_response),
        cmocka_unit_test(what_is_lost_above_the_band_is_nobodys_loss),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
