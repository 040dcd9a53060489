/* Passes over many values, each against its plain form: extremes, leaning sums, columns, several sinusoids at a time.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <string.h>

#include "assert_close.h"
#include "base/lanes.h"
#include "measure/robust.h"
#include "measure/sums.h"
#include "measure/sweep.h"

enum { N = 5003, LINES = 19 };

static const size_t lengths[] = {1, 2, 7, 8, 9, 63, 64, 255, 256, 257, 2048, 4097, N};
enum { LENGTHS = sizeof lengths / sizeof *lengths };

static void fill(double *values, size_t count, uint64_t seed) {
    for (size_t i = 0; i < count; i++) {
        seed = seed * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407); /* Knuth's, fixed seed */
        values[i] = (double)(int64_t)seed * 0x1p-63;
    }
}

static void assert_same(double one, double other) {
    assert_close(one, other, 0);
}

static void test_extent(void **state) {
    (void)state;
    static double v[N], r[N];
    static unsigned char marks[N];
    fill(v, N, 1);
    fill(r, N, 2);
    for (size_t i = 0; i < N; i++)
        marks[i] = i % 5 == 3 || i % 7 == 1;
    for (size_t l = 0; l < LENGTHS; l++)
        for (int kind = 0; kind < 4; kind++) {
            const double *less = kind & 1 ? r : NULL;
            const unsigned char *by = kind & 2 ? marks : NULL;
            double low = INFINITY, high = -INFINITY;
            for (size_t i = 0; i < lengths[l]; i++) {
                double value = less ? v[i] - less[i] : v[i];
                low = (!by || !by[i]) && value < low ? value : low;
                high = (!by || !by[i]) && value > high ? value : high;
            }
            gw_extent found = gw_extent_of(v, less, by, lengths[l]);
            assert_same(found.low, low);
            assert_same(found.high, high);
        }
    gw_extent nothing = gw_extent_of(v, NULL, NULL, 0);
    assert_true(isinf(nothing.low) && nothing.low > 0 && isinf(nothing.high) && nothing.high < 0);
}

/* In long double, sample by sample. */
static void test_lean_and_turn(void **state) {
    (void)state;
    static double v[N], r[N], column[N];
    fill(v, N, 3);
    fill(r, N, 4);
    for (size_t l = 0; l < LENGTHS; l++) {
        size_t n = lengths[l];
        long double lean = 0, total = 1, own = 2, along = 3, turned_lean = 4;
        for (size_t i = 0; i < n; i++) {
            long double t = (long double)i - ((long double)n - 1) / 2, turned = 0.75L * t * v[i];
            lean += t * v[i];
            total += turned;
            own += turned * turned;
            along += turned * r[i];
            turned_lean += turned * t;
        }
        double rounding = 1e-15 * (double)n * (double)n;
        assert_close(gw_gram_lean(v, n), (double)lean, rounding);
        memcpy(column, v, n * sizeof *v);
        gw_column_sums sums = {.total = 1, .own = 2, .along = 3, .lean = 4}; /* added to */
        gw_gram_turn(column, r, n, -0.5 * ((double)n - 1), 0.75, &sums);
        for (size_t i = 0; i < n; i++)
            assert_close(column[i], 0.75 * v[i] * ((double)i - 0.5 * ((double)n - 1)), 1e-15 * (double)n);
        assert_close(sums.total, (double)total, rounding);
        assert_close(sums.own, (double)own, rounding * (double)n);
        assert_close(sums.along, (double)along, rounding);
        assert_close(sums.lean, (double)turned_lean, rounding * (double)n);
    }
}

static long double turn_of(double frequency, size_t i, size_t n) {
    return 2 * 3.14159265358979323846264L * frequency * ((long double)i - ((long double)n - 1) / 2);
}

/* The sum of the lines at a sample, in long double by the C library's functions. */
static double line_sum(const gw_sweep *lines, size_t count, size_t i, size_t n) {
    long double sum = 0;
    for (size_t k = 0; k < count; k++) {
        long double turn = turn_of(lines[k].frequency, i, n);
        sum += lines[k].cosine * cosl(turn) + lines[k].sine * sinl(turn);
    }
    return (double)sum;
}

