/* The one sentence that ends the search. */
#include "walk/walker.h"

#include <stdio.h>
#include <string.h>

/* ---- which finding the verdict rests on ---- */

/* Findings stand in the order of the signal, rails first: the first that follows from nothing leads. */
static int leading(const gw_walker *walker, gw_status status, bool doubts) {
    for (size_t i = 0; i < walker->finding_count; i++) {
        const gw_finding *found = &walker->findings[i];
        if (found->status == status && found->follows < 0 && gw_finding_is_doubt(found->code) == doubts)
            return (int)i;
    }
    return -1;
}

/* A capture that contradicts its neighbours says more than any figure at the edge of its limits. */
static int first_suspect(const gw_walker *walker) {
    for (size_t i = 0; i < walker->finding_count; i++)
        if (walker->findings[i].code == GW_FOUND_PROBE_SUSPECT)
            return (int)i;
    return -1;
}

static int leading_unsure(const gw_walker *walker) {
    int suspect = first_suspect(walker);
    if (suspect >= 0)
        return suspect;
    int doubt = leading(walker, GW_UNSURE, true), unsure = leading(walker, GW_UNSURE, false);
    if (doubt < 0 || unsure < 0)
        return doubt < 0 ? unsure : doubt;
    return doubt < unsure ? doubt : unsure;
}

static bool has_probed_after(const gw_walker *walker, int point) {
    for (size_t i = 0; i < walker->count; i++)
        if ((int)i != point && walker->nodes[i].usable && gw_layout_is_before(walker, point, (int)i))
            return true;
    return false;
}

/* A point that could hide a fault: unreadable, or nothing behind it was probed. */
static bool is_incomplete(const gw_walker *walker) {
    for (size_t i = 0; i < walker->count; i++) {
        const gw_node *node = &walker->nodes[i];
        if (node->probe->state == GW_PROBE_UNREADABLE)
            return true;
        if (!node->usable && !has_probed_after(walker, (int)i))
            return true;
    }
    for (size_t i = 0; i < walker->walk->rail_count; i++)
        if (walker->walk->rails[i].status == GW_UNREADABLE)
            return true;
    return false;
}

static int stages_between(const gw_walker *walker, const gw_finding *found) {
    int before = found->from >= 0 ? walker->nodes[found->from].depth : -1;
    return walker->nodes[found->point].depth - before;
}

void gw_verdict_reach(gw_walker *walker) {
    gw_verdict *verdict = &walker->walk->verdict;
    *verdict = (gw_verdict){.finding = -1, .from = -1, .to = -1, .point = -1, .rail = -1, .exact = true};
    verdict->finding = leading(walker, GW_OFF, false);
    if (verdict->finding >= 0)
        verdict->status = GW_VERDICT_FAULT;
    else if ((verdict->finding = leading_unsure(walker)) >= 0)
        verdict->status = GW_VERDICT_UNSURE;
    else
        verdict->status = is_incomplete(walker) ? GW_VERDICT_INCOMPLETE : GW_VERDICT_CLEAR;
    if (verdict->finding < 0) {
        verdict->exact = verdict->status == GW_VERDICT_CLEAR;
        return;
    }
    const gw_finding *found = &walker->findings[verdict->finding];
    verdict->from = found->from;
    verdict->to = found->to;
    verdict->point = found->point;
    verdict->rail = found->rail;
    if (found->to >= 0)
        verdict->exact = stages_between(walker, found) <= 1;
}

/* ---- the sentence ---- */

