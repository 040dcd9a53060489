/* Short records of noise that rises towards low frequencies swing once, as a sine of a cycle would: they are noise. */
#include "measure/measured.h"
#include "trials.h"

enum { TRIALS = 300, LONGEST = 1000 };

/* A random walk: its density falls as the square of the frequency. */
static void walk_make(double *v, size_t n, uint64_t *random) {
    double at = 0;
    for (size_t i = 0; i < n; i++)
        v[i] = at += 0.01 * random_gauss(random);
}

static bool is_tone(const double *v, size_t n) {
    gw_readings *r = measured(v, n, 48e3, 0);
    gw_signal signal = r->signal;
    gw_readings_free(r);
    return signal == GW_SIGNAL_SINE || signal == GW_SIGNAL_PERIODIC || signal == GW_SIGNAL_TWO_TONE;
}

static void test_random_walks(void **state) {
    (void)state;
    static const size_t lengths[] = {64, 200, LONGEST};
    uint64_t random = 81;
    double *v = new_volts(LONGEST);
    for (size_t k = 0; k < sizeof lengths / sizeof *lengths; k++) {
        size_t tones = 0, count = (size_t)trials_of(TRIALS);
        for (size_t t = 0; t < count; t++) {
            walk_make(v, lengths[k], &random);
            tones += is_tone(v, lengths[k]);
        }
        assert_in_range(tones, 0, count / 25);
    }
    free(v);
}

/* Nine tenths of a cycle, 30 dB above white noise, are a sine all the same. */
static void test_less_than_a_cycle(void **state) {
    (void)state;
    uint64_t random = 82;
    double *v = new_volts(LONGEST);
    for (int t = 0; t < trials_of(TRIALS / 10); t++) {
        for (size_t i = 0; i < LONGEST; i++)
            v[i] = 0;
        add_sine(v, LONGEST, 48e3, 1, 0.9 * 48e3 / LONGEST, two_pi * random_even(&random));
        add_noise(v, LONGEST, sqrt(0.5) * 0.0316, &random);
        assert_true(is_tone(v, LONGEST));
    }
    free(v);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_random_walks),
        cmocka_unit_test(test_less_than_a_cycle),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
