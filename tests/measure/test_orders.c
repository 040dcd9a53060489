/* All harmonics of a fit weighed at once, their sums by recurrence: against each weighed alone. */
#include "assert_close.h"
#include "measure/demand.h"
#include "measure/gram.h"
#include "measure/presence.h"
#include "measure/solve.h"
#include "signals.h"

#include <string.h>

enum { N = 2500 };

static void begin(gw_fit *fit, const double *volts, const unsigned char *marks, size_t n) {
    gw_error error = {0};
    assert_true(gw_fit_begin(fit, volts, marks, n, &error));
}

/* Up to the sample rate itself, where sums come round again; frequencies that fit the record in whole cycles too. */
static void sums_at_multiples(void **state) {
    (void)state;
    static const double bases[] = {0.3 / N, 1.0 / N, 2.5 / N, 7.77 / N, 1.0 / 512, 0.00390123};
    static const size_t lengths[] = {N, N - 1, 64, 1 << 14};
    double *volts = new_volts(1 << 14);
    for (size_t l = 0; l < sizeof lengths / sizeof *lengths; l++)
        for (size_t b = 0; b < sizeof bases / sizeof *bases; b++) {
            gw_fit fit;
            gw_moments all[257], one;
            double n = (double)lengths[l];
            size_t count = fmin(257, ceil(1 / bases[b])) > 0 ? (size_t)fmin(257, ceil(1 / bases[b])) : 0;
            begin(&fit, volts, NULL, lengths[l]);
            gw_moments_orders(&fit, bases[b], count, all);
            for (size_t k = 0; k < count; k++) {
                gw_moments_of(&fit, (double)k * bases[b], &one);
                assert_close(all[k].c, one.c, 2e-12 * n);
                assert_close(all[k].s, one.s, 2e-12 * n);
                assert_close(all[k].tc, one.tc, 2e-12 * n * n);
                assert_close(all[k].ts, one.ts, 2e-12 * n * n);
            }
            gw_fit_end(&fit);
        }
    free(volts);
}

/* Holes all over a record, in runs short and long: against sums of each sample. */
static void sums_of_very_many_runs(void **state) {
    (void)state;
    static const double at[] = {0, 1e-9, 1.7e-5, 0.0123, 0.0208333, 0.25, 0.333333, 0.49999, 0.5, 0.75, 1, -0.2};
    enum { RUNS = 3000 };
    static gw_run runs[RUNS];
    uint64_t seed = 9;
    size_t n = 0;
    for (size_t k = 0; k < RUNS; k++) {
        runs[k] = (gw_run){.start = n, .length = 1 + (size_t)(random_even(&seed) * (k % 100 == 7 ? 150 : 4))};
        n += runs[k].length + 1 + (size_t)(random_even(&seed) * (k % 50 == 3 ? 300 : 3));
    }
    n = runs[RUNS - 1].start + runs[RUNS - 1].length;
    gw_fit fit = {.count = n, .runs = runs, .run_count = RUNS};
    for (size_t f = 0; f < sizeof at / sizeof *at; f++) {
        long double c = 0, s = 0, tc = 0, ts = 0, turn = 2 * 3.14159265358979323846264L * at[f];
        for (size_t k = 0; k < RUNS; k++)
            for (size_t i = runs[k].start; i < runs[k].start + runs[k].length; i++) {
                long double t = (long double)i - ((long double)n - 1) / 2;
                c += cosl(turn * t);
                s += sinl(turn * t);
                tc += t * cosl(turn * t);
                ts += t * sinl(turn * t);
            }
        gw_moments m;
        double length = (double)n;
        gw_moments_of(&fit, at[f], &m);
        assert_close(m.c, (double)c, 2e-12 * length);
        assert_close(m.s, (double)s, 2e-12 * length);
        assert_close(m.tc, (double)tc, 1e-12 * length * length);
        assert_close(m.ts, (double)ts, 1e-12 * length * length);
    }
}

