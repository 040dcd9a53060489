/* Gain from each point to the next, to the reference channel where there is one. */
#include "walk/walker.h"

#include <math.h>
#include <stdio.h>

/* The stimulus has not moved where its two readings agree this well beyond their noise. */
static const double steady_stimulus = 0.003;
/* Common practice: people mix up RMS, peak and generator scale; only more than that is a fault of what is fed in. */
static const double source_low = 0.3162277660168, source_near = 0.63095734448; /* -10 dB, -4 dB */

/* Two accuracies, each anywhere within its limits, add to this many times their root sum of squares at most: sqrt(6).
 */
static const double sure_of_scale = 2.449489742783178;

/* An upper bound that is not even so far down does not say that the signal is lost (common practice: 30 to 40 dB). */
static const double lost_below = 0.0316227766; /* -30 dB */

/* Both references, divided: how far the stimulus moved. Not `has` where it did not, or there are none. */
static gw_figure stimulus_move(const gw_walker *walker, const gw_node *from, const gw_node *to) {
    gw_figure before = gw_level_reference(walker, from), after = gw_level_reference(walker, to);
    gw_figure moved = gw_figure_ratio(&after, &before, false);
    if (!moved.has || moved.below || from->readings == to->readings)
        return (gw_figure){0};
    if (fabs(moved.value - 1) <= steady_stimulus + gw_figure_random_u95(&moved))
        moved.has = false;
    return moved;
}

static bool units_differ(const gw_node *from, const gw_node *to) {
    return !gw_word_equal(gw_words_unit(from->readings), gw_words_unit(to->readings));
}

static gw_figure measured_gain(const gw_walker *walker, const gw_span *span) {
    const gw_node *from = &walker->nodes[span->from], *to = &walker->nodes[span->to];
    bool same = gw_layout_same_file(walker, span->from, span->to);
    gw_figure gain = gw_figure_ratio(&to->level, &from->level, same);
    gw_figure moved = {0};
    if (!same)
        moved = stimulus_move(walker, from, to);
    if (!gain.has || !moved.has || !isfinite(gain.value / moved.value))
        return gain;
    gain.value /= moved.value;
    gain.random = hypot(gain.random, moved.random);
    gain.scale = hypot(gain.scale, moved.scale);
    return gain;
}

static void expect(const gw_walker *walker, const gw_span *span, gw_judgement *out) {
    if (!span->gain_known)
        return;
    double tilt = gw_level_tilt(walker, span);
    out->has_expected = true;
    out->expected = span->gain * tilt;
    out->low = span->near_low * tilt;
    out->high = span->near_high * tilt;
    out->how = span->how;
}

/* Off only outside the spreads added linearly, and by more than both accuracies can make; between that and their root
 * sum of squares nobody can tell. */
static void judge(const gw_walker *walker, const gw_span *span, const gw_figure *gain, gw_judgement *out) {
    bool simple = walker->chain->simple_decision;
    double random = gw_figure_random_u95(gain) * out->value, tilt = span->gain > 0 ? out->expected / span->gain : 1;
    if (gain->below) {
        out->status = out->value < out->low ? GW_OFF : GW_UNSURE;
        return;
    }
    gw_status near = gw_judge_range(out->value, out->u95, out->low, out->high, simple, random);
    double sure = hypot(random, sure_of_scale * gain->scale * out->value);
    gw_status far = gw_judge_range(out->value, sure, span->far_low * tilt, span->far_high * tilt, simple, random);
    out->status = near == GW_OK ? GW_OK : far == GW_OFF ? GW_OFF : GW_UNSURE;
    if (out->status == GW_UNSURE)
        out->why = "the limit lies within the uncertainty";
}

gw_judgement gw_gain_between(const gw_walker *walker, const gw_span *span) {
    gw_judgement out = {.kind = GW_JUDGE_GAIN, .status = GW_UNJUDGED};
    const gw_node *from = &walker->nodes[span->from], *to = &walker->nodes[span->to];
    expect(walker, span, &out);
    if (walker->shape == GW_SHAPE_NONE) {
        out.why = "nothing is fed in";
    } else if (!from->detected) {
        out.why = "no signal comes in";
    } else if (units_differ(from, to)) {
        out.why = "the captures have different units";
    } else {
        gw_figure gain = measured_gain(walker, span);
        if (!gain.has) {
            out.why = "the level cannot be read";
            return out;
        }
        out.has_value = true;
        out.below = gain.below;
        out.value = gain.value;
        out.u95 = gw_figure_u95(&gain) * gain.value;
        if (out.has_expected) {
            judge(walker, span, &gain, &out);
            gw_wander_doubt(walker, span, &out);
        } else {
            out.why = "no gain is expected";
        }
    }
    return out;
}

