/* Crossover and slew limiting told apart, and neither seen in clean, clipped and softly bent sines. */
#include "measure/measured.h"
#include "measure/shape.h"

#include <string.h>

enum { N = 5000, CYCLES = 10, ORDERS = 25 };

enum bend { CLEAN, DEAD_ZONE, GATED, SLEW, CLIP, SOFT, EXPAND, VALVE };

/* A stage's output for one second of a sine of amplitude 1, sampled. */
static void make(enum bend bend, double amount, double *x) {
    double y = 0;
    for (int i = -N; i < N; i++) { /* a period of settling first, for the one with memory */
        double s = sin(two_pi * CYCLES * i / N + 0.7), most = amount * two_pi * CYCLES / N, bent = s;
        y += fmin(fmax(s - y, -most), most);
        switch (bend) {
        case DEAD_ZONE:
            bent = s - fmin(fmax(s, -amount), amount);
            break;
        case GATED:
            bent = fabs(s) < amount ? 0 : s;
            break;
        case SLEW: /* can't move faster than `amount` of the sine's steepest slope */
            bent = y;
            break;
        case CLIP:
            bent = fmin(fmax(s, -amount), amount);
            break;
        case SOFT:
            bent = s - amount * s * s * s;
            break;
        case EXPAND:
            bent = s + amount * s * s * s;
            break;
        case VALVE:
            bent = s + amount * s * s;
            break;
        default:
            break;
        }
        if (i >= 0)
            x[i] = bent;
    }
}

/* Harmonics by projection on whole cycles (no window, no fit needed), as a model would give them. */
static size_t project(const double *x, double sigma, gw_harmonic *harmonics) {
    static double table[N];
    for (int i = 0; table[0] < 1 && i < N; i++)
        table[N - 1 - i] = cos(two_pi * (N - 1 - i) / N);
    for (int k = 1; k <= ORDERS; k++) {
        double c = 0, s = 0;
        for (int i = 0; i < N; i++) {
            int turn = k * CYCLES * i % N;
            c += x[i] * table[turn] * 2 / N;
            s += x[i] * table[(turn + 3 * N / 4) % N] * 2 / N; /* a sine is a cosine a quarter later */
        }
        double u = sigma / sqrt(N);
        harmonics[k - 1] = (gw_harmonic){.order = k,
                                         .rms = hypot(c, s) / sqrt(2),
                                         .phase_rad = atan2(-s, c),
                                         .u_random = u,
                                         .resolved = hypot(c, s) / sqrt(2) > 4 * u};
    }
    return ORDERS;
}

static gw_shape_clues seen(enum bend bend, double amount, double codes, double noise, uint64_t *seed) {
    static double x[N];
    gw_harmonic harmonics[ORDERS];
    double step = 2 / codes;
    make(bend, amount, x);
    add_noise(x, N, noise * step, seed);
    quantise(x, N, step);
    size_t count = project(x, step * sqrt(noise * noise + 1.0 / 12), harmonics);
    return gw_shape_at_zero(harmonics, count, step);
}

static void crossover(void **state) {
    (void)state;
    uint64_t seed = 81;
    static const double zones[] = {0.02, 0.05, 0.1, 0.2};
    for (size_t z = 0; z < 4; z++) {
        double mean = 0;
        for (int t = 0; t < 20; t++) {
            gw_shape_clues clues = seen(DEAD_ZONE, zones[z], 220, 0.6, &seed);
            assert_true(clues.crossover);
            assert_false(clues.slew_limited);
            assert_true(clues.inner_slope < 1);
            mean += clues.dead_zone / 20;
        }
        /* relative to the fundamental, whose peak is 1 - 4 d/pi and more */
        assert_close(mean, zones[z] / (1 - 4 / 3.14159 * zones[z]), 0.15 * zones[z]);
        gw_shape_clues gated = seen(GATED, fmax(zones[z], 0.1), 220, 0.6, &seed);
        assert_true(gated.crossover);
    }
}

/* A capture of 20,000 codes shows half a per cent of crossover, and how wide it is: relative to the fundamental, whose
 * peak is 1 - 4 d/pi (Fourier's integral, d small). */
static void little_crossover(void **state) {
    (void)state;
    uint64_t seed = 87;
    for (double zone = 0.005; zone < 0.03; zone *= 1.4) {
        gw_shape_clues clues = seen(DEAD_ZONE, zone, 20e3, 0.6, &seed);
        assert_true(clues.crossover);
        assert_close(clues.dead_zone / (zone / (1 - 4 / 3.14159 * zone)), 1, 0.03);
    }
}

