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
#include "measure/gram.h"
#include "measure/robust.h"
#include "measure/shelf.h"
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

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_dot),   cmocka_unit_test(test_add),   cmocka_unit_test(test_sums),
        cmocka_unit_test(test_ranks), cmocka_unit_test(test_shelf),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
