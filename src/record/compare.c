/* Two walks side by side. */
#include "record/compare.h"

#include <string.h>

const char *gw_change_name(gw_change_status status) {
    static const char *const names[] = {[GW_CHANGE_SAME] = "same",
                                        [GW_CHANGE_BETTER] = "better",
                                        [GW_CHANGE_WORSE] = "worse",
                                        [GW_CHANGE_DIFFERENT] = "different",
                                        [GW_CHANGE_NOT_COMPARABLE] = "not comparable"};
    return names[status];
}

const char *const gw_change_keys[GW_CHANGE_KEYS] = {
    [GW_CHANGE_LEVEL] = "level", [GW_CHANGE_GAIN] = "gain",   [GW_CHANGE_DC] = "dc",
    [GW_CHANGE_THD] = "thd",     [GW_CHANGE_NOISE] = "noise", [GW_CHANGE_HUM] = "hum"};

static int find_point(const gw_walk_point *points, size_t count, const char *name) {
    for (size_t i = 0; i < count; i++)
        if (strcmp(points[i].name, name) == 0)
            return (int)i;
    return -1;
}

static void add_point(gw_comparison *comparison, bool rail, int before, int after) {
    const gw_walk_point *then = rail ? comparison->before->rails : comparison->before->points;
    const gw_walk_point *now = rail ? comparison->after->rails : comparison->after->points;
    gw_comparison_point *point = &comparison->points[comparison->point_count++];
    point->before = before;
    point->after = after;
    point->rail = rail;
    point->name = before >= 0 ? then[before].name : now[after].name;
    point->status_before = before >= 0 ? then[before].status : GW_UNPROBED;
    point->status_after = after >= 0 ? now[after].status : GW_UNPROBED;
}

/* Those of the first walk in its order, then those that only the second has. */
static void match(gw_comparison *comparison, bool rail) {
    const gw_walk *before = comparison->before, *after = comparison->after;
    const gw_walk_point *then = rail ? before->rails : before->points, *now = rail ? after->rails : after->points;
    size_t then_count = rail ? before->rail_count : before->point_count;
    size_t now_count = rail ? after->rail_count : after->point_count;
    for (size_t i = 0; i < then_count; i++)
        add_point(comparison, rail, (int)i, find_point(now, now_count, then[i].name));
    for (size_t i = 0; i < now_count; i++)
        if (find_point(then, then_count, now[i].name) < 0)
            add_point(comparison, rail, -1, (int)i);
}

static void count_points(gw_comparison *comparison) {
    size_t *counts[] = {[GW_CHANGE_SAME] = &comparison->same,
                        [GW_CHANGE_BETTER] = &comparison->better,
                        [GW_CHANGE_WORSE] = &comparison->worse,
                        [GW_CHANGE_DIFFERENT] = &comparison->different,
                        [GW_CHANGE_NOT_COMPARABLE] = &comparison->not_comparable};
    for (size_t i = 0; i < comparison->point_count; i++)
        ++*counts[comparison->points[i].status];
}

bool gw_compare_run(const gw_walk *before, const gw_walk *after, gw_comparison **out, gw_error *error) {
    *out = NULL;
    gw_arena *arena = gw_arena_new();
    gw_comparison *made = arena != NULL ? gw_arena_take(arena, sizeof *made) : NULL;
    if (made == NULL) {
        gw_arena_free(arena);
        return gw_error_memory(error);
    }
    *made = (gw_comparison){.arena = arena, .before = before, .after = after};
    gw_obstacles obstacles = {0};
    size_t most = before->point_count + before->rail_count + after->point_count + after->rail_count;
    made->points = gw_arena_array(arena, most, sizeof *made->points);
    bool done = made->points != NULL && gw_compare_conditions(made, &obstacles, error);
    if (done) {
        match(made, false);
        match(made, true);
        for (size_t i = 0; i < made->point_count; i++)
            gw_compare_point(made, &obstacles, &made->points[i]);
        count_points(made);
        made->summary = gw_compare_summary(made);
        done = made->summary != NULL;
    }
    if (done)
        *out = made;
    else
        gw_comparison_free(made);
    return done || gw_error_memory(error);
}

void gw_comparison_free(gw_comparison *comparison) {
    if (comparison == NULL)
        return;
    gw_strings_free(&comparison->differences);
    gw_arena_free(comparison->arena);
}
