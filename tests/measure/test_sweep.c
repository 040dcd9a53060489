/* The inner loops of the fit and the selection of ranks, each against its plain form. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "assert_close.h"
#include "measure/comb.h"
#include "measure/flanks.h"
#include "measure/gram.h"
#include "measure/passes.h"
#include "measure/robust.h"
#include "measure/shelf.h"
#include "measure/slow.h"
#include "measure/spectrum.h"
#include "measure/sweep.h"

enum { N = 5003 };

static uint64_t next_random(uint64_t *state) {
    uint64_t z = *state += UINT64_C(0x9E3779B97F4A7C15); /* splitmix64, fixed seed */
    z = (z ^ z >> 30) * UINT64_C(0xBF58476D1CE4E5B9);
    z = (z ^ z >> 27) * UINT64_C(0x94D049BB133111EB);
    return z ^ z >> 31;
}

static double random_unit(uint64_t *state) {
    return 2.0 * ((double)(next_random(state) >> 11) * 0x1p-53) - 1;
}

static void fill(double *values, size_t count, uint64_t seed) {
    for (size_t i = 0; i < count; i++)
        values[i] = random_unit(&seed);
}

static const double frequencies[] = {0, 1.0 / N, 0.0123, 0.1, 0.25, 0.333333, 0.49999};
static const size_t lengths[] = {1, 2, 7, 8, 9, 255, 256, 257, 2048, 2049, N};

/* In long double, sample by sample. */
static void test_dot(void **state) {
    (void)state;
    static double x[N];
    fill(x, N, 1);
    for (size_t f = 0; f < sizeof frequencies / sizeof *frequencies; f++)
        for (size_t l = 0; l < sizeof lengths / sizeof *lengths; l++) {
            size_t n = lengths[l];
            long double c = 0, s = 0, turn = 2 * 3.14159265358979323846264L * frequencies[f];
            for (size_t i = 0; i < n; i++) {
                long double t = (long double)i - ((long double)n - 1) / 2;
                c += x[i] * cosl(turn * t);
                s += x[i] * sinl(turn * t);
            }
            double cosine, sine;
            gw_sweep_dot(x, n, frequencies[f], &cosine, &sine);
            assert_close(cosine, (double)c, 1e-11);
            assert_close(sine, (double)s, 1e-11);
        }
}

static void test_add(void **state) {
    (void)state;
    static double x[N], y[N];
    fill(x, N, 2);
    for (size_t f = 0; f < sizeof frequencies / sizeof *frequencies; f++)
        for (size_t l = 0; l < sizeof lengths / sizeof *lengths; l++) {
            size_t n = lengths[l];
            long double turn = 2 * 3.14159265358979323846264L * frequencies[f];
            memcpy(y, x, sizeof y);
            gw_sweep_add(y, n, frequencies[f], 0.7, -1.3);
            for (size_t i = 0; i < n; i++) {
                long double t = (long double)i - ((long double)n - 1) / 2;
                assert_close(y[i], (double)(x[i] + 0.7L * cosl(turn * t) - 1.3L * sinl(turn * t)), 2e-12);
            }
            assert_memory_equal(y + n, x + n, (N - n) * sizeof *x);
        }
}

static void test_sums(void **state) {
    (void)state;
    static double x[N], y[N];
    fill(x, N, 3);
    fill(y, N, 4);
    for (size_t l = 0; l < sizeof lengths / sizeof *lengths; l++) {
        long double total = 0, product = 0;
        for (size_t i = 0; i < lengths[l]; i++) {
            total += x[i];
            product += (long double)x[i] * y[i];
        }
        assert_close(gw_gram_total(x, lengths[l]), (double)total, 1e-12);
        assert_close(gw_gram_dot(x, y, lengths[l]), (double)product, 1e-12);
    }
    /* anywhere in an array, not only where vectors like to begin */
    for (size_t from = 0; from < 9; from++) {
        long double total = 0;
        for (size_t i = from; i < from + 1000; i++)
            total += x[i];
        assert_close(gw_gram_total(x + from, 1000), (double)total, 1e-12);
    }
}

/* A record of three runs: what stands between is missing. */
static void fit_of_runs(gw_fit *fit, gw_run runs[3], size_t count) {
    *fit = (gw_fit){.count = count, .runs = runs, .run_count = 3};
    runs[0] = (gw_run){.start = 0, .length = count / 4};
    runs[1] = (gw_run){.start = count / 4 + 3, .length = count / 4 + 1};
    runs[2] = (gw_run){.start = count - 2, .length = 2};
}

