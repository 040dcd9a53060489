/* Test signals of 50, 60, 100 and 120 Hz, and multiples of these: hum of the other network is told from them, hum of
 * the same one as far as it can be. What is expected are the figures that the samples are made of. */
#include "measured.h"

#include "trials.h"

#include <string.h>

enum { N = 5000 };
static const double rate_hz = 10e3;

/* A sine of 1 V peak on a dial that is off by up to 0.4 %, and hum at a network's frequency and at twice that. */
typedef struct made {
    double volts[N], frequency_hz, hum_v, twice_v; /* of the hum: RMS at the mains, at twice that */
} made;

static void make(made *m, double dial_hz, double mains_hz, double hum_peak, uint64_t *seed) {
    m->frequency_hz = dial_hz * (1 + 0.008 * (random_even(seed) - 0.5));
    m->hum_v = hum_peak / sqrt(2);
    m->twice_v = 0.3 * m->hum_v;
    memset(m->volts, 0, sizeof m->volts);
    add_sine(m->volts, N, rate_hz, 1, m->frequency_hz, 6 * random_even(seed));
    add_sine(m->volts, N, rate_hz, hum_peak, mains_hz, 6 * random_even(seed));
    add_sine(m->volts, N, rate_hz, 0.3 * hum_peak, 2 * mains_hz, 6 * random_even(seed));
    add_noise(m->volts, N, 1e-3, seed);
}

static bool holds(const gw_readings *r, gw_reading_key key, double truth) {
    return fabs(value_of(r, key) - truth) <= r->values[key].u95;
}

static void only_the_mains_beside(const gw_readings *r) {
    for (size_t k = 0; k < r->tone_count; k++)
        assert_int_equal(r->tones[k].kind, GW_TONE_MAINS);
}

static bool has_remark(const gw_readings *r, const char *words) {
    bool found = false;
    for (size_t k = 0; k < r->remarks.count; k++)
        found = found || strstr(r->remarks.items[k], words);
    return found;
}

/* Frequencies on twice or three times the mains of one network, and on none of the other. */
typedef struct pairing {
    double dial_hz, mains_hz;
} pairing;
static const pairing others[] = {{100, 60}, {120, 50}, {150, 60}, {180, 50}};
enum { PAIRINGS = sizeof others / sizeof *others };

static void hum_of_the_other_network(bool stated, double hum_peak) {
    uint64_t seed = 61;
    int held[3] = {0}, trials = trials_of(20);
    for (int t = 0; t < trials * PAIRINGS; t++) {
        made m;
        const pairing *p = &others[t % PAIRINGS];
        make(&m, p->dial_hz, p->mains_hz, hum_peak, &seed);
        gw_measure_options options = {0};
        if (stated)
            options.stimulus = (gw_stimulus){.shape = GW_SHAPE_SINE, .frequency_hz = p->dial_hz};
        gw_readings *r = measured_with(m.volts, N, rate_hz, 0, &options);
        double hum = hypot(m.hum_v, m.twice_v);
        assert_int_equal(r->signal, GW_SIGNAL_SINE);
        assert_close(value_of(r, GW_FREQUENCY), m.frequency_hz, 2e-3);
        assert_close(value_of(r, GW_LEVEL), sqrt(0.5), 5e-4);
        assert_close(value_of(r, GW_HUM), hum, 5e-4);
        assert_close(r->clues.mains_hz, p->mains_hz, 0);
        held[0] += holds(r, GW_FREQUENCY, m.frequency_hz);
        held[1] += holds(r, GW_LEVEL, sqrt(0.5));
        held[2] += holds(r, GW_HUM, hum);
        only_the_mains_beside(r);
        gw_readings_free(r);
    }
    for (int k = 0; k < 3; k++) /* 95 % of 80, but for chance: 71 or less once in a hundred */
        assert_in_range(held[k], 0.88 * trials * PAIRINGS, trials * PAIRINGS);
}

