/* Transforms against a naive one, windows against Harris 1978 (recomputed values), Welch's estimate against Welch 1967
 * and Parseval. */
#include "assert_close.h"
#include "measure/spectrum.h"
#include "signals.h"

#include "gainwalk/capture.h"

#include <stdbool.h>

static void transform_equals_the_naive_one(void **state) {
    (void)state;
    static const size_t lengths[] = {2,   4,   6,  10, 30,
                                     128, 250, 998}; /* 998 = 2 x 499: a prime the library has no fast
                                                        step for */
    uint64_t seed = 1;
    for (size_t t = 0; t < sizeof lengths / sizeof *lengths; t++) {
        size_t n = lengths[t];
        double *x = new_volts(n), *re = new_volts(n), *im = new_volts(n), *back = new_volts(n);
        add_noise(x, n, 1e-6, &seed); /* microvolts keep their digits */
        gw_fft *fft = gw_fft_new(n);
        assert_non_null(fft);
        assert_int_equal(gw_fft_length(fft), n);
        gw_fft_forward(fft, x, re, im);
        for (size_t k = 0; k <= n / 2; k++) {
            double c = 0, s = 0;
            for (size_t i = 0; i < n; i++) {
                double angle = two_pi * (double)(k * i % n) / (double)n;
                c += x[i] * cos(angle);
                s -= x[i] * sin(angle);
            }
            assert_close(re[k], c, 1e-6 * 1e-6 * sqrt((double)n) * 2);
            assert_close(im[k], s, 1e-6 * 1e-6 * sqrt((double)n) * 2);
        }
        gw_fft_inverse(fft, re, im, back);
        for (size_t i = 0; i < n; i++)
            assert_close(back[i], x[i], 1e-11);
        double *sizes = new_volts(n / 2 + 2);
        sizes[n / 2 + 1] = 7;
        gw_fft_magnitudes(fft, x, n, sizes);
        for (size_t k = 0; k <= n / 2; k++)
            assert_close(sizes[k], hypot(re[k], im[k]), 1e-14);
        assert_close(sizes[n / 2 + 1], 7, 0); /* n/2 + 1 values, and no more */
        free(sizes);
        gw_fft_free(fft);
        free(x), free(re), free(im), free(back);
    }
}

static void plan_refuses_lengths_it_cannot_do(void **state) {
    (void)state;
    assert_null(gw_fft_new(0));
    assert_null(gw_fft_new(7));
    assert_null(gw_fft_new(((size_t)1 << 24) + 2));
    gw_fft_free(NULL);
}

static void fast_lengths(void **state) {
    (void)state;
    static const struct {
        size_t length, above, below;
    } cases[] = {{0, 2, 2},
                 {1, 2, 2},
                 {7, 8, 6},
                 {13, 16, 12},
                 {97, 100, 96},
                 {1000, 1000, 1000},
                 {1001, 1024, 1000},
                 {48000, 48000, 48000},
                 {65537, 65610, 65536}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        assert_int_equal(gw_fft_length_above(cases[i].length), cases[i].above);
        assert_int_equal(gw_fft_length_below(cases[i].length), cases[i].below);
    }
}

static void hann_window_of_harris(void **state) {
    (void)state;
    enum { N = 1024 };
    double window[N], sum = 0, squares = 0, overlap = 0, half_re = 0, half_im = 0;
    gw_window_hann(window, N);
    for (size_t i = 0; i < N; i++) {
        sum += window[i];
        squares += window[i] * window[i];
        if (i + N / 2 < N)
            overlap += window[i] * window[i + N / 2];
        half_re += window[i] * cos(two_pi / 2 * (double)i / N);
        half_im += window[i] * sin(two_pi / 2 * (double)i / N);
    }
    /* Harris 1978, Table I, recomputed: coherent gain 0.5, 1.5 bins, 1.4236 dB, 16.667 % overlap correlation */
    assert_close(sum / N, 0.5, 1e-12);
    assert_close(sum / N, GW_HANN_GAIN, 1e-12);
    assert_close(squares * N / (sum * sum), 1.5, 1e-12);
    assert_close(squares * N / (sum * sum), GW_HANN_ENBW, 1e-12);
    assert_close(-20 * log10(hypot(half_re, half_im) / sum), 1.4236, 1e-4);
    assert_close(overlap / squares, 0.16667, 1e-5);
}

