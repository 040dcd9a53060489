/* Gain against frequency of noise through a filter that is known in closed form; what two points' responses make. */
#include "assert_close.h"
#include "captured.h"
#include "measure/response.h"
#include "signals.h"

#include <string.h>

enum { N = 1 << 17 };
static const unsigned rate_hz = 48000;

/* The mean of a sample and the one before it: |H| = cos(pi f / rate). */
static double mean_of_two(double frequency_hz) {
    return cos(two_pi / 2 * frequency_hz / rate_hz);
}

static gw_response *response_of(const gw_capture *stimulus, const gw_capture *capture, size_t to) {
    gw_response *made = NULL;
    gw_error error = {0};
    assert_true(gw_response_run(stimulus, 0, capture, to, &made, &error));
    return made;
}

static double *noise(uint64_t seed) {
    double *x = new_volts(N);
    add_noise(x, N, 0.1, &seed);
    return x;
}

static double *filtered(const double *x) {
    double *y = new_volts(N);
    for (size_t i = 0; i < N; i++)
        y[i] = 0.5 * (x[i] + (i > 0 ? x[i - 1] : 0));
    return y;
}

static void a_filter_in_closed_form(void **state) {
    (void)state;
    double *x = noise(1), *y = filtered(x);
    gw_capture *both = capture_of(x, y, N, rate_hz);
    gw_response *r = response_of(both, both, 1);
    assert_true(r->count > 100); /* twelve lines an octave, eleven octaves */
    for (size_t i = 0; i < r->count; i++) {
        const gw_response_line *line = &r->lines[i];
        if (line->frequency_hz < 100 || line->frequency_hz > 20e3) /* of few bins, or steep within a band */
            continue;
        assert_close(line->gain / mean_of_two(line->frequency_hz), 1, 0.02);
        assert_true(line->coherence > 0.98 && line->coherence <= 1);
    }
    double half_power_hz = rate_hz / (two_pi / 2) * acos(mean_of_two(1000) * sqrt(0.5));
    assert_close(r->middle_hz, 1000, 0);
    assert_close(r->middle_gain, mean_of_two(1000), 0.01);
    assert_close(r->high_hz, half_power_hz, 0.02 * half_power_hz);
    assert_close(r->low_hz, 0, 0);
    gw_response_free(r);
    gw_capture_free(both);
    free(x), free(y);
}

/* Of 16 independent outputs with noise not far below the signal the gains scatter as u95 says. */
static void uncertainty_is_the_scatter(void **state) {
    (void)state;
    enum { RUNS = 16 };
    double *x = noise(2), squares = 0, stated = 0, count = 0;
    for (uint64_t k = 0; k < RUNS; k++) {
        double *y = filtered(x);
        uint64_t seed = 100 + k;
        add_noise(y, N, 0.055, &seed);
        gw_capture *both = capture_of(x, y, N, rate_hz);
        gw_response *r = response_of(both, both, 1);
        for (size_t i = 0; i < r->count; i++) {
            const gw_response_line *line = &r->lines[i];
            if (line->frequency_hz < 200 || line->frequency_hz > 8e3)
                continue;
            double off = line->gain / mean_of_two(line->frequency_hz) - 1;
            squares += off * off, stated += line->u95 * line->u95 / 4, count++;
        }
        gw_response_free(r);
        gw_capture_free(both);
        free(y);
    }
    assert_true(count > 50 * RUNS);
    assert_close(sqrt(squares / stated), 1, 0.15);
    free(x);
}

/* A recording that began later or earlier: the delay is told, and the gains are none the worse for it. */
static void a_delay_is_taken_out(void **state) {
    (void)state;
    static const int delays[] = {1234, -777, 0};
    double *x = noise(3), *y = filtered(x);
    gw_capture *fed = capture_of(x, x, N, rate_hz);
    for (size_t k = 0; k < 3; k++) {
        double *late = new_volts(N);
        for (int i = 0; i < N; i++)
            late[i] = i - delays[k] >= 0 && i - delays[k] < N ? -0.5 * y[i - delays[k]] : 0;
        gw_capture *recorded = capture_of(late, late, N, rate_hz);
        gw_response *r = response_of(fed, recorded, 1);
        assert_close(r->delay_s * rate_hz, delays[k] + 0.5, 0.51); /* the filter itself delays by half a sample */
        assert_close(r->middle_gain, 0.5 * mean_of_two(1000), 0.02);
        for (size_t i = 0; i < r->count; i++)
            if (r->lines[i].frequency_hz > 200 && r->lines[i].frequency_hz < 10e3)
                assert_close(r->lines[i].gain / mean_of_two(r->lines[i].frequency_hz), 0.5, 0.03);
        gw_response_free(r);
        gw_capture_free(recorded);
        free(late);
    }
    gw_capture_free(fed);
    free(x), free(y);
}

