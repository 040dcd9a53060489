/* Polarity: only where two points were captured at the same instants, or both with the reference channel. */
#include "walk/walker.h"

#include <math.h>

static const double pi = 3.14159265358979323846;
/* This close to the expected phase, or to its opposite, is told; what lies between is a filter's business. */
static const double told_within_rad = 1.0471975511965976; /* 60 degrees */

/* Under this the two channels have too little in common. */
static const double least_coherence = 0.5;
/* No stage delays two tones by more of the lower one's period. */
static const double longest_delay = 0.25;

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

/* ---- noise and two tones, by their correlation with the reference channel ---- */

/* +1, -1; 0 not to be told: as of two tones of which one is three times the other, where half a period is the same as
 * the wrong way round. */
static int told_polarity(const gw_walker *walker, const gw_node *node) {
    const gw_pair *pair = node->probe->pair;
    if (!pair || !pair->valid || pair->coherence < least_coherence ||
        (walker->shape == GW_SHAPE_TWO_TONE && fabs(pair->delay_s) * walker->frequency_hz > longest_delay))
        return 0;
    return pair->polarity;
}

/* What the stages on the way should do to it; 0 unknown. */
static int expected_polarity(const gw_walker *walker, const gw_span *span) {
    int sign = 1;
    for (int i = span->to; i >= 0 && i != span->from; i = walker->nodes[i].point->after)
        sign *= walker->nodes[i].point->polarity;
    return sign;
}

static void judge_correlation(gw_walker *walker, int point) {
    const gw_span *span = &walker->span_of[point];
    gw_walk_stage *stage = &walker->stage_of[point];
    int before = span->from < 0 ? 1 : told_polarity(walker, &walker->nodes[span->from]);
    int measured = told_polarity(walker, &walker->nodes[point]) * before;
    int expected = expected_polarity(walker, span);
    if (measured == 0)
        return;
    stage->polarity = measured > 0 ? GW_POLARITY_KEPT : GW_POLARITY_FLIPPED;
    if (expected == 0)
        return;
    stage->polarity_status = measured == expected ? GW_OK : GW_OFF;
    if (measured == expected)
        return;
    gw_finding *found = gw_finding_add(walker, GW_FOUND_POLARITY_FLIPPED, GW_OFF, span->from, point);
    if (found)
        found->evidence =
            gw_walker_text(walker, "%s against the reference channel, expected %s",
                           measured > 0 ? "kept" : "turned round", expected > 0 ? "kept" : "turned round");
}

static void judge(gw_walker *walker, int point) {
    const gw_span *span = &walker->span_of[point];
    const gw_node *to = &walker->nodes[point], *from = gw_layout_input(walker, point);
    gw_walk_stage *stage = &walker->stage_of[point];
    bool same = gw_layout_same_file(walker, span->from, point);
    double after, before = 0;
    if (!to->detected || (from && !from->detected) || to->dead || to->below_dead)
        return;
    if (walker->shape == GW_SHAPE_NOISE || walker->shape == GW_SHAPE_TWO_TONE) {
        judge_correlation(walker, point);
        return;
    }
    /* the mains' own lines have a phase of their own: it tells nothing where nobody stated that they are the signal */
    if (walker->chain->stimulus.frequency_hz <= 0 && gw_level_is_mains(walker, to->frequency_hz))
        return;
    if (!shared_phase(walker, point, same, &after) || (from && !shared_phase(walker, span->from, same, &before)))
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
        bool referred = walker->nodes[i].from >= 0 || walker->stage_of[i].gain.has_value;
        if (walker->nodes[i].usable && referred)
            judge(walker, i);
    }
}
