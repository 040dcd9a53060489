/* DC at each point: as stated, or as what comes in must go on. */
#include "walk/walker.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* A limit finer than this many steps of the capture cannot be judged. */
static const double steps_needed = 3;
/* A scope's zero is no better than a step of 8 bits, however many it has: of the swing, where `zero` is not stated. */
static const double least_step_share = 1.0 / 256;
/* Single-supply stages stand at half the supply, give or take a tenth (common practice). */
static const double half_supply_tolerance = 0.10;
/* Under this a DC is an offset, not a bias. */
static const double least_bias_v = 0.5;
/* What an output swings below ground at least, to show it. */
static const double swing_least_v = 0.02;
/* A DC of less than this share of what is stated is none. */
static const double zero_share = 0.02;
/* What a channel that blocks DC may still show of its own. */
static const double coupled_zero_v = 1e-3;

static const char leak_or_bias[] = "half the supply: the capacitor leaks, or the next stage's bias is fed in here";

/* What can be known of the DC at a point. */
typedef struct known_dc {
    bool has;
    double value, u95, random, step;
} known_dc;

static known_dc dc_at(const gw_walker *walker, int point) {
    known_dc out = {0};
    gw_reading dc;
    if (gw_layout_dc(walker, point, &dc, &out.step)) {
        const gw_node *node = &walker->nodes[point];
        out.has = true;
        if (!node->point->metered && !node->readings->source.wav && !(walker->chain->zero_v > 0))
            out.step = fmax(out.step, least_step_share * gw_reading_or(node->readings, GW_PEAK_TO_PEAK, 0));
        out.value = dc.value;
        out.u95 = dc.u95;
        out.random = dc.u_random;
    }
    return out;
}

/* Every capture reads 0 to the last digit, or reads nothing where volts are stated and the signal is there: AC coupling
 * that nobody declared. */
bool gw_dc_all_zero(const gw_walker *walker) {
    size_t exact = 0, read = 0, missed = 0;
    for (size_t i = 0; i < walker->count; i++) {
        const gw_node *node = &walker->nodes[i];
        const gw_readings *readings = node->readings;
        const gw_expected *stated = &node->point->dc;
        if (!readings || readings->dc_hidden || !gw_reading_has(readings, GW_DC))
            continue;
        const gw_reading *dc = &readings->values[GW_DC];
        /* any DC for certain came through a DC coupling */
        if (fabs(dc->value) > fmax(fmax(2 * dc->u95, readings->source.step / 2), coupled_zero_v))
            return false;
        read++;
        exact += readings->clues.dc_exactly_zero ? 1 : 0;
        bool alive = node->detected && !node->dead && !node->below_dead;
        missed += alive && stated->origin == GW_ORIGIN_STATED && fabs(stated->value) > least_bias_v &&
                  (stated->low > 0 || stated->high < 0);
    }
    return read >= 2 && (exact == read || missed >= 1);
}

/* Half of a declared single supply, within a tenth of it. */
static bool is_half_supply(const gw_walker *walker, double dc_v) {
    bool dual = false, half = false;
    for (size_t i = 0; i < walker->chain->rail_count; i++) {
        const gw_expected *rail = &walker->chain->rails[i].dc;
        if (rail->origin == GW_ORIGIN_NONE)
            continue;
        dual = dual || rail->value * dc_v < 0;
        half = half || fabs(dc_v / rail->value * 2 - 1) <= half_supply_tolerance;
    }
    return half && !dual;
}

static bool has_opposite_rail(const gw_walker *walker, double dc_v) {
    for (size_t i = 0; i < walker->chain->rail_count; i++)
        if (walker->chain->rails[i].dc.origin != GW_ORIGIN_NONE && walker->chain->rails[i].dc.value * dc_v < 0)
            return true;
    return false;
}

/* Whether every way on from a point meets a stage that blocks its DC: a bias by design. */
static bool blocked_later(const gw_walker *walker, int point) {
    bool any = false;
    for (size_t i = 0; i < walker->count; i++) {
        bool leaf = (int)i != point && gw_layout_is_before(walker, point, (int)i);
        for (size_t k = 0; leaf && k < walker->count; k++)
            leaf = walker->nodes[k].point->after != (int)i;
        if (!leaf)
            continue;
        if (!gw_layout_span(walker, point, (int)i).blocks)
            return false;
        any = true;
    }
    return any;
}

