/* The first guess of what a record holds: the lines that were put in, with and without a word about what was fed in. */
#include "assert_close.h"
#include "measure/coarse.h"
#include "signals.h"

#include <stdio.h>

enum { N = 20000, LINES = 6 };
static const double rate_hz = 20e3; /* a second: cycles are hertz */

/* What a row expects: the fundamental and the second tone, in hertz; 0 none. */
typedef struct row {
    const char *what;
    double lines[LINES][2]; /* frequency, amplitude */
    gw_stimulus stimulus;
    double signal_hz, second_hz;
} row;

/* A line of many cycles is found to a third of a cycle, less its order; a period of few to 3 %. */
static double reach(double cycles) {
    return fmax(cycles < 12 ? 0.03 * cycles : 0.35, 1e-9);
}

static void judge(const row *r) {
    double *volts = new_volts(N);
    uint64_t seed = 5;
    gw_coarse out;
    add_noise(volts, N, 1e-5, &seed);
    for (int k = 0; k < LINES; k++)
        add_sine(volts, N, rate_hz, r->lines[k][1], r->lines[k][0], 0.7 + 1.9 * k);
    gw_block block = {.volts = volts, .count = N, .rate_hz = rate_hz};
    assert_true(gw_coarse_find(&block, &r->stimulus, 0, &out));
    print_message("%s\n", r->what);
    assert_close(out.signal * rate_hz, r->signal_hz, reach(r->signal_hz));
    assert_close(out.second * rate_hz, r->second_hz, reach(r->second_hz));
    free(volts);
}

static void judge_all(const row *rows, size_t count) {
    for (size_t i = 0; i < count; i++)
        judge(&rows[i]);
}

#define UNKNOWN                                                                                                        \
    { .shape = GW_SHAPE_UNKNOWN }
#define SINE(hz)                                                                                                       \
    { .shape = GW_SHAPE_SINE, .frequency_hz = (hz) }
#define TWO(low, high)                                                                                                 \
    { .shape = GW_SHAPE_TWO_TONE, .frequency_hz = (low), .second_hz = (high) }

static void one_tone(void **state) {
    (void)state;
    static const row rows[] = {
        {"a sine", {{440.3, 1}}, UNKNOWN, 440.3, 0},
        {"one that was stated a per cent away", {{440.3, 1}}, SINE(444), 440.3, 0},
        {"the stated one under a stranger", {{440.3, 0.3}, {1033.7, 1}}, SINE(440), 440.3, 0},
        {"a stranger at a thousandth of a thousandth is not it", {{440.3, 1e-4}, {1033.7, 1}}, SINE(440), 1033.7, 0},
        /* a comb of half the pitch would hold no other line up to the seventh */
        {"one line at three and a half times a sine", {{440.3, 1}, {1541.05, 0.05}}, UNKNOWN, 440.3, 0},
        {"the second harmonic leads", {{440.3, 0.3}, {880.6, 1}, {1320.9, 0.2}}, UNKNOWN, 440.3, 0},
        {"a stranger that a low comb would take in", {{40, 1}, {47, 0.05}}, UNKNOWN, 40, 0},
        {"weak lines are no ground for another", {{404, 1}, {606, 5e-4}, {1010, 4e-4}}, UNKNOWN, 404, 0},
        {"one that swells", {{997, 1}, {991.3, 0.3}, {1002.7, 0.3}}, UNKNOWN, 997, 0},
        {"no fundamental at all", {{220, 1}, {330, 1}, {550, 0.8}, {770, 0.5}}, UNKNOWN, 110, 0},
    };
    judge_all(rows, sizeof rows / sizeof *rows);
}

/* The grid strays by 200 mHz (ENTSO-E), its third order by three times as much. */
static void hum_is_no_signal(void **state) {
    (void)state;
    static const row rows[] = {
        {"hum above the signal", {{50, 1}, {440.3, 0.5}}, UNKNOWN, 440.3, 0},
        {"of a rectifier, on a grid astray", {{50.2, 0.2}, {150.6, 1}, {440.3, 0.5}}, UNKNOWN, 440.3, 0},
        {"of 60 Hz beside twice 50 Hz", {{100, 1}, {60, 0.1}, {120, 0.03}}, UNKNOWN, 100, 0},
        {"of 50 Hz beside three times 60 Hz", {{180, 1}, {50, 0.1}, {100, 0.03}}, UNKNOWN, 180, 0},
        {"60 Hz", {{60, 1}, {120, 0.4}, {997, 0.5}}, UNKNOWN, 997, 0},
        {"ripple of a full-wave rectifier", {{120, 0.3}, {240, 0.15}, {360, 0.09}, {3111, 1}}, UNKNOWN, 3111, 0},
        {"stated to be the signal", {{50, 1}, {440.3, 0.5}}, SINE(50), 50, 0},
        {"nothing else is there", {{50, 1}, {100, 0.3}}, UNKNOWN, 50, 0},
    };
    judge_all(rows, sizeof rows / sizeof *rows);
}

