/* Polarity: only where two points were captured at the same instants, or both with the reference channel. */
#include "walk/walker.h"

#include <math.h>

static const double pi = 3.14159265358979323846;
/* This close to the expected phase, or to its opposite, is told; what lies between is a filter's business. */
static const double told_within_rad = 1.0471975511965976; /* 60 degrees */

static bool fundamental_phase(const gw_readings *readings, double *phase_rad) {
    for (size_t i = 0; readings && i < readings->harmonic_count; i++)
        if (readings->harmonics[i].order == 1 && readings->harmonics[i].resolved) {
            *phase_rad = readings->harmonics[i].phase_rad;
            return true;
        }
    return false;
}

static double wrapped(double phase_rad) {
    return phase_rad - 2 * pi * floor(phase_rad / (2 * pi) + 0.5);
}

/* Phase of a point's signal against a clock that the other point shares. */
static bool shared_phase(const gw_walker *walker, int point, bool same_file, double *phase_rad) {
    const gw_node *node = &walker->nodes[point];
    double reference;
    if (!fundamental_phase(node->readings, phase_rad))
        return false;
    if (same_file)
        return true;
    if (!fundamental_phase(node->reference, &reference))
        return false;
    *phase_rad -= reference;
    return true;
}

static void report(gw_walker *walker, const gw_span *span, double measured, double expected) {
    gw_finding *found = gw_finding_add(walker, GW_FOUND_POLARITY_FLIPPED, GW_OFF, span->from, span->to);
    char is[32], should[32];
    if (!found)
        return;
    gw_number_fixed(measured * 180 / pi, 0, is, sizeof is);
    gw_number_fixed(expected * 180 / pi, 0, should, sizeof should);
    found->evidence = gw_walker_text(walker, "phase %s°, expected %s°", is, should);
}

static void judge(gw_walker *walker, int point) {
    const gw_span *span = &walker->span_of[point];
    const gw_node *to = &walker->nodes[point], *from = &walker->nodes[span->from];
    gw_walk_stage *stage = &walker->stage_of[point];
    bool same = gw_layout_same_file(walker, span->from, point);
    double after, before;
    if (!to->detected || !from->detected || to->dead || to->below_dead || walker->shape == GW_SHAPE_NOISE ||
        !shared_phase(walker, point, same, &after) || !shared_phase(walker, span->from, same, &before))
        return;
    double measured = wrapped(after - before);
    if (fabs(measured) <= told_within_rad)
        stage->polarity = GW_POLARITY_KEPT;
    else if (fabs(measured) >= pi - told_within_rad)
        stage->polarity = GW_POLARITY_FLIPPED;
    if (!span->phase_known)
        return;
    double off = fabs(wrapped(measured - span->phase_rad));
    if (off <= told_within_rad)
        stage->polarity_status = GW_OK;
    if (off < pi - told_within_rad)
        return;
    stage->polarity_status = GW_OFF;
    report(walker, span, measured, wrapped(span->phase_rad));
}

void gw_phase_judge(gw_walker *walker) {
    for (size_t k = 0; k < walker->count; k++) {
        int i = walker->order[k];
        if (walker->nodes[i].usable && walker->nodes[i].from >= 0)
            judge(walker, i);
    }
}
