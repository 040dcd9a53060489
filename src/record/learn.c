/* Expectations from known-good units. */
#include "gainwalk/record.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

const double gw_learn_content = 0.99, gw_learn_confidence = 0.95;

/* Where neither spread nor chain tells: the usual tolerance of a gain, decibels (common practice). */
static const double usual_db = 1;

/* Figures of one point in all units; logarithms where they are ratios. */
typedef struct samples {
    double *values;
    size_t count, units;
    double mean, deviation, highest, u95; /* the largest uncertainty */
} samples;

typedef bool take(const gw_walk *unit, const gw_walk_point *at, int index, double *value, double *u95);

static bool take_logarithm(double value, double error, double *out, double *u95) {
    if (!(value > 0))
        return false;
    *out = log(value);
    *u95 = log1p(error / value);
    return true;
}

/* Of the stage alone that leads to the point. */
static bool take_gain(const gw_walk *unit, const gw_walk_point *at, int index, double *value, double *u95) {
    (void)at;
    for (size_t i = 0; i < unit->stage_count; i++) {
        const gw_walk_stage *stage = &unit->stages[i];
        if (stage->to == index && stage->across == 1 && stage->gain.has_value && !stage->gain.below)
            return take_logarithm(stage->gain.value, stage->gain.u95, value, u95);
    }
    return false;
}

static bool take_dc(const gw_walk *unit, const gw_walk_point *at, int index, double *value, double *u95) {
    (void)unit, (void)index;
    const gw_readings *readings = at->readings;
    if (at->metered) {
        *value = at->meter_v;
        *u95 = at->meter_u95_v;
        return true;
    }
    if (readings == NULL || readings->dc_hidden || readings->values[GW_DC].state != GW_READING_VALUE ||
        strcmp(readings->source.unit, "V") != 0)
        return false;
    *value = readings->values[GW_DC].value;
    *u95 = readings->values[GW_DC].u95;
    return true;
}

static bool take_reading(const gw_walk_point *at, gw_reading_key key, double *value, double *u95) {
    const gw_reading *reading = at->readings != NULL ? &at->readings->values[key] : NULL;
    return reading != NULL && reading->state == GW_READING_VALUE &&
           take_logarithm(reading->value, reading->u95, value, u95);
}

static bool take_thd(const gw_walk *unit, const gw_walk_point *at, int index, double *value, double *u95) {
    (void)unit, (void)index;
    return take_reading(at, GW_THD, value, u95);
}

static bool take_noise(const gw_walk *unit, const gw_walk_point *at, int index, double *value, double *u95) {
    (void)unit, (void)index;
    return at->readings != NULL && strcmp(at->readings->source.unit, "V") == 0 &&
           take_reading(at, GW_NOISE, value, u95);
}

/* The point itself, or a member of its group that is in order. */
static bool counts(const gw_point *point, const gw_point *other, const gw_walk_point *at) {
    if (other == point)
        return true;
    return point->group != NULL && other->group != NULL && strcmp(point->group, other->group) == 0 &&
           at->status != GW_OFF;
}

static const gw_walk_point *find(const gw_walk *unit, const gw_point *point, int *index) {
    const gw_walk_point *all = point->rail ? unit->rails : unit->points;
    size_t count = point->rail ? unit->rail_count : unit->point_count;
    for (size_t i = 0; i < count; i++)
        if (strcmp(all[i].name, point->name) == 0) {
            *index = (int)i;
            return &all[i];
        }
    return NULL;
}

/* `values` has room for every point of every unit. */
static void gather(const gw_chain *chain, const gw_point *point, const gw_walk *const *units, size_t count, take *from,
                   samples *out) {
    const gw_point *all = point->rail ? chain->rails : chain->points;
    size_t total = point->rail ? chain->rail_count : chain->point_count;
    out->count = out->units = 0;
    out->u95 = 0;
    for (size_t u = 0; u < count; u++) {
        size_t before = out->count;
        for (size_t i = 0; i < total; i++) {
            int index = 0;
            double u95 = 0;
            const gw_walk_point *at = find(units[u], &all[i], &index);
            if (at == NULL || !counts(point, &all[i], at) || !from(units[u], at, index, &out->values[out->count], &u95))
                continue;
            out->count++;
            out->u95 = fmax(out->u95, u95);
        }
        out->units += out->count > before;
    }
}

static void summarise(samples *of) {
    double sum = 0, square = 0;
    of->highest = -INFINITY;
    for (size_t i = 0; i < of->count; i++) {
        sum += of->values[i];
        of->highest = fmax(of->highest, of->values[i]);
    }
    of->mean = of->count > 0 ? sum / (double)of->count : 0;
    for (size_t i = 0; i < of->count; i++)
        square += (of->values[i] - of->mean) * (of->values[i] - of->mean);
    of->deviation = of->count > 1 ? sqrt(square / (double)(of->count - 1)) : 0;
}

