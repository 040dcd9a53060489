/* The walk from end to end. */
#include "walk/walker.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

const char *gw_status_name(gw_status status) {
    static const char *const names[] = {[GW_UNJUDGED] = "unjudged", [GW_OK] = "ok",
                                        [GW_UNSURE] = "unsure",     [GW_OFF] = "off",
                                        [GW_UNPROBED] = "unprobed", [GW_UNREADABLE] = "unreadable"};
    return names[status];
}

const char *gw_verdict_name(gw_verdict_status status) {
    static const char *const names[] = {[GW_VERDICT_CLEAR] = "clear",
                                        [GW_VERDICT_FAULT] = "fault",
                                        [GW_VERDICT_UNSURE] = "unsure",
                                        [GW_VERDICT_INCOMPLETE] = "incomplete"};
    return names[status];
}

/* ---- setting up ---- */

static void fill_point(gw_walk_point *out, const gw_point *point, const gw_probe *probe) {
    out->name = point->name;
    out->what = point->what;
    out->after = point->after;
    out->metered = point->metered;
    out->meter_v = point->meter_v;
    out->meter_u95_v = point->meter_u95_v;
    out->status = GW_UNPROBED;
    if (probe->state == GW_PROBE_UNREADABLE) {
        out->status = GW_UNREADABLE;
        out->why = probe->why;
    } else if (probe->state == GW_PROBE_READ && probe->readings) {
        out->status = GW_UNJUDGED;
        out->readings = probe->readings;
        out->reference = probe->reference;
    } else if (point->metered) {
        out->status = GW_UNJUDGED;
    }
}

static void add_condition(gw_walker *walker, const char *key, const char *text) {
    if (!text || !*text)
        return;
    if (!gw_strings_add(&walker->walk->conditions, key) || !gw_strings_add(&walker->walk->conditions, text))
        walker->failed = true;
}

static const char *quantity(gw_walker *walker, double value, const char *unit) {
    char text[64];
    return value > 0 ? gw_walker_text(walker, "%s", gw_quantity_print(value, 0, unit, 4, text, sizeof text)) : NULL;
}

static void fill_conditions(gw_walker *walker) {
    const gw_chain *chain = walker->chain;
    char text[32];
    add_condition(walker, "stimulus", chain->stimulus_text);
    add_condition(walker, "mains", quantity(walker, chain->mains_hz, "Hz"));
    if (chain->band_high_hz > 0)
        add_condition(walker, "band",
                      gw_walker_text(walker, "%s to %s", quantity(walker, chain->band_low_hz, "Hz"),
                                     quantity(walker, chain->band_high_hz, "Hz")));
    if (chain->accuracy >= 0)
        add_condition(walker, "accuracy", gw_words_percent(chain->accuracy, text, sizeof text));
    add_condition(walker, "reference", chain->reference);
    for (size_t i = 0; i + 1 < chain->conditions.count; i += 2)
        add_condition(walker, chain->conditions.items[i], chain->conditions.items[i + 1]);
}

/* A copy of what the chain states, if it does. */
static bool copy(gw_walker *walker, const char *text, const char **out) {
    *out = gw_arena_string(walker->arena, text);
    return text == NULL || *out != NULL;
}

static bool fill_walk(gw_walker *walker, const gw_probe *points, const gw_probe *rails) {
    const gw_chain *chain = walker->chain;
    gw_walk *walk = walker->walk;
    if (!copy(walker, chain->file, &walk->file) || !copy(walker, chain->title, &walk->title) ||
        !copy(walker, chain->unit, &walk->unit) || !copy(walker, chain->note, &walk->note) ||
        !copy(walker, chain->stimulus_text, &walk->stimulus))
        return false;
    walk->point_count = chain->point_count;
    walk->rail_count = chain->rail_count;
    walk->points = gw_arena_array(walker->arena, walk->point_count, sizeof *walk->points);
    walk->rails = gw_arena_array(walker->arena, walk->rail_count, sizeof *walk->rails);
    if (!walk->points || !walk->rails)
        return false;
    for (size_t i = 0; i < walk->point_count; i++)
        fill_point(&walk->points[i], &chain->points[i], &points[i]);
    for (size_t i = 0; i < walk->rail_count; i++)
        fill_point(&walk->rails[i], &chain->rails[i], &rails[i]);
    return true;
}