/* What was fed in counts while it lasts, without the DC that it sits on. */
static void the_stimulus_counts_while_it_lasts(void **state) {
    (void)state;
    double *x = new_volts(N);
    uint64_t seed = 4;
    for (size_t i = 0; i < N; i++)
        x[i] = 0.3 + (i >= N / 4 && i < N / 2 ? (random_even(&seed) < 0.5 ? -0.2 : 0.2) : 0);
    gw_capture *both = capture_of(x, x, N, rate_hz);
    gw_response *r = response_of(both, both, 1);
    assert_close(r->stimulus_rms, 0.2, 0.001);
    gw_response_free(r);
    gw_capture_free(both);
    free(x);
}

/* What has nothing to do with the stimulus has no response. */
static void strangers_have_none(void **state) {
    (void)state;
    double *x = noise(5), *y = noise(6);
    gw_capture *both = capture_of(x, y, N, rate_hz);
    gw_response *r = response_of(both, both, 1);
    assert_int_equal(r->count, 0);
    assert_close(r->stimulus_rms, 0, 0);
    gw_response_free(r);
    gw_capture_free(both);
    free(x), free(y);
}

/* Nor have records of a moment, of DC, of a step, of a line, of noise that is another each time: half a second of each,
 * where the lowest bands hold a bin or two. */
static void few_bins_tell_nothing(void **state) {
    (void)state;
    enum { SHORT = 24000, KINDS = 12 };
    double *x = new_volts(SHORT);
    uint64_t seed = 7;
    add_noise(x, SHORT, 0.1, &seed);
    for (int kind = 0; kind < KINDS; kind++) {
        double *y = new_volts(SHORT);
        for (size_t i = 0; i < SHORT; i++)
            y[i] = kind == 0   ? i == 0
                   : kind == 1 ? 0.3
                   : kind == 2 ? i >= SHORT / 2
                   : kind == 3 ? sin(two_pi * 50 * (double)i / rate_hz)
                               : 0;
        seed = 100 + (uint64_t)kind;
        if (kind > 3)
            add_noise(y, SHORT, 0.1, &seed);
        gw_capture *fed = capture_of(x, x, SHORT, rate_hz), *recorded = capture_of(y, y, SHORT, rate_hz);
        gw_response *r = response_of(fed, recorded, 1);
        assert_int_equal(r->count, 0);
        gw_response_free(r);
        gw_capture_free(fed), gw_capture_free(recorded);
        free(y);
    }
    free(x);
}

/* DC as at an anode beside a small signal changes no gain: the response is that of the same record without it. */
static void dc_beside_changes_nothing(void **state) {
    (void)state;
    double *x = noise(8), *y = filtered(x), *shifted = new_volts(N);
    for (size_t i = 0; i < N; i++)
        shifted[i] = y[i] + 100;
    gw_capture *both = capture_of(x, y, N, rate_hz), *high = capture_of(x, shifted, N, rate_hz);
    gw_response *plain = response_of(both, both, 1), *r = response_of(high, high, 1);
    assert_true(r->count > 80);
    assert_int_equal(r->count, plain->count);
    for (size_t i = 0; i < r->count; i++)
        assert_close(r->lines[i].gain, plain->lines[i].gain, 1e-4);
    gw_response_free(plain), gw_response_free(r);
    gw_capture_free(both), gw_capture_free(high);
    free(x), free(y), free(shifted);
}

static gw_response *of_lines(const gw_response_line *lines, size_t count, double delay_s) {
    gw_response *made = gw_response_new(count);
    assert_non_null(made);
    memcpy(made->lines, lines, count * sizeof *lines);
    made->count = count;
    made->delay_s = delay_s;
    made->stimulus_rms = 0.25;
    gw_response_finish(made);
    return made;
}

/* From one point to the next: gains divide, shares of uncertainty add as squares, delays subtract; lines that only one
 * of them has fall out. */