/* Holes all over a record, asked after so many frequencies that a table is made: against sums of each sample. */
static void sums_from_the_table(void **state) {
    (void)state;
    enum { ASKED = 4000 };
    static const size_t lengths[] = {3000, 3001, 4096, 5000};
    uint64_t seed = 11;
    for (size_t l = 0; l < sizeof lengths / sizeof *lengths; l++) {
        size_t n = lengths[l];
        double volts[5000] = {0}, length = (double)n;
        unsigned char marks[5000];
        for (size_t i = 0; i < n; i++)
            marks[i] = random_even(&seed) < 0.3;
        gw_fit fit;
        begin(&fit, volts, marks, n);
        for (int k = 0; k < ASKED; k++) {
            double at = k < 8 ? 0.25 * k - 0.75 : 2.2 * random_even(&seed) - 1.1;
            gw_moments m;
            gw_moments_of(&fit, at, &m);
            if (k % 97 > 7)
                continue;
            long double c = 0, s = 0, tc = 0, ts = 0, turn = 2 * 3.14159265358979323846264L * at;
            for (size_t i = 0; i < n; i++) {
                long double t = (long double)i - ((long double)n - 1) / 2;
                c += marks[i] ? 0 : cosl(turn * t);
                s += marks[i] ? 0 : sinl(turn * t);
                tc += marks[i] ? 0 : t * cosl(turn * t);
                ts += marks[i] ? 0 : t * sinl(turn * t);
            }
            assert_close(m.c, (double)c, 1e-11 * length);
            assert_close(m.s, (double)s, 1e-11 * length);
            assert_close(m.tc, (double)tc, 1e-11 * length * length);
            assert_close(m.ts, (double)ts, 1e-11 * length * length);
        }
        gw_moments at_once, later;
        gw_moments_of(&fit, 0.1234, &later);
        fit.presence = (gw_presence_free(fit.presence), NULL);
        gw_moments_of(&fit, 0.1234, &at_once);
        assert_close(at_once.c, later.c, 1e-11 * length);
        assert_true(at_once.c != later.c); /* it was a table */
        gw_fit_end(&fit);
    }
}

/* A model of three harmonics, a line of its own beside them, and drift or not. */
static void model_solve(gw_fit *fit, bool drift) {
    gw_error error = {0};
    fit->base[GW_BASE_SIGNAL] = 6.3 / N;
    fit->base[GW_BASE_MAINS] = 0.4 / N;
    fit->base_free[GW_BASE_SIGNAL] = true;
    fit->has_drift = drift;
    for (int order = 1; order <= 3; order++)
        assert_true(gw_fit_add(fit, order, 0, 0, &error));
    if (!drift)
        assert_true(gw_fit_add(fit, 0, 0, 1, &error));
    assert_true(gw_fit_solve(fit, &error) && fit->solved);
}

static void weigh_both(const gw_fit *fit) {
    gw_wishes list = {0};
    for (int order = 4; order <= 150; order++)
        gw_wish_add(fit, &list, order, 0, 0, order);
    gw_wishes_weigh(fit, &list);
    assert_int_equal(list.count, 147);
    double most = 0;
    for (size_t k = 0; k < list.count; k++)
        most = fmax(most, list.items[k].drop);
    for (size_t k = 0; k < list.count; k++) {
        gw_candidate one = gw_fit_candidate(fit, (double)(k + 4) * fit->base[GW_BASE_SIGNAL]);
        assert_close(list.items[k].drop, one.drop, 1e-4 * most);
        assert_close(list.items[k].cosine, one.cosine, 1e-4 * hypot(one.cosine, one.sine) + 1e-7);
        assert_close(list.items[k].sine, one.sine, 1e-4 * hypot(one.cosine, one.sine) + 1e-7);
    }
}

static void harmonics_weighed_at_once(void **state) {
    (void)state;
    double volts[N] = {0};
    unsigned char marks[N] = {0};
    uint64_t seed = 3;
    memset(marks + 700, 1, 130);
    add_noise(volts, N, 0.01, &seed);
    for (int order = 1; order <= 12; order++)
        add_sine(volts, N, N, 1.0 / order, order * 6.3, order);
    for (int way = 0; way < 4; way++) {
        gw_fit fit;
        begin(&fit, volts, way & 1 ? marks : NULL, N);
        model_solve(&fit, way & 2);
        weigh_both(&fit);
        gw_fit_end(&fit);
    }
}

static void vectors_solved_at_once(void **state) {
    (void)state;
    enum { ORDER = 13 };
    double factor[ORDER * ORDER], vectors[ORDER][GW_SOLVED_AT_ONCE], alone[GW_SOLVED_AT_ONCE][ORDER];
    uint64_t seed = 4;
    for (size_t i = 0; i < ORDER * ORDER; i++)
        factor[i] = random_even(&seed) + (i % (ORDER + 1) == 0);
    for (size_t i = 0; i < ORDER; i++)
        for (size_t v = 0; v < GW_SOLVED_AT_ONCE; v++)
            vectors[i][v] = alone[v][i] = random_even(&seed) - 0.5;
    gw_solve_forward_all(factor, ORDER, vectors);
    for (size_t v = 0; v < GW_SOLVED_AT_ONCE; v++) {
        gw_solve_forward(factor, ORDER, alone[v]);
        for (size_t i = 0; i < ORDER; i++)
            assert_close(vectors[i][v], alone[v][i], 1e-12 * (1 + fabs(alone[v][i])));
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sums_at_multiples),      cmocka_unit_test(sums_of_very_many_runs),
        cmocka_unit_test(sums_from_the_table),    cmocka_unit_test(harmonics_weighed_at_once),
        cmocka_unit_test(vectors_solved_at_once),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
