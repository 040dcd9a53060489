/* Waveforms with a shape of their own, and what must not be made of it: edges are no crackle, flat tops of a square no
 * clipping; peaks that are gone are. And what a verdict says that rests on little. */
#include "walk_testing.h"

#include <math.h>

static const char saw[] = "[chain]\n"
                          "stimulus = periodic 1 kHz 1 V\n"
                          "mains = 50 Hz\n"
                          "[point J1]\n"
                          "[point U1]\n"
                          "stage = follower\n"
                          "[point C2]\n"
                          "stage = coupling c=10u load=47k\n";

enum { ORDERS = 10 };

/* A saw of 1 V RMS at 40 samples a period: orders as 1/k (Fourier series), its edge at the first sample. */
static void make_saw(bench *b, const char *name) {
    int i = bench_point(b, name);
    gw_readings *r = put_sine(b, name, 1, 0);
    r->signal = GW_SIGNAL_PERIODIC;
    r->source.rate_hz = 40e3;
    r->noise_floor_v = 0.005;
    r->harmonics = b->harmonics[i];
    r->harmonic_count = ORDERS;
    for (int k = 1; k <= ORDERS; k++)
        b->harmonics[i][k - 1] = (gw_harmonic){.order = k,
                                               .frequency_hz = 1000.0 * k,
                                               .rms = 0.78 / k,
                                               .u95 = 1e-3,
                                               .phase_rad = -1.5707963267948966, /* a sine: edge at multiples of 1 ms */
                                               .resolved = true};
    say(r, GW_PEAK_TO_PEAK, 3.46, 0.01, bench_accuracy);
    say_nothing(r, GW_THD, "the signal is no sine");
}

static void make_chain(bench *b) {
    bench_open(b, saw);
    make_saw(b, "J1");
    make_saw(b, "U1");
    make_saw(b, "C2");
}

static gw_event events[4];

static void put_impulses(bench *b, const char *name, double phase_of_period, double size_v) {
    gw_readings *r = &b->readings[bench_point(b, name)];
    for (int i = 0; i < 4; i++)
        events[i] =
            (gw_event){.kind = GW_EVENT_CRACKLE, .start_s = 1e-3 * (3 * i + 1 + phase_of_period), .size_v = size_v};
    r->events = events;
    r->event_count = 4;
}

static void what_a_fit_leaves_of_edges_is_no_crackle(void **state) {
    (void)state;
    bench b;
    make_chain(&b);
    put_impulses(&b, "U1", 0, 0.3);
    expect_clear(&b);
    /* half a volt six of the 40 samples behind one is: the edge moves by 1.7 V a sample and is over in two; what
     * ripples behind it, a sum of cosines (the saw's ten orders), moves by less than 0.27 V a sample */
    put_impulses(&b, "U1", 6.0 / 40, 0.5);
    expect_fault(&b, GW_FOUND_CRACKLE, "J1", "U1");
    /* and so is less than that half-way between the edges */
    put_impulses(&b, "U1", 0.5, 0.3);
    expect_fault(&b, GW_FOUND_CRACKLE, "J1", "U1");
    /* a few deviations of the noise are not, wherever */
    b.readings[1].noise_floor_v = 0.09;
    expect_clear(&b);
    bench_close(&b);
}

/* Of a saw beyond its tenth order the power is 0.78^2 (pi^2/6 - 1.5498), 0.24 V RMS: at a rate of hardly twice the
 * tenth it folds down among the lines and passes for noise; at four times as much there is more to come before that. */
static void what_folds_down_between_lines_is_no_noise(void **state) {
    (void)state;
    static const double rates_hz[] = {21.3e3, 40e3};
    for (int k = 0; k < 2; k++) {
        bench b;
        make_chain(&b);
        for (int i = 0; i < 3; i++) {
            b.readings[i].source.rate_hz = rates_hz[k];
            say(&b.readings[i], GW_NOISE, i ? 0.2 : 0.02, 0.01, bench_accuracy);
        }
        if (k == 0)
            expect_clear(&b);
        else
            expect_fault(&b, GW_FOUND_NOISE_ADDED, "J1", "U1");
        bench_close(&b);
    }
}

