/* Edges as they are told apart and counted, in records whose edges are known; what they do to whole readings stands in
 * test_edges.c, and what they leave unsure in test_edges_unsure.c. */
#include "assert_close.h"
#include "measure/edges.h"
#include "measure/signals.h"

enum { N = 1200 };

static double square(double turn) {
    return turn - floor(turn) < 0.5 ? 1 : -1;
}

static gw_edges found(const double *volts, double period) {
    gw_edges edges;
    assert_true(gw_edges_unresolved(volts, NULL, N, period, 1e-3, &edges));
    return edges;
}

/* A square behind a converter's filter rings (its harmonics end at half the rate); slow edges take several samples;
 * noise and a sine have none. */
static void other_edges_are_resolved(void **state) {
    (void)state;
    double volts[N], period = 61.7;
    uint64_t random = 5;
    for (size_t i = 0; i < N; i++)
        volts[i] = square((double)i / period);
    assert_true(found(volts, period).count > 30);
    assert_close(found(volts, period).height_v, 2, 1e-9);
    for (size_t i = 0; i < N; i++) {
        volts[i] = 0;
        for (int k = 1; k < period / 2; k += 2)
            volts[i] += 4 / (two_pi / 2) / k * sin(two_pi * k * (double)i / period);
    }
    assert_close(found(volts, period).count, 0, 0);
    for (size_t i = 0; i < N; i++)
        volts[i] = fmax(-1, fmin(1, 6 * sin(two_pi * (double)i / period)));
    assert_close(found(volts, period).count, 0, 0);
    for (size_t i = 0; i < N; i++)
        volts[i] = random_gauss(&random);
    assert_close(found(volts, period).count, 0, 0);
    for (size_t i = 0; i < N; i++)
        volts[i] = sin(two_pi * (double)i / period);
    assert_close(found(volts, period).count, 0, 0);
}

/* Pulses from 10 V to 12 V whose edges take three steps, of a fifth, three fifths and a fifth of the height: three
 * fifths lie between two samples, wherever the waveform's zero is. */
static void steepness_is_of_the_height_alone(void **state) {
    (void)state;
    static const double up[] = {0, 0.2, 0.8, 1};
    double volts[N], zeros[] = {10, -12, 0};
    for (size_t k = 0; k < 3; k++) {
        for (size_t i = 0; i < N; i++) {
            size_t on = i % 60, off = on >= 30 ? on - 30 : 0;
            volts[i] = zeros[k] + 2 * (up[on < 3 ? on : 3] - up[off < 3 ? off : 3]);
        }
        gw_edges edges = found(volts, 60);
        assert_close(edges.count, 0, 0);
        assert_close(edges.steepest, 0.6, 1e-9);
    }
}

/* A sample that follows the record is no part of it, however far away it is. */
static void what_follows_makes_no_edge(void **state) {
    (void)state;
    double volts[N + 1];
    for (size_t i = 0; i < N; i++)
        volts[i] = square((double)i / 61.7);
    volts[N] = 1e6;
    assert_true(found(volts, 61.7).count > 30);
    assert_close(found(volts, 61.7).height_v, 2, 1e-9);
}

/* Noise alone makes 2/√π of its deviation a step (the mean of |x - y| of two Gaussian values), and so 2.26 of it on
 * both sides of an edge. What lies there beyond that and beyond 5 % of the height makes an edge that takes some steps:
 * of 1 V and a deviation of 20 mV, more than 95 mV. */
static void noise_excuses_no_more_than_it_makes(void **state) {
    (void)state;
    static const double beside[] = {0.085, 0.105};
    double volts[N];
    for (size_t k = 0; k < 2; k++) {
        const double up[] = {0, beside[k] / 2, 1 - beside[k] / 2, 1};
        for (size_t i = 0; i < N; i++) {
            size_t on = i % 60, off = on >= 30 ? on - 30 : 0;
            volts[i] = up[on < 3 ? on : 3] - up[off < 3 ? off : 3];
        }
        gw_edges edges;
        assert_true(gw_edges_unresolved(volts, NULL, N, 60, 0.02, &edges));
        assert_int_equal(edges.count > 0, k == 0);
        assert_int_equal(edges.steepest > 0, k == 1);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(other_edges_are_resolved),
        cmocka_unit_test(steepness_is_of_the_height_alone),
        cmocka_unit_test(what_follows_makes_no_edge),
        cmocka_unit_test(noise_excuses_no_more_than_it_makes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
