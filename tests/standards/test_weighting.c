/* Frequency weighting A against IEC 61672-1, and what it does to white and pink noise; the values are those of
 * published/weighting.txt. */
#include "published.h"

#include "measure/noise.h"
#include "measure/weighting.h"

#include <math.h>
#include <stdlib.h>

static double db(double ratio) {
    return 20 * log10(ratio);
}

/* Nominal third octaves; the exact frequencies are 10^(n/10) Hz, n = 10 .. 43. */
static const char *const nominal[34] = {"10",   "12.5", "16",   "20",    "25",    "31.5",  "40",   "50",   "63",
                                        "80",   "100",  "125",  "160",   "200",   "250",   "315",  "400",  "500",
                                        "630",  "800",  "1000", "1250",  "1600",  "2000",  "2500", "3150", "4000",
                                        "5000", "6300", "8000", "10000", "12500", "16000", "20000"};

static double limit(const char *table, const char *side, const char *frequency) {
    char name[40];
    snprintf(name, sizeof name, "%s-%s-%s", table, side, frequency);
    return published_value(name);
}

static void table_of_the_standard(void **state) {
    (void)state;
    static const char *const editions[] = {"A-tol02", "A-tol13"};
    for (int i = 0; i < 34; i++) {
        double weight = db(gw_weighting_a(pow(10, (10 + i) / 10.0)));
        char name[40];
        snprintf(name, sizeof name, "A-%s", nominal[i]);
        published(name, weight);
        /* the table's own decimal is within class 1 of it in both editions; at the ends there is no lower limit */
        double tabled = round(10 * published_value(name)) / 10;
        for (int e = 0; e < 2; e++) {
            assert_true(weight - tabled <= limit(editions[e], "up", nominal[i]));
            assert_true(i < 2 || i == 33 || weight - tabled >= limit(editions[e], "lo", nominal[i]));
        }
    }
}

static void mains_frequencies(void **state) {
    (void)state;
    published("A-hum50", db(gw_weighting_a(50)));
    published("A-hum100", db(gw_weighting_a(100)));
    published("A-hum60", db(gw_weighting_a(60)));
    published("A-hum120", db(gw_weighting_a(120)));
    assert_close(gw_weighting_a(1000), 1, 1e-15);
    assert_close(gw_weighting_a(0), 0, 0);
    assert_close(gw_weighting_a(-50), gw_weighting_a(50), 0);
    assert_close(gw_weighting_a(1e12), 0, 1e-12);
}

/* Level of A-weighted noise re unweighted, dB; density ~ 1/f^slope. */
static double weighted_db(double low_hz, double high_hz, double slope) {
    gw_psd psd = {.bins = 24001, .bin_hz = 1, .duration_s = 8, .freedom = 15, .segments = 8};
    psd.density = calloc(psd.bins, sizeof *psd.density);
    assert_non_null(psd.density);
    for (size_t k = 0; k < psd.bins; k++)
        psd.density[k] = k ? pow((double)k, -slope) : 0;
    gw_band band = {low_hz, high_hz};
    gw_noise flat = gw_noise_rms(&psd, band, GW_WEIGHT_FLAT, (gw_fitted){0});
    gw_noise a = gw_noise_rms(&psd, band, GW_WEIGHT_A, (gw_fitted){0});
    free(psd.density);
    return db(a.rms / flat.rms);
}

static void noise_through_the_weighting(void **state) {
    (void)state;
    published("A-white-20-20k", weighted_db(20, 20e3, 0));
    published("A-white-20-22.05k", weighted_db(20, 22050, 0));
    published("A-white-20-24k", weighted_db(20, 24e3, 0));
    published("A-pink-20-20k", weighted_db(20, 20e3, 1));
}

static void coarse_bins_are_weighted_as_bars(void **state) {
    (void)state;
    /* a short record: bins of 750 Hz, white; the weight within a bar is integrated, not taken at its middle */
    double density[33];
    for (size_t k = 0; k < 33; k++)
        density[k] = 1e-12;
    gw_psd psd = {.bins = 33, .bin_hz = 750, .density = density, .duration_s = 0.006, .freedom = 15, .segments = 8};
    gw_band band = {20, 20e3};
    gw_noise flat = gw_noise_rms(&psd, band, GW_WEIGHT_FLAT, (gw_fitted){0});
    gw_noise a = gw_noise_rms(&psd, band, GW_WEIGHT_A, (gw_fitted){0});
    assert_close(flat.rms, sqrt(1e-12 * 19980), 1e-12);
    assert_close(db(a.rms / flat.rms), -2.048, 0.01);
}

/* White noise of 1 V²/Hz through the weighting where it rises, by up to 24 dB an octave, in bars of an octave and more.
 * By quadrature of the standard's formula with 30 digits. */
static void a_bar_may_be_wider_than_an_octave(void **state) {
    (void)state;
    static const struct {
        double bin_hz, low_hz, high_hz, power, share;
    } cases[] = {{100, 0, 50, 0.00852024918, 1e-3},
                 {100, 20, 250, 9.92154336, 1e-5},
                 {1000, 0, 500, 84.9751205, 1e-3},
                 {1000, 500, 1500, 949.838405, 1e-4}};
    double density[9];
    for (size_t k = 0; k < 9; k++)
        density[k] = 1;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        gw_psd psd = {.bins = 9, .bin_hz = cases[i].bin_hz, .density = density, .freedom = 2, .segments = 1};
        psd.duration_s = 1 / cases[i].bin_hz;
        gw_noise a = gw_noise_rms(&psd, (gw_band){cases[i].low_hz, cases[i].high_hz}, GW_WEIGHT_A, (gw_fitted){0});
        assert_true(a.valid);
        assert_close(a.rms * a.rms, cases[i].power, cases[i].share * cases[i].power);
    }
}

static void equivalent_noise_bandwidth(void **state) {
    (void)state;
    /* integral of A^2 from 0 to infinity */
    double sum = 0;
    for (double x = 0; x < 16; x += 1e-3) { /* f = e^x */
        double f = exp(x), a = gw_weighting_a(f);
        sum += a * a * f * 1e-3;
    }
    published("A-enbw", sum);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(table_of_the_standard),
        cmocka_unit_test(mains_frequencies),
        cmocka_unit_test(noise_through_the_weighting),
        cmocka_unit_test(coarse_bins_are_weighted_as_bars),
        cmocka_unit_test(a_bar_may_be_wider_than_an_octave),
        cmocka_unit_test(equivalent_noise_bandwidth),
        cmocka_unit_test(published_all_checked),
    };
    return published_read("weighting.txt") || cmocka_run_group_tests(tests, NULL, NULL);
}
