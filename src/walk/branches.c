/* Two branches that show the same fault have it from the stages that they share; where one has its signal, the other
 * has lost it behind them. */
#include "walk/walker.h"

#include <math.h>
#include <stdlib.h>

/* Gains off by the same, within this (nepers; 1 dB). */
static const double alike = 0.1151;

static bool has_gain(const gw_judgement *gain) {
    return gain->has_value && gain->has_expected && !gain->below && gain->expected > 0 && gain->value > 0;
}

static bool same_fault(const gw_walker *walker, const gw_finding *one, const gw_finding *other) {
    if (one->code != other->code || one->status != GW_OFF || other->status != GW_OFF || one->from != other->from ||
        one->point < 0 || other->point < 0 || one->rail >= 0 || other->rail >= 0)
        return false;
    if (one->code == GW_FOUND_SIGNAL_LOST || one->code == GW_FOUND_NOISE_ADDED || one->code == GW_FOUND_HUM_ADDED)
        return true;
    if (one->code != GW_FOUND_LEVEL_LOW && one->code != GW_FOUND_LEVEL_HIGH)
        return false;
    const gw_judgement *a = &walker->stage_of[one->point].gain, *b = &walker->stage_of[other->point].gain;
    return has_gain(a) && has_gain(b) && fabs(log(a->value / a->expected) - log(b->value / b->expected)) < alike;
}

/* The last point that both ways share; -1 for none. */
static int shared_point(const gw_walker *walker, int one, int other) {
    while (one != other && one >= 0 && other >= 0) {
        if (walker->nodes[one].depth >= walker->nodes[other].depth)
            one = walker->nodes[one].point->after;
        else
            other = walker->nodes[other].point->after;
    }
    return one == other ? one : -1;
}

static void drop(gw_walker *walker, size_t index) {
    for (size_t i = index; i + 1 < walker->finding_count; i++)
        walker->findings[i] = walker->findings[i + 1];
    walker->finding_count--;
}

/* True when the second was taken into the first. */
static bool join(gw_walker *walker, gw_finding *first, const gw_finding *second) {
    int shared = shared_point(walker, first->point, second->point);
    int from_depth = first->from < 0 ? -1 : walker->nodes[first->from].depth;
    if (shared < 0 || shared == second->point || walker->nodes[shared].depth <= from_depth)
        return false;
    if (shared != first->point)
        first->evidence = gw_walker_text(walker, "at %s and %s alike: %s", gw_words_name(walker, first->point),
                                         gw_words_name(walker, second->point), first->evidence);
    first->to = first->point = shared;
    return true;
}

/* What another branch has its signal through is not where it is lost. */
static void narrow(gw_walker *walker, gw_finding *lost) {
    int from = lost->from, alive = -1;
    for (size_t i = 0; i < walker->count; i++) {
        const gw_node *node = &walker->nodes[i];
        if (!node->usable || !node->detected || node->dead || node->from != from ||
            walker->stage_of[i].gain.status != GW_OK)
            continue;
        int shared = shared_point(walker, (int)i, lost->point);
        if (shared >= 0 && shared != lost->point && shared != (int)i &&
            walker->nodes[shared].depth > walker->nodes[lost->from].depth) {
            lost->from = shared;
            alive = (int)i;
        }
    }
    if (alive >= 0)
        lost->evidence = gw_walker_text(walker, "%s; %s has its signal", lost->evidence, gw_words_name(walker, alive));
}

void gw_branches_join(gw_walker *walker) {
    for (size_t i = 0; i < walker->finding_count; i++) {
        gw_finding *found = &walker->findings[i];
        if (found->code == GW_FOUND_SIGNAL_LOST && found->status == GW_OFF && found->point >= 0 && found->from >= 0)
            narrow(walker, found);
    }
    for (size_t i = 0; i < walker->finding_count; i++)
        for (size_t k = i + 1; k < walker->finding_count;) {
            if (same_fault(walker, &walker->findings[i], &walker->findings[k]) &&
                join(walker, &walker->findings[i], &walker->findings[k]))
                drop(walker, k);
            else
                k++;
        }
}
