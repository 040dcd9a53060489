/* The picture of a long capture, which is drawn while it is measured. */
#include "captured.h"
#include "signals.h"

#include "gainwalk/measure.h"

#include <math.h>

/* Missing samples for longer than a column: the picture holds what was last seen there. */
static void a_gap_is_drawn_as_the_last_seen(void **state) {
    (void)state;
    enum { LONG = 400000, FROM = 200000, TO = 240000 };
    double *x = new_volts(LONG), *y = new_volts(LONG);
    for (size_t i = 0; i < LONG; i++)
        x[i] = i < FROM ? 0.25 : i < TO ? (double)NAN : 0.75;
    gw_capture *capture = capture_of(x, y, LONG, 48000);
    gw_measure_options options = {.accuracy = 0, .jobs = 1};
    gw_readings *r = NULL;
    gw_error error = {0};
    assert_true(gw_measure_run(capture, 0, &options, &r, &error));
    size_t columns = r->waveform.count;
    assert_true(columns > 100);
    for (size_t k = 0; k < columns; k++) {
        double first = (double)k * LONG / (double)columns, last = (double)(k + 1) * LONG / (double)columns;
        if (first < FROM || last < TO) {
            assert_close(r->waveform.low[k], 0.25, 1e-6);
            assert_close(r->waveform.high[k], 0.25, 1e-6);
        }
    }
    gw_readings_free(r);
    gw_capture_free(capture);
    free(x), free(y);
}

/* Clipped at half a volt in the first 3 s, 0.8 V high and whole in the others: it is told where it clipped. */
static void clipping_of_a_part_has_its_level(void **state) {
    (void)state;
    enum { LONG = 600000, FROM = 150000 };
    double *x = new_volts(LONG), *y = new_volts(LONG);
    add_sine(x, LONG, 48000, 0.8, 441.3, 0.2);
    for (size_t i = 0; i < FROM; i++)
        x[i] = fmin(fmax(x[i], -0.5), 0.5);
    gw_capture *capture = capture_of(x, y, LONG, 48000);
    gw_measure_options options = {.accuracy = 0, .jobs = 1};
    gw_readings *r = NULL;
    gw_error error = {0};
    assert_true(gw_measure_run(capture, 0, &options, &r, &error));
    assert_true(r->clues.high.clipped && r->clues.low.clipped);
    assert_close(r->clues.high.level_v, 0.5, 0.005);
    assert_close(r->clues.low.level_v, -0.5, 0.005);
    gw_readings_free(r);
    gw_capture_free(capture);
    free(x), free(y);
}

/* A level that grows by 2 % from 0.5 V, on an instrument of 1 %: its part in the uncertainty is 1 % over the root of
 * three (a rectangular distribution, JCGM 100) of the mean level. */
static void accuracy_goes_with_the_level(void **state) {
    (void)state;
    enum { LONG = 1000000 };
    double *x = new_volts(LONG), *y = new_volts(LONG);
    uint64_t seed = 5;
    add_sine(x, LONG, 48000, 0.5, 441.3, 0.2);
    for (size_t i = 0; i < LONG; i++)
        x[i] = x[i] * (1 + 0.02 * (double)i / LONG) + 0.2;
    add_noise(x, LONG, 1e-3, &seed);
    gw_capture *capture = capture_of(x, y, LONG, 48000);
    gw_measure_options options = {.accuracy = 0.01, .jobs = 1};
    gw_readings *r = NULL;
    gw_error error = {0};
    assert_true(gw_measure_run(capture, 0, &options, &r, &error));
    const gw_reading *level = &r->values[GW_LEVEL];
    double mean = 0.505 / sqrt(2);
    assert_close(level->value, mean, 0.001 * mean);
    assert_close(level->u_scale, 0.01 / sqrt(3) * mean, 0.003 * 0.01 / sqrt(3) * mean);
    gw_readings_free(r);
    gw_capture_free(capture);
    free(x), free(y);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(a_gap_is_drawn_as_the_last_seen),
                                       cmocka_unit_test(clipping_of_a_part_has_its_level),
                                       cmocka_unit_test(accuracy_goes_with_the_level)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