/* ---- the source ---- */

static const char from_reference[] = "the reference channel", from_stimulus[] = "the stated stimulus";

static void source_value(gw_judgement *out, const gw_figure *gain) {
    out->has_value = out->has_expected = true;
    out->below = gain->below;
    out->value = gain->value;
    out->u95 = gw_figure_u95(gain) * gain->value;
}

/* Where a channel of the same capture holds what is fed in, the stages up to the point are judged like any other. */
static bool gain_from_reference(const gw_walker *walker, const gw_span *span, gw_judgement *out) {
    const gw_node *node = &walker->nodes[span->to];
    gw_figure fed = gw_level_reference(walker, node), gain = gw_figure_ratio(&node->level, &fed, true);
    bool stage = node->depth > 0 || node->point->has_stage || node->point->gain.origin != GW_ORIGIN_NONE;
    if (!stage || !fed.has || fed.below || !gain.has ||
        !gw_word_equal(gw_words_unit(node->readings), gw_words_unit(node->reference)))
        return false;
    source_value(out, &gain);
    expect(walker, span, out);
    out->how = from_reference;
    out->status = gw_judge_range(out->value, out->u95, out->low, out->high, walker->chain->simple_decision,
                                 gw_figure_random_u95(&gain) * gain.value);
    return true;
}

/* Level at a point against what is fed in, by the reference channel or as stated, through the stages that lead there.
 */
bool gw_gain_source(const gw_walker *walker, int to, gw_judgement *out) {
    const gw_node *node = &walker->nodes[to];
    gw_span span = gw_layout_span(walker, -1, to);
    double stated = walker->chain->stimulus.level_v;
    *out = (gw_judgement){.kind = GW_JUDGE_GAIN, .status = GW_UNJUDGED};
    if (!span.gain_known || !node->level.has || walker->shape == GW_SHAPE_NONE)
        return false;
    if (gain_from_reference(walker, &span, out))
        return true;
    if (!(stated > 0) || !gw_word_equal(gw_words_unit(node->readings), "V"))
        return false;
    gw_figure gain = node->level;
    gain.value /= stated;
    if (!isfinite(gain.value))
        return false;
    source_value(out, &gain);
    out->expected = span.gain;
    out->low = span.far_low * source_near;
    out->high = span.far_high / source_near;
    out->how = from_stimulus;
    out->status = gw_judge_range(out->value, out->u95, out->low, out->high, false, 0);
    return true;
}

/* ---- findings ---- */

static const char *ways_to_settle(const gw_walker *walker, const gw_span *span) {
    const gw_node *from = &walker->nodes[span->from], *to = &walker->nodes[span->to];
    gw_figure gain = gw_figure_ratio(&to->level, &from->level, false);
    if (walker->wanders)
        return "feed in a steady sine, or capture the source on a reference channel along with each point";
    if (span->across > 2)
        return "probe a point between: the spreads of several stages add up";
    if (gain.scale > gain.random)
        return "take both points with one channel on one range, or with a reference channel; or state the instrument's "
               "accuracy if it is better";
    if (from->readings->clues.too_short || to->readings->clues.too_short)
        return "capture more cycles";
    return "capture again on a finer range, or for longer";
}

/* Nothing was seen, but the capture shows no more than that it is too little: that much is certain, and no more. */
static bool is_only_low(const gw_walker *walker, int to, const gw_judgement *gain) {
    return gain && gain->has_value && gain->has_expected && gain->below && gain->value > lost_below * gain->expected &&
           !gw_layout_near_rail(walker, walker->nodes[to].readings);
}

