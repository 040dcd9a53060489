/* Clipping: share and level against the closed form of a cut sine, its THD by the published table, and no clipping
 * where tops are flat or round by nature. */
#include "assert_close.h"
#include "measure/flats.h"
#include "signals.h"

#include "gainwalk/capture.h"

#include <string.h>

static const double pi = 3.14159265358979323846;

static void cut(double *x, size_t n, double low, double high) {
    for (size_t i = 0; i < n; i++)
        x[i] = fmin(fmax(x[i], low), high);
}

/* THD (all orders, relative to the fundamental) of a sine cut at c on both sides, in closed form: a = asin c, b1 =
 * (2/pi) (a + c sqrt(1 - c^2)), mean square [a - c sqrt(1 - c^2) + 2 c^2 (pi/2 - a)]/pi. */
static double thd_of_cut(double c) {
    double a = asin(c), root = c * sqrt(1 - c * c), b1 = 2 / pi * (a + root);
    double square = (a - root + 2 * c * c * (pi / 2 - a)) / pi;
    return sqrt(2 * square / (b1 * b1) - 1);
}

static void share_of_a_cut_sine(void **state) {
    (void)state;
    /* level over peak, THD of the symmetric cut in per cent (all orders): Fourier series, computed elsewhere */
    static const double table[][2] = {{0.99, 0.28618},    {0.95, 1.92401}, {0.9, 4.21993},  {0.8, 8.97858},
                                      {0.7071, 13.41957}, {0.5, 23.29381}, {0.25, 35.42802}};
    enum { N = 50000 };
    double *x = new_volts(N);
    for (size_t t = 0; t < sizeof table / sizeof *table; t++) {
        double c = table[t][0];
        memset(x, 0, N * sizeof *x);
        add_sine(x, N, N, 2, 23.3, 0.4);
        for (size_t i = 0; i < N; i++)
            x[i] += 0.3;
        cut(x, N, 0.3 - 2 * c, 0.3 + 2 * c);
        gw_flats_input in = {.volts = x, .n = N, .rate_hz = N, .frequency_hz = 23.3, .sine = true};
        gw_flat high, low;
        assert_true(gw_flats_find(&in, &high, &low));
        assert_true(high.clipped && low.clipped && !high.recorder && !low.recorder);
        assert_close(high.level_v, 0.3 + 2 * c, 1e-6);
        assert_close(low.level_v, 0.3 - 2 * c, 1e-6);
        assert_close(high.share, acos(c) / pi, 0.01); /* 23.3 cycles are no whole number of crests */
        assert_close(low.share, acos(c) / pi, 0.01);
        double both = cos(pi * (high.share + low.share) / 2);
        assert_close(100 * thd_of_cut(c), table[t][1], 6e-6 + 0.001 * table[t][1]); /* the closed form is the table's */
        assert_close(100 * thd_of_cut(both), table[t][1], 0.05 + 0.03 * table[t][1]);
    }
    free(x);
}

/* Clipping is a matter of shape: the same at millivolts and at hundreds of volts. */
static void cut_at_any_level(void **state) {
    (void)state;
    enum { N = 5000 };
    double *x = new_volts(N);
    for (double peak = 1e-3; peak < 1e3; peak *= 10)
        for (int cuts = 0; cuts < 2; cuts++) {
            memset(x, 0, N * sizeof *x);
            add_sine(x, N, N, peak, 23.3, 0.4);
            if (cuts)
                cut(x, N, -0.8 * peak, 0.8 * peak);
            gw_flats_input in = {.volts = x, .n = N, .rate_hz = N, .frequency_hz = 23.3, .sine = true};
            gw_flat high, low;
            assert_true(gw_flats_find(&in, &high, &low));
            assert_int_equal(high.clipped, cuts);
            assert_int_equal(low.clipped, cuts);
            if (cuts)
                assert_close(high.level_v / peak, 0.8, 1e-6);
        }
    free(x);
}

/* What goes from one of two levels to the other at moments of chance, as fast as a slew rate lets it, has flat tops by
 * nature: without a period only the converter's end can have cut them. */