/* sin² πi/n, in long double: of all lengths about where a part ends, and of one that takes many. */
static void hann_window_by_its_definition(void **state) {
    (void)state;
    static const size_t lengths[] = {0, 1, 2, 3, 127, 128, 129, 254, 255, 256, 257, 258, 259, 50001};
    static double window[50002];
    for (size_t l = 0; l < sizeof lengths / sizeof *lengths; l++) {
        size_t n = lengths[l];
        window[n] = 7;
        gw_window_hann(window, n);
        assert_close(window[n], 7, 0);
        for (size_t i = 0; i < n; i++) {
            long double sine = sinl(3.14159265358979323846264L * i / n);
            assert_close(window[i], (double)(sine * sine), 1e-9 * (double)(sine * sine));
            assert_close(window[i], (double)(sine * sine), 1e-15);
            assert_true(i == 0 || window[i] > 0);
        }
    }
}

static void welch_variance_of_the_published_formula(void **state) {
    (void)state;
    /* Welch 1967, Hann, half overlap; 1/variance is the number of equivalent averages */
    static const struct {
        size_t segments;
        double variance;
    } table[] = {{4, 0.260417}, {8, 0.131076}, {16, 0.065755}, {31, 0.033992}, {64, 0.016479}};
    for (size_t i = 0; i < sizeof table / sizeof *table; i++)
        assert_close(gw_welch_variance(table[i].segments, 1024, 512), table[i].variance, 6e-7);
    assert_close(gw_welch_variance(1, 1024, 0), 1, 0);
    assert_close(gw_welch_variance(100000, 1024, 512) * 100000, 19.0 / 18, 1e-5);
}

static void amplitude_of_a_line(void **state) {
    (void)state;
    enum { N = 4800 };
    double *x = new_volts(N);
    gw_arena *arena = gw_arena_new();
    gw_spectrum s;
    for (size_t i = 0; i < N; i++)
        x[i] = 0.75; /* DC is taken out first */
    add_sine(x, N, 48000, 1, 1000, 0.3);
    assert_true(gw_spectrum_amplitude(x, NULL, N, 48000, 1, arena, &s));
    assert_int_equal(s.bins, N / 2 + 1);
    assert_close(s.bin_hz, 10, 1e-12);
    assert_close(s.rms[100], sqrt(0.5), 1e-6);
    assert_close(s.rms[101], sqrt(0.5) / 2, 1e-6); /* Hann's neighbours are half */
    assert_close(s.rms[0], 0, 1e-6);
    assert_close(s.rms[500], 0, 1e-6);
    for (size_t i = 0; i < N; i++)
        x[i] = 0;
    add_sine(x, N, 48000, 1, 1005, 0.3);
    assert_true(gw_spectrum_amplitude(x, NULL, N, 48000, 1, arena, &s));
    assert_close(20 * log10(s.rms[100] * sqrt(2)), -1.4236, 1e-3);
    assert_true(gw_spectrum_amplitude(x, NULL, N, 48000, 2, arena, &s)); /* padding hits the line */
    assert_close(s.rms[201], sqrt(0.5), 1e-5);
    gw_arena_free(arena);
    free(x);
}

