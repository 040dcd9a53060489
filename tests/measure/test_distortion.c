/* Figures that compare the fundamental with the rest, and the noise with what the converter makes: where there is
 * nothing to compare, none is told. */
#include "measured.h"

enum { N = 4800 };
static const double rate_hz = 48e3;

/* Harmonics 2, 3 and 5 of 110 Hz, none at 110 Hz itself. SINAD is fundamental over the rest (IEEE Std 1057): here there
 * is none. */
static void no_fundamental_has_no_sinad(void **state) {
    (void)state;
    uint64_t seed = 12;
    for (int t = 0; t < 20; t++) {
        double *x = new_volts(N), phase = 7 * random_even(&seed);
        add_sine(x, N, rate_hz, 1, 220, phase);
        add_sine(x, N, rate_hz, 1, 330, 2 * phase);
        add_sine(x, N, rate_hz, 0.8, 550, 3 * phase);
        add_noise(x, N, 0.001, &seed);
        gw_readings *readings = measured(x, N, rate_hz, 0);
        assert_close(value_of(readings, GW_FREQUENCY), 110, 0.1);
        assert_int_equal(readings->values[GW_SINAD].state, GW_READING_NONE);
        assert_string_equal(readings->values[GW_SINAD].why, "the fundamental is not above the noise");
        gw_readings_free(readings);
        free(x);
    }
}

/* A sine with about as much noise as the converter's steps make, and so it is with the noise's density (white: the one
 * is the other times the root of the band). Where one is a bound the other can't be a figure. */
static void density_is_a_bound_where_noise_is(void **state) {
    (void)state;
    uint64_t seed = 13;
    int bounds = 0;
    for (int t = 0; t < 120; t++) {
        double *x = new_volts(N), step = 0.002 + 0.1 * random_even(&seed);
        add_sine(x, N, rate_hz, 1, 300 + 1500 * random_even(&seed), 7 * random_even(&seed));
        add_noise(x, N, (0.25 + 0.06 * random_even(&seed)) * step, &seed); /* steps make 0.289 */
        quantise(x, N, step);
        gw_readings *readings = measured(x, N, rate_hz, step);
        if (readings->values[GW_NOISE].state == GW_READING_BELOW) {
            bounds++;
            assert_int_equal(readings->values[GW_NOISE_DENSITY].state, GW_READING_BELOW);
        }
        gw_readings_free(readings);
        free(x);
    }
    print_message("noise is a bound in %d of 120\n", bounds);
    assert_in_range(bounds, 20, 100);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(no_fundamental_has_no_sinad),
        cmocka_unit_test(density_is_a_bound_where_noise_is),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