static void report_lost(gw_walker *walker, int to, const gw_judgement *gain) {
    const gw_node *node = &walker->nodes[to];
    int from = walker->span_of[to].from;
    char level[64], input[64] = "";
    gw_quantity_print(node->level.value, 0, gw_words_unit(node->readings), node->detected ? 3 : 2, level, sizeof level);
    double came = from >= 0 ? walker->nodes[from].level.value : walker->chain->stimulus.level_v;
    if (came > 0)
        gw_words_volts(came, 0, gw_words_unit(node->readings), input, sizeof input);
    gw_finding *found = gw_finding_add(
        walker, is_only_low(walker, to, gain) ? GW_FOUND_LEVEL_LOW : GW_FOUND_SIGNAL_LOST, GW_OFF, from, to);
    if (!found)
        return;
    bool nothing = !(node->level.value > 0); /* not even noise: every sample is the same */
    found->evidence = nothing ? gw_walker_text(walker, "nothing at all")
                              : gw_walker_text(walker, "%s %s", node->detected ? "only" : "under", level);
    if (came > 0)
        found->evidence =
            gw_walker_text(walker, "%s where %s %s", found->evidence, input, from >= 0 ? "go in" : "are fed in");
    if (!nothing && gain && gain->has_value && gain->has_expected)
        found->evidence =
            gw_walker_text(walker, "%s; %s", found->evidence, gw_words_evidence(walker, "gain", gain, "V"));
}

static void report_gain(gw_walker *walker, int to, gw_judgement *gain) {
    const gw_span *span = &walker->span_of[to];
    gw_finding_code code = gain->value < gain->expected ? GW_FOUND_LEVEL_LOW : GW_FOUND_LEVEL_HIGH;
    gw_finding *found = gw_finding_add(walker, code, gain->status, span->from, to);
    if (!found)
        return;
    found->evidence = gw_words_evidence(walker, "gain", gain, "V");
    if (gain->status == GW_UNSURE)
        found->settle = ways_to_settle(walker, span);
}

static void judge_stage(gw_walker *walker, int to) {
    gw_node *node = &walker->nodes[to];
    gw_walk_stage *stage = &walker->stage_of[to];
    stage->gain = gw_gain_between(walker, &walker->span_of[to]);
    if (node->below_dead && !(node->detected && stage->gain.status == GW_OK)) {
        stage->gain.status = GW_UNJUDGED;
        stage->gain.why = "the signal is lost before it";
    } else if (node->dead) {
        stage->gain.status = GW_OFF;
        report_lost(walker, to, &stage->gain);
    }
    if (!node->dead && (stage->gain.status == GW_OFF || stage->gain.status == GW_UNSURE))
        report_gain(walker, to, &stage->gain);
}

/* The first probed point: is what is fed in there at all, and about as large as stated? */
static void judge_source(gw_walker *walker, int to) {
    gw_judgement gain;
    bool known = gw_gain_source(walker, to, &gain);
    if (walker->nodes[to].dead) {
        report_lost(walker, to, known ? &gain : NULL);
        return;
    }
    bool reference = known && gain.how == from_reference;
    if (reference)
        walker->stage_of[to].gain = gain;
    if (!known || gain.status == GW_OK || walker->nodes[to].point->level.origin == GW_ORIGIN_STATED)
        return;
    /* a generator's scale is no more than a hint: what agrees with it by its value needs no settling */
    if (!reference && gain.value >= gain.low && gain.value <= gain.high)
        return;
    bool low = gain.value < gain.expected;
    bool first = walker->nodes[to].depth == 0;
    gw_status status = reference ? gain.status : GW_UNSURE;
    if (low && gain.value + gain.u95 < gain.expected * source_low)
        status = GW_OFF;
    if (!first && gain.status == GW_OFF)
        status = GW_OFF;
    gw_finding *found = gw_finding_add(walker, low ? GW_FOUND_LEVEL_LOW : GW_FOUND_LEVEL_HIGH, status, -1, to);
    if (!found)
        return;
    const char *what = reference ? "gain from the reference channel"
                       : first   ? "level re the stated stimulus"
                                 : "gain from the source";
    found->evidence = gw_words_evidence(walker, what, &gain, "V");
    found->settle = status == GW_UNSURE ? "measure what is fed in, and state it as it is" : NULL;
}

void gw_gains_judge(gw_walker *walker) {
    bool reference = walker->chain->reference != NULL;
    size_t gains = 0;
    for (size_t k = 0; k < walker->count; k++) {
        int i = walker->order[k];
        if (!walker->nodes[i].usable)
            continue;
        reference = reference || walker->nodes[i].reference;
        if (walker->nodes[i].from >= 0) {
            gains += gw_layout_same_file(walker, walker->nodes[i].from, i) ? 0 : 1;
            judge_stage(walker, i);
        } else {
            judge_source(walker, i);
        }
    }
    if (gains > 0 && !reference && walker->shape != GW_SHAPE_NONE)
        gw_walker_remark(walker, "gains rest on a steady stimulus: no reference channel was captured with the points");
}