static void amplitude_bridges_gaps(void **state) {
    (void)state;
    enum { N = 4800 };
    double *x = new_volts(N);
    unsigned char marks[N] = {0};
    add_sine(x, N, 48000, 1, 1000, 0.3);
    for (size_t i = 7; i < N; i += 100) {
        marks[i] = i % 200 == 7 ? GW_SAMPLE_MISSING : GW_SAMPLE_OVERLOAD;
        x[i] = 1e9; /* whatever stands there counts for nothing */
    }
    gw_arena *arena = gw_arena_new();
    gw_spectrum s;
    assert_true(gw_spectrum_amplitude(x, marks, N, 48000, 1, arena, &s));
    assert_close(s.rms[100], sqrt(0.5), 0.01);
    gw_psd psd;
    assert_true(gw_psd_welch(x, marks, N, 48000, 0, arena, &psd));
    assert_int_equal(psd.samples, N - 48);
    assert_close(psd.mean_square, 0.5, 0.01);
    for (size_t i = 0; i < N; i++)
        marks[i] = GW_SAMPLE_MISSING;
    assert_true(gw_psd_welch(x, marks, N, 48000, 0, arena, &psd));
    assert_int_equal(psd.bins, 0);
    assert_true(gw_spectrum_amplitude(x, marks, N, 48000, 1, arena, &s));
    assert_close(s.rms[100], 0, 0);
    gw_arena_free(arena);
    free(x);
}

static void segments_that_are_mostly_gap_do_not_count(void **state) {
    (void)state;
    enum { N = 9000 };
    double *x = new_volts(N);
    unsigned char marks[N] = {0};
    add_sine(x, N, N, 1, 2000, 0.3);
    for (size_t i = 3000; i < 6500; i++) /* a lone sample every 500: a segment of such is nothing but impulses */
        marks[i] = i % 500 ? GW_SAMPLE_MISSING : GW_SAMPLE_PRESENT;
    gw_arena *arena = gw_arena_new();
    gw_psd psd;
    assert_true(gw_psd_welch(x, marks, N, N, 1000, arena, &psd));
    double line = psd.density[(size_t)(2000 / psd.bin_hz + 0.5)], far = psd.density[(size_t)(4000 / psd.bin_hz)];
    assert_true(far < 1e-4 * line);
    gw_arena_free(arena);
    free(x);
}

static double integral(const gw_psd *psd) {
    double power = 0;
    for (size_t k = 0; k < psd->bins; k++)
        power += psd->density[k] * psd->bin_hz * (k == 0 || k + 1 == psd->bins ? 0.5 : 1);
    return power;
}

static void parseval_holds_for_any_length(void **state) {
    (void)state;
    static const size_t lengths[] = {2, 3, 17, 64, 65, 100, 127, 300, 997, 1000, 2500, 5003, 48000, 99991, 200000};
    uint64_t seed = 2;
    for (size_t t = 0; t < sizeof lengths / sizeof *lengths; t++) {
        size_t n = lengths[t];
        double *x = new_volts(n), square = 0;
        add_noise(x, n, 3e-3, &seed);
        add_sine(x, n, 1e5, 2e-3, 17e3, 1);
        for (size_t i = 0; i < n; i++)
            square += x[i] * x[i] / (double)n;
        gw_arena *arena = gw_arena_new();
        gw_psd psd;
        assert_true(gw_psd_welch(x, NULL, n, 1e5, 0, arena, &psd));
        assert_close(integral(&psd) / square, 1, 1e-3); /* what is asked for */
        assert_close(integral(&psd) / square, 1, 1e-9); /* what notices change */
        assert_close(psd.mean_square / square, 1, 1e-12);
        if (n >= 1000) /* and the scaling hides no wrong normalisation */
            assert_close(psd.parseval, 1, 6 / sqrt((double)n));
        gw_arena_free(arena);
        free(x);
    }
}