static void between_two_points(void **state) {
    (void)state;
    static const gw_response_line before[] = {{100, 2, 0.9, 0.03},
                                              {1000, 4, 0.99, 0.03},
                                              {2000, 4, 0.99, 0.03},
                                              {9000, 1, 1, 0}},
                                  behind[] = {
                                      {50, 1, 1, 0}, {100, 1, 0.99, 0.04}, {1000, 8, 0.8, 0.04}, {9000, 3, 1, 0.01}};
    gw_response *from = of_lines(before, 4, 1e-3), *to = of_lines(behind, 4, 3e-3), *made = NULL;
    gw_error error = {0};
    assert_true(gw_response_between(from, to, &made, &error));
    assert_int_equal(made->count, 3);
    static const double hz[] = {100, 1000, 9000}, gain[] = {0.5, 2, 3}, coherence[] = {0.9, 0.8, 1},
                        u95[] = {0.05, 0.05, 0.01};
    for (size_t i = 0; i < 3; i++) {
        assert_close(made->lines[i].frequency_hz, hz[i], 0);
        assert_close(made->lines[i].gain, gain[i], 1e-12);
        assert_close(made->lines[i].coherence, coherence[i], 0);
        assert_close(made->lines[i].u95, u95[i], 1e-12);
    }
    assert_close(made->delay_s, 2e-3, 1e-12);
    assert_close(made->middle_gain, 2, 1e-12);
    gw_response_free(made);
    /* two lines are enough, with one left there is nothing to tell */
    to->count = 3;
    assert_true(gw_response_between(from, to, &made, &error));
    assert_int_equal(made->count, 2);
    gw_response_free(made);
    to->count = 2;
    assert_true(gw_response_between(from, to, &made, &error));
    assert_int_equal(made->count, 0);
    gw_response_free(made);
    gw_response_free(from);
    gw_response_free(to);
}

/* The level is gain times what was fed in; its u95 that of the gain beside the instrument's, as squares (JCGM 100).
 * Without a sweep in it, at most what is there at all. */
static void readings_of_a_response(void **state) {
    (void)state;
    gw_response_line line = {.frequency_hz = 1000, .gain = 0.5, .coherence = 1, .u95 = 0.04};
    gw_response found = {.lines = &line, .count = 1, .middle_hz = 1000, .middle_gain = 0.5, .stimulus_rms = 0.8};
    gw_readings r = {.signal = GW_SIGNAL_NOISE};
    gw_reading *level = &r.values[GW_LEVEL], *all = &r.values[GW_AC_RMS];
    *all = (gw_reading){.state = GW_READING_VALUE, .value = 0.4, .u_scale = 0.006, .u95 = 0.012};
    gw_readings_take_response(&r, &found);
    assert_int_equal(r.signal, GW_SIGNAL_SWEEP);
    assert_close(level->value, 0.4, 1e-12);
    assert_close(level->u95, 0.4 * hypot(0.04, 2 * 0.015), 1e-12);
    found.count = 0;
    *all = (gw_reading){.state = GW_READING_VALUE, .value = 0.4, .u_scale = 0.006, .u95 = 0.012};
    gw_readings_take_response(&r, &found);
    assert_int_equal(level->state, GW_READING_BELOW);
    assert_close(level->value, 0.412, 1e-12);
    *all = (gw_reading){.state = GW_READING_NONE, .why = "no samples"};
    gw_readings_take_response(&r, &found);
    assert_int_equal(level->state, GW_READING_NONE);
    assert_string_equal(level->why, "no samples");
}

/* Either capture may be the one that is too long. */
static void too_long_is_refused(void **state) {
    (void)state;
    double *x = noise(5);
    gw_capture *both = capture_of(x, x, N, rate_hz);
    for (int which = 0; which < 2; which++) {
        gw_capture longer = *both;
        gw_response *made = NULL;
        gw_error error = {0};
        char text[200];
        longer.samples = (UINT64_C(1) << 23) + 1;
        assert_false(gw_response_run(which ? &longer : both, 0, which ? both : &longer, 1, &made, &error));
        assert_null(made);
        assert_non_null(strstr(gw_error_print(&error, text, sizeof text), "too long"));
    }
    gw_capture_free(both);
    free(x);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_filter_in_closed_form),   cmocka_unit_test(uncertainty_is_the_scatter),
        cmocka_unit_test(a_delay_is_taken_out),      cmocka_unit_test(the_stimulus_counts_while_it_lasts),
        cmocka_unit_test(strangers_have_none),       cmocka_unit_test(few_bins_tell_nothing),
        cmocka_unit_test(dc_beside_changes_nothing), cmocka_unit_test(between_two_points),
        cmocka_unit_test(readings_of_a_response),    cmocka_unit_test(too_long_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