/* ---- judging, in the order of a careful technician ---- */

/* What only a signal that stands still can show. */
static void judge_the_steady(gw_walker *walker) {
    gw_phase_judge(walker);
    gw_pitch_judge(walker);
    gw_shape_judge(walker);
    gw_marks_judge(walker);
    gw_tilt_judge(walker);
}

static void judge(gw_walker *walker, const gw_probe *rails) {
    gw_levels_find(walker);
    gw_layout_link(walker);
    gw_levels_death(walker);
    walker->dc_hidden_all = gw_dc_all_zero(walker);
    gw_doubts_find(walker);
    gw_doubts_report(walker);
    gw_levels_expect(walker);
    gw_rails_judge(walker, rails);
    gw_gains_judge(walker);
    gw_dc_judge(walker);
    gw_sweep_judge(walker);
    if (walker->shape != GW_SHAPE_SWEEP && !walker->wanders)
        judge_the_steady(walker);
    gw_groups_judge(walker);
    gw_doubts_unbend(walker);
    gw_branches_join(walker);
    gw_findings_sort(walker);
    gw_follows_mark(walker);
}

/* ---- statuses of points and stages ---- */

/* Whether all that is off at a point only follows from elsewhere; `*leader` is the finding it follows from. */
static bool only_follows(const gw_walker *walker, int point, int *leader) {
    bool any = false;
    for (size_t i = 0; i < walker->finding_count; i++) {
        const gw_finding *found = &walker->findings[i];
        if (found->point != point)
            continue;
        int top = (int)i;
        for (size_t hops = 0; walker->findings[top].follows >= 0 && hops < walker->finding_count; hops++)
            top = walker->findings[top].follows;
        if (walker->findings[top].point == point)
            return false;
        any = true;
        *leader = top;
    }
    return any;
}

static gw_status status_of(const gw_walk_stage *stage) {
    const gw_status all[] = {stage->gain.status,        stage->dc.status,         stage->thd_added.status,
                             stage->noise_added.status, stage->hum_added.status,  stage->polarity_status,
                             stage->low_corner.status,  stage->high_corner.status};
    gw_status worst = GW_UNJUDGED;
    for (size_t i = 0; i < sizeof all / sizeof all[0]; i++)
        worst = gw_status_worse(worst, all[i]);
    return worst;
}

static gw_status own_status(const gw_walk_point *point) {
    const gw_status all[] = {point->dc.status,  point->level.status, point->frequency.status,
                             point->thd.status, point->noise.status, point->hum.status};
    gw_status worst = GW_UNJUDGED;
    for (size_t i = 0; i < sizeof all / sizeof all[0]; i++)
        worst = gw_status_worse(worst, all[i]);
    return worst;
}

static gw_status found_status(const gw_walker *walker, int point) {
    gw_status worst = GW_UNJUDGED;
    for (size_t i = 0; i < walker->finding_count; i++)
        if (walker->findings[i].point == point)
            worst = gw_status_worse(worst, walker->findings[i].status);
    return worst;
}