/* An output that swings about ground shows that there are two supplies. */
static bool has_two_supplies(const gw_walker *walker, int but) {
    static const char *const kinds[] = {"noninverting", "inverting", "follower", NULL};
    for (size_t i = 0; i < walker->count; i++) {
        const gw_node *node = &walker->nodes[i];
        known_dc dc = dc_at(walker, (int)i);
        bool alive = (int)i != but && node->usable && node->detected && !node->dead && dc.has;
        for (size_t k = 0; alive && node->point->has_stage && kinds[k]; k++)
            if (gw_word_equal(node->point->stage.kind->name, kinds[k]) && dc.value + dc.u95 < least_bias_v * 0.6 &&
                gw_reading_or(node->readings, GW_PEAK_LOW, 0) < -swing_least_v)
                return true;
    }
    return false;
}

/* An active stage may hold its own bias; a wire or a pot can only pass one on. */
static bool can_bias_itself(const gw_point *point) {
    static const char *const kinds[] = {"noninverting", "inverting", "mix", "emitter", "amp", "follower", NULL};
    for (size_t i = 0; kinds[i]; i++)
        if (point->has_stage && gw_word_equal(point->stage.kind->name, kinds[i]))
            return true;
    return false;
}

/* The signal is seen at the point or anywhere behind it: the stage works about its DC, whatever that is. */
static bool lives_behind(const gw_walker *walker, int point) {
    bool looked = false;
    for (size_t i = 0; i < walker->count; i++) {
        const gw_node *node = &walker->nodes[i];
        if (!node->usable || !gw_layout_is_before(walker, point, (int)i))
            continue;
        looked = true;
        if (node->detected && !node->dead && !node->below_dead)
            return true;
    }
    return !looked;
}

/* Half the supply behind a part that blocks DC: its leak, or a bias that is fed in there. */
static bool is_leak_or_bias(const gw_walker *walker, int point, double dc_v) {
    const gw_span *span = &walker->span_of[point];
    known_dc in = dc_at(walker, span->from);
    return span->blocks && is_half_supply(walker, dc_v) && !can_bias_itself(walker->nodes[point].point) &&
           (!in.has || fabs(in.value) > least_bias_v);
}

/* Healthy designs that a chain file did not state: half a single supply before a coupling capacitor; a stage that
 * amplifies about its bias, so that the bias itself passes once. */
static bool is_bias(const gw_walker *walker, int point, double dc_v) {
    const gw_span *span = &walker->span_of[point];
    const gw_node *node = &walker->nodes[point];
    if (is_half_supply(walker, dc_v))
        return true;
    if (span->blocks || node->dead || !lives_behind(walker, point))
        return false;
    known_dc in = dc_at(walker, span->from);
    bool biased_before = in.has && fabs(in.value) > least_bias_v;
    if (dc_v > least_bias_v && !biased_before && can_bias_itself(node->point) && !has_opposite_rail(walker, dc_v) &&
        !has_two_supplies(walker, point) && blocked_later(walker, point) &&
        !(node->readings && (node->readings->clues.high.clipped || node->readings->clues.low.clipped)))
        return true;
    if (!in.has)
        return false;
    double before = in.value;
    double half = fmax(fabs(span->dc_high - span->dc), fabs(span->dc - span->dc_low));
    return fabs(before) > least_bias_v && fabs(dc_v - before) <= fmax(0.1 * fabs(before), half);
}

/* Fills limits; false where nothing is expected. */
static bool expect(const gw_walker *walker, int point, gw_judgement *out, bool *stated) {
    const gw_expected *own = &walker->nodes[point].point->dc;
    const gw_span *span = &walker->span_of[point];
    *stated = own->origin == GW_ORIGIN_STATED;
    if (own->origin != GW_ORIGIN_NONE && (*stated || span->last_blocks)) {
        out->expected = own->value;
        out->low = own->low;
        out->high = own->high;
        out->how = own->how;
    } else if (span->dc_known) {
        out->expected = span->dc;
        out->low = span->dc_low;
        out->high = span->dc_high;
        out->how = span->last_blocks ? "the stage blocks DC" : "DC of the point before, times the DC gain";
    } else {
        return false;
    }
    out->has_expected = true;
    return true;
}

/* What the capture of the point before cannot resolve, seen at this point. */
static double passed_grid(const gw_walker *walker, int point) {
    const gw_span *span = &walker->span_of[point];
    return steps_needed * dc_at(walker, span->from).step * fabs(span->dc_gain);
}

