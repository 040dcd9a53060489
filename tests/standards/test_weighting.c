/* Frequency weighting A against IEC 61672-1, and what it does to white and pink noise. */
#include "assert_close.h"
#include "measure/noise.h"
#include "measure/weighting.h"

#include <math.h>
#include <stdlib.h>

/* IEC 61672-1:2002 Table 2 (2013 Table 3), weighting A at 10 Hz .. 20 kHz in third octaves, dB; confirmed by GOST
 * 17187-2010 Table 2. Exact frequencies are 10^(n/10) Hz, n = 10 .. 43. */
static const double table_db[34] = {-70.4, -63.4, -56.7, -50.5, -44.7, -39.4, -34.6, -30.2, -26.2, -22.5, -19.1, -16.1,
                                    -13.4, -10.9, -8.6,  -6.6,  -4.8,  -3.2,  -1.9,  -0.8,  0.0,   0.6,   1.0,   1.2,
                                    1.3,   1.2,   1.0,   0.5,   -0.1,  -1.1,  -2.5,  -4.3,  -6.6,  -9.3};
/* The same from the analytic curve of Annex E, computed elsewhere to three decimals. */
static const double analytic_db[34] = {-70.430, -63.371, -56.688, -50.452, -44.703, -39.440, -34.630, -30.228, -26.194,
                                       -22.504, -19.143, -16.098, -13.350, -10.870, -8.630,  -6.611,  -4.808,  -3.233,
                                       -1.900,  -0.824,  0.000,   0.591,   0.981,   1.200,   1.271,   1.199,   0.970,
                                       0.549,   -0.121,  -1.111,  -2.492,  -4.318,  -6.603,  -9.317};

static double db(double ratio) {
    return 20 * log10(ratio);
}

static void table_of_the_standard(void **state) {
    (void)state;
    for (int i = 0; i < 34; i++) {
        double weight = db(gw_weighting_a(pow(10, (10 + i) / 10.0)));
        assert_close(weight, table_db[i], 0.0501);     /* the standard's last digit */
        assert_close(weight, analytic_db[i], 0.00051); /* notices change */
    }
}

static void mains_frequencies(void **state) {
    (void)state;
    /* analytic curve at the exact frequencies */
    assert_close(db(gw_weighting_a(50)), -30.272, 6e-4);
    assert_close(db(gw_weighting_a(100)), -19.143, 6e-4);
    assert_close(db(gw_weighting_a(60)), -27.046, 6e-4);
    assert_close(db(gw_weighting_a(120)), -16.707, 6e-4);
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
    /* integrals of the analytic curve, computed elsewhere */
    assert_close(weighted_db(20, 20e3, 0), -2.048, 0.001);
    assert_close(weighted_db(20, 22050, 0), -2.401, 0.001);
    assert_close(weighted_db(20, 24e3, 0), -2.719, 0.001);
    assert_close(weighted_db(20, 20e3, 1), -2.859, 0.002);
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

static void equivalent_noise_bandwidth(void **state) {
    (void)state;
    /* integral of A^2 from 0 to infinity: 13462 Hz (numerical, computed elsewhere) */
    double sum = 0;
    for (double x = 0; x < 16; x += 1e-3) { /* f = e^x */
        double f = exp(x), a = gw_weighting_a(f);
        sum += a * a * f * 1e-3;
    }
    assert_close(sum, 13462, 4);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(table_of_the_standard),       cmocka_unit_test(mains_frequencies),
        cmocka_unit_test(noise_through_the_weighting), cmocka_unit_test(coarse_bins_are_weighted_as_bars),
        cmocka_unit_test(equivalent_noise_bandwidth),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