/* The closed forms of sums of sinusoids, weighted by time too, against the sums in long double. */
static void test_moments(void **state) {
    (void)state;
    static const double at[] = {0,    1e-9,     1e-6,    1e-5, 7e-5, 0.3 / N, 0.9 / N,  1.7 / N, 0.0123, 0.1,
                                0.25, 0.333333, 0.49999, 0.5,  0.75, 0.9999,  0.999999, 1,       -0.2,   -1e-7};
    static const size_t counts[] = {40, 41, 1000, N};
    for (size_t f = 0; f < sizeof at / sizeof *at; f++)
        for (size_t l = 0; l < sizeof counts / sizeof *counts; l++) {
            gw_run runs[3];
            gw_fit fit;
            fit_of_runs(&fit, runs, counts[l]);
            long double c = 0, s = 0, tc = 0, ts = 0, turn = 2 * 3.14159265358979323846264L * at[f];
            for (size_t k = 0; k < 3; k++)
                for (size_t i = runs[k].start; i < runs[k].start + runs[k].length; i++) {
                    long double t = (long double)i - ((long double)counts[l] - 1) / 2;
                    c += cosl(turn * t);
                    s += sinl(turn * t);
                    tc += t * cosl(turn * t);
                    ts += t * sinl(turn * t);
                }
            gw_moments m;
            gw_moments_of(&fit, at[f], &m);
            double n = (double)counts[l];
            assert_close(m.c, (double)c, 2e-11 * n);
            assert_close(m.s, (double)s, 2e-11 * n);
            assert_close(m.tc, (double)tc, 1e-11 * n * n);
            assert_close(m.ts, (double)ts, 1e-11 * n * n);
        }
}

static const long double two_pi = 2 * 3.14159265358979323846264L;

/* The columns of drift and of the two free bases as they are defined, 0 where a sample is missing. */
static void columns_make(const gw_fit *fit, long double columns[3][N]) {
    for (size_t i = 0; i < N; i++) {
        long double t = (long double)i - (N - 1) / 2.0L;
        columns[0][i] = fit->marks[i] ? 0 : t;
        columns[1][i] = columns[2][i] = 0;
        for (size_t k = 0; k < fit->line_count && !fit->marks[i]; k++) {
            const gw_sinusoid *line = &fit->lines[k];
            long double turn = two_pi * t * gw_fit_frequency(fit, line);
            long double slope = two_pi * t * (line->sine * cosl(turn) - line->cosine * sinl(turn));
            columns[1][i] += line->multiple[GW_BASE_SIGNAL] * slope;
            columns[2][i] += line->multiple[GW_BASE_MAINS] * slope;
        }
    }
}

static long double products(const long double *one, const long double *other) {
    long double sum = 0;
    for (size_t i = 0; i < N; i++)
        sum += one[i] * other[i];
    return sum;
}

/* Within so much of the product of their lengths, Cauchy and Schwarz's bound. */
static void assert_product(double found, const long double *one, const long double *other) {
    assert_close(found, (double)products(one, other),
                 1e-12 * (double)sqrtl(products(one, one) * products(other, other)));
}

/* A record with a hole, a signal of two lines and hum. */
static void fit_holed(gw_fit *fit, double *x, unsigned char *marks) {
    fill(x, N, 8);
    for (size_t i = 700; i < 1100; i++)
        marks[i] = 1;
    for (size_t i = 0; i < N; i++)
        x[i] = 0.01 * x[i] + sin(0.05 * (double)i) + 0.2 * cos(0.1 * (double)i) + 0.1 * sin(0.11 * (double)i);
    assert_true(gw_fit_begin(fit, x, marks, N, NULL));
    fit->base[GW_BASE_SIGNAL] = 0.05 / 6.283185307179586;
    fit->base[GW_BASE_MAINS] = 0.11 / 6.283185307179586;
    fit->base_free[GW_BASE_SIGNAL] = fit->base_free[GW_BASE_MAINS] = fit->has_drift = true;
    assert_true(gw_fit_add(fit, 1, 0, 0, NULL) && gw_fit_add(fit, 2, 0, 0, NULL) && gw_fit_add(fit, 0, 0, 1, NULL));
    assert_true(gw_fit_solve(fit, NULL) && fit->solved);
    assert_int_equal(fit->special_count, 3);
}