static void telegraph_is_flat_by_nature(void **state) {
    (void)state;
    enum { N = 6000 };
    static const double ends[] = {0, 1, 0.6}, slews[] = {0.06, 0.015, 0.008};
    double *x = new_volts(N);
    for (int t = 0; t < 9; t++) {
        uint64_t seed = 78 + (uint64_t)t;
        double level = 0.5, slew = slews[t / 3];
        for (size_t i = 1; i < N; i++) {
            level = random_even(&seed) < 1.0 / 60 ? -level : level;
            x[i] = x[i - 1] + fmax(-slew, fmin(slew, level - x[i - 1]));
        }
        for (size_t k = 0; k < sizeof ends / sizeof *ends; k++) {
            gw_flats_input in = {
                .volts = x, .n = N, .rate_hz = N, .step = 1e-3, .low_end = -ends[k], .high_end = ends[k]};
            gw_flat high, low;
            assert_true(gw_flats_find(&in, &high, &low));
            assert_false(high.clipped || low.clipped);
        }
    }
    free(x);
}

static void one_side_only(void **state) {
    (void)state;
    enum { N = 5000 };
    static const double levels[] = {0.9, 0.5, 0.0};
    for (int side = 0; side < 2; side++)
        for (size_t t = 0; t < 3; t++) {
            double x[N] = {0}, c = levels[t];
            add_sine(x, N, N, 1, 10.7, 1);
            cut(x, N, side ? -c : -2, side ? 2 : c);
            gw_flats_input in = {.volts = x, .n = N, .rate_hz = N, .frequency_hz = 10.7, .sine = true};
            gw_flat high, low;
            assert_true(gw_flats_find(&in, &high, &low));
            assert_true(high.clipped == !side && low.clipped == (side == 1));
            assert_close(side ? low.share : high.share, acos(c) / pi, 0.02);
            assert_close(side ? low.level_v : high.level_v, side ? -c : c, 1e-6);
            assert_close(side ? high.share : low.share, 0, 0);
        }
}

/* What cuts a sine cuts it at every crest: a pulse of five samples with a flat top that rides on one crest of many is a
 * click, and the sine under it is whole. */
static void a_flat_pulse_on_one_crest_is_no_clipping(void **state) {
    (void)state;
    enum { N = 5000, CYCLES = 20, LENGTH = 5 };
    for (int side = 0; side < 2; side++) {
        double x[N] = {0}, sign = side ? -1 : 1;
        add_sine(x, N, N, sign, CYCLES, 0);
        size_t crest = N / CYCLES * 7 + N / CYCLES / 4; /* a quarter of a period into one of them */
        for (size_t i = crest - LENGTH / 2; i <= crest + LENGTH / 2; i++)
            x[i] = 1.3 * sign;
        gw_flats_input in = {.volts = x, .n = N, .rate_hz = N, .frequency_hz = CYCLES, .sine = true};
        gw_flat high, low;
        assert_true(gw_flats_find(&in, &high, &low));
        assert_false(high.clipped || low.clipped);
        assert_close(high.share + low.share, 0, 0);
    }
}

/* A capture as a scope makes it: about `codes` codes peak to peak, noise in steps. */
static void scope(double *x, size_t n, double codes, double noise, double peak, uint64_t *seed) {
    double step = 2 * peak / codes;
    add_noise(x, n, noise * step, seed);
    quantise(x, n, step);
}

static void clean_sines_are_never_clipped(void **state) {
    (void)state;
    uint64_t seed = 71;
    int alarms = 0;
    for (int t = 0; t < 2000; t++) {
        size_t n = 500 + (size_t)(2000 * random_even(&seed));
        double x[2500] = {0}, codes = 4 + 246 * random_even(&seed),
               cycles = 1.5 + (t % 2 ? 8 : 150) * random_even(&seed);
        double offset = random_even(&seed) - 0.5, noise = t % 3 ? 2 * random_even(&seed) : 0;
        add_sine(x, n, (double)n, 1, cycles, 7 * random_even(&seed));
        for (size_t i = 0; i < n; i++)
            x[i] += offset;
        scope(x, n, codes, noise, 1, &seed);
        double step = 2 / codes, sigma = step * sqrt(noise * noise + 1.0 / 12);
        gw_flats_input in = {.volts = x,
                             .n = n,
                             .rate_hz = (double)n,
                             .step = step,
                             .frequency_hz = cycles,
                             .noise_v = sigma,
                             .sine = true};
        gw_flat high, low;
        assert_true(gw_flats_find(&in, &high, &low));
        alarms += high.clipped || low.clipped;
        in.sine = false; /* nor when taken for any periodic signal */
        assert_true(gw_flats_find(&in, &high, &low));
        alarms += high.clipped || low.clipped;
    }
    print_message("clipping in clean sines: %d of 4000\n", alarms);
    assert_int_equal(alarms, 0);
}