/* A square of one and a half periods: the edges are steeper than its last harmonic, and no other period tells that they
 * repeat. What is left of them stands where the picture swings from rail to rail; an impulse as large on the flat does
 * not. */
static void edges_of_hardly_two_periods_are_no_crackle(void **state) {
    (void)state;
    enum { CELLS = 720 };
    static double low[CELLS], high[CELLS];
    const double record_s = 1e-3, period_s = record_s / 1.5;
    bench b;
    bench_open(&b, "[chain]\nstimulus = periodic 1.5 kHz\n[point J1]\n[point U1]\nstage = follower\n");
    put_sine(&b, "J1", 1, 0)->signal = GW_SIGNAL_PERIODIC;
    gw_readings *r = put_sine(&b, "U1", 1, 0);
    r->signal = GW_SIGNAL_PERIODIC;
    r->source.duration_s = record_s;
    r->source.rate_hz = 20e6;
    r->noise_floor_v = 1e-3;
    for (int i = 0; i < CELLS; i++) {
        double turn = fmod((i + 0.5) / CELLS * record_s / period_s, 0.5) * 2 * CELLS / 3; /* cells since an edge */
        double side = fmod((i + 0.5) / CELLS * record_s / period_s, 1) < 0.5 ? 1 : -1;
        low[i] = turn < 1 ? -1 : side;
        high[i] = turn < 1 ? 1 : side;
    }
    r->waveform = (gw_trace){.count = CELLS, .end = record_s, .low = low, .high = high};
    for (int flat = 0; flat < 2; flat++) {
        for (int i = 0; i < 2; i++)
            events[i] = (gw_event){.kind = GW_EVENT_CRACKLE,
                                   .start_s = (1 + i) * period_s / 2 + (flat ? period_s / 8 : 1e-6),
                                   .size_v = 0.15};
        r->events = events;
        r->event_count = 2;
        if (flat)
            expect_fault(&b, GW_FOUND_CRACKLE, "J1", "U1");
        else
            expect_clear(&b);
    }
    bench_close(&b);
}

/* A triangle cut at `left` of its peak is a trapezoid: odd orders as sin(k a)/k², a its flank in radians, and a
 * triangle for a quarter turn (Fourier series; tables of them are in any handbook). */
static void make_trapezoid(bench *b, const char *name, double left) {
    const double quarter = 1.5707963267948966;
    int i = bench_point(b, name);
    gw_readings *r = put_sine(b, name, 1, 0);
    r->signal = GW_SIGNAL_PERIODIC;
    r->harmonics = b->harmonics[i];
    r->harmonic_count = ORDERS / 2;
    double flank = left * quarter, first = sin(flank);
    for (int k = 1; k < ORDERS; k += 2)
        b->harmonics[i][k / 2] = (gw_harmonic){.order = k,
                                               .frequency_hz = 1000.0 * k,
                                               .rms = fabs(sin(k * flank)) / first / (k * k),
                                               .u95 = 1e-3,
                                               .phase_rad = sin(k * flank) < 0 ? quarter : -quarter,
                                               .resolved = true};
    say_nothing(r, GW_THD, "the signal is no sine");
}

/* Peak over RMS of a trapezoid is 1/sqrt(1 - 2 left/3), of a triangle sqrt(3), of a sine sqrt(2); ten harmonics hold a
 * little less of a sharp peak. */
