/* Which point follows which: `after`, its faults, and the order of the signal. */
#include "draft.h"

#include <stdlib.h>
#include <string.h>

/* While points are linked: by their place in the file. */
typedef struct links {
    gw_chain_draft *draft;
    size_t count;
    int *after; /* place of the point before; -1 none */
    int *order; /* places in the order of the signal */
    int *rank;  /* place to index in that order; -1 not placed yet */
} links;

static int find_point(const gw_chain_draft *draft, const char *name) {
    for (size_t i = 0; i < draft->point_count; i++)
        if (strcmp(draft->points[i].point.name, name) == 0)
            return (int)i;
    return -1;
}

static bool refuse_after(const gw_chain_draft *draft, const char *name) {
    const char **known = calloc(draft->point_count + 1, sizeof *known);
    char hint[96];
    if (known == NULL)
        return gw_error_memory(draft->error);
    for (size_t i = 0; i < draft->point_count; i++)
        known[i] = draft->points[i].point.name;
    bool rail = false;
    for (size_t i = 0; i < draft->rail_count; i++)
        rail = rail || strcmp(draft->rails[i].point.name, name) == 0;
    if (rail)
        gw_draft_fail(draft, "'after' names the rail '%.60s': signals come from points", name);
    else
        gw_draft_fail(draft, "'after' names no point of this chain: '%.60s'%s", name,
                      gw_draft_hint(name, known, hint, sizeof hint));
    free(known);
    return false;
}

static bool find_links(links *now) {
    gw_chain_draft *draft = now->draft;
    for (size_t i = 0; i < now->count; i++) {
        const gw_draft_point *point = &draft->points[i];
        now->rank[i] = -1;
        now->after[i] = (int)i - 1;
        if (point->after == NULL)
            continue;
        draft->line = point->after_line;
        now->after[i] = find_point(draft, point->after);
        if (now->after[i] < 0)
            return refuse_after(draft, point->after);
    }
    return true;
}

/* Names the circle that `place` is on or leads to, at the line of one of its `after`s. */
static bool refuse_circle(const links *now, int place) {
    gw_chain_draft *draft = now->draft;
    gw_text names = {0};
    for (size_t i = 0; i < now->count; i++)
        place = now->after[place];
    int at = place;
    do {
        const gw_draft_point *point = &draft->points[at];
        if (point->after != NULL)
            draft->line = point->after_line;
        if (names.length < 300)
            gw_text_printf(&names, "'%s' follows ", point->point.name);
        at = now->after[at];
    } while (at != place);
    gw_draft_fail(draft, "circular 'after': %s'%s'", gw_text_string(&names), draft->points[place].point.name);
    gw_text_free(&names);
    return false;
}

/* Each time the first of the file whose point before is placed. */
static bool place_all(links *now) {
    for (size_t placed = 0; placed < now->count;) {
        size_t before = placed;
        for (size_t i = 0; i < now->count; i++) {
            if (now->rank[i] >= 0 || (now->after[i] >= 0 && now->rank[now->after[i]] < 0))
                continue;
            now->rank[i] = (int)placed;
            now->order[placed++] = (int)i;
        }
        if (placed > before)
            continue;
        size_t stuck = 0;
        while (now->rank[stuck] >= 0)
            stuck++;
        return refuse_circle(now, (int)stuck);
    }
    return true;
}

static bool reorder(links *now) {
    gw_chain_draft *draft = now->draft;
    gw_draft_point *sorted = malloc(now->count * sizeof *sorted);
    if (sorted == NULL)
        return gw_error_memory(draft->error);
    for (size_t i = 0; i < now->count; i++) {
        int place = now->order[i];
        sorted[i] = draft->points[place];
        sorted[i].point.after = now->after[place] < 0 ? -1 : now->rank[now->after[place]];
    }
    free(draft->points);
    draft->points = sorted;
    draft->point_capacity = now->count;
    draft->now = NULL;
    return true;
}

bool gw_draft_link(gw_chain_draft *draft) {
    if (draft->point_count == 0) {
        draft->line = 0;
        return gw_draft_fail(draft, "a chain without points: write [point NAME] for each");
    }
    links now = {.draft = draft, .count = draft->point_count};
    int *room = calloc(3 * now.count, sizeof *room);
    if (room == NULL)
        return gw_error_memory(draft->error);
    now.after = room;
    now.order = room + now.count;
    now.rank = room + 2 * now.count;
    bool good = find_links(&now) && place_all(&now) && reorder(&now);
    free(room);
    return good;
}
