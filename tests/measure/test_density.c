/* The density of white noise: what it says of itself is how far it scatters. */
#include "assert_close.h"
#include "measure/noise.h"
#include "measure/signals.h"

enum { N = 5000, TRIALS = 150 };

/* Noise of 1 V at a rate of 2 Hz has 1 V²/Hz up to 1 Hz. Of a Gaussian record of N samples no estimate of the deviation
 * scatters less than 1/√(2 N), and a median by √(π/2) of that and a little more, for the window. */
static void a_density_scatters_as_it_says(void **state) {
    (void)state;
    uint64_t random = 91;
    double *v = new_volts(N), mean = 0, squares = 0, said = 0;
    for (int trial = 0; trial < TRIALS; trial++) {
        gw_arena *arena = gw_arena_new();
        gw_psd psd;
        gw_floor floor;
        for (size_t i = 0; i < N; i++)
            v[i] = random_gauss(&random);
        assert_true(gw_psd_welch(v, NULL, N, 2, 0, arena, &psd));
        assert_true(gw_noise_density(&psd, (gw_band){0, 1}, (gw_fitted){0}, &floor));
        assert_true(floor.valid);
        mean += floor.density / TRIALS;
        squares += (floor.density - 1) * (floor.density - 1) / TRIALS;
        said += floor.relative / TRIALS;
        gw_arena_free(arena);
    }
    free(v);
    assert_close(mean, 1, 0.01);
    /* a scatter of 150 trials is known to 6 % */
    assert_close(said / sqrt(squares), 1, 0.25);
    assert_true(said > 1 / sqrt(2.0 * N) && said < 2 * sqrt(two_pi / 4) / sqrt(2.0 * N));
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(a_density_scatters_as_it_says)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
