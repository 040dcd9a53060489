/* What a cut-out is has nothing to do with how large the signal is. */
#include "measure/measured.h"

enum { N = 6000 };

/* A sine of 1 V whose signal is gone for three periods, or stands 0.5 V higher for as long, in noise of 1 mV; all of it
 * times `size`. */
static double dropouts_of(double size, bool jumps, double turn) {
    static const double rate = 48000, hz = 600;
    enum { FROM = 2500, LENGTH = 240 };
    uint64_t random = 43;
    double *v = new_volts(N);
    add_sine(v, N, rate, 1, hz, turn);
    for (size_t i = FROM; i < FROM + LENGTH; i++)
        v[i] = jumps ? v[i] + 0.5 : 0;
    add_noise(v, N, 1e-3, &random);
    for (size_t i = 0; i < N; i++)
        v[i] *= size;
    gw_readings *r = measured(v, N, rate, 0);
    double count = value_of(r, GW_DROPOUTS);
    gw_readings_free(r);
    free(v);
    return count;
}

/* From a pickup's 1 mV to the 300 V of a valve's anode. */
static void a_cut_is_one_at_any_size(void **state) {
    (void)state;
    static const double sizes[] = {1e-3, 1, 300};
    for (size_t k = 0; k < sizeof sizes / sizeof *sizes; k++)
        for (int turn = 0; turn < 3; turn++) {
            assert_close(dropouts_of(sizes[k], false, turn), 1, 0);
            assert_close(dropouts_of(sizes[k], true, turn), 0, 0);
        }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_cut_is_one_at_any_size),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