static void peaks_that_are_gone_were_cut(void **state) {
    (void)state;
    bench b;
    make_chain(&b);
    make_trapezoid(&b, "J1", 1);
    make_trapezoid(&b, "U1", 1);
    make_trapezoid(&b, "C2", 1);
    expect_clear(&b);
    make_trapezoid(&b, "U1", 0.68);
    make_trapezoid(&b, "C2", 0.68);
    expect_fault(&b, GW_FOUND_CLIPPED, "J1", "U1");
    assert_non_null(strstr(b.walk->verdict.summary, "crest factor 1.3"));
    assert_non_null(strstr(b.walk->verdict.summary, ", 1.66 before: its peaks are gone"));
    /* the same peaks rounded off by a filter are not cut: what is left is nearly a sine */
    make_trapezoid(&b, "U1", 1);
    b.harmonics[1][1].rms /= 9;
    b.readings[1].harmonic_count = 2;
    walk_of(&b);
    assert_or_explain(!find(&b, GW_FOUND_CLIPPED, "U1"), b.walk);
    /* and a passive part cuts nothing */
    make_trapezoid(&b, "U1", 1);
    make_trapezoid(&b, "C2", 0.68);
    walk_of(&b);
    assert_or_explain(!find(&b, GW_FOUND_CLIPPED, "C2"), b.walk);
    bench_close(&b);
}

/* What is spread over a wide band at a high rate lands in the band at a low one: the same hiss, and nobody's fault. */
static void noise_that_a_lower_rate_folds_down_was_there(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point J1]\n[point U1]\nstage = follower\n");
    gw_readings *from = put_sine(&b, "J1", 1, 0), *to = put_sine(&b, "U1", 1, 0);
    from->source.rate_hz = 1e6; /* 60 mV over 500 kHz: 12 mV in 20 kHz */
    from->noise_floor_v = 0.06;
    say(from, GW_NOISE, 0.012, 2e-4, bench_accuracy);
    to->source.rate_hz = 50e3; /* and 54 mV in 20 of 25 kHz */
    to->noise_floor_v = 0.06;
    say(to, GW_NOISE, 0.054, 1e-3, bench_accuracy);
    expect_clear(&b);
    to->source.rate_hz = 1e6;
    expect_fault(&b, GW_FOUND_NOISE_ADDED, "J1", "U1");
    bench_close(&b);
}

/* Far beyond what is healthy by its value, and yet within what the capture leaves open. */
static void noise_that_may_be_the_captures_is_to_be_settled(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point J1]\n[point U1]\nstage = follower\n");
    put_sine(&b, "J1", 1, 0);
    say(put_sine(&b, "U1", 1, 0), GW_NOISE, 0.1, 0.04, bench_accuracy);
    expect_verdict(&b, GW_VERDICT_UNSURE);
    assert_non_null(find(&b, GW_FOUND_NOISE_ADDED, "U1"));
    bench_close(&b);
}

/* A capture that shows "at most so much" must not make a certain fault uncertain: what came in before it tells. */
static void a_coarse_capture_between_hides_no_fault(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point J1]\n[point A]\nstage = wire\n"
                   "[point U1]\nstage = follower\n");
    put_sine(&b, "J1", 1, 0);
    say_below(put_sine(&b, "A", 1, 0), GW_THD, 0.03);
    say(put_sine(&b, "U1", 1, 0), GW_THD, 0.07, 5e-4, 0);
    const gw_walk *walk = walk_of(&b);
    assert_or_explain(walk->verdict.status == GW_VERDICT_FAULT && !walk->verdict.exact, walk);
    assert_or_explain(walk->verdict.from == 0 && walk->verdict.to == 2, walk);
    assert_or_explain(find(&b, GW_FOUND_DISTORTION_ADDED, "U1") != NULL, walk);
    bench_close(&b);
}

static void flat_tops_of_a_square_are_its_shape(void **state) {
    (void)state;
    bench b;
    make_chain(&b);
    for (int i = 0; i < 3; i++)
        for (int k = 1; k <= ORDERS; k++) /* odd orders as 1/k */
            b.harmonics[i][k - 1].rms = k % 2 ? 0.9 / k : 0;
    /* too coarse a capture before it shows peaks that are none */
    b.readings[1].clues.codes = 20;
    b.harmonics[1][2].resolved = b.harmonics[1][4].resolved = b.harmonics[1][6].resolved = false;
    b.readings[2].clues.high = (gw_flat){.share = 0.25, .level_v = 1, .clipped = true};
    expect_clear(&b);
    bench_close(&b);
}

