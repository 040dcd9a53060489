/* Cut-outs of waveforms that are no sine: pauses of a saw, a square, a pulse and a rectified sine. The captures are
 * sums of Fourier's series up to nine tenths of half the rate; the truth is where samples were taken away. */
#include "measure/measured.h"
#include "trials.h"

enum { N = 12000, TRIALS = 24, PAUSES = 3 };
static const double rate = 48000;

typedef enum shape { SAW, SQUARE, PULSE, RECTIFIED } shape;

/* Amplitude of the harmonic in phase with a cosine (`cosine`) and a sine; the period runs from 0 to 1. */
static void series(shape of, double duty, int order, double *cosine, double *sine) {
    double k = order, pi = 0.5 * two_pi;
    *cosine = *sine = 0;
    if (of == SAW)
        *sine = 2 / (pi * k);
    if (of == SQUARE && order % 2)
        *sine = 4 / (pi * k);
    if (of == PULSE) { /* 1 for a share `duty` of the period, about 0 */
        *cosine = sin(two_pi * k * duty) / (pi * k);
        *sine = (1 - cos(two_pi * k * duty)) / (pi * k);
    }
    if (of == RECTIFIED) { /* one half of a sine of height 1 */
        *sine = order == 1 ? 0.5 : 0;
        *cosine = order % 2 ? 0 : -2 / (pi * (k * k - 1));
    }
}

/* Makes the waveform in `v` and returns its RMS. */
static double waveform(double *v, shape of, double hz, double duty, double turn) {
    double power = 0;
    for (size_t i = 0; i < N; i++)
        v[i] = 0;
    for (int k = 1; k * hz < 0.45 * rate; k++) {
        double c, s;
        series(of, duty, k, &c, &s);
        power += 0.5 * (c * c + s * s);
        add_sine(v, N, rate, hypot(c, s), k * hz, atan2(c, s) + two_pi * turn * k);
    }
    return sqrt(power);
}

typedef struct gone {
    double start, length; /* samples */
} gone;

/* One in each equal part of the record, well inside it, of one and a half periods up to a third of the part. */
static void pauses_draw(gone *pauses, size_t count, double period, uint64_t *random) {
    double part = (double)N / (double)count, least = 1.5 * period, most = fmax(least, part / 3);
    for (size_t k = 0; k < count; k++) {
        pauses[k].length = floor(least + (most - least) * random_even(random));
        pauses[k].start = floor((double)k * part + 0.2 * part + random_even(random) * (0.6 * part - pauses[k].length));
    }
}

static size_t others(const gw_readings *r) {
    size_t count = 0;
    for (size_t k = 0; k < r->event_count; k++)
        count += r->events[k].kind != GW_EVENT_DROPOUT;
    return count;
}

/* Each pause once, its ends to a period, and the signal as it is beside. */
static void check(const gw_readings *r, double hz, double rms, const gone *pauses, size_t count) {
    double near = rate / hz;
    assert_int_equal(r->signal, GW_SIGNAL_PERIODIC);
    assert_close(value_of(r, GW_FREQUENCY), hz, 1e-3 * hz);
    assert_close(value_of(r, GW_LEVEL), rms, 0.01 * rms);
    assert_close(value_of(r, GW_DROPOUTS), (double)count, 0);
    for (size_t k = 0; k < count; k++) {
        assert_int_equal(r->events[k].kind, GW_EVENT_DROPOUT);
        assert_close(r->events[k].start_s * rate, pauses[k].start, near);
        assert_close((r->events[k].start_s + r->events[k].length_s) * rate, pauses[k].start + pauses[k].length, near);
    }
}

static void found(shape of, uint64_t random) {
    double *v = new_volts(N);
    size_t false_events = 0;
    for (int t = 0; t < trials_of(TRIALS); t++) {
        gone pauses[PAUSES];
        size_t count = 1 + (size_t)t % PAUSES;
        /* from 12 to 100 periods a part */
        double hz = 12 * (double)count * rate / N * pow(8, random_even(&random));
        double rms = waveform(v, of, hz, 0.1 + 0.3 * random_even(&random), random_even(&random));
        pauses_draw(pauses, count, rate / hz, &random);
        for (size_t k = 0; k < count; k++)
            for (size_t i = 0; i < (size_t)pauses[k].length; i++)
                v[(size_t)pauses[k].start + i] = 0;
        add_noise(v, N, 1e-3, &random);
        gw_readings *r = measured(v, N, rate, 0);
        check(r, hz, rms, pauses, count);
        false_events += others(r);
        gw_readings_free(r);
    }
    assert_in_range(false_events, 0, 1);
    free(v);
}

static void test_saw(void **state) {
    (void)state;
    found(SAW, 51);
}

static void test_square(void **state) {
    (void)state;
    found(SQUARE, 52);
}

static void test_pulse(void **state) {
    (void)state;
    found(PULSE, 53);
}

static void test_rectified_sine(void **state) {
    (void)state;
    found(RECTIFIED, 54);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_saw),
        cmocka_unit_test(test_square),
        cmocka_unit_test(test_pulse),
        cmocka_unit_test(test_rectified_sine),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
