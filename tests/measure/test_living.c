/* A sine that is gone for a part of a short record, and waveforms whose pauses are their own. */
#include "measure/measured.h"
#include "trials.h"

#include <string.h>

enum { N = 2500, TRIALS = 40 };

/* 8 bits, and noise 46 dB under a sine of 1 V. */
static void finish(double *v, double dc, uint64_t *random) {
    add_noise(v, N, 0.0035, random);
    for (size_t i = 0; i < N; i++)
        v[i] += dc;
    quantise(v, N, 2.4 / 256);
}

static gw_readings *with_stimulus(const double *v, gw_shape shape) {
    gw_measure_options options = {.accuracy = 0, .stimulus = {.shape = shape}};
    return measured_with(v, N, 250e3, 2.4 / 256, &options);
}

static const gw_event *dropout_of(const gw_readings *r) {
    for (size_t k = 0; k < r->event_count; k++)
        if (r->events[k].kind == GW_EVENT_DROPOUT)
            return &r->events[k];
    return NULL;
}

/* One cut of 0.9 to 2.5 periods in 6 to 25: with a sine stated and without, the sine's frequency, level and DC are
 * those of the parts that are there, and the cut is told at its time. */
static void test_cut_in_few_cycles(void **state) {
    (void)state;
    uint64_t random = 71;
    double *v = new_volts(N);
    for (int t = 0; t < trials_of(2 * TRIALS); t++) {
        double cycles = 6 + 19 * random_even(&random), period = N / cycles, hz = cycles * 250e3 / N;
        double length = period * (0.9 + 1.6 * random_even(&random)), dc = random_even(&random) - 0.5;
        double start = 1.5 * period + (N - 3 * period - length) * random_even(&random);
        memset(v, 0, N * sizeof *v);
        add_sine(v, N, 250e3, 1, hz, two_pi * random_even(&random));
        for (size_t i = (size_t)start; i < (size_t)(start + length); i++)
            v[i] = 0;
        finish(v, dc, &random);
        gw_readings *r = with_stimulus(v, t % 2 ? GW_SHAPE_SINE : GW_SHAPE_UNKNOWN);
        assert_int_equal(r->signal, GW_SIGNAL_SINE);
        assert_close(value_of(r, GW_FREQUENCY), hz, 1e-3 * hz);
        assert_close(value_of(r, GW_DC), dc, 0.01);
        assert_close(value_of(r, GW_LEVEL), 1 / sqrt(2), 0.005);
        assert_close(value_of(r, GW_DROPOUTS), 1, 0);
        const gw_event *cut = dropout_of(r);
        assert_non_null(cut);
        assert_close(cut->start_s * 250e3, start, 0.5 * period);
        assert_close(cut->length_s * 250e3, length, 0.75 * period);
        gw_readings_free(r);
    }
    free(v);
}

static double narrow(double turn) {
    return turn - floor(turn) < 0.05 ? 1 : 0;
}

static double half_wave(double turn) {
    return fmax(sin(two_pi * turn), 0);
}

/* Two periods of sine, two of nothing. */
static double burst(double turn) {
    return turn / 2 - floor(turn / 2) < 0.5 ? sin(2 * two_pi * turn) : 0;
}

/* A dead zone of half the swing, as of a push-pull stage without any bias. */
static double dead_zone(double turn) {
    double v = 1.5 * sin(two_pi * turn);
    return fabs(v) < 0.5 ? 0 : v - copysign(0.5, v);
}

static void test_pauses_of_its_own(void **state) {
    (void)state;
    static double (*const shapes[])(double) = {narrow, half_wave, burst, dead_zone};
    uint64_t random = 72;
    double *v = new_volts(N);
    for (int t = 0; t < trials_of(4 * TRIALS); t++) {
        double cycles = 7 + 20 * random_even(&random), phase = random_even(&random);
        for (size_t i = 0; i < N; i++)
            v[i] = shapes[t % 4](cycles * (double)i / N + phase);
        finish(v, 0, &random);
        gw_readings *r = with_stimulus(v, GW_SHAPE_UNKNOWN);
        assert_null(dropout_of(r));
        gw_readings_free(r);
    }
    free(v);
}

/* Slow noise, and a signal that fades, have no cuts. */
static void test_nothing_steady(void **state) {
    (void)state;
    uint64_t random = 73;
    double *v = new_volts(N);
    for (int t = 0; t < trials_of(2 * TRIALS); t++) {
        double cycles = 8 + 20 * random_even(&random), phase = random_even(&random), slow = 0;
        for (size_t i = 0; i < N; i++) {
            slow += 0.02 * (random_gauss(&random) - slow);
            v[i] = t % 2 ? 3 * slow : exp(-5 * (double)i / N) * sin(two_pi * (cycles * (double)i / N + phase));
        }
        finish(v, 0, &random);
        gw_readings *r = with_stimulus(v, GW_SHAPE_UNKNOWN);
        assert_null(dropout_of(r));
        gw_readings_free(r);
    }
    free(v);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_cut_in_few_cycles),
        cmocka_unit_test(test_pauses_of_its_own),
        cmocka_unit_test(test_nothing_steady),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