static const char *where_words(gw_walker *walker, const gw_finding *found, bool starts) {
    const gw_walk *walk = walker->walk;
    if (found->rail >= 0)
        return gw_walker_text(walker, starts ? "Rail %s:" : "rail %s:", walk->rails[found->rail].name);
    const char *point = gw_words_name(walker, found->point);
    if (gw_finding_is_doubt(found->code) || found->code == GW_FOUND_ODD_ONE_OUT)
        return gw_walker_text(walker, starts ? "At %s" : "at %s", point);
    const gw_span *span = &walker->span_of[found->point];
    if (found->from < 0 && walker->nodes[found->point].depth == 0)
        return gw_walker_text(walker, starts ? "Before the first point, %s," : "before the first point, %s,", point);
    if (stages_between(walker, found) > 1)
        return gw_walker_text(walker, "%s between %s and %s (%d stages)", starts ? "Somewhere" : "somewhere",
                              gw_words_name(walker, found->from), point, stages_between(walker, found));
    const char *between = starts ? "Between" : "between";
    if (!span->kind)
        return gw_walker_text(walker, "%s %s and %s", between, gw_words_name(walker, found->from), point);
    return gw_walker_text(walker, "%s %s and %s (%s)", between, gw_words_name(walker, found->from), point, span->kind);
}

static const char *next_words(gw_walker *walker) {
    const gw_walk *walk = walker->walk;
    if (walk->next_count == 0 || walk->next[0].point < 0)
        return NULL;
    return walk->points[walk->next[0].point].name;
}

static size_t count_more(const gw_walker *walker, int leader) {
    size_t more = 0;
    for (size_t i = 0; i < walker->finding_count; i++)
        if ((int)i != leader && walker->findings[i].follows < 0 && walker->findings[i].status == GW_OFF &&
            !gw_finding_is_doubt(walker->findings[i].code))
            more++;
    return more;
}

static const char *fault_sentence(gw_walker *walker, const gw_finding *found) {
    const char *sentence = gw_finding_infos[found->code].sentence, *next = next_words(walker);
    const char *where = where_words(walker, found, true), *more = "";
    if (count_more(walker, walker->walk->verdict.finding) > 0)
        more = "; another fault is among the findings";
    bool again = next && walker->nodes[walker->walk->next[0].point].probe->state != GW_PROBE_NONE;
    if (!walker->walk->verdict.exact && next)
        return gw_walker_text(walker,
                              again ? "%s %s, for certain (%s): capture %s again, on a finer range%s."
                                    : "%s %s, for certain (%s): probe %s next%s.",
                              where, sentence, found->evidence, next, more);
    return gw_walker_text(walker, "%s %s, for certain (%s); to confirm: %s%s.", where, sentence, found->evidence,
                          found->confirm, more);
}

static const char *unsure_sentence(gw_walker *walker, const gw_finding *found) {
    const gw_finding_info *info = &gw_finding_infos[found->code];
    const char *where = where_words(walker, found, gw_finding_is_doubt(found->code));
    const char *settle = found->settle ? found->settle : found->confirm;
    if (gw_finding_is_doubt(found->code))
        return gw_walker_text(walker, "%s %s (%s): %s.", where, info->sentence, found->evidence, settle);
    return gw_walker_text(walker, "Nothing is wrong for certain, but %s it may be that %s (%s); to settle it: %s.",
                          where, info->sentence, found->evidence, settle);
}

/* DC that no capture could show must not pass for "in order". */
static const char *hidden_dc_words(gw_walker *walker) {
    size_t hidden = 0, read = 0;
    int first = -1;
    for (size_t i = 0; i < walker->count; i++) {
        const gw_node *node = &walker->nodes[i];
        bool hides = node->readings && !node->point->metered && gw_layout_dc_hidden(walker, node->readings);
        read += node->readings ? 1 : 0;
        hidden += hides ? 1 : 0;
        first = hides && first < 0 ? (int)i : first;
    }
    if (hidden == 0)
        return "";
    if (hidden == read)
        return " (but for DC, which the captures hide)";
    return gw_walker_text(walker, " (but for DC at %s%s, which the capture hides)", gw_words_name(walker, first),
                          hidden > 1 ? " and others" : "");
}

static int first_unreadable(const gw_walker *walker) {
    for (size_t k = 0; k < walker->count; k++)
        if (walker->nodes[walker->order[k]].probe->state == GW_PROBE_UNREADABLE)
            return walker->order[k];
    return -1;
}

