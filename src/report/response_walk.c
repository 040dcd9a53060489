/* Responses of a walk's stages, for whoever tells them. */
#include "report/response.h"

#include <math.h>
#include <stdio.h>

bool gw_response_any(const gw_walk *walk) {
    for (size_t i = 0; i < walk->stage_count; i++)
        if (walk->stages[i].response.count > 0)
            return true;
    return false;
}

char *gw_response_corner(const gw_judgement *corner, bool expected, char *out, size_t size) {
    if (expected ? corner->has_expected : corner->has_value)
        return gw_quantity_print(expected ? corner->expected : corner->value, expected ? 0 : corner->u95, "Hz", 3, out,
                                 size);
    snprintf(out, size, "none in the sweep");
    return out;
}

double gw_response_level(const gw_walk_point *point, double frequency_hz, double *u95) {
    const gw_walk_curve *curve = &point->levels;
    for (size_t i = 0; i + 1 < curve->count; i++) {
        const gw_walk_line *one = &curve->lines[i], *next = &curve->lines[i + 1];
        if (frequency_hz < one->frequency_hz || frequency_hz > next->frequency_hz || !(one->value > 0) ||
            !(next->value > 0))
            continue;
        double share = log(frequency_hz / one->frequency_hz) / log(next->frequency_hz / one->frequency_hz);
        *u95 = fmax(one->u95, next->u95);
        return exp((1 - share) * log(one->value) + share * log(next->value));
    }
    *u95 = 0;
    return 0;
}