static void settle_point(gw_walker *walker, int point) {
    gw_walk_point *out = &walker->walk->points[point];
    gw_walk_stage *stage = &walker->stage_of[point];
    const gw_node *node = &walker->nodes[point];
    int leader = -1;
    if (!node->readings && !node->point->metered)
        return;
    out->status = gw_status_worse(own_status(out), found_status(walker, point));
    if (node->usable) {
        stage->status = gw_status_worse(status_of(stage), out->status);
        out->status = gw_status_worse(stage->status, own_status(out));
    }
    if (only_follows(walker, point, &leader)) {
        const gw_finding *top = &walker->findings[leader];
        out->status = stage->status = GW_UNJUDGED;
        out->why =
            gw_walker_text(walker, "follows from what was found at %s",
                           top->rail >= 0 ? walker->walk->rails[top->rail].name : gw_words_name(walker, top->point));
    } else if (node->below_dead && out->status == GW_OK) {
        out->status = GW_UNJUDGED;
        out->why = "the signal is lost before it";
    } else if (node->below_dead && !out->why) {
        out->why = "the signal is lost before it";
    } else if (node->doubted || node->poor) {
        out->why = node->doubted ? "the probe is doubted" : "the capture cannot be used";
    }
}

static bool collect_stages(gw_walker *walker) {
    gw_walk *walk = walker->walk;
    walk->stages = gw_arena_array(walker->arena, walker->count, sizeof *walk->stages);
    if (!walk->stages)
        return false;
    for (size_t k = 0; k < walker->count; k++) {
        int i = walker->order[k];
        settle_point(walker, i);
        gw_walk_stage *stage = &walker->stage_of[i];
        /* a reference channel is what the stages before the first point are judged from */
        if (!walker->nodes[i].usable || (walker->nodes[i].from < 0 && !stage->gain.has_value))
            continue;
        stage->from = walker->nodes[i].from;
        stage->to = i;
        stage->across = walker->span_of[i].across;
        stage->kind = walker->span_of[i].kind;
        walk->stages[walk->stage_count++] = *stage;
    }
    return true;
}

static bool collect_findings(gw_walker *walker) {
    gw_walk *walk = walker->walk;
    walk->findings = gw_arena_array(walker->arena, walker->finding_count, sizeof *walk->findings);
    if (!walk->findings)
        return false;
    if (walker->finding_count > 0)
        memcpy(walk->findings, walker->findings, walker->finding_count * sizeof *walk->findings);
    walk->finding_count = walker->finding_count;
    return true;
}

static bool run(gw_walker *walker, const gw_probe *points, const gw_probe *rails) {
    if (!fill_walk(walker, points, rails) || !gw_layout_init(walker, points))
        return false;
    fill_conditions(walker);
    judge(walker, rails);
    gw_rank_causes(walker);
    gw_verdict_reach(walker);
    gw_next_choose(walker);
    gw_verdict_say(walker);
    return collect_stages(walker) && collect_findings(walker) && !walker->failed;
}

bool gw_walk_run(const gw_chain *chain, const gw_probe *points, const gw_probe *rails, gw_walk **out, gw_error *error) {
    *out = NULL;
    gw_walk *walk = calloc(1, sizeof *walk);
    if (!walk)
        return gw_error_memory(error);
    walk->arena = gw_arena_new();
    gw_walker walker = {.chain = chain, .walk = walk, .arena = walk->arena};
    bool fine = walk->arena && run(&walker, points, rails);
    free(walker.findings);
    if (!fine) {
        gw_walk_free(walk);
        return gw_error_memory(error);
    }
    *out = walk;
    return true;
}

void gw_walk_free(gw_walk *walk) {
    if (!walk)
        return;
    gw_strings_free(&walk->remarks);
    gw_strings_free(&walk->conditions);
    gw_arena_free(walk->arena);
    free(walk);
}

int gw_walk_exit(const gw_walk *walk) {
    for (size_t i = 0; i < walk->point_count; i++)
        if (walk->points[i].status == GW_UNREADABLE)
            return 2;
    for (size_t i = 0; i < walk->rail_count; i++)
        if (walk->rails[i].status == GW_UNREADABLE)
            return 2;
    switch (walk->verdict.status) {
    case GW_VERDICT_CLEAR:
        return 0;
    case GW_VERDICT_FAULT:
        return 1;
    default:
        return 3;
    }
}
