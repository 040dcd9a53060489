/* Two tones or one comb: tones near the ratio of small numbers, lines on it, products that fall on each other, a tone
 * near a harmonic. */
#include "measured.h"

enum { N = 2000, RATE_HZ = 48000 };

typedef struct ratio {
    int low, high;
} ratio;

static const ratio ratios[] = {{2, 3}, {3, 4}, {3, 5}};

/* Two sines and noise; `off` is how far the upper one stands from the ratio, cycles of the record. */
static gw_readings *of_two(double low_hz, ratio of, double off, double noise, uint64_t *seed) {
    double *x = new_volts(N);
    add_sine(x, N, RATE_HZ, 0.5, low_hz, 7 * random_even(seed));
    add_sine(x, N, RATE_HZ, 0.4, low_hz * of.high / of.low + off * RATE_HZ / N, 7 * random_even(seed));
    add_noise(x, N, noise, seed);
    gw_readings *r = measured(x, N, RATE_HZ, 0);
    free(x);
    return r;
}

/* A twentieth of a cycle beside the ratio is two thousand times what such noise hides of a frequency in a record (its
 * bound, √6·σ/(π·A·√n) cycles: Rife & Boorstyn 1974). */
static void tones_beside_a_ratio_are_two(void **state) {
    (void)state;
    static const double offs[] = {0.05, -0.1, 0.2, -0.3};
    uint64_t seed = 101;
    for (size_t t = 0; t < 60; t++) {
        double low_hz = (18 + 30 * random_even(&seed)) * RATE_HZ / N;
        gw_readings *r = of_two(low_hz, ratios[t % 3], offs[t % 4], 0.0005, &seed);
        assert_int_equal(r->signal, GW_SIGNAL_TWO_TONE);
        assert_close(value_of(r, GW_FREQUENCY), low_hz, 0.001 * RATE_HZ / N);
        assert_close(value_of(r, GW_LEVEL), sqrt((0.25 + 0.16) / 2), 1e-4);
        assert_close(value_of(r, GW_NOISE), 0.0005 * sqrt(20e3 / 24e3), 0.0001);
        gw_readings_free(r);
    }
}

/* Two lines on the ratio itself repeat with their common part, whatever the noise. */
static void lines_on_a_ratio_repeat(void **state) {
    (void)state;
    static const double noises[] = {0.05, 0.005, 0.0005, 0.00005};
    uint64_t seed = 102;
    for (size_t t = 0; t < 60; t++) {
        double low_hz = (27 + 30 * random_even(&seed)) * RATE_HZ / N, noise = noises[t % 4];
        gw_readings *r = of_two(low_hz, ratios[t % 3], 0, noise, &seed);
        assert_int_equal(r->signal, GW_SIGNAL_PERIODIC);
        assert_close(value_of(r, GW_FREQUENCY), low_hz / ratios[t % 3].low, 0.1 * noise * RATE_HZ / N);
        gw_readings_free(r);
    }
}

/* The peak of the strongest product at a frequency. */
static double product_at(const gw_readings *r, double frequency_hz) {
    double found = 0;
    for (size_t k = 0; k < r->tone_count; k++)
        if (fabs(r->tones[k].frequency_hz - frequency_hz) < 0.3 * RATE_HZ / N)
            found = fmax(found, sqrt(2) * r->tones[k].rms);
    return found;
}

/* 2:3 through y = x + a·x² + b·x³: the difference (second order, a·A·B) and 2f₁ - f₂ (third order, ¾·b·A²·B) fall on
 * one frequency and there add as their phases say: cos(2p - q) and cos(q - p). */
