/* The period of waveforms whose shape says nothing, from the waveform itself: it is the one that they were made with.
 */
#include "assert_close.h"
#include "measure/coarse.h"
#include "signals.h"

/* One short pulse each period, wherever the samples fall on it, `at` of a period after the record's start; what
 * a period holds besides differs, so that no part of it repeats. */
static double pulse(double phase) {
    double p = phase - floor(phase);
    return exp(-0.5 * (p - 0.3) * (p - 0.3) / (0.02 * 0.02)) - 0.4 * exp(-0.5 * (p - 0.7) * (p - 0.7) / (0.05 * 0.05));
}

static double found(const double *volts, const unsigned char *marks, size_t count, double least, double most) {
    gw_block block = {.volts = volts, .marks = marks, .count = count, .rate_hz = 1};
    double cycles = -1;
    assert_true(gw_search_period(&block, least, most, &cycles));
    return cycles;
}

/* Any length: those of which neighbours are averaged too, with a rest of the record that makes no whole group. The
 * delay is found to an eighth of a point, of which there are at least 500: that is 0.5 eighth/delay of the cycles, at
 * most. */
static void pulses_repeat_after_their_period(void **state) {
    (void)state;
    static const size_t counts[] = {700, 1024, 1025, 3071, 20011};
    static const double cycles[] = {2.6, 4.37, 9.1};
    for (size_t c = 0; c < sizeof counts / sizeof *counts; c++)
        for (size_t k = 0; k < sizeof cycles / sizeof *cycles; k++) {
            double *volts = new_volts(counts[c]);
            for (size_t i = 0; i < counts[c]; i++)
                volts[i] = 5 + pulse(cycles[k] * (double)i / (double)counts[c]);
            double delay = 500 / cycles[k];
            assert_close(found(volts, NULL, counts[c], 1.3, 30), cycles[k], cycles[k] * 0.125 / delay);
            free(volts);
        }
}

/* A record that misses a stretch between pulses, and one with noise a fiftieth of the pulse's height, repeat all the
 * same. */
static void a_gap_or_noise_leaves_the_period(void **state) {
    (void)state;
    enum { COUNT = 2000 };
    double *volts = new_volts(COUNT);
    unsigned char marks[COUNT] = {0};
    uint64_t seed = 11;
    for (size_t i = 0; i < COUNT; i++)
        volts[i] = pulse(5.25 * (double)i / COUNT);
    for (size_t i = 915; i < 950; i++)
        marks[i] = 1, volts[i] = 1e6; /* whatever stands there counts for nothing */
    assert_close(found(volts, marks, COUNT, 1.3, 30), 5.25, 0.02);
    for (size_t i = 915; i < 950; i++)
        volts[i] = pulse(5.25 * (double)i / COUNT);
    add_noise(volts, COUNT, 0.02, &seed);
    assert_close(found(volts, NULL, COUNT, 1.3, 30), 5.25, 0.02);
    free(volts);
}

static void what_does_not_repeat_has_no_period(void **state) {
    (void)state;
    enum { COUNT = 1000 };
    double *volts = new_volts(COUNT);
    uint64_t seed = 12;
    assert_close(found(volts, NULL, COUNT, 1.3, 30), 0, 0); /* nothing at all */
    add_noise(volts, COUNT, 1, &seed);
    assert_close(found(volts, NULL, COUNT, 1.3, 30), 0, 0);
    for (size_t i = 0; i < COUNT; i++)
        volts[i] = pulse(8 * (double)i / COUNT);
    assert_close(found(volts, NULL, 12, 1.3, 6), 0, 0); /* too few samples to say so */
    free(volts);
}

/* Four periods of four samples are enough. */
static void sixteen_samples_may_repeat(void **state) {
    (void)state;
    static const double volts[16] = {1, 0, 0, 0, 1, 0, 0, 0, 1, 0, 0, 0, 1, 0, 0, 0};
    assert_close(found(volts, NULL, 16, 1.3, 6), 4, 1e-9);
}

/* A period of four samples in twelve: too few for the shape of anything. And silence repeats nothing. */
static void too_little_has_no_period(void **state) {
    (void)state;
    double few[12], silence[1000] = {0};
    for (int i = 0; i < 12; i++)
        few[i] = pulse(i / 4.0);
    assert_close(found(few, NULL, 12, 2, 4), 0, 0);
    assert_close(found(silence, NULL, 1000, 1.3, 30), 0, 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(pulses_repeat_after_their_period), cmocka_unit_test(too_little_has_no_period),
        cmocka_unit_test(a_gap_or_noise_leaves_the_period), cmocka_unit_test(what_does_not_repeat_has_no_period),
        cmocka_unit_test(sixteen_samples_may_repeat),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