/* Order k of a saw that is cut at the share c of its peak either way (Fourier's integral of x/pi, held at ±c). */
static double cut_saw(int k, double c) {
    const double pi = 3.14159265358979323846;
    return 2 / pi * (sin(k * c * pi) / (pi * k * k) - c * (k % 2 ? -1 : 1) / k);
}

/* Half of a saw's peaks cut off: by the stage where they stay away, by the screen where the next point has them. */
static void peaks_that_come_back_were_cut_by_the_screen(void **state) {
    (void)state;
    for (int back = 0; back < 2; back++) {
        bench b;
        make_chain(&b);
        for (int i = 0; i < 3; i++) {
            double c = i == 1 || (i == 2 && !back) ? 0.5 : 1;
            for (int k = 1; k <= ORDERS; k++) {
                double peak = cut_saw(k, c) * sqrt(3);
                b.harmonics[i][k - 1].rms = fabs(peak) / sqrt(2);
                b.harmonics[i][k - 1].phase_rad = peak > 0 ? -1.5707963267948966 : 1.5707963267948966;
            }
            if (c < 1)
                b.readings[i].clues.high = b.readings[i].clues.low =
                    (gw_flat){.share = 0.25, .level_v = 0.87, .clipped = true};
        }
        walk_of(&b);
        assert_or_explain((find(&b, GW_FOUND_CLIPPED, "U1") != NULL) == !back, b.walk);
        assert_or_explain((find(&b, GW_FOUND_CAPTURE_POOR, "U1") != NULL) == back, b.walk);
        bench_close(&b);
    }
}

/* Peaks are held against the point before: at the first one, whatever stage leads to it, there are none to be missed.
 */
static void the_first_point_has_lost_no_peaks(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = periodic 1 kHz\n[instrument]\nreference = 1\n[point J1]\nstage = follower\n"
                   "[point A]\nstage = follower\n");
    make_saw(&b, "J1");
    make_saw(&b, "A");
    walk_of(&b);
    assert_or_explain(!find(&b, GW_FOUND_CLIPPED, "J1") && !find(&b, GW_FOUND_CLIPPED, "A"), b.walk);
    bench_close(&b);
}

static void no_passive_part_clips(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point J1]\n[point U1]\nstage = follower\n"
                   "[point C2]\nstage = coupling c=10u load=47k\n");
    put_sine(&b, "J1", 1, 0);
    put_sine(&b, "U1", 1, 0)->clues.codes = 14; /* too coarse to show it */
    gw_readings *r = put_sine(&b, "C2", 1, 0);
    r->clues.low = (gw_flat){.share = 0.2, .level_v = -1, .clipped = true};
    say(r, GW_THD, 0.1, 1e-3, 0);
    const gw_walk *walk = walk_of(&b);
    assert_or_explain(walk->verdict.status == GW_VERDICT_FAULT && !walk->verdict.exact, walk);
    assert_or_explain(walk->verdict.from == 0 && walk->verdict.to == 2, walk);
    assert_or_explain(walk->next_count > 0 && walk->next[0].point == 1, walk);
    bench_close(&b);
}

static void dc_of_a_stage_that_nothing_comes_out_of_is_no_bias(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 20 mV\n[point J1]\n[point U1]\nstage = inverting rf=33k rin=6k8\n"
                   "[point C2]\nstage = coupling c=10u load=47k\n");
    put_sine(&b, "J1", 0.02, 0);
    put_sine(&b, "U1", 0.097, 13.2);
    put_sine(&b, "C2", 0.097, 0);
    expect_clear(&b); /* half of a supply that nobody stated, as far as anyone can tell */
    put_silence(&b, "U1", 0.03, 13.2);
    put_silence(&b, "C2", 1e-4, 0);
    expect_fault(&b, GW_FOUND_DC_SHIFT, "J1", "U1");
    bench_close(&b);
}