static void lines_fill(gw_sweep *lines) {
    for (size_t k = 0; k < LINES; k++)
        lines[k] = (gw_sweep){0.4 * (double)(k + 1) / LINES, 1 / (double)(k + 1), -0.1 * (double)k};
}

/* Part by part, from somewhere else and in its own place. */
static void take_apart(const double *from, size_t n, const gw_sweep *lines, size_t count, bool in_place, double *to) {
    gw_sweeper *sweeper = gw_sweeper_new(lines, count, n);
    assert_non_null(sweeper);
    for (size_t at = 0; at < n; at += GW_SWEEP_PART)
        gw_sweeper_apart(sweeper, lines, in_place ? to + at : from + at, -0.75, at, to + at);
    gw_sweeper_free(sweeper);
}

/* Part by part, whatever stood there; lines that were set before are forgotten. */
static void put_parts(const gw_sweep *lines, size_t count, size_t n, double *to) {
    gw_sweep others[LINES];
    for (size_t k = 0; k < LINES; k++)
        others[k] = (gw_sweep){.frequency = 0.01 + 0.02 * (double)k, .cosine = 1};
    gw_sweeper *sweeper = gw_sweeper_room(LINES, n);
    assert_non_null(sweeper);
    gw_sweeper_set(sweeper, others, LINES);
    gw_sweeper_set(sweeper, lines, count);
    for (size_t at = 0; at < n; at += GW_SWEEP_PART)
        gw_sweeper_put(sweeper, lines, at, to + at);
    gw_sweeper_free(sweeper);
}

/* Lines added sample by sample; also where a group of them is full, or not, and where a block is, or not. What stands
 * behind the record stays as it is. */
static void test_add(void **state) {
    (void)state;
    static double v[N + 1], put[N + 1], apart[N + 1];
    static const size_t counts[] = {0, 1, 7, 8, 9, LINES};
    gw_sweep lines[LINES];
    fill(v, N + 1, 5);
    lines_fill(lines);
    for (size_t l = 0; l < LENGTHS; l++)
        for (size_t c = 0; c < sizeof counts / sizeof *counts; c++) {
            size_t n = lengths[l], count = counts[c];
            memcpy(put, v, sizeof v);
            memcpy(apart, v, sizeof v);
            put_parts(lines, count, n, put);
            take_apart(v, n, lines, count, c % 2 == 0, apart);
            for (size_t i = 0; i < n; i++) {
                double sum = line_sum(lines, count, i, n);
                assert_close(put[i], sum, 1e-11);
                assert_close(apart[i], v[i] - 0.75 + sum, 1e-11);
            }
            assert_same(put[n], v[n]);
            assert_same(apart[n], v[n]);
        }
}

/* Lines without an amplitude bring nothing, be they some of a group, a group of them or all. */
static void test_put_none(void **state) {
    (void)state;
    static double put[N];
    gw_sweep lines[LINES];
    for (size_t there = 0; there <= LINES; there++) {
        lines_fill(lines);
        for (size_t k = there; k < LINES; k++)
            lines[k].cosine = lines[k].sine = 0;
        fill(put, N, 6);
        put_parts(lines, LINES, N, put);
        for (size_t i = 0; i < N; i += 7)
            assert_close(put[i], line_sum(lines, there, i, N), 1e-11);
    }
    for (size_t k = 0; k < 8; k++)
        lines[k].cosine = lines[k].sine = 0;
    put_parts(lines, LINES, N, put);
    for (size_t i = 0; i < N; i += 7)
        assert_close(put[i], line_sum(lines, LINES, i, N), 1e-11);
}

/* The least and the most, wherever they stand. */
static void test_lanes_extent(void **state) {
    (void)state;
    static double v[64];
    for (size_t n = 0; n <= 64; n++)
        for (size_t at = 0; at < n; at++) {
            double low = INFINITY, high = -INFINITY;
            fill(v, 64, 9);
            v[at] = -1e3;
            v[(at + n / 2) % n] += 1e4;
            gw_lanes_extent(v, n, &low, &high);
            assert_same(low, n > 1 ? -1e3 : 9e3);
            assert_same(high, v[(at + n / 2) % n]);
        }
    double low = -5, high = 1e6;
    gw_lanes_extent(v, 64, &low, &high); /* what was known before stays within */
    assert_same(low, -1e3);
    assert_same(high, 1e6);
}

