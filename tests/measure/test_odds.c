/* What the record says of terms that may lie under a signal: probabilities and how far coefficients may be off. */
#include "assert_close.h"
#include "measure/odds.h"
#include "signals.h"

enum { N = 1000 };

/* Weighs a slope against none in a fit that holds DC and a slope, beside hum of a hundred cycles that nothing shows. */
static void weigh(const double *v, gw_fit *fit, gw_terms *terms, gw_odds *odds) {
    gw_error error = {0};
    assert_true(gw_fit_begin(fit, v, NULL, N, &error));
    fit->has_drift = true;
    assert_true(gw_fit_solve(fit, &error));
    assert_true(fit->solved);
    *terms = (gw_terms){.mains = {0.1, 0}};
    assert_true(gw_terms_make(fit, terms, &error));
    assert_int_equal(terms->count, 3);
    gw_odds_weigh(terms, fit, 4, 0, 0, odds);
}

/* Mean square by which the slope, `rise` V from end to end, may be off, V² a sample². */
static double slope_spread(double rise, double noise_v, uint64_t seed) {
    double *v = new_volts(N);
    gw_fit fit;
    gw_terms terms;
    gw_odds odds;
    for (size_t i = 0; i < N; i++)
        v[i] = rise * ((double)i / (N - 1) - 0.5);
    add_noise(v, N, noise_v, &seed);
    weigh(v, &fit, &terms, &odds);
    assert_close(odds.drift, 1, 1e-6);
    assert_true(odds.hum < 0.5); /* as likely as not before the record is looked at */
    double spread = odds.spread[0];
    gw_terms_end(&terms);
    gw_fit_end(&fit);
    free(v);
    return spread;
}

/* Where a slope is certain its coefficient is as uncertain as that of a straight line fitted by least squares: the
 * variance is sigma² over the sum of the squared distances from the middle, N (N² - 1) / 12. */
static void a_slope_is_as_certain_as_a_straight_line(void **state) {
    (void)state;
    const double line = N * ((double)N * N - 1) / 12;
    for (uint64_t seed = 1; seed <= 5; seed++)
        for (double rise = 0.05; rise < 4; rise *= 2.1)
            assert_close(slope_spread(rise, 0.01, seed) / (1e-4 / line), 1, 0.15);
}

/* RMS by which DC may be off, in volts, where hum of `one` or of `other` cycles a record may lie under it (0: none). */
static double dc_off(const double *v, double one, double other) {
    gw_fit fit;
    gw_error error = {0};
    gw_terms terms = {.mains = {one / N, other / N}, .twice = true};
    gw_odds odds;
    assert_true(gw_fit_begin(&fit, v, NULL, N, &error));
    assert_true(gw_fit_solve(&fit, &error));
    assert_true(gw_terms_make(&fit, &terms, &error));
    gw_odds_weigh(&terms, &fit, 4, 0, 0, &odds);
    assert_true(odds.hum > 0.9);
    double square = 0;
    for (size_t i = 0; i < terms.count; i++)
        for (size_t j = 0; j < terms.count; j++)
            square += terms.lean[i] * odds.spread[i * terms.count + j] * terms.lean[j];
    gw_terms_end(&terms);
    gw_fit_end(&fit);
    return sqrt(square);
}

/* Less than a cycle of hum, lower than the noise, hardly tells 50 Hz from 60 Hz. The slower of them moves the mean of
 * 14 ms more than twice as much, and may well be it, though the record leans towards the faster: DC must be allowed
 * about what the slower alone would do to it, whichever of the two is thought of first (a quarter less is let pass, for
 * a slope beside the slower, likely enough by itself, may no longer be so with the faster in view). */
static void dc_is_allowed_what_either_network_does(void **state) {
    (void)state;
    const double slower = 0.7, faster = 0.84;
    for (uint64_t k = 1; k <= 5; k++) {
        uint64_t seed = k;
        double *v = new_volts(N);
        add_sine(v, N, N, 0.07, faster, 0.7);
        add_noise(v, N, 0.1, &seed);
        double most = dc_off(v, slower, 0);
        assert_true(most > 2 * dc_off(v, faster, 0));
        assert_close(dc_off(v, slower, faster) / most, 1, 0.25);
        assert_close(dc_off(v, faster, slower) / most, 1, 0.25);
        free(v);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_slope_is_as_certain_as_a_straight_line),
        cmocka_unit_test(dc_is_allowed_what_either_network_does),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
