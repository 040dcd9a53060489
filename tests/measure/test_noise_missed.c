/* Noise that rises to low frequencies, in a record that by chance shows less of it. */
#include "measure/noise.h"
#include "measured.h"

/* The lowest two bins of noise that rises to low frequencies hold next to nothing, by chance: what may have been missed
 * there makes the figure less certain. How much is a share of the noise, the same for microvolts and for volts. */
static void what_chance_missed_is_a_share(void **state) {
    (void)state;
    enum { BINS = 200 };
    const double units[] = {1, 1e-6, 1e3};
    const gw_band band = {3, 300};
    double density[BINS], relative[3];
    gw_psd psd = {.bins = BINS, .bin_hz = 10, .density = density, .duration_s = 10, .freedom = 200, .segments = 100};
    for (int i = 0; i < 3; i++) {
        for (int k = 0; k < BINS; k++)
            density[k] = units[i] * units[i] * (k < 2 ? 1e-6 : 1.0 / k);
        relative[i] = gw_noise_rms(&psd, band, GW_WEIGHT_FLAT, (gw_fitted){0}).relative;
        density[1] = units[i] * units[i];
        double as_it_rises = gw_noise_rms(&psd, band, GW_WEIGHT_FLAT, (gw_fitted){0}).relative;
        assert_true(relative[i] > as_it_rises);
    }
    assert_close(relative[1], relative[0], 1e-6 * relative[0]);
    assert_close(relative[2], relative[0], 1e-6 * relative[0]);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_chance_missed_is_a_share),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
