/* The joint fit and its parts against brute force and closed forms. */
#include "assert_close.h"
#include "measure/fit.h"
#include "measure/gram.h"
#include "measure/moments.h"
#include "measure/signals.h"
#include "measure/solve.h"
#include "measure/sweep.h"
#include "measure/work.h"

enum { COUNT = 777 };

static double time_of(size_t i) {
    return (double)i - 0.5 * (COUNT - 1);
}

static void test_sweep_is_the_plain_sum(void **state) {
    (void)state;
    static const double frequencies[] = {1e-4, 0.0123, 0.31, 0.49};
    uint64_t random = 1;
    double *v = new_volts(COUNT), *w = new_volts(COUNT);
    for (size_t i = 0; i < COUNT; i++)
        v[i] = random_gauss(&random);
    for (size_t k = 0; k < sizeof frequencies / sizeof *frequencies; k++) {
        double c = 0, s = 0, cosine, sine;
        for (size_t i = 0; i < COUNT; i++) {
            c += v[i] * cos(two_pi * frequencies[k] * time_of(i));
            s += v[i] * sin(two_pi * frequencies[k] * time_of(i));
            w[i] = 0;
        }
        gw_sweep_dot(v, COUNT, frequencies[k], &cosine, &sine);
        assert_close(cosine, c, 1e-10);
        assert_close(sine, s, 1e-10);
        gw_sweep_add(w, COUNT, frequencies[k], 0.3, -0.7);
        for (size_t i = 0; i < COUNT; i++)
            assert_close(
                w[i], 0.3 * cos(two_pi * frequencies[k] * time_of(i)) - 0.7 * sin(two_pi * frequencies[k] * time_of(i)),
                1e-12);
    }
    free(v);
    free(w);
}

static unsigned char marks[COUNT];

static void test_closed_sums_skip_missing_samples(void **state) {
    (void)state;
    for (size_t i = 0; i < COUNT; i++)
        marks[i] = (i % 97 == 5) || (i > 300 && i < 340) || i == 0;
    double *v = new_volts(COUNT);
    gw_fit fit;
    assert_true(gw_fit_begin(&fit, v, marks, COUNT, NULL));
    static const double frequencies[] = {0, 1e-12, 0.003, 0.2, 0.5, 0.8, 1.0};
    for (size_t k = 0; k < sizeof frequencies / sizeof *frequencies; k++) {
        double c = 0, s = 0, cosine, sine;
        for (size_t i = 0; i < COUNT; i++)
            if (!marks[i]) {
                c += cos(two_pi * frequencies[k] * time_of(i));
                s += sin(two_pi * frequencies[k] * time_of(i));
            }
        gw_gram_sum(&fit, frequencies[k], &cosine, &sine);
        assert_close(cosine, c, 1e-7);
        assert_close(sine, s, 1e-7);
    }
    gw_fit_end(&fit);
    free(v);
}

/* Sum of u·sin 2πfu about mid-record, which the frequencies' own equations are made of. Where the whole record is a few
 * hundredths of a turn, its closed form takes two almost equal numbers apart: all twelve figures of the plain sum in
 * long double must come through on either side of where a series takes over (a twentieth of a radian). */
static void test_closed_sums_keep_their_figures_near_zero(void **state) {
    (void)state;
    static const double angles[] = {0.01, 0.0499, 0.0501, 0.055, 0.07, 0.1, 0.2};
    double *v = new_volts(COUNT);
    gw_fit fit;
    assert_true(gw_fit_begin(&fit, v, NULL, COUNT, NULL));
    for (size_t k = 0; k < sizeof angles / sizeof *angles; k++) {
        double frequency = angles[k] / (two_pi / 2) / COUNT;
        long double moment = 0;
        for (size_t i = 0; i < COUNT; i++) {
            long double u = time_of(i);
            moment += u * sinl(2 * 3.14159265358979323846264L * frequency * u);
        }
        gw_moments found;
        gw_moments_of(&fit, frequency, &found);
        assert_close(found.ts / (double)moment, 1, 2e-12);
    }
    gw_fit_end(&fit);
    free(v);
}

static void test_solve_inverts(void **state) {
    (void)state;
    /* a Hilbert matrix and its known inverse (whole numbers): Choi, Amer. Math. Monthly 90 (1983) 301 */
    double matrix[9] = {1, 1. / 2, 1. / 3, 1. / 2, 1. / 3, 1. / 4, 1. / 3, 1. / 4, 1. / 5}, inverse[9];
    static const double known[9] = {9, -36, 30, -36, 192, -180, 30, -180, 180};
    assert_true(gw_solve_factor(matrix, 3, 1e-12));
    gw_solve_inverse(matrix, 3, inverse);
    for (size_t k = 0; k < 9; k++)
        assert_close(inverse[k], known[k], 1e-9);
    double vector[3] = {1, 0, 0};
    gw_solve_back(matrix, 3, vector);
    for (size_t k = 0; k < 3; k++)
        assert_close(vector[k], known[3 * k], 1e-10);
    double singular[4] = {1, 1, 1, 1};
    assert_false(gw_solve_factor(singular, 2, 1e-12));
}

