/* Whatever capture can be read can be measured and told of: short ones, for speed. */
#include "fuzz.h"

enum { SAMPLES_MAX = 4096, CHANNELS_MAX = 4 };

static void tell(const gw_readings *readings) {
    const gw_readings *const one[] = {readings};
    gw_report_capture told = {.file = "fuzz", .readings = one, .readings_count = 1};
    gw_report_options options = {.program = "fuzz"};
    gw_error error = {0};
    gw_text text = {0}, json = {0};
    MUST(gw_report_measure_text(&told, 1, &options, &text, &error));
    MUST(gw_report_measure_json(&told, 1, &options, &json, &error));
    gw_text_free(&text);
    gw_text_free(&json);
}

/* A reading is a value with an uncertainty, a bound, or a reason; never a NaN. */
static void check(const gw_readings *readings) {
    for (size_t i = 0; i < GW_READING_COUNT; i++) {
        const gw_reading *reading = &readings->values[i];
        MUST(isfinite(reading->value));
        MUST(isfinite(reading->u95) && isfinite(reading->u_random) && isfinite(reading->u_scale));
        MUST(reading->u_random >= 0 && reading->u_scale >= 0);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length) {
    gw_capture *capture = read_bytes(bytes, length);
    bool small = capture != NULL && capture->samples <= SAMPLES_MAX;
    for (size_t i = 0; small && i < capture->channel_count && i < CHANNELS_MAX; i++) {
        gw_measure_options options = {.accuracy = -1, .jobs = 1};
        gw_readings *readings = NULL;
        gw_error error = {0};
        if (gw_measure_run(capture, i, &options, &readings, &error)) {
            check(readings);
            tell(readings);
        } else
            must_tell(&error);
        gw_readings_free(readings);
    }
    gw_capture_free(capture);
    return 0;
}
