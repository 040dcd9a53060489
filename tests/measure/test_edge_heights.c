/* What is found of edges themselves, asked of their samples alone: which are too short to be resolved, how steep the
 * others are, and what that makes unsure. */
#include "assert_close.h"
#include "measure/edges.h"
#include "signals.h"

enum { N = 1200 };

static double square(double turn) {
    return turn - floor(turn) < 0.5 ? 1 : -1;
}

/* Two edges a period apart, each even within a sample: the period errs by the difference of two even errors, whose
 * variance is 2/12. Ten of them: 12/12/(10·99) (a straight line's slope). */
static void uncertainties(void **state) {
    (void)state;
    assert_close(gw_edges_period_uncertainty(&(gw_edges){.count = 2, .height_v = 1}, 2, 50), sqrt(2.0 / 12), 1e-12);
    assert_close(gw_edges_period_uncertainty(&(gw_edges){.count = 10, .height_v = 1}, 10.4, 50), sqrt(1.0 / 990),
                 1e-12);
    assert_close(gw_edges_period_uncertainty(&(gw_edges){0}, 10.4, 50), 0, 0);
    /* of steep ones, half a sample later each time: terms of a saw, 1/(pi k), times 1/(pi k) of a filter, up to k = 3;
     * those of odd k turn round from edge to edge (2), the second stays: √(1 + 1/81)/π² of it, as two deviations */
    assert_close(gw_edges_period_uncertainty(&(gw_edges){.steepest = 0.5}, 2.3, 50.5), 0.5 * 0.10194470, 1e-8);
    /* ten, all at the same place of a sample; and by a thousandth of one further each time: 2·π/1000 of 1/π² a period,
     * twice and three times that of a fourth and a ninth (a line through so short a part of a sine: within a
     * thousandth)
     */
    assert_close(gw_edges_period_uncertainty(&(gw_edges){.steepest = 1}, 10.4, 50), 0, 1e-12);
    assert_close(gw_edges_period_uncertainty(&(gw_edges){.steepest = 1}, 10.4, 50.001), 3.7140e-4, 1e-6);
    /* four edges of 2 V, each wrong by a sample's twelfth part's root: 2·√(4/12)/1000 */
    assert_close(gw_edges_mean_uncertainty(&(gw_edges){.count = 4, .height_v = 2}, 1000), 0.0011547005, 1e-9);
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

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(uncertainties),
        cmocka_unit_test(other_edges_are_resolved),
        cmocka_unit_test(steepness_is_of_the_height_alone),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