static void clipping_is_seen_in_scope_captures(void **state) {
    (void)state;
    uint64_t seed = 72;
    static const double levels[] = {0.97, 0.95, 0.9, 0.8, 0.5};
    for (size_t l = 0; l < 5; l++) {
        int seen = 0;
        double share = 0;
        for (int t = 0; t < 100; t++) {
            enum { N = 2500 };
            double x[N] = {0}, c = levels[l], cycles = 2.3 + 20 * random_even(&seed);
            add_sine(x, N, N, 1, cycles, 7 * random_even(&seed));
            cut(x, N, -c, c);
            scope(x, N, 160, 0.7, c, &seed);
            gw_flats_input in = {.volts = x,
                                 .n = N,
                                 .rate_hz = N,
                                 .step = 2 * c / 160,
                                 .frequency_hz = cycles,
                                 .noise_v = 2 * c / 160 * 0.76,
                                 .sine = true};
            gw_flat high, low;
            assert_true(gw_flats_find(&in, &high, &low));
            seen += high.clipped && low.clipped;
            share += (high.share + low.share) / 200;
        }
        print_message("cut at %g, 160 codes, noise 0.7 codes: seen %d of 100, share %.3f, closed form %.3f\n",
                      levels[l], seen, share, acos(levels[l]) / pi);
        assert_in_range(seen, levels[l] > 0.96 ? 80 : 98, 100);
        if (levels[l] < 0.96)
            assert_close(share, acos(levels[l]) / pi, 0.02);
    }
}

static void noise_on_a_clipped_top_is_tolerated(void **state) {
    (void)state;
    enum { N = 5000 };
    uint64_t seed = 73;
    double x[N] = {0};
    add_sine(x, N, N, 1, 12.7, 0);
    cut(x, N, -0.7, 0.7);
    add_noise(x, N, 0.05, &seed); /* 23 dB below */
    gw_flats_input in = {.volts = x, .n = N, .rate_hz = N, .frequency_hz = 12.7, .noise_v = 0.05, .sine = true};
    gw_flat high, low;
    assert_true(gw_flats_find(&in, &high, &low));
    assert_true(high.clipped && low.clipped);
    assert_close(high.share, acos(0.7) / pi, 0.03);
    assert_close(high.level_v, 0.7, 0.01);
}

static void bent_is_not_cut(void **state) {
    (void)state;
    enum { N = 5000 };
    uint64_t seed = 74;
    for (int t = 0; t < 60; t++) {
        double x[N] = {0}, cycles = 2.3 + 10 * random_even(&seed);
        for (size_t i = 0; i < N; i++) {
            double s = sin(two_pi * cycles * (double)i / N);
            switch (t % 4) {
            case 0: /* soft: 2.5 % third harmonic */
                x[i] = s - 0.1 * s * s * s;
                break;
            case 1: /* a valve's second harmonic */
                x[i] = s + 0.05 * s * s;
                break;
            case 2:
                x[i] = tanh(1.0 * s);
                break;
            default: /* crossover */
                x[i] = s - fmin(fmax(s, -0.1), 0.1);
            }
        }
        scope(x, N, 200, 0.5, 1, &seed);
        gw_flats_input in = {
            .volts = x, .n = N, .rate_hz = N, .step = 0.01, .frequency_hz = cycles, .noise_v = 0.006, .sine = true};
        gw_flat high, low;
        assert_true(gw_flats_find(&in, &high, &low));
        assert_false(high.clipped || low.clipped);
    }
}

enum shape { SQUARE, PULSE, TRIANGLE, SAW, STAIRS, ROUNDED_SQUARE, HELD, SHAPES };

static double shape_at(enum shape shape, double phase) {
    double part = phase - floor(phase);
    switch (shape) {
    case SQUARE:
        return part < 0.5 ? 1 : -1;
    case PULSE:
        return part < 0.12 ? 1 : -1;
    case TRIANGLE:
        return part < 0.5 ? 4 * part - 1 : 3 - 4 * part;
    case SAW:
        return 2 * part - 1;
    case STAIRS:
        return floor(part * 5) / 2 - 1;
    case ROUNDED_SQUARE: /* through a low-pass of a fiftieth of the period */
        return part < 0.5 ? 1 - 2 * exp(-part * 50) : 2 * exp(-(part - 0.5) * 50) - 1;
    default: /* a sine through a sample-and-hold */
        return sin(two_pi * floor(part * 9) / 9);
    }
}

