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

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(a_gap_is_drawn_as_the_last_seen)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
