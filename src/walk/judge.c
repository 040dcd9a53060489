#include "walk/walker.h"

#include <math.h>

gw_status gw_judge_range(double value, double u95, double low, double high, bool simple, double resolution) {
    bool inside = value >= low && value <= high;
    double guard = simple ? resolution : u95;
    if (simple && inside)
        return GW_OK;
    if (value - guard >= low && value + guard <= high)
        return GW_OK;
    if (value + guard < low || value - guard > high)
        return GW_OFF;
    return GW_UNSURE;
}

gw_status gw_judge_limit(double value, double u95, bool below, double limit, bool simple, double resolution) {
    double guard = simple ? resolution : u95;
    if (below)
        return value <= limit ? GW_OK : GW_UNSURE;
    if (value + (simple ? 0 : guard) <= limit)
        return GW_OK;
    return value - guard > limit ? GW_OFF : GW_UNSURE;
}

static int weight(gw_status status) {
    switch (status) {
    case GW_OFF:
        return 3;
    case GW_UNSURE:
        return 2;
    case GW_OK:
        return 1;
    default:
        return 0;
    }
}

gw_status gw_status_worse(gw_status one, gw_status other) {
    return weight(other) > weight(one) ? other : one;
}

gw_figure gw_figure_of(const gw_reading *reading) {
    gw_figure figure = {0};
    if (reading->state == GW_READING_NONE)
        return figure;
    figure.has = true;
    figure.below = reading->state == GW_READING_BELOW;
    figure.value = reading->value;
    double size = fabs(reading->value);
    if (figure.below || size <= 0)
        return figure;
    figure.random = reading->u_random / size;
    figure.scale = reading->u_scale / size;
    /* u95 may hold more than the two parts; what is left over is random */
    double whole = reading->u95 / 2 / size, parts = hypot(figure.random, figure.scale);
    if (whole > parts)
        figure.random = sqrt(whole * whole - figure.scale * figure.scale);
    return figure;
}

double gw_figure_u95(const gw_figure *figure) {
    return 2 * hypot(figure->random, figure->scale);
}

double gw_figure_random_u95(const gw_figure *figure) {
    return 2 * figure->random;
}

/* Random part of 1/x: what may be as good as nothing makes a ratio that is as good as unbounded. */
static double inverse_random(double random) {
    const double small = 0.25, most = 0.475; /* standard, so 50 % and 95 % expanded */
    double kept = random < most ? random : most;
    return random < small ? random : kept / (1 - 2 * kept);
}

gw_figure gw_figure_ratio(const gw_figure *to, const gw_figure *from, bool common_scale) {
    gw_figure ratio = {0};
    if (!to->has || !from->has || from->below || !(from->value > 0) || !isfinite(to->value / from->value))
        return ratio;
    ratio.has = true;
    ratio.below = to->below;
    ratio.value = to->value / from->value;
    ratio.random = hypot(to->random, inverse_random(from->random));
    ratio.scale = common_scale ? 0 : hypot(to->scale, from->scale);
    return ratio;
}

double gw_rest(double to, double from) {
    return to > from ? sqrt((to - from) * (to + from)) : 0;
}

bool gw_reading_has(const gw_readings *readings, gw_reading_key key) {
    return readings && readings->values[key].state == GW_READING_VALUE;
}

double gw_reading_or(const gw_readings *readings, gw_reading_key key, double fallback) {
    return readings && readings->values[key].state != GW_READING_NONE ? readings->values[key].value : fallback;
}
