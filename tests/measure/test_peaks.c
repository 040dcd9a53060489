/* Which maxima of a spectrum are lines, and which are what a window leaves beside a line. */
#include "measure/measured.h"
#include "measure/peaks.h"

enum { N = 512, RECORDS = 300 };

/* A sine in noise a tenth as high: the window's side lobes, 31.5 dB down (Harris 1978), stand a little above the noise
 * and go up and down with it. Noise alone makes a line of itself in one of ten thousand records. */
static void a_sine_in_noise_is_one_line(void **state) {
    (void)state;
    uint64_t seed = 71;
    int more = 0;
    for (int t = 0; t < RECORDS; t++) {
        double volts[N] = {0}, cycles = 20 + 200 * random_even(&seed);
        add_sine(volts, N, N, 1, cycles, 7 * random_even(&seed));
        add_noise(volts, N, 0.1, &seed);
        gw_peaks peaks;
        assert_true(gw_peaks_find(NULL, volts, NULL, N, N, &peaks));
        assert_true(peaks.count >= 1);
        assert_close(peaks.items[0].cycles, cycles, 0.1);
        more += peaks.count > 1;
    }
    print_message("more than one line in %d of %d\n", more, RECORDS);
    assert_int_equal(more, 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(a_sine_in_noise_is_one_line)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