/* A clean record of known parameters comes back, started a tenth of a cycle off, samples missing. */
static void test_fit_finds_what_was_put_in(void **state) {
    (void)state;
    double *v = new_volts(COUNT);
    const double frequency = 2.3 / COUNT;
    for (size_t i = 0; i < COUNT; i++) {
        double turn = two_pi * frequency * time_of(i);
        v[i] = 0.25 + 1e-5 * time_of(i) + cos(turn) - 0.4 * sin(turn) + 0.1 * sin(3 * turn);
        marks[i] = i % 50 == 3;
        if (marks[i])
            v[i] = 1e6;
    }
    gw_fit fit;
    assert_true(gw_fit_begin(&fit, v, marks, COUNT, NULL));
    fit.base[GW_BASE_SIGNAL] = 2.4 / COUNT;
    fit.base_free[GW_BASE_SIGNAL] = true;
    fit.has_drift = true;
    assert_true(gw_fit_add(&fit, 1, 0, 0, NULL));
    assert_true(gw_fit_add(&fit, 3, 0, 0, NULL));
    assert_true(gw_fit_solve(&fit, NULL));
    assert_true(fit.solved);
    assert_close(fit.base[GW_BASE_SIGNAL], frequency, 1e-14);
    assert_close(fit.dc, 0.25, 1e-11);
    assert_close(fit.drift, 1e-5, 1e-14);
    assert_close(fit.lines[0].cosine, 1, 1e-11);
    assert_close(fit.lines[0].sine, -0.4, 1e-11);
    assert_close(fit.lines[1].sine, 0.1, 1e-11);
    assert_close(fit.rss, 0, 1e-18);
    gw_fit_end(&fit);
    free(v);
}

/* What a candidate promises is what it brings: the drop of the sum of squares when it is added at the same base. */
static void test_candidate_keeps_its_promise(void **state) {
    (void)state;
    double *v = new_volts(COUNT);
    uint64_t random = 7;
    add_noise(v, COUNT, 0.1, &random);
    add_sine(v, COUNT, COUNT, 1, 1.7, 0.4);
    add_sine(v, COUNT, COUNT, 0.2, 3.4, 0.9);
    gw_fit fit;
    assert_true(gw_fit_begin(&fit, v, NULL, COUNT, NULL));
    fit.base[GW_BASE_SIGNAL] = 1.7 / COUNT;
    assert_true(gw_fit_add(&fit, 1, 0, 0, NULL));
    assert_true(gw_fit_solve(&fit, NULL));
    double before = fit.rss;
    gw_candidate candidate = gw_fit_candidate(&fit, 3.4 / COUNT);
    assert_true(gw_fit_add(&fit, 2, 0, 0, NULL));
    assert_true(gw_fit_solve(&fit, NULL));
    assert_close(candidate.drop, before - fit.rss, 1e-9 * before);
    assert_close(candidate.cosine, fit.lines[1].cosine, 1e-10);
    assert_close(candidate.sine, fit.lines[1].sine, 1e-10);
    gw_fit_end(&fit);
    free(v);
}

/* Ridge regression (Hoerl & Kennard 1970): columns of whole cycles are orthogonal, of square N/2 each, so a line comes
 * back shrunk by N/2 over N/2 + ridge, and one without a ridge whole. */
static void test_ridge_shrinks_a_line(void **state) {
    (void)state;
    double *v = new_volts(COUNT);
    for (size_t i = 0; i < COUNT; i++)
        v[i] = 0.3 * cos(two_pi * 5 * time_of(i) / COUNT) - 0.8 * sin(two_pi * 5 * time_of(i) / COUNT) +
               0.2 * cos(two_pi * 10 * time_of(i) / COUNT);
    gw_fit fit;
    assert_true(gw_fit_begin(&fit, v, NULL, COUNT, NULL));
    fit.base[GW_BASE_SIGNAL] = 5.0 / COUNT;
    assert_true(gw_fit_add(&fit, 1, 0, 0, NULL));
    assert_true(gw_fit_add(&fit, 2, 0, 0, NULL));
    fit.lines[0].ridge = COUNT / 2.0;
    assert_true(gw_fit_solve(&fit, NULL));
    assert_true(fit.solved);
    assert_close(fit.lines[0].cosine, 0.15, 1e-9);
    assert_close(fit.lines[0].sine, -0.4, 1e-9);
    assert_close(fit.lines[1].cosine, 0.2, 1e-9);
    assert_close(fit.lines[1].sine, 0, 1e-9);
    gw_fit_end(&fit);
    free(v);
}