/* The products of a line's columns with those of fitted bases and of drift, and of these with each other, with DC, with
 * time and with what is left, against sums over the columns as they are defined. */
static void test_against(void **state) {
    (void)state;
    static double x[N];
    static unsigned char marks[N];
    static long double columns[3][N], waves[2][N], ones[N], times[N], left[N];
    gw_fit fit;
    fit_holed(&fit, x, marks);
    gw_passes_residual(&fit);
    gw_passes_columns(&fit);
    columns_make(&fit, columns);
    for (size_t i = 0; i < N; i++) {
        ones[i] = 1;
        times[i] = (long double)i - (N - 1) / 2.0L;
        left[i] = fit.residual[i];
    }
    assert_product(fit.residual_total, ones, left);
    for (size_t k = 0; k < 3; k++) {
        assert_product(fit.special_sums[k].total, columns[k], ones);
        assert_product(fit.special_sums[k].own, columns[k], columns[k]);
        assert_product(fit.special_sums[k].lean, columns[k], times);
        assert_product(fit.special_sums[k].along, columns[k], left);
        for (size_t j = 0; j < k; j++)
            assert_product(fit.special_with[k][j], columns[k], columns[j]);
    }
    double cosines[16], sines[16];
    assert_true(fit.unknowns <= 16);
    for (size_t f = 0; f < sizeof frequencies / sizeof *frequencies; f++) {
        gw_gram_against(&fit, frequencies[f], cosines, sines);
        for (size_t i = 0; i < N; i++) {
            waves[0][i] = cosl(two_pi * times[i] * frequencies[f]);
            waves[1][i] = sinl(two_pi * times[i] * frequencies[f]);
        }
        for (size_t k = 0; k < 3; k++) {
            size_t row = k == 0 ? 1 : fit.unknowns - 3 + k; /* drift stands behind DC */
            assert_product(cosines[row], columns[k], waves[0]);
            if (frequencies[f] > 0)
                assert_product(sines[row], columns[k], waves[1]);
        }
    }
    gw_fit_end(&fit);
}

/* What is left of a record with a hole, sample by sample. */
static void test_residual(void **state) {
    (void)state;
    static double x[N];
    static unsigned char marks[N];
    gw_fit fit;
    fit_holed(&fit, x, marks);
    long double rss = 0;
    gw_passes_residual(&fit);
    for (size_t i = 0; i < N; i++) {
        long double t = (long double)i - (N - 1) / 2.0L, left = x[i] - fit.dc - fit.drift * t;
        for (size_t k = 0; k < fit.line_count; k++) {
            long double turn = two_pi * t * gw_fit_frequency(&fit, &fit.lines[k]);
            left -= fit.lines[k].cosine * cosl(turn) + fit.lines[k].sine * sinl(turn);
        }
        left = marks[i] ? 0 : left;
        assert_close(fit.residual[i], (double)left, 1e-11);
        rss += left * left;
    }
    assert_close(fit.rss, (double)rss, 1e-9 * (double)rss);
    gw_fit_end(&fit);
}

/* Low frequencies asked of the slow part, all harmonics asked at once: against a pass each. What folds down is 3e-6 of
 * what stood there, random in phase. */
static void test_slow(void **state) {
    (void)state;
    static double x[N];
    static const size_t counts[] = {1, 40, 47, 48, 49, 128, 1000, 1001, N};
    static const double at[] = {0, 1e-5, 0.3 / N, 0.001, 0.0077, 0.0123, GW_SLOW_MOST};
    fill(x, N, 14);
    for (size_t l = 0; l < sizeof counts / sizeof *counts; l++) {
        gw_slow slow;
        double squares = gw_gram_dot(x, x, counts[l]);
        assert_true(gw_slow_begin(&slow, counts[l]));
        gw_slow_make(&slow, x);
        for (size_t f = 0; f < sizeof at / sizeof *at; f++) {
            double c, s, cosine, sine;
            gw_sweep_dot(x, counts[l], at[f], &c, &s);
            gw_slow_dot(&slow, at[f], &cosine, &sine);
            assert_close(cosine, c, 1e-5 * sqrt(squares));
            assert_close(sine, s, 1e-5 * sqrt(squares));
        }
        gw_slow_end(&slow);
    }
}

