/* Measuring a stretch of samples in memory, for the tests. */
#ifndef GAINWALK_TESTS_MEASURED_H
#define GAINWALK_TESTS_MEASURED_H

#include "assert_close.h"
#include "measure/block.h"
#include "measure/signals.h"

#include <stdio.h>

/* Readings of `n` samples; the instrument is exact unless `options` say otherwise. gw_readings_free frees. */
static inline gw_readings *measured_with(const double *volts, size_t n, double rate_hz, double step,
                                         const gw_measure_options *options) {
    static const gw_measure_options exact = {.accuracy = 0};
    gw_error error = {0};
    gw_readings *out = gw_readings_new(&error);
    assert_non_null(out);
    out->source.unit = "V";
    out->source.samples = n;
    gw_block block = {.volts = volts, .count = n, .rate_hz = rate_hz, .step = step};
    if (!gw_measure_block(&block, options ? options : &exact, out, &error)) {
        print_error("%s\n", error.text);
        fail();
    }
    return out;
}

static inline gw_readings *measured(const double *volts, size_t n, double rate_hz, double step) {
    return measured_with(volts, n, rate_hz, step, NULL);
}

/* The value of a reading that must have one. */
static inline double value_of(const gw_readings *readings, gw_reading_key key) {
    if (readings->values[key].state != GW_READING_VALUE) {
        print_error("%s has no value: %s\n", gw_reading_infos[key].key,
                    readings->values[key].why ? readings->values[key].why : "no reason");
        fail();
    }
    return readings->values[key].value;
}

#endif
