#include "report/change.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

const char *const gw_change_titles[GW_CHANGE_KEYS] = {
    [GW_CHANGE_LEVEL] = "level", [GW_CHANGE_GAIN] = "gain",   [GW_CHANGE_DC] = "DC",
    [GW_CHANGE_THD] = "THD",     [GW_CHANGE_NOISE] = "noise", [GW_CHANGE_HUM] = "hum"};

const char *gw_change_volts(const gw_comparison *comparison, const gw_comparison_point *point) {
    const gw_walk *walk = point->after >= 0 ? comparison->after : comparison->before;
    int index = point->after >= 0 ? point->after : point->before;
    return gw_shown_volts(point->rail ? &walk->rails[index] : &walk->points[index]);
}

/* A figure of a change is a judged one without an expectation. */
static gw_shown shown_figure(const gw_reading *figure, gw_measure_kind kind, const char *unit) {
    gw_judgement judgement = {.kind = kind,
                              .has_value = figure->state != GW_READING_NONE,
                              .below = figure->state == GW_READING_BELOW,
                              .value = figure->value,
                              .u95 = figure->state == GW_READING_VALUE ? figure->u95 : 0,
                              .why = figure->why};
    return gw_shown_judge(&judgement, unit).figure;
}

gw_shown_change gw_shown_change_of(const gw_comparison *comparison, const gw_comparison_point *point,
                                   gw_change_key key) {
    const gw_change *change = &point->changes[key];
    const char *volts = gw_change_volts(comparison, point);
    gw_shown_change out = {.before = shown_figure(&change->before, change->kind, volts),
                           .after = shown_figure(&change->after, change->kind, volts),
                           .status = change->status,
                           .why = change->why};
    bool ratio = key == GW_CHANGE_GAIN || key == GW_CHANGE_LEVEL;
    double scale = change->kind == GW_JUDGE_PERCENT ? 100 : 1;
    out.unit = ratio ? "dB" : out.after.unit;
    out.change = ratio ? gw_db_from_ratio(change->change) : scale * change->change;
    out.u95 = ratio ? gw_db_from_ratio(1 + change->u95 / change->change) : scale * change->u95;
    out.has_change = change->has_change && isfinite(out.change) && isfinite(out.u95);
    return out;
}

char *gw_shown_print_change(const gw_shown_change *change, char *out, size_t size) {
    char figure[64];
    out[0] = '\0';
    if (!change->has_change)
        return out;
    gw_quantity_print(change->change, change->u95, change->unit, 3, figure, sizeof figure);
    bool shows = strpbrk(figure, "123456789") != NULL; /* "+0.0 dB" would pretend to know a direction */
    snprintf(out, size, "%s%s", change->change > 0 && shows ? "+" : "", figure);
    return out;
}