static void two_tones(void **state) {
    (void)state;
    static const row rows[] = {
        {"stated", {{400, 0.8}, {1000, 0.2}}, TWO(400, 1000), 400, 1000},
        {"stated, the upper one leads", {{400, 0.2}, {1000, 0.8}}, TWO(400, 1000), 400, 1000},
        {"stated as a kind only", {{413, 0.8}, {1030, 0.3}}, TWO(0, 0), 413, 1030},
        {"stated as a kind only, an octave apart", {{400, 0.8}, {800, 0.3}}, TWO(0, 0), 400, 800},
        {"one on a high multiple of weaker hum", {{50, 0.05}, {200, 0.4}, {3111, 0.8}}, UNKNOWN, 200, 3111},
        {"nobody said so", {{413, 0.8}, {1030.7, 0.4}}, UNKNOWN, 413, 1030.7},
        /* 2 · 20 kHz + 7.5 kHz is six times the other */
        {"where one is a high order of the other, folded", {{7916.7, 1}, {7500, 0.98}}, UNKNOWN, 7500, 7916.7},
        {"on the mains", {{60, 0.8}, {7000, 0.2}}, TWO(0, 0), 60, 7000},
        {"an octave apart is one tone and its harmonic", {{400, 0.8}, {800, 0.3}}, UNKNOWN, 400, 0},
        {"one sine was stated", {{400, 0.8}, {1033, 0.4}}, SINE(400), 400, 0},
    };
    judge_all(rows, sizeof rows / sizeof *rows);
}

static void few_cycles(void **state) {
    (void)state;
    static const row rows[] = {
        {"of a sine", {{2.3, 1}}, UNKNOWN, 2.3, 0},
        {"of a stated sine", {{3.2, 1}}, SINE(3.3), 3.2, 0},
        {"of a stated sine under a faster one", {{1.6, 0.5}, {140.3, 1}}, SINE(1.6), 1.6, 0},
        {"of less than two", {{1.3, 1}}, UNKNOWN, 1.3, 0},
        {"of less than one", {{0.8, 1}}, UNKNOWN, 0.8, 0},
        {"with a harmonic", {{5.4, 1}, {10.8, 0.4}}, UNKNOWN, 5.4, 0},
        /* the fast one is not looked for, but it is there all the same */
        {"of the slower of two stated tones", {{3.2, 1}, {803.3, 0.25}}, TWO(3.2, 803.3), 3.2, 803.3},
    };
    judge_all(rows, sizeof rows / sizeof *rows);
}

static void nothing(void **state) {
    (void)state;
    static const double silence[256] = {0};
    gw_block block = {.volts = silence, .count = 256, .rate_hz = rate_hz};
    gw_stimulus stimulus = {.shape = GW_SHAPE_UNKNOWN};
    gw_coarse out;
    assert_true(gw_coarse_find(&block, &stimulus, 0, &out));
    assert_close(out.signal, 0, 0);
    assert_close(out.second, 0, 0);
}

/* Of whole cycles or not, a sine is one line: the window's side lobes, 31 dB under it, are none (Harris 1978). */
static void a_sine_is_one_line(void **state) {
    (void)state;
    static const double places[] = {60, 60.1, 60.25, 60.5, 997, 5000.3};
    for (size_t i = 0; i < sizeof places / sizeof *places; i++) {
        double *volts = new_volts(N);
        uint64_t seed = 6;
        gw_peaks peaks;
        add_noise(volts, N, 1e-5, &seed);
        add_sine(volts, N, rate_hz, 1, places[i], 0.7);
        assert_true(gw_peaks_find(NULL, volts, NULL, N, rate_hz, &peaks));
        assert_true(peaks.count >= 1);
        assert_close(peaks.items[0].cycles, places[i], 0.02);
        assert_close(peaks.items[0].rms, sqrt(0.5), 0.02);
        if (peaks.count > 1)
            assert_close(peaks.items[1].rms, 0, 1e-3);
        free(volts);
    }
}

