/* Quantities, tolerances, numbers and stimuli: what is accepted is finite, and a number printed in full reads back. */
#include "fuzz.h"

static void try_number(const char *text, size_t length) {
    double value = 0, again = 0;
    size_t used = 0;
    char printed[64];
    if (gw_number_prefix(text, length, &value, &used))
        MUST(used > 0 && used <= length);
    if (!gw_number_parse(text, length, &value))
        return;
    MUST(isfinite(value));
    gw_number_print(value, 17, printed, sizeof printed);
    MUST(gw_number_parse(printed, strlen(printed), &again));
    MUST(again <= value && again >= value);
}

static void try_quantity(const char *text) {
    gw_quantity quantity = {0};
    gw_tolerance tolerance = {0};
    gw_stimulus stimulus = {0};
    gw_error error = {0}, other = {0}, third = {0};
    if (gw_quantity_parse(text, &quantity, "fuzz", 1, &error))
        MUST(isfinite(quantity.value));
    else
        must_tell(&error);
    if (!gw_tolerance_parse(text, &tolerance, "fuzz", 1, &other))
        must_tell(&other);
    if (gw_stimulus_parse(text, &stimulus, "fuzz", 1, &third))
        MUST(isfinite(stimulus.frequency_hz));
    else
        must_tell(&third);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length) {
    char *text = string_of(bytes, length);
    /* without an end of its own: a number's text is any stretch of a larger one */
    uint8_t *bare = malloc(length > 0 ? length : 1);
    MUST(bare != NULL);
    memcpy(bare, bytes, length);
    try_number((const char *)bare, length);
    try_quantity(text);
    free(bare);
    free(text);
    return 0;
}