/* Least squares are linear: of a record so many times smaller all coefficients are so many times smaller, as long as
 * the squares are numbers: those of the smallest here, 1e-304, are doubles of all figures still (IEEE 754:
 * from 2.2e-308 on). */
static void a_record_may_be_as_small_as_it_likes(void **state) {
    (void)state;
    static const double sizes[] = {1, 1e-20, 1e-152};
    double *v = new_volts(COUNT);
    for (size_t k = 0; k < sizeof sizes / sizeof *sizes; k++) {
        double size = sizes[k];
        for (size_t i = 0; i < COUNT; i++)
            v[i] = size * (0.25 + 0.3 * cos(two_pi * 5 * time_of(i) / COUNT) - sin(two_pi * 5 * time_of(i) / COUNT));
        gw_fit fit;
        assert_true(gw_fit_begin(&fit, v, NULL, COUNT, NULL));
        fit.base[GW_BASE_SIGNAL] = 5.0 / COUNT;
        assert_true(gw_fit_add(&fit, 1, 0, 0, NULL));
        assert_true(gw_fit_solve(&fit, NULL));
        assert_true(fit.solved);
        assert_close(fit.dc, 0.25 * size, 1e-9 * size);
        assert_close(fit.lines[0].cosine, 0.3 * size, 1e-9 * size);
        assert_close(fit.lines[0].sine, -size, 1e-9 * size);
        gw_fit_end(&fit);
    }
    free(v);
}

/* A mean needs no squares: it is right where these are none, or endless. */
static void a_mean_has_any_size(void **state) {
    (void)state;
    static const double sizes[] = {1e160, 1e-170};
    double *v = new_volts(COUNT);
    for (size_t k = 0; k < sizeof sizes / sizeof *sizes; k++) {
        for (size_t i = 0; i < COUNT; i++)
            v[i] = sizes[k] * (0.25 + 0.3 * cos(two_pi * 5 * time_of(i) / COUNT));
        gw_fit fit;
        assert_true(gw_fit_begin(&fit, v, NULL, COUNT, NULL));
        assert_true(gw_fit_solve(&fit, NULL));
        assert_close(fit.dc, 0.25 * sizes[k], 1e-9 * sizes[k]);
        gw_fit_end(&fit);
    }
    free(v);
}

/* White noise of deviation s moves the peak of a sine of whole periods in n samples by s·√(2/n) (Rife & Boorstyn 1974),
 * at whatever phase it stands; and as much where it is none at all, so that no phase is its own. */
static void test_a_line_of_any_phase_is_as_unsure(void **state) {
    (void)state;
    static const double lines[][2] = {{1, 0}, {0, -1}, {0.6, 0.8}, {1e-9, 1e-9}, {0, 0}};
    const double sigma = 0.01;
    double *v = new_volts(COUNT);
    gw_error error = {0};
    gw_model model = {.variance = sigma * sigma};
    add_sine(v, COUNT, COUNT, 1, 9, 0.3);
    assert_true(gw_fit_begin(&model.fit, v, NULL, COUNT, &error));
    model.fit.base[GW_BASE_SIGNAL] = 9.0 / COUNT;
    assert_true(gw_fit_add(&model.fit, 1, 0, 0, &error) && gw_fit_solve_linear(&model.fit, &error));
    model.inverse = gw_fit_inverse(&model.fit);
    assert_non_null(model.inverse);
    const gw_work work = {.model = &model, .error = &error};
    for (size_t k = 0; k < sizeof lines / sizeof *lines; k++) {
        model.fit.lines[0].cosine = lines[k][0];
        model.fit.lines[0].sine = lines[k][1];
        assert_close(gw_work_line_noise(&work, 0), sigma * sqrt(2.0 / COUNT), 1e-9);
    }
    gw_model_end(&model);
    free(v);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_sweep_is_the_plain_sum),
        cmocka_unit_test(test_closed_sums_skip_missing_samples),
        cmocka_unit_test(test_closed_sums_keep_their_figures_near_zero),
        cmocka_unit_test(test_solve_inverts),
        cmocka_unit_test(test_fit_finds_what_was_put_in),
        cmocka_unit_test(test_candidate_keeps_its_promise),
        cmocka_unit_test(test_ridge_shrinks_a_line),
        cmocka_unit_test(a_record_may_be_as_small_as_it_likes),
        cmocka_unit_test(a_mean_has_any_size),
        cmocka_unit_test(test_a_line_of_any_phase_is_as_unsure),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