static void test_comb(void **state) {
    (void)state;
    static double x[N];
    static const size_t orders[] = {1, 16, 17, 60, 255, 256};
    double cosines[GW_COMB_ORDERS + 1], sines[GW_COMB_ORDERS + 1];
    fill(x, N, 15);
    gw_shelf *shelf = gw_shelf_new();
    assert_non_null(shelf);
    double squares = gw_gram_dot(x, x, N);
    for (size_t l = 0; l < sizeof orders / sizeof *orders; l++)
        for (int odd = 0; odd < 3; odd++) {
            double frequency = odd == 2 ? 0.5 / (double)orders[l] : (odd + 0.31) / 700.3;
            gw_comb_dot(l % 2 ? shelf : NULL, x, N, frequency, orders[l], cosines, sines);
            for (size_t k = 1; k <= orders[l]; k++) {
                double c, s;
                gw_sweep_dot(x, N, (double)k * frequency, &c, &s);
                assert_close(cosines[k], c, 1e-5 * sqrt(squares));
                assert_close(sines[k], s, 1e-5 * sqrt(squares));
            }
        }
    gw_shelf_free(shelf);
}

static int by_size(const void *one, const void *other) {
    double a = *(const double *)one, b = *(const double *)other;
    return (a > b) - (a < b);
}

/* Records of every kind that selection must not be slow or wrong on: against the C library's sort. */
static void test_ranks(void **state) {
    (void)state;
    static double x[N], sorted[N];
    static const size_t counts[] = {1, 2, 3, 10, 511, 512, 513, 1024, N};
    uint64_t seed = 5;
    for (int kind = 0; kind < 6; kind++)
        for (size_t l = 0; l < sizeof counts / sizeof *counts; l++)
            for (size_t try = 0; try < 12; try++) {
                size_t n = counts[l], rank = try == 0 ? 0 : try == 1 ? n - 1 : next_random(&seed) % n;
                for (size_t i = 0; i < n; i++)
                    x[i] = kind == 0   ? random_unit(&seed)
                           : kind == 1 ? 1.0
                           : kind == 2 ? (double)i
                           : kind == 3 ? (double)(n - i)
                           : kind == 4 ? (double)(next_random(&seed) % 3)
                                       : sin((double)i);
                memcpy(sorted, x, n * sizeof *x);
                qsort(sorted, n, sizeof *sorted, by_size);
                assert_close(gw_rank_select(x, n, rank), sorted[rank], 0);
                for (size_t i = 0; i < n; i++) /* what stands before the rank is no larger, what follows no smaller */
                    assert_true(i < rank ? x[i] <= sorted[rank] : x[i] >= sorted[rank]);
            }
}

static void test_count_below(void **state) {
    (void)state;
    static double x[N];
    fill(x, N, 9);
    x[17] = 0.25;
    for (size_t from = 0; from < 5; from++)
        for (size_t n = 0; n < 40; n++) {
            size_t plain = 0;
            for (size_t i = from; i < from + n; i++)
                plain += x[i] < 0.25;
            assert_int_equal(gw_count_below(x + from, n, 0.25), plain);
        }
}

/* Sums over the samples on a sine's flanks and over a level, with and without samples that are missing. */
static void test_flanks(void **state) {
    (void)state;
    static double v[N], c[N], s[N], by[N], out[N];
    static unsigned char marks[N];
    fill(v, N, 10);
    fill(c, N, 11);
    fill(s, N, 12);
    fill(by, N, 13);
    for (size_t i = 0; i < N; i++)
        marks[i] = i % 5 == 3 || i % 7 == 1;
    for (int kind = 0; kind < 8; kind++)
        for (size_t l = 0; l < sizeof lengths / sizeof *lengths; l++) {
            gw_flanks_of of = {.volts = v,
                               .cosine = c,
                               .sine = s,
                               .by = kind & 1 ? by : NULL,
                               .marks = kind & 2 ? marks : NULL,
                               .count = lengths[l],
                               .sign = kind & 4 ? -1 : 1};
            long double plain[10] = {0}, above = 0;
            size_t over = 0, n;
            for (size_t i = 0; i < lengths[l]; i++) {
                double x = of.sign * v[i], judged = of.by ? by[i] : x;
                if (of.marks && marks[i])
                    continue;
                if (by[i] > 0.5) {
                    above += x;
                    over++;
                }
                if (judged < -0.7 || judged > 0.6)
                    continue;
                const double terms[10] = {1,           c[i], s[i],     c[i] * c[i], c[i] * s[i],
                                          s[i] * s[i], x,    x * c[i], x * s[i],    x * x};
                for (int k = 0; k < 10; k++)
                    plain[k] += terms[k];
            }
            gw_flanks sums;
            gw_flanks_sum(&of, -0.7, 0.6, &sums);
            const double got[10] = {sums.count, sums.c, sums.s,  sums.cc, sums.cs,
                                    sums.ss,    sums.x, sums.xc, sums.xs, sums.xx};
            for (int k = 0; k < 10; k++)
                assert_close(got[k], (double)plain[k], k ? 1e-11 : 0);
            of.by = by;
            assert_close(gw_flanks_above(&of, 0.5, &n), (double)above, 1e-11);
            assert_int_equal(n, over);
            gw_flanks_foretell(&of, 0.1, 2, -3, out);
            for (size_t i = 0; i < lengths[l]; i++)
                assert_close(out[i], 0.1 + 2 * c[i] - 3 * s[i], 1e-14);
        }
}