static void white_noise_is_flat_and_scatters_as_welch_says(void **state) {
    (void)state;
    enum { N = 4608, TRIALS = 300 };
    uint64_t seed = 3;
    double *x = new_volts(N), sum = 0, squares = 0, low = 0;
    size_t count = 0;
    gw_psd psd;
    for (int t = 0; t < TRIALS; t++) {
        for (size_t i = 0; i < N; i++)
            x[i] = 0;
        add_noise(x, N, 1, &seed);
        gw_arena *arena = gw_arena_new();
        assert_true(gw_psd_welch(x, NULL, N, 2, 1024, arena, &psd));
        assert_int_equal(psd.segments, 8);
        low += psd.density[0];
        for (size_t k = 2; k + 2 < psd.bins; k += 4, count++) { /* four apart: independent */
            sum += psd.density[k];
            squares += psd.density[k] * psd.density[k];
        }
        gw_arena_free(arena);
    }
    double mean = sum / (double)count, variance = squares / (double)count - mean * mean;
    assert_close(mean, 1, 4 * sqrt(0.131 / (double)count));  /* sigma^2 over half the rate of 2 Hz */
    assert_close(variance / (mean * mean), 0.131076, 0.004); /* Welch 1967, K = 8; 36 000 bins scatter by 0.001 */
    assert_close(2 / psd.freedom, 0.131076, 1e-5);
    assert_close(low / TRIALS, 1, 0.15);
    free(x);
}

static void silence_and_nothing(void **state) {
    (void)state;
    double x[256] = {0};
    gw_arena *arena = gw_arena_new();
    gw_psd psd;
    gw_spectrum s;
    assert_true(gw_psd_welch(x, NULL, 256, 48000, 0, arena, &psd));
    assert_true(psd.bins > 1);
    for (size_t k = 0; k < psd.bins; k++)
        assert_close(psd.density[k], 0, 0);
    assert_true(gw_spectrum_amplitude(x, NULL, 256, 48000, 2, arena, &s));
    for (size_t k = 0; k < s.bins; k++)
        assert_close(s.rms[k], 0, 0);
    for (size_t n = 0; n < 2; n++) {
        assert_true(gw_psd_welch(x, NULL, n, 48000, 0, arena, &psd));
        assert_true(gw_spectrum_amplitude(x, NULL, n, 48000, 1, arena, &s));
        assert_int_equal(psd.bins, 0);
        assert_int_equal(s.bins, 0);
    }
    gw_arena_free(arena);
}

static void a_line_is_as_strong_in_every_segment_length(void **state) {
    (void)state;
    enum { N = 20011 };
    double *x = new_volts(N);
    add_sine(x, N, 48000, sqrt(2), 7013, 0.2);
    static const size_t segments[] = {256, 1000, 4096, 20010};
    for (size_t t = 0; t < 4; t++) {
        gw_arena *arena = gw_arena_new();
        gw_psd psd;
        assert_true(gw_psd_welch(x, NULL, N, 48000, segments[t], arena, &psd));
        double power = 0;
        for (size_t k = 0; k < psd.bins; k++)
            power += fabs((double)k * psd.bin_hz - 7013) < 8 * psd.bin_hz ? psd.density[k] * psd.bin_hz : 0;
        assert_close(power, 1, 2e-3);
        gw_arena_free(arena);
    }
    free(x);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(transform_equals_the_naive_one),
        cmocka_unit_test(plan_refuses_lengths_it_cannot_do),
        cmocka_unit_test(fast_lengths),
        cmocka_unit_test(hann_window_of_harris),
        cmocka_unit_test(hann_window_by_its_definition),
        cmocka_unit_test(welch_variance_of_the_published_formula),
        cmocka_unit_test(amplitude_of_a_line),
        cmocka_unit_test(amplitude_bridges_gaps),
        cmocka_unit_test(segments_that_are_mostly_gap_do_not_count),
        cmocka_unit_test(parseval_holds_for_any_length),
        cmocka_unit_test(white_noise_is_flat_and_scatters_as_welch_says),
        cmocka_unit_test(silence_and_nothing),
        cmocka_unit_test(a_line_is_as_strong_in_every_segment_length),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
