/* What is expected of a point itself: its frequency and its level. */
#include "walk/walker.h"

#include <math.h>
#include <stdio.h>

/* Two points have the same frequency within this. */
static const double same_frequency = 0.005;
/* Of a waveform of many harmonics hardly more than one period can be explained by another one. */
static const double periods_needed = 2;

static bool has_frequency(const gw_walker *walker, const gw_node *node) {
    return node->usable && node->detected && gw_reading_has(node->readings, GW_FREQUENCY) &&
           (walker->shape == GW_SHAPE_SINE || walker->shape == GW_SHAPE_PERIODIC || walker->shape == GW_SHAPE_TWO_TONE);
}

static gw_judgement judge_frequency(const gw_walker *walker, int point) {
    const gw_node *node = &walker->nodes[point];
    const gw_expected *expected = &node->point->frequency;
    gw_judgement out = {.kind = GW_JUDGE_HERTZ, .status = GW_UNJUDGED};
    if (!has_frequency(walker, node) || fabs(node->cuts.dc_v) > 0) /* the gaps may have one of their own */
        return out;
    const gw_reading *frequency = &node->readings->values[GW_FREQUENCY];
    out.has_value = true;
    out.value = frequency->value;
    out.u95 = frequency->u95;
    if (walker->shape == GW_SHAPE_PERIODIC && node->readings->clues.cycles < periods_needed) {
        out.why = "too few periods in the record";
        return out;
    }
    if (expected->origin == GW_ORIGIN_NONE)
        return out;
    out.has_expected = true;
    out.expected = expected->value;
    out.low = expected->low;
    out.high = expected->high;
    out.how = expected->how;
    out.status = gw_judge_range(out.value, out.u95, out.low, out.high, walker->chain->simple_decision, frequency->u95);
    if (out.status == GW_UNSURE)
        out.why = "the limit lies within the uncertainty";
    return out;
}

/* Two tones don't move one without the other: where the second stands in its place, the first was misread. */
static bool second_stands(const gw_walker *walker, int point) {
    const gw_readings *readings = walker->nodes[point].readings;
    double second = walker->chain->stimulus.second_hz;
    for (size_t i = 0; i < readings->tone_count; i++)
        if (readings->tones[i].kind == GW_TONE_STIMULUS &&
            gw_level_same(readings->tones[i].frequency_hz, second, same_frequency))
            return true;
    return false;
}

/* Without a statement of its own a point only has to keep the frequency that came in. */
static bool came_in(const gw_walker *walker, int point) {
    int from = walker->span_of[point].from;
    if (from < 0 || !has_frequency(walker, &walker->nodes[from]))
        return false;
    double before = walker->nodes[from].readings->values[GW_FREQUENCY].value;
    double here = walker->nodes[point].readings->values[GW_FREQUENCY].value;
    return fabs(here / before - 1) <= same_frequency;
}

static void judge_pitch(gw_walker *walker, int point) {
    gw_judgement frequency = judge_frequency(walker, point);
    bool stated = walker->nodes[point].point->frequency.origin == GW_ORIGIN_STATED;
    if ((frequency.status == GW_OFF || frequency.status == GW_UNSURE) && !stated && came_in(walker, point)) {
        frequency.status = GW_UNJUDGED;
        frequency.why = "as it came in";
    }
    if (frequency.status == GW_OFF && !stated && second_stands(walker, point)) {
        frequency.status = GW_UNJUDGED;
        frequency.why = "the second tone is where it should be";
    }
    walker->walk->points[point].frequency = frequency;
    if (frequency.status != GW_OFF && frequency.status != GW_UNSURE)
        return;
    gw_finding *found =
        gw_finding_add(walker, GW_FOUND_PITCH_OFF, frequency.status, walker->span_of[point].from, point);
    if (!found)
        return;
    found->evidence = gw_words_evidence(walker, "frequency", &frequency, "Hz");
    if (frequency.status == GW_UNSURE)
        found->settle = "capture more cycles";
}

/* ---- a stated level ---- */

static gw_judgement judge_level(const gw_walker *walker, int point) {
    const gw_node *node = &walker->nodes[point];
    const gw_expected *expected = &node->point->level;
    gw_judgement out = {.kind = GW_JUDGE_VOLTS, .status = GW_UNJUDGED};
    if (!node->usable || !node->detected || node->dead)
        return out;
    out.has_value = true;
    out.below = node->level.below;
    out.value = node->level.value;
    out.u95 = gw_figure_u95(&node->level) * out.value;
    if (expected->origin == GW_ORIGIN_NONE || !gw_word_equal(gw_words_unit(node->readings), "V"))
        return out;
    out.has_expected = true;
    out.expected = expected->value;
    out.low = expected->low;
    out.high = expected->high;
    out.how = expected->how;
    out.status = gw_judge_range(out.value, out.u95, out.low, out.high, walker->chain->simple_decision,
                                gw_figure_random_u95(&node->level) * out.value);
    if (out.status == GW_UNSURE)
        out.why = "the limit lies within the uncertainty";
    return out;
}

/* The stage's own gain says more than the level behind it: where that gain is out, the level only follows, and where it
 * is in order for certain, the level comes from before. */
static void judge_stated_level(gw_walker *walker, int point) {
    gw_judgement level = judge_level(walker, point);
    gw_status gain = walker->stage_of[point].gain.status;
    walker->walk->points[point].level = level;
    if ((level.status != GW_OFF && level.status != GW_UNSURE) || gain == GW_OFF || gain == GW_UNSURE)
        return;
    gw_status status = gain == GW_OK ? GW_UNSURE : level.status;
    gw_finding *found = gw_finding_add(walker, level.value < level.expected ? GW_FOUND_LEVEL_LOW : GW_FOUND_LEVEL_HIGH,
                                       status, walker->span_of[point].from, point);
    if (!found)
        return;
    found->evidence = gw_words_evidence(walker, "level", &level, "V");
    if (status == GW_UNSURE)
        found->settle = gain == GW_OK
                            ? "the stage's own gain is in order: measure what is fed in, and each stage before"
                            : "capture with an instrument of better accuracy";
}

void gw_pitch_judge(gw_walker *walker) {
    if (walker->shape == GW_SHAPE_NONE)
        return;
    for (size_t k = 0; k < walker->count; k++) {
        judge_pitch(walker, walker->order[k]);
        judge_stated_level(walker, walker->order[k]);
    }
}
