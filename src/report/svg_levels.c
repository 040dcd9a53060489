/* The level diagram and the DC diagram. */
#include "report/odd.h"
#include "report/response.h"
#include "report/svg.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const gw_walk_point *same_point(const gw_walk *walk, const gw_walk_point *point, bool rail) {
    if (walk == NULL)
        return NULL;
    const gw_walk_point *points = rail ? walk->rails : walk->points;
    size_t count = rail ? walk->rail_count : walk->point_count;
    for (size_t i = 0; i < count; i++)
        if (strcmp(points[i].name, point->name) == 0)
            return &points[i];
    return NULL;
}

static const char *why_missing(const gw_walk_point *point) {
    return point->status == GW_UNPROBED ? "unprobed" : point->status == GW_UNREADABLE ? "unreadable" : NULL;
}

/* ---- levels ---------------------------------------------------------------------------------------- */

/* Decibels re 1 V RMS, or re a full-scale sine (AES17) where there are no volts. */
static double level_db(double rms, const char *unit) {
    return gw_db_from_ratio(strcmp(unit, "FS") == 0 ? rms * sqrt(2.0) : rms);
}

static void mark_level(gw_strip_mark *mark, const gw_walk_point *point, const char *unit, gw_status status) {
    if (point == NULL || point->readings == NULL || strcmp(gw_shown_volts(point), unit) != 0)
        return;
    const gw_reading *level = &point->readings->values[GW_LEVEL];
    gw_shown shown = gw_shown_reading(GW_LEVEL, level, unit);
    if (level->state == GW_READING_NONE || !(level->value > 0))
        return;
    mark->has = true;
    mark->below = level->state == GW_READING_BELOW;
    mark->status = status;
    mark->value = level_db(level->value, unit);
    mark->low = level->u95 < level->value ? level_db(level->value - level->u95, unit) : mark->value;
    mark->high = level_db(level->value + level->u95, unit);
    gw_shown_print(&shown, 3, mark->text, sizeof mark->text);
}

static void fill_level(gw_strip_row *row, const gw_walk *walk, const gw_walk *before, size_t index, const char *unit) {
    const gw_walk_point *point = &walk->points[index];
    *row = (gw_strip_row){.name = point->name, .missing = why_missing(point)};
    if (point->expected_level_v > 0 && point->expected_low_v > 0 && point->expected_high_v > 0) {
        row->has_band = true;
        row->expected = level_db(point->expected_level_v, unit);
        row->low = level_db(point->expected_low_v, unit);
        row->high = level_db(point->expected_high_v, unit);
    }
    gw_status status = gw_odd_status(walk, index, "level", "gain");
    mark_level(&row->marks[0], point, unit, status == GW_UNJUDGED ? GW_OK : status);
    mark_level(&row->marks[1], same_point(before, point, false), unit, GW_UNJUDGED);
}

static const char *first_unit(const gw_walk *walk) {
    for (size_t i = 0; i < walk->point_count; i++)
        if (walk->points[i].readings != NULL)
            return gw_shown_volts(&walk->points[i]);
    return "V";
}

bool gw_svg_levels(gw_text *out, const gw_walk *walk, const gw_walk *before) {
    const char *unit = first_unit(walk);
    gw_strip strip = {.label = "Level diagram: for each point the expected band and the measured level; the same "
                               "figures stand in the table of points",
                      .axis = strcmp(unit, "FS") == 0 ? "dBFS" : "dBV",
                      .count = walk->point_count};
    strip.rows = calloc(strip.count + 1, sizeof *strip.rows);
    if (strip.rows == NULL)
        return false;
    for (size_t i = 0; i < strip.count; i++)
        fill_level(&strip.rows[i], walk, before, i, unit);
    gw_svg_strip(out, &strip);
    free(strip.rows);
    return true;
}