static void products_on_each_other_are_one(void **state) {
    (void)state;
    static const gw_measure_options pair_fed = {.stimulus = {.shape = GW_SHAPE_TWO_TONE}};
    static const double high = 0.4, low = 0.5, a = 0.2, b = 0.3;
    uint64_t seed = 103;
    for (int t = 0; t < 40; t++) {
        double f = (6.2 + 12 * random_even(&seed)) * RATE_HZ / N, p = 7 * random_even(&seed),
               q = 7 * random_even(&seed), *x = new_volts(N);
        for (size_t i = 0; i < N; i++) {
            double turn = two_pi * f * (double)i / RATE_HZ, v = low * cos(2 * turn + p) + high * cos(3 * turn + q);
            x[i] = v + a * v * v + b * v * v * v;
        }
        add_noise(x, N, 0.0005, &seed);
        gw_readings *r = measured_with(x, N, RATE_HZ, 0, &pair_fed);
        double second = a * low * high, third = 0.75 * b * low * low * high;
        double both = hypot(second * cos(q - p) + third * cos(2 * p - q), second * sin(q - p) + third * sin(2 * p - q));
        assert_int_equal(r->signal, GW_SIGNAL_TWO_TONE);
        assert_close(value_of(r, GW_FREQUENCY), 2 * f, 0.01 * RATE_HZ / N);
        assert_close(product_at(r, f), both, 0.0003);
        assert_close(value_of(r, GW_NOISE), 0.0005 * sqrt(20e3 / 24e3), 0.0002);
        gw_readings_free(r);
        free(x);
    }
}

/* A tone of a twentieth near the fourth harmonic, in five cycles: taken for it, it would pull the pitch by dozens
 * of times its bound, √6·σ/(π·A·√n) cycles (Rife & Boorstyn 1974), a few times which the tone's nearness costs. On the
 * harmonic's place it is the harmonic. */
static void a_tone_beside_a_harmonic_is_none(void **state) {
    (void)state;
    static const double offs[] = {0, 0.08, -0.12, 0.2, -0.3}, sigma = 0.0005;
    uint64_t seed = 104;
    for (size_t t = 0; t < 60; t++) {
        double f = 5 + 2 * random_even(&seed), off = offs[t % 5], *x = new_volts(N);
        add_sine(x, N, N, 0.5, f, 7 * random_even(&seed));
        add_sine(x, N, N, 0.025, 4 * f + off, 7 * random_even(&seed));
        add_noise(x, N, sigma, &seed);
        gw_readings *r = measured(x, N, RATE_HZ, 0);
        assert_int_equal(r->signal, GW_SIGNAL_SINE);
        double bound = sqrt(6) * sigma / (two_pi / 2 * 0.5 * sqrt(N));
        assert_close(value_of(r, GW_FREQUENCY) * N / RATE_HZ, f, 6 * bound);
        assert_close(value_of(r, GW_NOISE), sigma * sqrt(20e3 / 24e3), 0.1 * sigma);
        if (off == 0)
            assert_close(value_of(r, GW_THD), 0.05, 0.001);
        else
            assert_true(r->values[GW_THD].state != GW_READING_VALUE);
        gw_readings_free(r);
        free(x);
    }
}

/* A strong tone near a high multiple, which takes the comb along by its order: the fundamental's frequency would be
 * wrong by hundreds of times its bound. */
static void a_strong_tone_takes_no_comb_along(void **state) {
    (void)state;
    enum { MANY = 4096 };
    static const struct {
        double cycles, order, off, size, noise;
    } records[] = {
        {42.344, 9, 0.655, 0.868, 1.4e-4}, {10.905, 6, 0.11, 0.962, 1.6e-4}, {76.148, 10, 0.509, 0.78, 2.9e-4}};
    uint64_t seed = 105;
    for (size_t t = 0; t < 30; t++) {
        double f = records[t % 3].cycles, noise = records[t % 3].noise, *x = new_volts(MANY);
        add_sine(x, MANY, MANY, 1, f, 7 * random_even(&seed));
        add_sine(x, MANY, MANY, records[t % 3].size, records[t % 3].order * f + records[t % 3].off,
                 7 * random_even(&seed));
        add_noise(x, MANY, noise, &seed);
        gw_readings *r = measured(x, MANY, RATE_HZ, 0);
        double bound = sqrt(6) * noise / (two_pi / 2 * sqrt(MANY));
        assert_close(value_of(r, GW_FREQUENCY) * MANY / RATE_HZ, f, 6 * bound);
        assert_close(value_of(r, GW_NOISE), noise * sqrt(20e3 / 24e3), 0.1 * noise);
        gw_readings_free(r);
        free(x);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(tones_beside_a_ratio_are_two),     cmocka_unit_test(lines_on_a_ratio_repeat),
        cmocka_unit_test(a_tone_beside_a_harmonic_is_none), cmocka_unit_test(a_strong_tone_takes_no_comb_along),
        cmocka_unit_test(products_on_each_other_are_one),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
