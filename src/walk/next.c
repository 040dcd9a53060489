/* Where to probe next. */
#include "walk/search.h"
#include "walk/walker.h"

#include <stdlib.h>

/* What lies past the last point: cable, jack, monitor. As likely as one op-amp stage. */
static const double outside_weight = 1;

/* A point that was tried already needs another range, probe or time: better a fresh one first. */
static const double again_factor = 3;

static bool can_be_probed(const gw_walker *walker, int point) {
    return !walker->nodes[point].usable;
}

/* The suspects: stages (by the point they lead to) that can still hold the fault. */
typedef struct suspects {
    size_t count;
    int *points;  /* the point each leads to */
    int *parents; /* as indexes into this list */
    double *weights, *costs;
    double outside;
} suspects;

static bool init_suspects(gw_walker *walker, suspects *s) {
    size_t most = walker->count;
    s->points = gw_arena_array(walker->arena, most, sizeof *s->points);
    s->parents = gw_arena_array(walker->arena, most, sizeof *s->parents);
    s->weights = gw_arena_array(walker->arena, most, sizeof *s->weights);
    s->costs = gw_arena_array(walker->arena, most, sizeof *s->costs);
    return s->points && s->parents && s->weights && s->costs;
}

static void add_suspect(const gw_walker *walker, suspects *s, int point) {
    const gw_point *p = walker->nodes[point].point;
    size_t i = s->count++;
    s->points[i] = point;
    s->parents[i] = -1;
    for (size_t k = 0; k < i; k++)
        if (s->points[k] == p->after)
            s->parents[i] = (int)k;
    s->weights[i] = p->suspect > 0 ? p->suspect : 1;
    s->costs[i] = can_be_probed(walker, point) ? gw_reach_costs[p->reach] : 0;
    if (walker->nodes[point].probe->state != GW_PROBE_NONE)
        s->costs[i] *= again_factor;
}

/* The stages between the ends of a finding. The far end is known to be bad, so it isn't probed again. */
static void take_span(const gw_walker *walker, suspects *s, int from, int to) {
    for (size_t k = 0; k < walker->count; k++) {
        int i = walker->order[k];
        bool between = i != from && gw_layout_is_before(walker, i, to) && gw_layout_is_before(walker, from, i);
        if (!between)
            continue;
        add_suspect(walker, s, i);
        /* captured, and yet it did not tell: too coarse for this finding */
        if (walker->nodes[i].usable && i != to)
            s->costs[s->count - 1] = again_factor * gw_reach_costs[walker->nodes[i].point->reach];
    }
}

/* Everything that no probed point has cleared, and what lies outside. */
static void take_open(const gw_walker *walker, suspects *s) {
    for (size_t k = 0; k < walker->count; k++) {
        int i = walker->order[k];
        bool cleared = false;
        for (size_t j = 0; j < walker->count; j++)
            cleared = cleared || (walker->nodes[j].usable && gw_layout_is_before(walker, i, (int)j));
        if (!cleared)
            add_suspect(walker, s, i);
    }
    s->outside = outside_weight;
}

static bool add_next(gw_walker *walker, int point, int rail, const char *why) {
    gw_walk *walk = walker->walk;
    for (size_t i = 0; i < walk->next_count; i++)
        if (walk->next[i].point == point && walk->next[i].rail == rail)
            return true;
    if (walk->next_count >= walker->count + walk->rail_count + 1)
        return false;
    walk->next[walk->next_count++] = (gw_next){.point = point, .rail = rail, .why = why};
    return true;
}

static const char *reason(const gw_walker *walker, const suspects *s, const gw_search_step *step) {
    if (walker->nodes[s->points[step->node]].probe->state == GW_PROBE_UNREADABLE)
        return "its capture could not be read: capture it again";
    if (walker->nodes[s->points[step->node]].doubted || walker->nodes[s->points[step->node]].poor)
        return "its capture cannot be used: capture it again, on another range";
    if (walker->nodes[s->points[step->node]].usable)
        return "its capture is too coarse to tell: capture it again on a finer range";
    if (s->count + (s->outside > 0 ? 1 : 0) == 2)
        return "settles which of the last two it is";
    double cost = s->costs[step->node];
    bool even = true;
    for (size_t i = 0; i < s->count; i++)
        even = even && s->weights[i] == s->weights[0] && (s->costs[i] == cost || s->costs[i] <= 0);
    return even ? "halves what is left" : "least cost to the end, by how likely each stage is and how hard to reach";
}