static void slew_limiting(void **state) {
    (void)state;
    uint64_t seed = 82;
    static const double rates[] = {0.3, 0.5, 0.6}; /* of the slope the sine asks for: a triangle under 0.54 */
    for (size_t r = 0; r < 3; r++)
        for (int t = 0; t < 20; t++) {
            gw_shape_clues clues = seen(SLEW, rates[r], 220, 0.6, &seed);
            assert_true(clues.slew_limited);
            assert_false(clues.crossover);
        }
}

static void neither(void **state) {
    (void)state;
    uint64_t seed = 83;
    static const struct {
        enum bend bend;
        double amount;
    } cases[] = {{CLEAN, 0},  {CLIP, 0.95}, {CLIP, 0.7},    {CLIP, 0.3},   {SOFT, 0.05},
                 {SOFT, 0.3}, {VALVE, 0.1}, {EXPAND, 0.05}, {EXPAND, 0.3}, {SLEW, 1.2}};
    int alarms = 0;
    for (int t = 0; t < 1000; t++) {
        double codes = 6 + 240 * random_even(&seed);
        size_t c = t % 2 ? 0 : (size_t)(t / 2) % (sizeof cases / sizeof *cases);
        gw_shape_clues clues = seen(cases[c].bend, cases[c].amount, codes, t % 3 ? random_even(&seed) : 0, &seed);
        alarms += clues.crossover || clues.slew_limited;
        if (cases[c].bend == CLEAN && codes > 50)
            assert_close(clues.inner_slope, 1, 0.35);
    }
    print_message("crossover or slew in what has neither: %d of 1000\n", alarms);
    assert_in_range(alarms, 0, 1);
}

static void without_harmonics(void **state) {
    (void)state;
    gw_harmonic one = {.order = 1, .rms = 1, .resolved = true};
    gw_shape_clues clues = gw_shape_at_zero(&one, 1, 0);
    assert_false(clues.crossover || clues.slew_limited);
    clues = gw_shape_at_zero(NULL, 0, 0);
    assert_false(clues.crossover || clues.slew_limited);
    assert_close(clues.inner_slope, 1, 0);
}

static bool says(const gw_readings *r, const char *words) {
    for (size_t k = 0; k < r->remarks.count; k++)
        if (strstr(r->remarks.items[k], words))
            return true;
    return false;
}

/* A triangle is what a generator gives, unless a sine went in. */
static void a_triangle_may_be_one(void **state) {
    (void)state;
    double x[N];
    uint64_t seed = 3;
    for (size_t i = 0; i < N; i++)
        x[i] = asin(sin(two_pi * (10.3 * (double)i / N)));
    add_noise(x, N, 1e-3, &seed);
    const gw_measure_options sine = {.accuracy = 0, .stimulus.shape = GW_SHAPE_SINE};
    gw_readings *unknown = measured(x, N, 50e3, 0), *stated = measured_with(x, N, 50e3, 0, &sine);
    assert_true(says(stated, "slew limiting") && !says(stated, "triangle"));
    assert_true(says(unknown, "a triangle"));
    gw_readings_free(unknown);
    gw_readings_free(stated);
}

/* How far a slope must fall short is a ratio, whatever the level: crossover that is there for certain at 1 mV is so at
 * 1 kV, its noise and all else as many times as large. */
static void crossover_at_any_level(void **state) {
    (void)state;
    static double x[N];
    gw_harmonic harmonics[ORDERS], scaled[ORDERS];
    uint64_t seed = 91;
    make(DEAD_ZONE, 0.05, x);
    add_noise(x, N, 1e-3, &seed);
    size_t count = project(x, 1e-3, harmonics);
    for (double level = 1e-3; level < 2e3; level *= 1e3) {
        for (size_t k = 0; k < count; k++) {
            scaled[k] = harmonics[k];
            scaled[k].rms *= level;
            scaled[k].u_random *= level;
        }
        gw_shape_clues clues = gw_shape_at_zero(scaled, count, 0);
        assert_true(clues.crossover);
        assert_false(clues.slew_limited);
        /* relative to the fundamental's peak, 1 - 4 d/pi (Fourier's integral, d small) */
        assert_close(clues.dead_zone, 0.05 / (1 - 4 / 3.14159 * 0.05), 0.15 * 0.05);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(crossover),
        cmocka_unit_test(little_crossover),
        cmocka_unit_test(slew_limiting),
        cmocka_unit_test(neither),
        cmocka_unit_test(without_harmonics),
        cmocka_unit_test(a_triangle_may_be_one),
        cmocka_unit_test(crossover_at_any_level),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
