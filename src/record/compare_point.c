/* The figures of one point, before and after. */
#include "record/compare.h"

#include <math.h>
#include <string.h>

/* Where a figure came from in one walk, and what was expected of it. */
typedef struct side {
    gw_reading figure;
    bool has_expected;
    double expected, low, high;
} side;

const gw_walk_stage *gw_compare_stage(const gw_walk *walk, int index) {
    for (size_t i = 0; i < walk->stage_count; i++)
        if (walk->stages[i].to == index)
            return &walk->stages[i];
    return NULL;
}

static gw_reading nothing(const char *why) {
    return (gw_reading){.why = why};
}

static gw_reading figure_of(const gw_judgement *judgement) {
    if (!judgement->has_value)
        return nothing(judgement->why != NULL ? judgement->why : "not measured");
    return (gw_reading){.state = judgement->below ? GW_READING_BELOW : GW_READING_VALUE,
                        .value = judgement->value,
                        .u95 = judgement->u95,
                        .why = judgement->why};
}

static void expect(side *of, const gw_judgement *judgement) {
    if (!judgement->has_expected)
        return;
    of->has_expected = true;
    of->expected = judgement->expected;
    of->low = judgement->low;
    of->high = judgement->high;
}

static side gain_side(const gw_walk *walk, int index) {
    side out = {.figure = nothing("no stage leads here")};
    const gw_walk_stage *stage = gw_compare_stage(walk, index);
    if (stage == NULL)
        return out;
    out.figure = figure_of(&stage->gain);
    expect(&out, &stage->gain);
    return out;
}

static side dc_side(const gw_walk *walk, const gw_walk_point *point, bool rail, int index) {
    side out = {.figure = nothing("not measured")};
    const gw_walk_stage *stage = rail ? NULL : gw_compare_stage(walk, index);
    if (point->readings != NULL)
        out.figure = point->readings->dc_hidden ? nothing("the capture hides DC") : point->readings->values[GW_DC];
    else if (point->metered)
        out.figure = (gw_reading){.state = GW_READING_VALUE, .value = point->meter_v, .u95 = point->meter_u95_v};
    if (stage != NULL)
        expect(&out, &stage->dc);
    expect(&out, &point->dc);
    return out;
}

static side level_side(const gw_walk_point *point) {
    side out = {.figure = nothing("not measured")};
    if (point->readings != NULL)
        out.figure = point->readings->values[GW_LEVEL];
    if (point->expected_level_v > 0) {
        out.has_expected = true;
        out.expected = point->expected_level_v;
        out.low = point->expected_low_v;
        out.high = point->expected_high_v;
    }
    expect(&out, &point->level);
    return out;
}

/* THD, noise and hum are the better the smaller they are. */
static side small_side(const gw_walk_point *point, gw_reading_key key) {
    side out = {.figure = nothing("not measured"), .has_expected = true};
    if (point->readings != NULL)
        out.figure = point->readings->values[key];
    if (out.figure.state == GW_READING_NONE && out.figure.why == NULL)
        out.figure.why = "not measured";
    return out;
}

static side side_of(const gw_walk *walk, bool rail, int index, gw_change_key key) {
    const gw_walk_point *point = rail ? &walk->rails[index] : &walk->points[index];
    static const gw_reading_key small[] = {
        [GW_CHANGE_THD] = GW_THD, [GW_CHANGE_NOISE] = GW_NOISE, [GW_CHANGE_HUM] = GW_HUM};
    switch (key) {
    case GW_CHANGE_LEVEL:
        if (rail)
            return (side){.figure = nothing("a rail has no level")};
        return level_side(point);
    case GW_CHANGE_GAIN:
        if (rail)
            return (side){.figure = nothing("a rail has no gain")};
        return gain_side(walk, index);
    case GW_CHANGE_DC:
        return dc_side(walk, point, rail, index);
    default:
        return small_side(point, small[key]);
    }
}

/* ---- one change ------------------------------------------------------------------------------------- */

/* Where the figure lies for certain. */
static void interval(const gw_reading *figure, double *low, double *high) {
    bool below = figure->state == GW_READING_BELOW;
    *low = below ? 0 : figure->value - figure->u95;
    *high = below ? figure->value : figure->value + figure->u95;
}