static void shapes_are_flat_by_nature(void **state) {
    (void)state;
    enum { N = 4000 };
    uint64_t seed = 75;
    int alarms[SHAPES] = {0};
    for (int t = 0; t < 700; t++) {
        double x[N], cycles = 2.3 + 40 * random_even(&seed), phase = random_even(&seed);
        enum shape shape = (enum shape)(t % SHAPES);
        double noise = t % 2 ? 0.7 : 0;
        for (size_t i = 0; i < N; i++)
            x[i] = shape_at(shape, cycles * (double)i / N + phase);
        scope(x, N, 200, noise, 1, &seed);
        gw_flats_input in = {.volts = x,
                             .n = N,
                             .rate_hz = N,
                             .step = 0.01,
                             .frequency_hz = cycles,
                             .noise_v = 0.01 * sqrt(noise * noise + 1.0 / 12),
                             .low_end = -1,
                             .high_end = 1};
        gw_flat high, low;
        assert_true(gw_flats_find(&in, &high, &low));
        alarms[shape] += high.clipped || low.clipped;
    }
    for (int s = 0; s < SHAPES; s++) {
        print_message("shape %d: called clipped %d of 100\n", s, alarms[s]);
        assert_int_equal(alarms[s], 0);
    }
}

static void charged_pulses_are_hardly_ever_called_cut(void **state) {
    (void)state;
    /* pulses of any width through a low-pass of 1.4 to 15 % of the period, at any resolution */
    enum { N = 4000, TRIALS = 500 };
    uint64_t seed = 78;
    int alarms = 0;
    for (int t = 0; t < TRIALS; t++) {
        double x[N], charge = 0, cycles = 1.5 + 60 * random_even(&seed), duty = 0.05 + 0.9 * random_even(&seed);
        double speed = cycles * (7 + 67 * random_even(&seed)) / N, phase = random_even(&seed);
        double noise = 0.4 * (t % 5), step = 2 / (20 + 230 * random_even(&seed));
        for (size_t i = 0; i < N; i++) {
            double part = cycles * (double)i / N + phase, pulse = part - floor(part) < duty ? 1 : -1;
            charge = i ? charge + (pulse - charge) * fmin(speed, 1) : pulse;
            x[i] = charge;
        }
        add_noise(x, N, noise * step, &seed);
        quantise(x, N, step);
        gw_flats_input in = {.volts = x,
                             .n = N,
                             .rate_hz = N,
                             .step = step,
                             .frequency_hz = cycles,
                             .noise_v = step * sqrt(noise * noise + 1.0 / 12)};
        gw_flat high, low;
        assert_true(gw_flats_find(&in, &high, &low));
        alarms += high.clipped || low.clipped;
    }
    print_message("charged pulses called cut: %d of %d\n", alarms, TRIALS);
    assert_in_range(alarms, 0, 12);
}

static void cut_shapes_are_told(void **state) {
    (void)state;
    enum { N = 4000 };
    static const enum shape shapes[] = {TRIANGLE, SAW};
    uint64_t seed = 76;
    for (size_t s = 0; s < 2; s++)
        for (int t = 0; t < 20; t++) {
            double x[N], cycles = 2.3 + 10 * random_even(&seed);
            for (size_t i = 0; i < N; i++)
                x[i] = shape_at(shapes[s], cycles * (double)i / N + 0.3);
            cut(x, N, -2, 0.7);
            scope(x, N, 200, t % 2 ? 0.5 : 0, 0.85, &seed);
            gw_flats_input in = {.volts = x,
                                 .n = N,
                                 .rate_hz = N,
                                 .step = 0.0085,
                                 .frequency_hz = cycles,
                                 .noise_v = t % 2 ? 0.005 : 0.0025};
            gw_flat high, low;
            assert_true(gw_flats_find(&in, &high, &low));
            assert_true(high.clipped && !low.clipped);
            assert_close(high.share, 0.15, 0.08); /* triangle and saw: (1 - 0.7)/2 of the period */
            unsigned char marks[N] = {0};         /* the same with samples missing, whatever stands in their place */
            for (size_t i = 7; i < N; i += 40)
                marks[i] = GW_SAMPLE_MISSING, x[i] = 50;
            in.marks = marks;
            assert_true(gw_flats_find(&in, &high, &low));
            assert_true(high.clipped && !low.clipped);
            assert_close(high.share, 0.15, 0.08);
        }
}