/* Uncertainty of what came in, seen at this point. */
static double passed_u95(const gw_walker *walker, int point) {
    const gw_span *span = &walker->span_of[point];
    if (walker->nodes[point].point->dc.origin == GW_ORIGIN_STATED)
        return 0;
    return fabs(span->dc_gain) * dc_at(walker, span->from).u95;
}

static void widen(gw_judgement *out, double half) {
    out->low = fmin(out->low, out->expected - half);
    out->high = fmax(out->high, out->expected + half);
}

static void judge_limits(const gw_walker *walker, int point, bool stated, gw_judgement *out) {
    known_dc here = dc_at(walker, point);
    double grid = steps_needed * here.step, random = 2 * here.random;
    bool simple = walker->chain->simple_decision;
    gw_judgement wide = *out;
    widen(&wide, grid);
    if (!stated) {
        /* either reading may be off by the instrument's zero */
        widen(&wide, fmax(2 * out->u95, grid + passed_grid(walker, point)));
        *out = wide;
    }
    gw_status near = gw_judge_range(out->value, out->u95, out->low, out->high, simple, random);
    gw_status far = gw_judge_range(out->value, out->u95, wide.low, wide.high, simple, random);
    out->status = near == GW_OK ? GW_OK : far == GW_OFF ? GW_OFF : GW_UNSURE;
    if (out->status == GW_UNSURE)
        out->why = grid > out->high - out->expected ? "the limit is finer than the capture resolves"
                                                    : "the limit lies within the uncertainty";
}

static const char *why_no_dc(const gw_walker *walker, const gw_readings *readings) {
    if (!readings)
        return "not captured";
    if (walker->dc_hidden_all && !readings->dc_hidden)
        return "every capture reads 0: AC coupling is likely, so DC is not judged";
    if (readings->values[GW_DC].state != GW_READING_VALUE)
        return readings->values[GW_DC].why ? readings->values[GW_DC].why : "DC cannot be read";
    return "the capture hides DC (AC coupling or a sound card)";
}

/* A stage cannot pass its signal with its output at the wrong end: volts are expected, none are there, and yet the
 * signal is. */
static bool reads_zero_though_alive(const gw_walker *walker, int point, const gw_judgement *dc) {
    const gw_node *node = &walker->nodes[point];
    bool nothing = fabs(dc->value) <=
                   fmax(fmax(2 * dc->u95, steps_needed * dc_at(walker, point).step), zero_share * fabs(dc->expected));
    if (node->point->metered || (dc->low <= 0 && dc->high >= 0) || fabs(dc->expected) < least_bias_v)
        return false;
    return node->readings->clues.dc_exactly_zero || (nothing && node->detected && !node->dead && !node->below_dead);
}

static gw_judgement judge(const gw_walker *walker, int point, bool *stated) {
    gw_judgement out = {.kind = GW_JUDGE_VOLTS, .status = GW_UNJUDGED};
    const gw_node *node = &walker->nodes[point];
    known_dc here = dc_at(walker, point);
    bool expected = expect(walker, point, &out, stated);
    if (!here.has) {
        out.why = why_no_dc(walker, node->readings);
        return out;
    }
    out.has_value = true;
    out.value = here.value;
    out.u95 = hypot(here.u95, passed_u95(walker, point));
    bool volts = node->point->metered || gw_word_equal(gw_words_unit(node->readings), "V");
    if (!expected || !volts) {
        out.why = expected ? "the capture is not in volts" : "no DC is expected";
        return out;
    }
    judge_limits(walker, point, *stated, &out);
    if (out.status == GW_OFF && *stated && reads_zero_though_alive(walker, point, &out)) {
        out.status = GW_UNSURE;
        out.why = "DC reads 0 although the signal is in order: the capture may be AC-coupled";
    } else if (out.status == GW_OFF && !*stated && is_leak_or_bias(walker, point, out.value)) {
        out.status = GW_UNSURE;
        out.why = leak_or_bias;
    } else if (out.status != GW_OK && !*stated && is_bias(walker, point, out.value)) {
        out.status = GW_UNJUDGED;
        out.why = "looks like the bias of a single supply: state `dc` to have it judged";
    }
    return out;
}