/* Whether the two lie apart for certain: by more than the root sum of squares of their uncertainties; a bound, by more
 * than it leaves open. */
static bool apart(const gw_reading *before, const gw_reading *after) {
    if (before->state == GW_READING_VALUE && after->state == GW_READING_VALUE)
        return fabs(after->value - before->value) > hypot(before->u95, after->u95);
    double before_low, before_high, after_low, after_high;
    interval(before, &before_low, &before_high);
    interval(after, &after_low, &after_high);
    return before_low > after_high || after_low > before_high;
}

/* How far a figure lies from what is expected: gains and levels by their ratio. A bound counts as its value. */
static double distance(gw_change_key key, const side *of) {
    if (key != GW_CHANGE_GAIN && key != GW_CHANGE_LEVEL)
        return fabs(of->figure.value - of->expected);
    double ratio = of->figure.value / of->expected;
    return ratio > 0 ? fabs(log(ratio)) : (double)INFINITY;
}

static bool within(const side *of) {
    return of->figure.state == GW_READING_VALUE && of->figure.value >= of->low && of->figure.value <= of->high;
}

static bool smaller_is_better(gw_change_key key) {
    return key == GW_CHANGE_THD || key == GW_CHANGE_NOISE || key == GW_CHANGE_HUM;
}

/* What is expected of both: that of the walk whose figure keeps it. (Behind a fault the expectation itself is shifted:
 * DC that comes through is expected further on.) */
static side held_against(const side *figure, const side *before, const side *after) {
    const side *good = within(after) || !within(before) ? after : before;
    side out = *figure;
    out.expected = good->expected;
    out.low = good->low;
    out.high = good->high;
    return out;
}

static void judge(gw_change_key key, const side *first, const side *second, gw_change *out) {
    out->status = GW_CHANGE_SAME;
    if (!apart(&first->figure, &second->figure))
        return;
    bool known = first->has_expected && second->has_expected;
    const side before = known ? held_against(first, first, second) : *first;
    const side after = known ? held_against(second, first, second) : *second;
    if (!known) {
        out->status = GW_CHANGE_DIFFERENT;
        out->why = "nothing tells which is better";
    } else if (!smaller_is_better(key) && within(&before) && within(&after)) {
        out->why = "changed, within the limits both times";
    } else {
        double then = distance(key, &before), now = distance(key, &after);
        out->status = now < then ? GW_CHANGE_BETTER : GW_CHANGE_WORSE;
    }
}

static void measure_change(gw_change_key key, gw_change *out) {
    const gw_reading *before = &out->before, *after = &out->after;
    if (before->state != GW_READING_VALUE || after->state != GW_READING_VALUE)
        return;
    bool ratio = key == GW_CHANGE_GAIN || key == GW_CHANGE_LEVEL;
    if (!ratio) {
        out->change = after->value - before->value;
        out->u95 = hypot(before->u95, after->u95);
    } else if (before->value > 0) {
        out->change = after->value / before->value;
        out->u95 = out->change * hypot(before->u95 / before->value, after->u95 / after->value);
    }
    out->has_change = !ratio || before->value > 0;
}

static gw_change change_of(const gw_comparison *comparison, const gw_comparison_point *point, gw_change_key key,
                           const char *spoilt) {
    static const gw_measure_kind kinds[] = {
        [GW_CHANGE_GAIN] = GW_JUDGE_GAIN, [GW_CHANGE_THD] = GW_JUDGE_PERCENT, [GW_CHANGE_LEVEL] = GW_JUDGE_VOLTS,
        [GW_CHANGE_DC] = GW_JUDGE_VOLTS,  [GW_CHANGE_NOISE] = GW_JUDGE_VOLTS, [GW_CHANGE_HUM] = GW_JUDGE_VOLTS};
    side before = side_of(comparison->before, point->rail, point->before, key);
    side after = side_of(comparison->after, point->rail, point->after, key);
    gw_change out = {.kind = kinds[key], .before = before.figure, .after = after.figure};
    measure_change(key, &out);
    bool has_before = before.figure.state != GW_READING_NONE, has_after = after.figure.state != GW_READING_NONE;
    if (spoilt != NULL || !has_before || !has_after) {
        out.status = GW_CHANGE_NOT_COMPARABLE;
        out.why = spoilt != NULL ? spoilt : !has_before ? before.figure.why : after.figure.why;
        return out;
    }
    judge(key, &before, &after, &out);
    return out;
}

