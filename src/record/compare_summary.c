/* One sentence that a customer understands. */
#include "record/compare.h"

#include <string.h>

static const gw_finding *fault_of(const gw_walk *walk) {
    const gw_verdict *verdict = &walk->verdict;
    bool rests =
        verdict->status == GW_VERDICT_FAULT && verdict->finding >= 0 && (size_t)verdict->finding < walk->finding_count;
    return rests ? &walk->findings[verdict->finding] : NULL;
}

static const char *name_of(const gw_walk_point *points, size_t count, int index) {
    return index >= 0 && (size_t)index < count ? points[index].name : NULL;
}

/* "between U1-7 and C9", "at the rail +15", "at J1". */
static const char *place_of(gw_arena *arena, const gw_walk *walk) {
    const gw_verdict *verdict = &walk->verdict;
    const char *rail = name_of(walk->rails, walk->rail_count, verdict->rail);
    const char *from = name_of(walk->points, walk->point_count, verdict->from);
    const char *to = name_of(walk->points, walk->point_count, verdict->to);
    const char *point = name_of(walk->points, walk->point_count, verdict->point);
    if (rail != NULL)
        return gw_arena_printf(arena, "at the rail %s", rail);
    if (from != NULL && to != NULL)
        return gw_arena_printf(arena, "between %s and %s", from, to);
    if (point == NULL && to == NULL)
        return "in the chain";
    return gw_arena_printf(arena, "at %s", point != NULL ? point : to);
}

static bool same_fault(const gw_walk *before, const gw_walk *after) {
    const gw_finding *then = fault_of(before), *now = fault_of(after);
    const char *then_to = name_of(before->points, before->point_count, before->verdict.to);
    const char *now_to = name_of(after->points, after->point_count, after->verdict.to);
    const char *then_rail = name_of(before->rails, before->rail_count, before->verdict.rail);
    const char *now_rail = name_of(after->rails, after->rail_count, after->verdict.rail);
    if (then == NULL || now == NULL || then->code != now->code)
        return false;
    if (then_rail != NULL || now_rail != NULL)
        return then_rail != NULL && now_rail != NULL && strcmp(then_rail, now_rail) == 0;
    return then_to != NULL && now_to != NULL && strcmp(then_to, now_to) == 0;
}

/* "the fault between U1-7 and C9 (the level falls too far)". */
static const char *fault_words(gw_arena *arena, const gw_walk *walk) {
    const char *place = place_of(arena, walk);
    return place != NULL
               ? gw_arena_printf(arena, "the fault %s (%s)", place, gw_finding_infos[fault_of(walk)->code].sentence)
               : NULL;
}

/* What is to be said of the state after, behind "…; " */
static const char *state_after(const gw_walk *walk) {
    static const char *const words[] = {
        [GW_VERDICT_CLEAR] = "every measured point is in order now",
        [GW_VERDICT_FAULT] = "there is another fault now",
        [GW_VERDICT_UNSURE] = "what is left is not certain: the measurement cannot tell it from a healthy unit",
        [GW_VERDICT_INCOMPLETE] = "nothing wrong is found now, but not every point was measured"};
    return words[walk->verdict.status];
}

static const char *of_fault(gw_arena *arena, const gw_walk *before, const gw_walk *after) {
    const char *fault = fault_words(arena, before);
    if (fault == NULL)
        return NULL;
    if (same_fault(before, after))
        return gw_arena_printf(arena, "Not repaired: %s is still there", fault);
    if (fault_of(after) == NULL)
        return gw_arena_printf(arena, "%s: %s is gone; %s",
                               after->verdict.status == GW_VERDICT_CLEAR ? "Repaired" : "Changed", fault,
                               state_after(after));
    const char *now = fault_words(arena, after);
    return now != NULL ? gw_arena_printf(arena, "Not in order yet: %s is gone, but %s shows now", fault, now) : NULL;
}

static const char *of_no_fault(gw_arena *arena, const gw_walk *before, const gw_walk *after) {
    bool clear = before->verdict.status == GW_VERDICT_CLEAR;
    const char *then = clear ? "in order" : "without a certain fault";
    if (fault_of(after) != NULL) {
        const char *fault = fault_words(arena, after);
        return fault != NULL ? gw_arena_printf(arena, "Worse: %s before, and now %s shows", then, fault) : NULL;
    }
    if (clear && after->verdict.status == GW_VERDICT_CLEAR)
        return gw_arena_string(arena, "In order before and after");
    return gw_arena_printf(arena, "It was %s before; %s", then, state_after(after));
}

static const char *points_are(size_t count) {
    return count == 1 ? "point is" : "points are";
}

const char *gw_compare_summary(const gw_comparison *comparison) {
    gw_arena *arena = comparison->arena;
    const gw_walk *before = comparison->before, *after = comparison->after;
    const char *told = fault_of(before) != NULL ? of_fault(arena, before, after) : of_no_fault(arena, before, after);
    if (told == NULL)
        return NULL;
    if (!comparison->comparable)
        return gw_arena_printf(arena, "%s. The two were not measured alike, so not everything can be compared", told);
    if (comparison->worse > 0)
        return gw_arena_printf(arena, "%s; %zu %s worse than before", told, comparison->worse,
                               points_are(comparison->worse));
    return told;
}