static void fill_level_at(gw_strip_row *row, const gw_walk_point *point, const char *unit, double frequency_hz) {
    double u95, level = gw_response_level(point, frequency_hz, &u95);
    gw_shown shown = {.state = GW_READING_VALUE, .value = level, .u95 = u95, .unit = unit};
    *row = (gw_strip_row){.name = point->name, .missing = why_missing(point)};
    if (row->missing == NULL && !(level > 0))
        row->missing = "nothing of the sweep";
    if (!(level > 0))
        return;
    row->marks[0] = (gw_strip_mark){.has = true, .status = GW_OK, .value = level_db(level, unit)};
    row->marks[0].low = u95 < level ? level_db(level - u95, unit) : row->marks[0].value;
    row->marks[0].high = level_db(level + u95, unit);
    gw_shown_print(&shown, 3, row->marks[0].text, sizeof row->marks[0].text);
}

bool gw_svg_levels_at(gw_text *out, const gw_walk *walk, double frequency_hz) {
    const char *unit = first_unit(walk);
    char label[96], text[32];
    snprintf(label, sizeof label, "Level diagram at %s: the level of the sweep at each point",
             gw_quantity_print(frequency_hz, 0, "Hz", 3, text, sizeof text));
    gw_strip strip = {.label = label, .axis = strcmp(unit, "FS") == 0 ? "dBFS" : "dBV", .count = walk->point_count};
    strip.rows = calloc(strip.count + 1, sizeof *strip.rows);
    if (strip.rows == NULL)
        return false;
    for (size_t i = 0; i < strip.count; i++)
        fill_level_at(&strip.rows[i], &walk->points[i], unit, frequency_hz);
    gw_svg_strip(out, &strip);
    free(strip.rows);
    return true;
}

/* ---- DC -------------------------------------------------------------------------------------------- */

static void set_dc(gw_strip_mark *mark, double value, double u95, const char *unit, gw_status status) {
    gw_shown shown = {.state = GW_READING_VALUE, .value = value, .u95 = u95, .unit = unit};
    mark->has = true;
    mark->status = status;
    mark->value = value;
    mark->low = value - u95;
    mark->high = value + u95;
    gw_shown_print(&shown, 3, mark->text, sizeof mark->text);
}

static void mark_dc(gw_strip_mark *mark, const gw_walk_point *point, gw_status status) {
    if (point == NULL)
        return;
    if (point->metered)
        set_dc(mark, point->meter_v, point->meter_u95_v, "V", status);
    if (point->readings == NULL || point->readings->dc_hidden)
        return;
    const gw_reading *dc = &point->readings->values[GW_DC];
    if (dc->state == GW_READING_VALUE)
        set_dc(mark, dc->value, dc->u95, gw_shown_volts(point), status);
}

static void fill_dc(gw_strip_row *row, const gw_walk *walk, const gw_walk *before, bool rail, size_t index) {
    const gw_walk_point *point = rail ? &walk->rails[index] : &walk->points[index];
    const gw_walk_stage *stage = rail ? NULL : gw_shown_stage_to(walk, index);
    const gw_judgement *judged = point->dc.has_expected || stage == NULL ? &point->dc : &stage->dc;
    *row = (gw_strip_row){.name = point->name, .missing = why_missing(point)};
    if (point->readings != NULL && point->readings->dc_hidden)
        row->missing = "hidden (AC)";
    row->has_band = judged->has_expected && isfinite(judged->low) && isfinite(judged->high);
    row->expected = judged->expected;
    row->low = judged->low;
    row->high = judged->high;
    gw_status status = rail ? point->dc.status : gw_odd_status(walk, index, "dc", "dc");
    mark_dc(&row->marks[0], point, status == GW_UNJUDGED ? GW_OK : status);
    mark_dc(&row->marks[1], same_point(before, point, rail), GW_UNJUDGED);
}

bool gw_svg_dc(gw_text *out, const gw_walk *walk, const gw_walk *before, bool rails) {
    gw_strip strip = {.label =
                          rails ? "DC of each rail with what is expected; the same figures stand in the table of rails"
                                : "DC at each point with what is expected; the same figures stand in the tables",
                      .axis = rails ? "V" : first_unit(walk),
                      .from_zero = true,
                      .count = rails ? walk->rail_count : walk->point_count};
    strip.rows = calloc(strip.count + 1, sizeof *strip.rows);
    if (strip.rows == NULL)
        return false;
    for (size_t i = 0; i < strip.count; i++)
        fill_dc(&strip.rows[i], walk, before, rails, i);
    gw_svg_strip(out, &strip);
    free(strip.rows);
    return true;
}
