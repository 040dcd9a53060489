/* A waveform with jumps, sampled alike in every period: the samples don't show where in its interval a jump stands, so
 * mean and RMS are uncertain by what that makes, however long the record. True values are the waveforms' own integrals;
 * a jump from a to b moves the mean by (b - a)/N and the mean square by (b² - a²)/N from one end of its interval to the
 * other (N samples a period). */
#include "measured.h"

enum { PHASES = 16, COUNT = 5000 };
static const double rate_hz = 100e3;

typedef struct wave {
    const char *name;
    double (*at)(double turn);
    double mean, square;     /* over a turn: of the value, of its square */
    double jumps, of_square; /* Σ of the jumps' heights; of their heights squared */
    bool same;               /* up and down jumps stand alike, so that an even number of samples is wrong by nothing */
} wave;

static double even_square(double turn) {
    return turn < 0.5 ? 1 : -1;
}

static double thin_pulse(double turn) {
    return turn < 0.23 ? 1 : 0;
}

static double falling_saw(double turn) {
    return 1 - 2 * turn;
}

static double discharge(double turn) {
    return exp(-turn / 0.1);
}

static const wave waves[] = {
    {"square", even_square, 0, 1, 4, 0, true},
    {"pulse", thin_pulse, 0.23, 0.23, 2, 2, false},
    {"saw", falling_saw, 0, 1.0 / 3, 2, 0, false},
    /* ∫exp(-t/τ) = τ(1 - e^(-1/τ)), of the square τ/2·(1 - e^(-2/τ)); τ = 0.1 */
    {"discharge", discharge, 0.1 * (1 - 4.539993e-5), 0.05 * (1 - 2.0611536e-9), 1, 1, false},
};

static gw_readings *reading_of(const wave *w, double samples, double phase, uint64_t *seed) {
    double *x = new_volts(COUNT);
    for (size_t i = 0; i < COUNT; i++) {
        double turn = (double)i / samples + phase;
        x[i] = w->at(turn - floor(turn));
    }
    add_noise(x, COUNT, 0.002, seed);
    gw_readings *readings = measured(x, COUNT, rate_hz, 0);
    free(x);
    return readings;
}

static void close_within_u95(const gw_readings *readings, gw_reading_key key, double truth, size_t *held) {
    const gw_reading *reading = &readings->values[key];
    assert_int_equal(reading->state, GW_READING_VALUE);
    *held += fabs(reading->value - truth) <= reading->u95;
}

/* Every period alike: 20, 25 and 32 samples each. u95 holds the truth, and is no wider than two and a half times the
 * worst that all the jumps together can do. */
static void truth_lies_within_u95(void **state) {
    (void)state;
    static const double samples[] = {20, 25, 32};
    uint64_t seed = 5;
    for (size_t w = 0; w < sizeof waves / sizeof *waves; w++)
        for (size_t s = 0; s < 3; s++) {
            size_t dc = 0, level = 0, ac = 0;
            double root = sqrt(waves[w].square - waves[w].mean * waves[w].mean);
            for (int p = 0; p < PHASES; p++) {
                /* not on the very instant of a sample */
                double phase = (p + 0.37) / PHASES / samples[s] + 0.11;
                gw_readings *readings = reading_of(&waves[w], samples[s], phase, &seed);
                assert_close(value_of(readings, GW_FREQUENCY), rate_hz / samples[s], 0.1);
                close_within_u95(readings, GW_DC, waves[w].mean, &dc);
                close_within_u95(readings, GW_LEVEL, root, &level);
                close_within_u95(readings, GW_AC_RMS, root, &ac);
                assert_true(readings->values[GW_DC].u95 <= 2.5 * waves[w].jumps / (2 * samples[s]) + 1e-3);
                gw_readings_free(readings);
            }
            print_message("%s, %g samples a period: dc %zu, level %zu, ac rms %zu of %d\n", waves[w].name, samples[s],
                          dc, level, ac, PHASES);
            assert_true(dc >= PHASES - 1 && level >= PHASES - 1 && ac >= PHASES - 1);
        }
}

/* Every period sampled elsewhere: the mean over them is right to the noise, and the level holds what lies above half
 * the rate as well. */
static void other_places_in_every_period_tell(void **state) {
    (void)state;
    uint64_t seed = 6;
    for (size_t w = 0; w < sizeof waves / sizeof *waves; w++) {
        double root = sqrt(waves[w].square - waves[w].mean * waves[w].mean);
        for (int p = 0; p < PHASES; p++) {
            gw_readings *readings = reading_of(&waves[w], 25.37, (p + 0.37) / PHASES, &seed);
            assert_close(value_of(readings, GW_DC), waves[w].mean, 0.002);
            assert_true(readings->values[GW_DC].u95 < 0.01);
            assert_close(value_of(readings, GW_LEVEL), root, fmin(0.03 * root, readings->values[GW_LEVEL].u95));
            gw_readings_free(readings);
        }
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(truth_lies_within_u95),
        cmocka_unit_test(other_places_in_every_period_tell),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