/* Nothing was found: where it was looked for, lest the captures lie elsewhere. */
static void remark_folder(gw_walker *walker) {
    const char *folder = walker->chain->folder;
    const char *first = walker->walk->points[0].name;
    for (size_t i = 0; i < walker->count; i++)
        if (walker->nodes[i].probe->state != GW_PROBE_NONE)
            return;
    gw_walker_remark(walker, "no file bears a point's name, as %s.csv or %s.wav would, in '%s'", first, first,
                     folder != NULL && *folder != '\0' ? folder : ".");
}

static const char *incomplete_sentence(gw_walker *walker) {
    const char *next = next_words(walker);
    size_t probed = 0;
    for (size_t i = 0; i < walker->count; i++)
        probed += walker->nodes[i].usable ? 1 : 0;
    const char *what = "Nothing wrong so far";
    int lost = first_unreadable(walker);
    if (probed == 0 && lost >= 0)
        return gw_walker_text(walker, "No capture could be read, first of all that of %s: capture it again.",
                              gw_words_name(walker, lost));
    if (probed == 0) {
        what = "Nothing has been probed yet";
        remark_folder(walker);
    }
    if (!next)
        return gw_walker_text(walker, "%s, but a capture could not be read.", what);
    return gw_walker_text(walker, "%s%s: probe %s next.", what, probed ? hidden_dc_words(walker) : "", next);
}

/* Was any probed point or rail held against an expectation? */
static bool anything_judged(const gw_walker *walker) {
    for (size_t i = 0; i < walker->count; i++) {
        const gw_walk_stage *stage = &walker->stage_of[i];
        const gw_walk_point *point = &walker->walk->points[i];
        const gw_status all[] = {stage->gain.status, stage->dc.status,    stage->thd_added.status,
                                 point->dc.status,   point->level.status, stage->noise_added.status,
                                 point->thd.status,  point->noise.status, stage->hum_added.status,
                                 point->hum.status};
        for (size_t k = 0; k < sizeof all / sizeof all[0]; k++)
            if (all[k] == GW_OK)
                return true;
    }
    for (size_t i = 0; i < walker->walk->rail_count; i++)
        if (walker->walk->rails[i].dc.status == GW_OK || walker->walk->rails[i].ripple.status == GW_OK)
            return true;
    return false;
}

/* Points that were stepped over: gains were judged across them, and nothing else. */
static const char *skipped_words(gw_walker *walker) {
    size_t skipped = 0;
    for (size_t i = 0; i < walker->count; i++)
        skipped += walker->nodes[i].probe->state == GW_PROBE_NONE && !walker->nodes[i].point->metered ? 1 : 0;
    if (skipped == 0)
        return "";
    return gw_walker_text(walker,
                          skipped == 1 ? " (%zu point is unprobed: only the gain was judged across it)"
                                       : " (%zu points are unprobed: only gains were judged across them)",
                          skipped);
}

static const char *clear_sentence(gw_walker *walker) {
    if (!anything_judged(walker))
        return gw_walker_text(
            walker,
            "Nothing is expected of any probed point, so only gross faults were looked for (a lost "
            "signal, clipping, hum, noise, tones, cut-outs), and none was found%s: state gains, DC or "
            "limits to have the stages judged.",
            hidden_dc_words(walker));
    return gw_walker_text(walker,
                          "Every probed point is in order%s%s: look past the last one, at the output jack, the cable "
                          "and the monitor behind it.",
                          hidden_dc_words(walker), skipped_words(walker));
}

/* To be called when causes are ranked and the next probe is chosen. */
void gw_verdict_say(gw_walker *walker) {
    gw_verdict *verdict = &walker->walk->verdict;
    const gw_finding *found = verdict->finding >= 0 ? &walker->findings[verdict->finding] : NULL;
    if (found != NULL)
        verdict->summary =
            verdict->status == GW_VERDICT_FAULT ? fault_sentence(walker, found) : unsure_sentence(walker, found);
    else
        verdict->summary =
            verdict->status == GW_VERDICT_INCOMPLETE ? incomplete_sentence(walker) : clear_sentence(walker);
}