static void other_network_far_stronger(void **state) {
    (void)state;
    hum_of_the_other_network(true, 3);
}

static void other_network_beside_a_stated_sine(void **state) {
    (void)state;
    hum_of_the_other_network(true, 0.1);
    hum_of_the_other_network(true, 0.01);
}

static void other_network_beside_an_unknown_sine(void **state) {
    (void)state;
    hum_of_the_other_network(false, 0.1);
    hum_of_the_other_network(false, 0.01);
}

/* On the mains of one network itself, with hum of the other. */
static void a_sine_on_the_mains(void **state) {
    (void)state;
    uint64_t seed = 62;
    for (int t = 0; t < trials_of(40); t++) {
        made m;
        double dial = t % 2 ? 60 : 50, mains = t % 2 ? 50 : 60;
        make(&m, dial, mains, 0.1, &seed);
        gw_measure_options options = {.stimulus = {.shape = GW_SHAPE_SINE, .frequency_hz = dial}};
        gw_readings *r = measured_with(m.volts, N, rate_hz, 0, &options);
        assert_close(value_of(r, GW_FREQUENCY), m.frequency_hz, 2e-3);
        assert_close(value_of(r, GW_HUM), hypot(m.hum_v, m.twice_v), 5e-4);
        only_the_mains_beside(r);
        gw_readings_free(r);
    }
}

/* The same network: what hum there is at 50 or 60 Hz is told, what is at twice that can't be told from the signal,
 * whose level and frequency are the less sure. */
static void hum_of_the_same_network(void **state) {
    (void)state;
    static const double peaks[] = {0.1, 0.01, 0.003};
    uint64_t seed = 63;
    for (int t = 0; t < trials_of(60); t++) {
        made m;
        double dial = t % 2 ? 120 : 100, mains = dial / 2;
        make(&m, dial, mains, peaks[t % 3], &seed);
        gw_measure_options options = {.stimulus = {.shape = GW_SHAPE_SINE, .frequency_hz = dial}};
        gw_readings *r = measured_with(m.volts, N, rate_hz, 0, &options);
        assert_int_equal(r->signal, GW_SIGNAL_SINE);
        assert_true(holds(r, GW_FREQUENCY, m.frequency_hz));
        assert_true(holds(r, GW_LEVEL, sqrt(0.5)));
        /* no wider than by twice the hum that is told */
        assert_in_range(1e6 * r->values[GW_LEVEL].u95, 0, 1e6 * (2.2 * m.hum_v + 1e-3));
        assert_close(value_of(r, GW_HUM), m.hum_v, 0.02 * m.hum_v + 1e-4);
        assert_true(has_remark(r, "on twice the mains frequency"));
        gw_readings_free(r);
    }
}

/* Without hum nothing of it is told, and nothing made less sure. */
static void no_hum_beside_such_signals(void **state) {
    (void)state;
    static const double dials_hz[] = {50, 60, 100, 120, 150, 180};
    uint64_t seed = 64;
    for (int t = 0; t < trials_of(120); t++) {
        made m;
        make(&m, dials_hz[t % 6], 50, 0, &seed);
        gw_readings *r = measured(m.volts, N, rate_hz, 0);
        assert_int_equal(r->signal, GW_SIGNAL_SINE);
        assert_int_not_equal(r->values[GW_HUM].state, GW_READING_VALUE);
        assert_int_equal(r->tone_count, 0);
        /* of 1 mV noise in 5000 samples: 14 uV by the Cramer-Rao bound (Rife & Boorstyn 1974), so u95 is 28 uV */
        assert_close(r->values[GW_LEVEL].u95, 28e-6, 8e-6);
        gw_readings_free(r);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(other_network_far_stronger),
        cmocka_unit_test(other_network_beside_a_stated_sine),
        cmocka_unit_test(other_network_beside_an_unknown_sine),
        cmocka_unit_test(a_sine_on_the_mains),
        cmocka_unit_test(hum_of_the_same_network),
        cmocka_unit_test(no_hum_beside_such_signals),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