/* ---- noise against a level that moved ---------------------------------------------------------------- */

/* Noise as a share of the level: what a repair that brings the signal back must be judged by. */
static side relative(const gw_reading *noise, const gw_reading *level) {
    side out = {.figure = *noise, .has_expected = true};
    out.figure.value = noise->value / level->value;
    out.figure.u95 =
        out.figure.value * hypot(noise->value > 0 ? noise->u95 / noise->value : 0, level->u95 / level->value);
    return out;
}

static void judge_relative(const gw_change *level, gw_change_key key, gw_change *change) {
    if (change->status == GW_CHANGE_NOT_COMPARABLE || level->status == GW_CHANGE_SAME)
        return;
    if (level->before.state != GW_READING_VALUE || level->after.state != GW_READING_VALUE) {
        change->status = GW_CHANGE_NOT_COMPARABLE;
        change->why = "there is no signal in one of the two to hold it against";
        return;
    }
    if (!(level->before.value > 0) || !(level->after.value > 0))
        return;
    side before = relative(&change->before, &level->before), after = relative(&change->after, &level->after);
    judge(key, &before, &after, change);
    if (change->status != GW_CHANGE_SAME)
        change->why = "relative to the level, which changed";
}

/* ---- the point --------------------------------------------------------------------------------------- */

static gw_change_status overall(const gw_comparison_point *point) {
    static const gw_change_status order[] = {GW_CHANGE_WORSE, GW_CHANGE_BETTER, GW_CHANGE_DIFFERENT, GW_CHANGE_SAME};
    for (size_t i = 0; i < sizeof order / sizeof *order; i++)
        for (int key = 0; key < GW_CHANGE_KEYS; key++)
            if (point->changes[key].status == order[i])
                return order[i];
    return GW_CHANGE_NOT_COMPARABLE;
}

static bool unit_differs(const gw_comparison *comparison, const gw_comparison_point *point) {
    if (point->rail)
        return false;
    const gw_readings *before = comparison->before->points[point->before].readings;
    const gw_readings *after = comparison->after->points[point->after].readings;
    return before != NULL && after != NULL && before->source.unit != NULL && after->source.unit != NULL &&
           strcmp(before->source.unit, after->source.unit) != 0;
}

void gw_compare_point(const gw_comparison *comparison, const gw_obstacles *obstacles, gw_comparison_point *point) {
    point->status = GW_CHANGE_NOT_COMPARABLE;
    const char *missing = point->before < 0  ? "only in the later record"
                          : point->after < 0 ? "only in the earlier record"
                                             : NULL;
    for (int key = 0; key < GW_CHANGE_KEYS; key++) {
        if (missing != NULL)
            point->changes[key] = (gw_change){.status = GW_CHANGE_NOT_COMPARABLE, .why = missing};
        else
            point->changes[key] = change_of(comparison, point, (gw_change_key)key, obstacles->spoils[key]);
    }
    point->why = missing;
    if (missing != NULL)
        return;
    for (int key = 0; key < GW_CHANGE_KEYS && unit_differs(comparison, point); key++)
        if (key != GW_CHANGE_GAIN && key != GW_CHANGE_THD) {
            point->changes[key].status = GW_CHANGE_NOT_COMPARABLE;
            point->changes[key].why = "one is in volts, the other in full scale";
            point->changes[key].has_change = false;
        }
    judge_relative(&point->changes[GW_CHANGE_LEVEL], GW_CHANGE_NOISE, &point->changes[GW_CHANGE_NOISE]);
    judge_relative(&point->changes[GW_CHANGE_LEVEL], GW_CHANGE_HUM, &point->changes[GW_CHANGE_HUM]);
    point->status = overall(point);
    if (point->status == GW_CHANGE_NOT_COMPARABLE)
        point->why = point->status_before == GW_UNPROBED || point->status_after == GW_UNPROBED ||
                             point->status_before == GW_UNREADABLE || point->status_after == GW_UNREADABLE
                         ? "not measured in both"
                         : point->changes[GW_CHANGE_LEVEL].why;
}