/* Half the width that the chain itself allows; 0 where it expects nothing. */
static double own_width(const gw_expected *own, bool logarithmic) {
    if (own->origin == GW_ORIGIN_NONE)
        return 0;
    if (!logarithmic)
        return 0.5 * (own->high - own->low);
    return own->low > 0 && own->high > own->low ? 0.5 * log(own->high / own->low) : 0;
}

static gw_learnt both_sides(samples *of, const gw_expected *own, bool logarithmic) {
    gw_learnt out = {.samples = of->count, .units = of->units};
    double width = 0;
    summarise(of);
    if (of->count == 0) {
        out.why = "not measured";
        return out;
    }
    if (of->count == 1) {
        width = own_width(own, logarithmic);
        if (width == 0 && logarithmic)
            width = log(gw_ratio_from_db(usual_db));
        out.why = width > 0 ? "one sample shows no spread: the tolerance is the chain's own"
                            : "one sample shows no spread, and the chain has no tolerance of its own";
        if (width == 0)
            return out;
    } else
        width = gw_tolerance_factor(of->count, gw_learn_content, gw_learn_confidence, true) * of->deviation;
    if (of->count > 1 && width < 2 * of->u95)
        out.why = "as wide as the uncertainty asks";
    width = fmax(width, 2 * of->u95);
    out.has = true;
    out.value = logarithmic ? exp(of->mean) : of->mean;
    out.low = logarithmic ? exp(of->mean - width) : of->mean - width;
    out.high = logarithmic ? exp(of->mean + width) : of->mean + width;
    return out;
}

static gw_learnt upper_side(samples *of) {
    gw_learnt out = {.samples = of->count, .units = of->units};
    summarise(of);
    if (of->count < 2) {
        out.why = of->count == 0 ? "not measured above what the captures resolve" : "one sample shows no spread";
        return out;
    }
    double k = gw_tolerance_factor(of->count, gw_learn_content, gw_learn_confidence, false);
    out.has = true;
    out.value = exp(of->mean);
    out.high = exp(fmax(of->mean + k * of->deviation, of->highest + 2 * of->u95));
    return out;
}

static void learn_point(const gw_chain *chain, const gw_point *point, const gw_walk *const *units, size_t count,
                        samples *room, gw_learnt_point *out) {
    out->rail = point->rail;
    out->line = point->line;
    gather(chain, point, units, count, take_dc, room);
    out->dc = both_sides(room, &point->dc, false);
    if (point->rail)
        return;
    gather(chain, point, units, count, take_gain, room);
    out->gain = both_sides(room, &point->gain, true);
    gather(chain, point, units, count, take_thd, room);
    out->thd = upper_side(room);
    gather(chain, point, units, count, take_noise, room);
    out->noise = upper_side(room);
}

static gw_lesson *lesson_new(size_t points) {
    gw_arena *arena = gw_arena_new();
    gw_lesson *made = arena != NULL ? gw_arena_take(arena, sizeof *made) : NULL;
    if (made == NULL) {
        gw_arena_free(arena);
        return NULL;
    }
    made->arena = arena;
    made->points = gw_arena_array(arena, points + 1, sizeof *made->points);
    if (made->points == NULL) {
        gw_arena_free(arena);
        return NULL;
    }
    return made;
}

bool gw_learn_run(const gw_chain *chain, const gw_walk *const *units, size_t count, gw_lesson **out, gw_error *error) {
    size_t points = chain->point_count + chain->rail_count;
    *out = NULL;
    if (count == 0)
        return gw_error_set(error, NULL, 0, "no unit to learn from");
    if (points >= SIZE_MAX / sizeof(double) / count)
        return gw_error_memory(error);
    gw_lesson *made = lesson_new(points);
    samples room = {.values = calloc(points * count + 1, sizeof *room.values)};
    bool fine = made != NULL && room.values != NULL;
    for (size_t i = 0; fine && i < points; i++) {
        const gw_point *point = i < chain->point_count ? &chain->points[i] : &chain->rails[i - chain->point_count];
        gw_learnt_point *at = &made->points[made->count++];
        at->name = gw_arena_string(made->arena, point->name);
        fine = at->name != NULL;
        if (fine)
            learn_point(chain, point, units, count, &room, at);
    }
    free(room.values);
    if (!fine) {
        gw_lesson_free(made);
        return gw_error_memory(error);
    }
    *out = made;
    return true;
}

void gw_lesson_free(gw_lesson *lesson) {
    if (lesson != NULL)
        gw_arena_free(lesson->arena);
}
