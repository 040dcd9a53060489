/* Two channels of noise, one of which is the other earlier or later by whole samples. */
#include "measure/captured.h"
#include "measure/crossing.h"
#include "measure/signals.h"

enum { N = 6000, MOST = 20, RATE = 48000 };

static gw_pair pair_later(int samples, double gain) {
    uint64_t random = 81;
    double *noise = new_volts(N + 2 * MOST), *other = new_volts(N);
    add_noise(noise, N + 2 * MOST, 0.1, &random);
    for (int i = 0; i < N; i++)
        other[i] = gain * noise[i + MOST - samples];
    gw_capture *capture = capture_of(noise + MOST, other, N, RATE);
    gw_crossing crossing;
    gw_pair pair;
    assert_true(gw_crossing_make(capture, 0, 1, 0, &crossing, NULL));
    assert_true(gw_crossing_pair(&crossing, RATE, &pair, NULL));
    gw_crossing_free(&crossing);
    gw_capture_free(capture);
    free(noise);
    free(other);
    return pair;
}

/* The channel of the output may have been recorded first, and the probes may be the wrong way round: a delay has a
 * sign. A copy's delay is known to a small part of a sample. */
static void what_comes_earlier_has_a_negative_delay(void **state) {
    (void)state;
    static const int later[] = {-MOST, -7, -1, 0, 1, 7, MOST};
    for (size_t k = 0; k < sizeof later / sizeof *later; k++)
        for (int turned = 0; turned < 2; turned++) {
            gw_pair pair = pair_later(later[k], turned ? -0.5 : 2);
            assert_true(pair.valid);
            assert_close(pair.delay_s * RATE, later[k], 0.05);
            assert_int_equal(pair.polarity, turned ? -1 : 1);
        }
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(what_comes_earlier_has_a_negative_delay)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