static void choose(gw_walker *walker, const suspects *s) {
    gw_search search = {
        .count = s->count, .parent = s->parents, .weight = s->weights, .cost = s->costs, .outside = s->outside};
    gw_search_step step;
    if (!gw_search_best(&search, &step)) {
        walker->failed = true;
        return;
    }
    if (!step.has)
        return;
    walker->walk->probes_expected = step.expected;
    add_next(walker, s->points[step.node], -1, reason(walker, s, &step));
}

/* A capture that could hide the signal leaves the search where it was: a fresh point comes first, if there is one. */
static void choose_fresh(gw_walker *walker, suspects *s) {
    bool any = false;
    for (size_t i = 0; i < s->count; i++)
        any = any || walker->nodes[s->points[i]].probe->state == GW_PROBE_NONE;
    for (size_t i = 0; any && i < s->count; i++)
        if (walker->nodes[s->points[i]].probe->state != GW_PROBE_NONE)
            s->costs[i] = 0;
    if (any)
        choose(walker, s);
}

/* What nobody has looked at yet, beside what is to be settled. */
static void choose_open(gw_walker *walker, suspects *s) {
    for (size_t i = 0; i < walker->finding_count; i++) {
        const gw_finding *found = &walker->findings[i];
        if (found->point < 0 || found->to < 0 || found->status != GW_UNSURE)
            continue;
        s->count = 0;
        take_span(walker, s, found->from, found->to);
        size_t before = walker->walk->next_count;
        choose_fresh(walker, s);
        if (walker->walk->next_count > before)
            return;
    }
    s->count = 0;
    take_open(walker, s);
    choose_fresh(walker, s);
}

/* Rails nobody measured, where a signal was found wrong that a rail could explain. */
static void add_rails(gw_walker *walker) {
    const gw_verdict *verdict = &walker->walk->verdict;
    if (verdict->finding < 0 || verdict->rail >= 0 || verdict->to < 0 || walker->span_of[verdict->to].passive ||
        walker->findings[verdict->finding].code == GW_FOUND_DC_PASSED)
        return;
    for (size_t i = 0; i < walker->walk->rail_count; i++)
        if (walker->walk->rails[i].status == GW_UNPROBED)
            add_next(walker, -1, (int)i, "a rail comes before the signal: it would explain the finding");
}

static void choose_for_finding(gw_walker *walker, suspects *s) {
    const gw_verdict *verdict = &walker->walk->verdict;
    const gw_finding *found = &walker->findings[verdict->finding];
    if (!verdict->exact) {
        take_span(walker, s, verdict->from, verdict->to);
        choose(walker, s);
    }
    bool unsure = verdict->status == GW_VERDICT_UNSURE,
         hides = found->point >= 0 && walker->nodes[found->point].hidden_poor;
    if (unsure && hides)
        choose_open(walker, s);
    if (unsure && (found->point >= 0 || found->rail >= 0))
        add_next(walker, found->point, found->rail, found->settle ? found->settle : found->confirm);
    if (unsure && !hides)
        choose_open(walker, s);
    add_rails(walker);
}

void gw_next_choose(gw_walker *walker) {
    gw_walk *walk = walker->walk;
    suspects s = {0};
    walk->next = gw_arena_array(walker->arena, walker->count + walk->rail_count + 1, sizeof *walk->next);
    if (!walk->next || !init_suspects(walker, &s)) {
        walker->failed = true;
        return;
    }
    if (walk->verdict.finding >= 0) {
        choose_for_finding(walker, &s);
    } else if (walk->verdict.status == GW_VERDICT_CLEAR) {
        add_next(walker, -1, -1, "everything inside is in order: the output jack, the cable, the monitor");
    } else {
        take_open(walker, &s);
        choose(walker, &s);
        if (walk->next_count == 0)
            for (size_t i = 0; i < walker->count; i++)
                if (walker->nodes[i].probe->state == GW_PROBE_UNREADABLE)
                    add_next(walker, (int)i, -1, "its capture could not be read: capture it again");
    }
}