/* The closed form of the windows' correlation against its sum. */
static void test_welch_variance(void **state) {
    (void)state;
    static double window[N];
    for (size_t n = 3; n < 700; n = n * 3 / 2 + 1)
        for (size_t segments = 2; segments < 9; segments += 3) {
            double hop = 0.3 * (double)n, sum = 1, count = (double)segments, one = 0;
            gw_window_hann(window, n);
            for (size_t i = 0; i < n; i++)
                one += window[i] * window[i];
            for (size_t j = 1; j < segments; j++) {
                double both = 0;
                for (size_t i = 0; i + (size_t)((double)j * hop + 0.5) < n; i++)
                    both += window[i] * window[i + (size_t)((double)j * hop + 0.5)];
                sum += 2 * (count - (double)j) / count * both * both / (one * one);
            }
            assert_close(gw_welch_variance(segments, n, hop), sum / count, 1e-10);
        }
}

/* With a shelf all is as without one, also when its places run out. */
static void test_shelf(void **state) {
    (void)state;
    static double x[N];
    fill(x, N, 6);
    gw_arena *arena = gw_arena_new();
    gw_shelf *shelf = gw_shelf_new();
    assert_non_null(arena);
    assert_non_null(shelf);
    for (int round = 0; round < 3; round++)
        for (size_t n = 300; n < N; n += 311) {
            gw_psd one, other;
            gw_spectrum plain, kept;
            assert_true(gw_psd_welch(x, NULL, n, 48e3, 0, arena, &one));
            assert_true(gw_psd_welch_by(shelf, x, NULL, n, 48e3, 0, arena, &other));
            assert_true(gw_spectrum_amplitude(x, NULL, n, 48e3, 2, arena, &plain));
            assert_true(gw_spectrum_amplitude_by(shelf, x, NULL, n, 48e3, 2, arena, &kept));
            assert_memory_equal(one.density, other.density, one.bins * sizeof *one.density);
            assert_memory_equal(plain.rms, kept.rms, plain.bins * sizeof *plain.rms);
        }
    gw_shelf_free(shelf);
    gw_arena_free(arena);
}

/* Each thread a shelf of its own, and that of one that is done for the next. */
static void test_kept(void **state) {
    (void)state;
    gw_measure_kept *kept = gw_measure_kept_new();
    gw_shelf *one = gw_kept_take(kept), *other = gw_kept_take(kept), *alone = gw_kept_take(NULL);
    assert_non_null(one);
    assert_non_null(other);
    assert_ptr_not_equal(one, other);
    gw_kept_return(kept, other);
    assert_ptr_equal(gw_kept_take(kept), other);
    gw_kept_return(kept, one);
    gw_kept_return(kept, other);
    gw_kept_return(NULL, alone);
    gw_measure_kept_free(kept);
    gw_measure_kept_free(NULL);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_dot),
        cmocka_unit_test(test_add),
        cmocka_unit_test(test_sums),
        cmocka_unit_test(test_ranks),
        cmocka_unit_test(test_shelf),
        cmocka_unit_test(test_moments),
        cmocka_unit_test(test_against),
        cmocka_unit_test(test_residual),
        cmocka_unit_test(test_count_below),
        cmocka_unit_test(test_flanks),
        cmocka_unit_test(test_welch_variance),
        cmocka_unit_test(test_slow),
        cmocka_unit_test(test_comb),
        cmocka_unit_test(test_kept),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