/* Noise of a limited band, to the end of the 14th stretch of 64 lines, hides nothing beyond it: lines there stand above
 * what is noise around them, the first stretch included; and none of the noise is a line (one record in ten thousand
 * has one). */
static void the_floor_is_that_of_the_neighbourhood(void **state) {
    (void)state;
    enum { LAST = 893, FIRST = 960, APART = 40, ALONE = 20 };
    double *volts = new_volts(N);
    uint64_t seed = 8;
    gw_peaks peaks;
    bool seen[ALONE] = {false};
    for (int k = 1; k <= LAST; k++)
        add_sine(volts, N, N, 0.02 * sqrt(-log(1 - random_even(&seed))), k, 7 * random_even(&seed));
    for (int k = 0; k < ALONE; k++)
        add_sine(volts, N, N, 0.02, FIRST + k * APART, 7 * random_even(&seed));
    add_noise(volts, N, 1e-4, &seed);
    assert_true(gw_peaks_find(NULL, volts, NULL, N, N, &peaks));
    for (size_t i = 0; i < peaks.count; i++) {
        if (peaks.items[i].rms < 1e-3)
            continue; /* what the window lets through of the noise's edge */
        int line = (int)round((peaks.items[i].cycles - FIRST) / APART);
        assert_in_range(line, 0, ALONE - 1);
        assert_close(peaks.items[i].cycles, FIRST + line * APART, 0.1);
        seen[line] = true;
    }
    for (int k = 0; k < ALONE; k++)
        assert_true(seen[k]);
    free(volts);
}

/* A record of few cycles: a sine, a slope under it, harmonics, edges, slow noise. */
static void fill_few(double *volts, size_t n, int kind, double cycles) {
    uint64_t seed = 40 + (uint64_t)kind;
    add_noise(volts, n, 1e-3, &seed);
    add_sine(volts, n, (double)n, 1, cycles, 0.4);
    for (size_t i = 0; i < n; i++) {
        double slope = kind == 1 || kind == 3 ? 0.3 * (double)i / (double)n : 0;
        volts[i] = kind == 4 ? (volts[i] > 0.2 ? 1 : -1) + 1e-3 * volts[i] : volts[i] + slope;
    }
    for (int order = 2; order <= 5 && (kind == 2 || kind == 3); order++)
        add_sine(volts, n, (double)n, 0.4 / order, order * cycles, 1.1 * order);
    for (size_t i = 1; i < n && kind == 5; i++)
        volts[i] = 0.98 * volts[i - 1] + 0.3 * volts[i];
}

/* The search by even and odd parts, and the plain one, which records with marks get: marks of which none says anything
 * must change nothing. */
static void parts_find_what_the_whole_does(void **state) {
    (void)state;
    static const size_t lengths[] = {40, 255, 600, 1027, 2500, 2503, N};
    static const double cycles[] = {1.3, 2.5, 4.07, 8.9};
    static unsigned char marks[N];
    for (size_t l = 0; l < sizeof lengths / sizeof *lengths; l++)
        for (int kind = 0; kind <= 5; kind++)
            for (size_t c = 0; c < sizeof cycles / sizeof *cycles; c++) {
                double *volts = new_volts(lengths[l]);
                gw_coarse parts, whole;
                fill_few(volts, lengths[l], kind, cycles[c]);
                gw_block block = {.volts = volts, .count = lengths[l], .rate_hz = 50.0 * (double)lengths[l] / 1.7};
                assert_true(gw_search_few(&block, 50, 0.5, 13, &parts));
                block.marks = marks;
                assert_true(gw_search_few(&block, 50, 0.5, 13, &whole));
                assert_close(parts.signal, whole.signal, 1e-6 * whole.signal);
                assert_int_equal(parts.order, whole.order);
                assert_int_equal(parts.repeats, whole.repeats);
                if (kind <= 1 && lengths[l] >= 600 && c > 0) /* what was put in: a slope is no part of it */
                    assert_close(parts.signal * (double)lengths[l], cycles[c], 0.002 * cycles[c]);
                free(volts);
            }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_tone),
        cmocka_unit_test(hum_is_no_signal),
        cmocka_unit_test(two_tones),
        cmocka_unit_test(few_cycles),
        cmocka_unit_test(nothing),
        cmocka_unit_test(a_sine_is_one_line),
        cmocka_unit_test(the_floor_is_that_of_the_neighbourhood),
        cmocka_unit_test(parts_find_what_the_whole_does),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