static void recorder_or_circuit(void **state) {
    (void)state;
    enum { N = 4800 };
    double x[N] = {0}, step = 1.0 / 32768;
    add_sine(x, N, 48e3, 1.3, 1000, 0.2);
    cut(x, N, -0.9, 1 - step);
    quantise(x, N, step);
    gw_flats_input in = {.volts = x,
                         .n = N,
                         .rate_hz = 48e3,
                         .step = step,
                         .low_end = -1,
                         .high_end = 1 - step,
                         .frequency_hz = 1000,
                         .sine = true};
    gw_flat high, low;
    assert_true(gw_flats_find(&in, &high, &low));
    assert_true(high.clipped && high.recorder);
    assert_true(low.clipped && !low.recorder);
    /* a healthy sine that just fills the range, and one that touches it at a low frequency for 27 samples */
    memset(x, 0, sizeof x);
    add_sine(x, N, 48e3, 1 - step, 1000, 0.2);
    quantise(x, N, step);
    assert_true(gw_flats_find(&in, &high, &low));
    assert_false(high.clipped || low.clipped);
    memset(x, 0, sizeof x);
    add_sine(x, N, 48e3, 127, 50, 0.2);
    quantise(x, N, 1);
    gw_flats_input eight = {.volts = x,
                            .n = N,
                            .rate_hz = 48e3,
                            .step = 1,
                            .low_end = -128,
                            .high_end = 127,
                            .frequency_hz = 50,
                            .sine = true};
    assert_true(gw_flats_find(&eight, &high, &low));
    assert_false(high.clipped || low.clipped);
    /* programme without a period, driven into the end */
    uint64_t seed = 77;
    double low_passed = 0;
    for (size_t i = 0; i < N; i++)
        x[i] = low_passed = 0.95 * low_passed + 0.2 * random_gauss(&seed);
    gw_flats_input programme = {.volts = x, .n = N, .rate_hz = 48e3, .step = step, .low_end = -1, .high_end = 1 - step};
    cut(x, N, -5, 5);
    double peak = 0;
    for (size_t i = 0; i < N; i++)
        peak = fmax(peak, fabs(x[i]));
    for (size_t i = 0; i < N; i++)
        x[i] *= 0.99 / peak;
    assert_true(gw_flats_find(&programme, &high, &low));
    assert_false(high.clipped || low.clipped);
    for (size_t i = 0; i < N; i++)
        x[i] = fmin(fmax(3 * x[i], -1), 1 - step);
    assert_true(gw_flats_find(&programme, &high, &low));
    assert_true(high.clipped && high.recorder && low.clipped && low.recorder);
    /* the same into a converter that goes from nothing up to two volts, or from minus two up to nothing */
    for (int side = -1; side <= 1; side += 2) {
        programme.low_end = side - 1, programme.high_end = side + 1 - step;
        double *shifted = new_volts(N);
        for (size_t i = 0; i < N; i++)
            shifted[i] = x[i] + side;
        programme.volts = shifted;
        assert_true(gw_flats_find(&programme, &high, &low));
        assert_true(high.clipped && high.recorder && low.clipped && low.recorder);
        free(shifted);
    }
}

/* 0.4 to 1 codes of an instrument's noise on a sine of 45 codes either way, cut half way down. The circuit cuts before
 * that noise comes in: then the top has it as well. The screen's edge cuts after it. A sine without noise tells
 * neither. */
static void edge_of_the_screen_is_one_code(void **state) {
    (void)state;
    enum { N = 700 };
    uint64_t seed = 17;
    int seen = 0;
    for (int t = 0; t < 60; t++) {
        double x[N] = {0}, noise = t % 3 == 2 ? 0 : 0.4 + 0.6 * random_even(&seed), sign = t % 2 ? -1 : 1;
        bool screen = t % 3 == 0;
        add_sine(x, N, N, 45, 13.3, t);
        if (!screen)
            cut(x, N, -20.3, 20.3);
        add_noise(x, N, noise, &seed);
        quantise(x, N, 1);
        if (screen)
            cut(x, N, -20, 20);
        for (size_t i = 0; i < N; i++)
            x[i] = sign * x[i] + 1000;
        gw_flats_input in = {.volts = x, .n = N, .rate_hz = N, .step = 1, .frequency_hz = 13.3, .sine = true};
        in.noise_v = hypot(noise, sqrt(1.0 / 12));
        gw_flat high, low;
        assert_true(gw_flats_find(&in, &high, &low));
        seen += high.clipped + low.clipped;
        assert_true(high.recorder == (high.clipped && screen) && low.recorder == (low.clipped && screen));
    }
    assert_true(seen >= 110);
}