/* What slides away is wrong as soon as it has left its limits, whatever its mean. */
static bool judge_slide(gw_walker *walker, int point, bool stated, gw_judgement *dc, gw_slide *slide) {
    const gw_node *node = &walker->nodes[point], *from = gw_layout_input(walker, point);
    if (node->point->metered || !dc->has_expected || gw_layout_dc_hidden(walker, node->readings) ||
        (!stated && from && gw_slide_find(walker, from->readings, slide)) ||
        !gw_slide_find(walker, node->readings, slide))
        return false;
    double over = slide->high_v - dc->high, under = dc->low - slide->low_v;
    if (fmax(over, under) <= 0)
        return false;
    dc->has_value = true;
    dc->value = over > under ? slide->high_v : slide->low_v;
    dc->u95 = 2 * hypot(slide->scale * dc->value, node->readings->source.step / sqrt(12));
    judge_limits(walker, point, stated, dc);
    return dc->status == GW_OFF;
}

/* ---- findings ---- */

static bool dc_came_in(const gw_walker *walker, int point, const gw_judgement *dc) {
    const gw_span *span = &walker->span_of[point];
    known_dc before = dc_at(walker, span->from);
    if (span->across != 1 || !before.has)
        return true;
    return fabs(before.value) + before.u95 > dc->high - dc->expected;
}

static void report(gw_walker *walker, int point, gw_judgement *dc, const gw_slide *slide) {
    const gw_span *span = &walker->span_of[point];
    bool zero = dc->low <= 0 && dc->high >= 0;
    bool passed = span->last_blocks && zero && dc_came_in(walker, point, dc);
    gw_finding *found =
        gw_finding_add(walker, passed ? GW_FOUND_DC_PASSED : GW_FOUND_DC_SHIFT, dc->status, span->from, point);
    if (!found)
        return;
    found->evidence = gw_words_evidence(walker, "DC", dc, gw_words_unit(walker->nodes[point].readings));
    known_dc in = dc_at(walker, span->from);
    if (in.has) {
        char before[64];
        gw_words_volts(in.value, in.u95, "V", before, sizeof before);
        found->evidence = gw_walker_text(walker, "%s; %s before", found->evidence, before);
    }
    if (slide) {
        char rate[64];
        gw_quantity_print(slide->volts_a_second, 0, "V/s", 2, rate, sizeof rate);
        found->evidence = gw_walker_text(walker, "%s; it slides away, %s", found->evidence, rate);
    }
    if (dc->status == GW_UNSURE)
        found->settle = dc->why == leak_or_bias
                            ? "state `dc` if the next stage has its bias here, else lift the capacitor's far leg"
                        : dc->why && strstr(dc->why, "AC-coupled")
                            ? "capture with DC coupling, or measure DC with a meter"
                            : "measure DC with a meter, or capture on a finer range";
}

/* The scope's own zero is part of every DC; said once where nobody stated it. */
static void remark_zero(gw_walker *walker) {
    if (walker->chain->zero_v > 0)
        return;
    for (size_t i = 0; i < walker->count; i++) {
        const gw_judgement *dc = &walker->stage_of[i].dc;
        if (dc->status == GW_OK || dc->status == GW_OFF || dc->status == GW_UNSURE) {
            gw_walker_remark(walker, "DC is as good as the instrument's zero: state `zero` if it is off by more than a "
                                     "step or so");
            return;
        }
    }
}

void gw_dc_judge(gw_walker *walker) {
    if (walker->dc_hidden_all)
        gw_walker_remark(walker, "DC reads 0 in every capture: AC coupling is likely, so DC is not judged");
    for (size_t k = 0; k < walker->count; k++) {
        int i = walker->order[k];
        const gw_node *node = &walker->nodes[i];
        bool stated = false;
        if (!node->usable && !node->hidden_poor && !node->point->metered)
            continue;
        gw_judgement dc = judge(walker, i, &stated);
        gw_slide slide;
        walker->nodes[i].slides = judge_slide(walker, i, stated, &dc, &slide);
        if (node->from >= 0 && node->usable)
            walker->stage_of[i].dc = dc;
        if (stated || node->from < 0 || !node->usable)
            walker->walk->points[i].dc = dc;
        if (dc.status == GW_OFF || dc.status == GW_UNSURE)
            report(walker, i, &dc, node->slides ? &slide : NULL);
        gw_coupling_note(walker, i, &dc);
    }
    remark_zero(walker);
}
