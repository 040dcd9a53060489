/* Crackle and what only looks like it: edges of few periods, where a note begins. The captures are simulated. */
#include "measure/measured.h"
#include "trials.h"

enum { N = 2500, WAV = 24000, TRIALS = 120 };

static double edged(int shape, double turn, double width) {
    turn -= floor(turn);
    return shape == 0 ? (turn < 0.5 ? 1 : -1) : shape == 1 ? (turn < width ? 1 : -1) : 1 - 2 * turn;
}

static size_t crackle_of(const double *v, size_t n, double rate, double step) {
    gw_readings *r = measured(v, n, rate, step);
    size_t count = 0;
    for (size_t k = 0; k < r->event_count; k++)
        count += r->events[k].kind == GW_EVENT_CRACKLE;
    gw_readings_free(r);
    return count;
}

/* Squares, pulses and saws of 1.5 to 8 periods on an 8-bit scope, their edges between two samples: what the fit leaves
 * of an edge is not the same in every period, and of one and a half some edges are there but once. */
static void test_edges_of_few_periods(void **state) {
    (void)state;
    uint64_t random = 51;
    double *v = new_volts(N);
    size_t with = 0, count = (size_t)trials_of(TRIALS);
    for (size_t t = 0; t < count; t++) {
        double cycles = 1.5 * pow(8 / 1.5, random_even(&random)), phase = random_even(&random);
        double width = 0.1 + 0.8 * random_even(&random), step = 2.0 / (60 + 160 * random_even(&random));
        for (size_t i = 0; i < N; i++)
            v[i] = edged((int)(t % 3), cycles * (double)i / N + phase, width);
        add_noise(v, N, step * (0.1 + 0.6 * random_even(&random)), &random);
        quantise(v, N, step);
        with += crackle_of(v, N, 250e3, step) > 0;
    }
    free(v);
    assert_in_range(with, 0, (count + 29) / 50);
}

/* Notes that begin in silence within a few milliseconds, and die away. */
static void test_notes_begin(void **state) {
    (void)state;
    uint64_t random = 52;
    double *v = new_volts(WAV);
    for (int t = 0; t < trials_of(TRIALS / 4); t++) {
        for (size_t i = 0; i < WAV; i++)
            v[i] = 0;
        for (int note = 0; note < 3; note++) {
            double hz = 110 * pow(8, random_even(&random)), start = 0.4 * random_even(&random);
            double rise = 1e-3 + 4e-3 * random_even(&random), fall = 0.05 + 0.1 * random_even(&random);
            for (size_t i = (size_t)(start * 48e3); i < WAV; i++) {
                double time = (double)i / 48e3 - start, size = exp(-time / fall) * (1 - exp(-time / rise));
                for (int order = 1; order <= 6; order++)
                    v[i] += 0.2 * size / order * sin(two_pi * order * hz * time);
            }
        }
        add_noise(v, WAV, 2e-4, &random);
        assert_int_equal(crackle_of(v, WAV, 48e3, 0), 0);
    }
    free(v);
}

/* Two clicks of ten and more deviations of the noise on a sine and on a saw (of harmonics up to half the rate). */
static void test_clicks_are_seen(void **state) {
    (void)state;
    uint64_t random = 53;
    double *v = new_volts(WAV);
    for (int t = 0; t < trials_of(TRIALS / 4); t++) {
        double hz = 200 * pow(5, random_even(&random)), phase = two_pi * random_even(&random), noise = 1e-3;
        for (size_t i = 0; i < WAV; i++)
            v[i] = 0;
        for (int order = 1; order == 1 || (t % 2 && order * hz < 23e3); order++)
            add_sine(v, WAV, 48e3, 0.5 / order, order * hz, order * phase);
        add_noise(v, WAV, noise, &random);
        for (int k = 0; k < 2; k++) {
            size_t at = (size_t)(WAV * (0.1 + 0.5 * k + 0.3 * random_even(&random)));
            v[at] += noise * 13 * pow(20, random_even(&random)) * (k ? 1 : -1);
        }
        assert_int_equal(crackle_of(v, WAV, 48e3, 0), 2);
    }
    free(v);
}

/* A test signal swells and dies down within 10 ms, as half a period of a cosine (common practice) or evenly: what its
 * ends lack is no crackle. */
enum { FADE = 480 };

static double soft(size_t i, bool even) {
    size_t end = i < WAV - 1 - i ? i : WAV - 1 - i;
    double way = end < FADE ? (double)end / FADE : 1;
    return even ? way : 0.5 - 0.5 * cos(two_pi / 2 * way);
}

/* Of a saw (kind 0), a square, two tones of 1 kHz apart. */
static void shaped(double *v, int kind, double hz, bool even) {
    for (size_t i = 0; i < WAV; i++)
        v[i] = 0;
    for (int order = 1; kind < 2 && order * hz < 22e3; order += 1 + kind)
        add_sine(v, WAV, 48e3, 0.3 / order, order * hz, 0);
    add_sine(v, WAV, 48e3, kind == 2 ? 0.2 : 0, 10 * hz, 0);
    add_sine(v, WAV, 48e3, kind == 2 ? 0.2 : 0, 10 * hz + 1000, 0);
    for (size_t i = 0; i < WAV; i++)
        v[i] *= soft(i, even);
}

static void test_soft_ends(void **state) {
    (void)state;
    uint64_t random = 54;
    double *v = new_volts(WAV);
    for (int t = 0; t < trials_of(60); t++) {
        shaped(v, t % 3, 80 + 900 * random_even(&random), t % 2);
        add_noise(v, WAV, 1e-5, &random);
        assert_int_equal(crackle_of(v, WAV, 48e3, 0), 0);
    }
    free(v);
}

/* Clicks near the ends of a signal that has none such are told. */
static void test_clicks_near_the_ends(void **state) {
    (void)state;
    uint64_t random = 55;
    double *v = new_volts(WAV);
    for (int t = 0; t < trials_of(60); t++) {
        double hz = 300 + 900 * random_even(&random);
        for (size_t i = 0; i < WAV; i++)
            v[i] = 0;
        add_sine(v, WAV, 48e3, 0.3, hz, 1);
        add_noise(v, WAV, 1e-4, &random);
        v[(size_t)(0.05 * WAV * random_even(&random))] += 0.1;
        v[(size_t)(WAV * (0.95 + 0.05 * random_even(&random)))] -= 0.1;
        assert_int_equal(crackle_of(v, WAV, 48e3, 0), 2);
    }
    free(v);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_edges_of_few_periods), cmocka_unit_test(test_notes_begin),
        cmocka_unit_test(test_clicks_are_seen),      cmocka_unit_test(test_soft_ends),
        cmocka_unit_test(test_clicks_near_the_ends),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