static void a_verdict_on_nothing_expected_says_so(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz\n[point J1]\n[point A]\n[point B]\n");
    put_sine(&b, "J1", 1, 0);
    put_sine(&b, "A", 2, 0);
    put_sine(&b, "B", 1.5, 0);
    expect_verdict(&b, GW_VERDICT_CLEAR);
    assert_or_explain(strstr(b.walk->verdict.summary, "Nothing is expected"), b.walk);
    assert_or_explain(!strstr(b.walk->verdict.summary, "in order"), b.walk);
    bench_close(&b);
}

/* A limit of a rail's voltage or of its ripple alone is something to hold it against; a rail without either is none. */
static void a_rail_is_judged_by_either_limit(void **state) {
    (void)state;
    static const char *const limits[] = {"", "dc = 15 V ± 5 %", "ripple = < 5 mV", "dc = 15 V ± 5 %\nripple = < 5 mV"};
    for (size_t k = 0; k < sizeof limits / sizeof *limits; k++) {
        char text[200];
        bench b;
        snprintf(text, sizeof text, "[chain]\nstimulus = sine 1 kHz\n[point J1]\n[rail plus]\n%s\n", limits[k]);
        bench_open(&b, text);
        put_sine(&b, "J1", 1, 0);
        put_rail(&b, "plus", 15, 1e-3);
        expect_verdict(&b, GW_VERDICT_CLEAR);
        assert_or_explain(!strstr(b.walk->verdict.summary, "in order") == (k == 0), b.walk);
        assert_or_explain(!strstr(b.walk->verdict.summary, "Nothing is expected") == (k != 0), b.walk);
        bench_close(&b);
    }
}

static void a_slope_that_nobody_stated_is_no_fault(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = periodic 1 kHz\n[point J1]\n[point A]\n");
    make_saw(&b, "J1");
    make_saw(&b, "A");
    b.readings[0].source.rate_hz = b.readings[1].source.rate_hz = 250e3;
    for (int k = 1; k <= ORDERS; k++) /* an RC low-pass at 2 kHz */
        b.harmonics[1][k - 1].rms /= sqrt(1 + k * k / 4.0);
    const gw_walk *walk = walk_of(&b);
    assert_or_explain(walk->verdict.status == GW_VERDICT_UNSURE, walk);
    assert_non_null(find(&b, GW_FOUND_HIGHS_LOST, "A"));
    bench_close(&b);
}

static void a_clear_verdict_tells_what_was_stepped_over(void **state) {
    (void)state;
    bench b;
    bench_open(&b, saw);
    make_saw(&b, "J1");
    make_saw(&b, "C2");
    expect_verdict(&b, GW_VERDICT_CLEAR);
    assert_or_explain(strstr(b.walk->verdict.summary, "1 point is unprobed"), b.walk);
    bench_close(&b);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_a_fit_leaves_of_edges_is_no_crackle),
        cmocka_unit_test(edges_of_hardly_two_periods_are_no_crackle),
        cmocka_unit_test(what_folds_down_between_lines_is_no_noise),
        cmocka_unit_test(peaks_that_are_gone_were_cut),
        cmocka_unit_test(noise_that_a_lower_rate_folds_down_was_there),
        cmocka_unit_test(noise_that_may_be_the_captures_is_to_be_settled),
        cmocka_unit_test(a_coarse_capture_between_hides_no_fault),
        cmocka_unit_test(flat_tops_of_a_square_are_its_shape),
        cmocka_unit_test(peaks_that_come_back_were_cut_by_the_screen),
        cmocka_unit_test(the_first_point_has_lost_no_peaks),
        cmocka_unit_test(no_passive_part_clips),
        cmocka_unit_test(dc_of_a_stage_that_nothing_comes_out_of_is_no_bias),
        cmocka_unit_test(a_verdict_on_nothing_expected_says_so),
        cmocka_unit_test(a_rail_is_judged_by_either_limit),
        cmocka_unit_test(a_slope_that_nobody_stated_is_no_fault),
        cmocka_unit_test(a_clear_verdict_tells_what_was_stepped_over),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