/* One line is what several are, one at a time. */
static void test_add_one(void **state) {
    (void)state;
    static double v[N];
    gw_sweep lines[LINES];
    lines_fill(lines);
    for (size_t l = 0; l < LENGTHS; l++) {
        memset(v, 0, sizeof v);
        gw_sweep_add(v, lengths[l], lines[2].frequency, lines[2].cosine, lines[2].sine);
        for (size_t i = 0; i < lengths[l]; i++)
            assert_close(v[i], line_sum(&lines[2], 1, i, lengths[l]), 1e-11);
    }
}

/* Products summed sample by sample in long double; several lines at a time, to the last bit what one alone gives. */
/* What was made before gives the same; and it serves these lines and lengths only. */
static void check_sweeper(const double *v, size_t n, const gw_sweep *right, size_t count) {
    gw_sweep lines[LINES];
    memcpy(lines, right, sizeof lines);
    gw_sweeper *sweeper = gw_sweeper_new(lines, count, n);
    assert_non_null(sweeper);
    assert_true(gw_sweeper_serves(sweeper, right, count, n));
    assert_false(gw_sweeper_serves(sweeper, right, count, n + 1));
    assert_false(gw_sweeper_serves(sweeper, right, count + 1, n));
    for (int times = 0; times < 2; times++) {
        gw_sweeper_dot(sweeper, v, lines);
        for (size_t k = 0; k < count; k++) {
            assert_same(lines[k].cosine, right[k].cosine);
            assert_same(lines[k].sine, right[k].sine);
        }
    }
    for (size_t k = 0; k < count; k++)
        lines[k].cosine = lines[k].sine = 0;
    for (size_t at = 0; at < n; at += GW_SWEEP_PART)
        gw_sweeper_dot_part(sweeper, v + at, at, lines);
    for (size_t k = 0; k < count; k++) {
        assert_same(lines[k].cosine, right[k].cosine);
        assert_same(lines[k].sine, right[k].sine);
    }
    if (count > 0)
        lines[count - 1].frequency *= 1 + 1e-15;
    assert_true(gw_sweeper_serves(sweeper, lines, count, n) == (count == 0));
    assert_false(gw_sweeper_serves(NULL, lines, count, n));
    gw_sweeper_free(sweeper);
}

static void test_dot(void **state) {
    (void)state;
    static double v[N];
    gw_sweep lines[LINES], found[LINES];
    fill(v, N, 5);
    lines_fill(lines);
    for (size_t l = 0; l < LENGTHS; l++)
        for (size_t count = 0; count <= LINES; count++) {
            size_t n = lengths[l];
            memcpy(found, lines, sizeof lines);
            gw_sweep_dot_many(v, n, found, count);
            check_sweeper(v, n, found, count);
            for (size_t k = 0; k < count; k++) {
                double c, s;
                gw_sweep_dot(v, n, lines[k].frequency, &c, &s);
                assert_same(found[k].cosine, c);
                assert_same(found[k].sine, s);
            }
        }
    for (size_t l = 0; l < LENGTHS; l++)
        for (size_t k = 0; k < LINES; k++) {
            long double cosine = 0, sine = 0;
            double c, s;
            for (size_t i = 0; i < lengths[l]; i++) {
                long double turn = turn_of(lines[k].frequency, i, lengths[l]);
                cosine += v[i] * cosl(turn);
                sine += v[i] * sinl(turn);
            }
            gw_sweep_dot(v, lengths[l], lines[k].frequency, &c, &s);
            assert_close(c, (double)cosine, 1e-12 * sqrt((double)lengths[l]));
            assert_close(s, (double)sine, 1e-12 * sqrt((double)lengths[l]));
        }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_extent),       cmocka_unit_test(test_lean_and_turn), cmocka_unit_test(test_add),
        cmocka_unit_test(test_lanes_extent), cmocka_unit_test(test_put_none),      cmocka_unit_test(test_add_one),
        cmocka_unit_test(test_dot),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