static void overload_marks_are_the_recorders(void **state) {
    (void)state;
    enum { N = 1000 };
    double x[N] = {0};
    unsigned char marks[N] = {0};
    add_sine(x, N, N, 1, 5, 0);
    for (size_t i = 0; i < N; i++)
        if (x[i] > 0.8) {
            marks[i] = GW_SAMPLE_OVERLOAD;
            x[i] = 0;
        }
    gw_flats_input in = {.volts = x, .marks = marks, .n = N, .rate_hz = N, .frequency_hz = 5, .sine = true};
    gw_flat high, low;
    assert_true(gw_flats_find(&in, &high, &low));
    assert_true(high.clipped && high.recorder && !low.clipped);
    assert_close(high.share, acos(0.8) / pi, 0.01);
}

static void run_of_a_healthy_crest(void **state) {
    (void)state;
    /* counted on the quantised sine itself, worst of many offsets */
    for (double amplitude = 3; amplitude < 500; amplitude *= 2.3) {
        size_t longest = 0;
        for (int o = 0; o < 50; o++) {
            size_t run = 0;
            for (int i = 0; i < 2000; i++) {
                double top = floor(amplitude + o / 50.0 + 0.5);
                bool in = floor(amplitude * cos(two_pi * (i - 1000) / 4000.0) + o / 50.0 + 0.5) >= top;
                run = in ? run + 1 : 0;
                longest = run > longest ? run : longest;
            }
        }
        double said = gw_flats_sine_run(amplitude, 1, 1, 4000);
        assert_true((double)longest <= said);
        assert_true((double)longest >= 0.9 * said - 2);
    }
    assert_close(gw_flats_sine_run(0, 1, 1, 100), 1, 0);
}

static void nothing_and_constant(void **state) {
    (void)state;
    double x[100] = {0};
    gw_flat high, low;
    gw_flats_input in = {.volts = x, .n = 0, .rate_hz = 100};
    assert_true(gw_flats_find(&in, &high, &low));
    assert_false(high.clipped || low.clipped);
    in.n = 100;
    in.low_end = -1, in.high_end = 1, in.step = 0.01;
    assert_true(gw_flats_find(&in, &high, &low)); /* a flat line is DC */
    assert_false(high.clipped || low.clipped);
}

/* Its tips touch the edges of the screen, but it is nowhere flat: neither clipped nor the recorder's doing. */
static void a_triangle_to_the_screens_edge_is_whole(void **state) {
    (void)state;
    enum { N = 5000 };
    double *x = new_volts(N);
    gw_flat high, low;
    for (size_t i = 0; i < N; i++) {
        double turn = 7.3 * (double)i / N;
        x[i] = 4 * fabs(turn - floor(turn + 0.5)) - 1;
    }
    gw_flats_input in = {
        .volts = x, .n = N, .rate_hz = N, .frequency_hz = 7.3, .step = 0.01, .low_end = -1, .high_end = 1};
    assert_true(gw_flats_find(&in, &high, &low));
    assert_false(high.clipped || low.clipped);
    assert_false(high.recorder || low.recorder);
    free(x);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_triangle_to_the_screens_edge_is_whole),
        cmocka_unit_test(share_of_a_cut_sine),
        cmocka_unit_test(one_side_only),
        cmocka_unit_test(cut_at_any_level),
        cmocka_unit_test(telegraph_is_flat_by_nature),
        cmocka_unit_test(a_flat_pulse_on_one_crest_is_no_clipping),
        cmocka_unit_test(clean_sines_are_never_clipped),
        cmocka_unit_test(clipping_is_seen_in_scope_captures),
        cmocka_unit_test(noise_on_a_clipped_top_is_tolerated),
        cmocka_unit_test(bent_is_not_cut),
        cmocka_unit_test(shapes_are_flat_by_nature),
        cmocka_unit_test(charged_pulses_are_hardly_ever_called_cut),
        cmocka_unit_test(cut_shapes_are_told),
        cmocka_unit_test(recorder_or_circuit),
        cmocka_unit_test(edge_of_the_screen_is_one_code),
        cmocka_unit_test(overload_marks_are_the_recorders),
        cmocka_unit_test(run_of_a_healthy_crest),
        cmocka_unit_test(nothing_and_constant),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
