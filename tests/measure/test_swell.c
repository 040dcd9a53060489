/* A sine that swells and fades, as behind a tremolo, or of which the level steps: it is a sine of its own frequency all
 * the same, neither two tones nor a comb of its sidebands, and is nowhere cut off however low it falls. The captures
 * are simulated. */
#include "measure/measured.h"
#include "trials.h"

#include <string.h>

enum { N = 24000, TRIALS = 60 };
static const double rate = 48000;

/* Half a second, with 3e-4 V RMS of noise. */
static void swelling(double *v, double hz, double swells_hz, double depth, uint64_t *random) {
    double start = two_pi * random_even(random), turn = two_pi * random_even(random);
    for (size_t i = 0; i < N; i++) {
        double time = (double)i / rate;
        v[i] = 0.5 * (1 + depth * cos(two_pi * swells_hz * time + start)) * sin(two_pi * hz * time + turn);
    }
    add_noise(v, N, 3e-4, random);
}

static bool told_to_waver(const gw_readings *r) {
    for (size_t k = 0; k < r->remarks.count; k++)
        if (strstr(r->remarks.items[k], "wavers"))
            return true;
    return false;
}

/* That it wavers is told where half of it does: its sidebands then hold an eighth of the power of the rest. */
static void test_sine_of_its_frequency(void **state) {
    (void)state;
    uint64_t random = 71;
    double *v = new_volts(N);
    size_t wrong = 0, events = 0, silent = 0, count = (size_t)trials_of(TRIALS);
    for (size_t t = 0; t < count; t++) {
        double hz = 110 * pow(18, random_even(&random)), swells_hz = 5 + 11 * random_even(&random);
        double depth = t % 6 ? 0.1 + 0.85 * random_even(&random) : 0;
        swelling(v, hz, swells_hz, depth, &random);
        gw_readings *r = measured(v, N, rate, 0);
        bool right = r->signal == GW_SIGNAL_SINE && fabs(value_of(r, GW_FREQUENCY) / hz - 1) < 2e-3;
        wrong += !right;
        events += r->event_count > 0;
        silent += depth > 0.5 && !told_to_waver(r);
        assert_true(depth > 0 || !told_to_waver(r));
        gw_readings_free(r);
    }
    free(v);
    assert_in_range(wrong, 0, (count + 29) / 30);
    assert_in_range(silent, 0, (count + 29) / 30);
    assert_in_range(events, 0, (count + 29) / 30);
}

/* The RMS of a sine of peak a that swells by the share m is a·sqrt((1 + m²/2)/2), its steady part's a/sqrt 2: u95
 * reaches from this to that. */
static void test_level_of_all(void **state) {
    (void)state;
    uint64_t random = 76;
    double *v = new_volts(N);
    int held = 0, trials = trials_of(TRIALS);
    for (int t = 0; t < trials; t++) {
        double depth = 0.15 + 0.75 * random_even(&random);
        swelling(v, 300 * pow(6, random_even(&random)), 6 + 10 * random_even(&random), depth, &random);
        gw_readings *r = measured(v, N, rate, 0);
        double whole = 0.5 * sqrt((1 + depth * depth / 2) / 2), level = value_of(r, GW_LEVEL);
        double u95 = r->values[GW_LEVEL].u95;
        held += fabs(whole - level) <= 1.02 * u95 && u95 < 0.3 * level;
        gw_readings_free(r);
    }
    free(v);
    print_message("level of a swelling sine: RMS of all of it within u95 in %d of %d\n", held, trials);
    assert_in_range(held, trials * 9 / 10, trials);
}

/* The level is a fifth to a half of what it is for 15 to 30 % of the record, at its begin or its end. */
static void test_level_steps(void **state) {
    (void)state;
    uint64_t random = 72;
    double *v = new_volts(N);
    size_t wrong = 0, count = (size_t)trials_of(TRIALS);
    for (size_t t = 0; t < count; t++) {
        double hz = 60 * pow(30, random_even(&random)), low = 0.2 + 0.3 * random_even(&random);
        double loud = 0.15 + 0.15 * random_even(&random);
        size_t place = (size_t)(N * (t % 2 ? 1 - loud : loud));
        for (size_t i = 0; i < N; i++)
            v[i] = ((i < place) == (t % 2 > 0) ? low : 1) * 0.5 * sin(two_pi * hz * (double)i / rate + (double)t);
        add_noise(v, N, 3e-4, &random);
        gw_readings *r = measured(v, N, rate, 0);
        wrong += r->signal != GW_SIGNAL_SINE || fabs(value_of(r, GW_FREQUENCY) / hz - 1) > 2e-3;
        gw_readings_free(r);
    }
    free(v);
    assert_in_range(wrong, 0, (count + 19) / 20);
}

/* A tone whose pitch wavers too much to be one sine, or which dies away within the record: whatever it is called, its
 * level is not that of what is left between its lines. */
static void test_level_of_what_is_no_sine(void **state) {
    (void)state;
    uint64_t random = 73;
    double *v = new_volts(N);
    size_t noises = 0, count = (size_t)trials_of(TRIALS / 2);
    for (size_t t = 0; t < count; t++) {
        double hz = 2000 + 2000 * random_even(&random), waver_hz = 3 + 3 * random_even(&random), power = 0;
        double swing = 0.003 * hz / waver_hz, fall = N * (0.15 + 0.05 * random_even(&random));
        for (size_t i = 0; i < N; i++) {
            double turn = two_pi * hz * (double)i / rate;
            v[i] = t % 2 ? 0.5 * sin(turn + swing * sin(two_pi * waver_hz * (double)i / rate))
                         : 0.5 * exp(-(double)i / fall) * sin(turn);
            power += v[i] * v[i] / N;
        }
        add_noise(v, N, 3e-4, &random);
        gw_readings *r = measured(v, N, rate, 0);
        if (r->signal == GW_SIGNAL_NOISE) {
            double rms = sqrt(power);
            assert_close(value_of(r, GW_LEVEL), rms, fmax(0.05 * rms, r->values[GW_LEVEL].u95));
            noises++;
        }
        gw_readings_free(r);
    }
    free(v);
    assert_in_range(noises, 1, count);
}

/* Gated: three tenths of each turn are gone at once, and that is told. */
static void test_gated_is_cut(void **state) {
    (void)state;
    double *v = new_volts(N);
    for (size_t i = 0; i < N; i++) {
        double time = (double)i / rate, turns = 6 * time + 0.3;
        v[i] = turns - floor(turns) < 0.7 ? 0.5 * sin(two_pi * 997 * time) : 0;
    }
    gw_readings *r = measured(v, N, rate, 0);
    assert_close(value_of(r, GW_DROPOUTS), 3, 0);
    gw_readings_free(r);
    free(v);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_sine_of_its_frequency), cmocka_unit_test(test_level_of_all),
        cmocka_unit_test(test_level_steps),           cmocka_unit_test(test_level_of_what_is_no_sine),
        cmocka_unit_test(test_gated_is_cut),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
