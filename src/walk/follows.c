/* One fault is one fault: which finding only follows from which. */
#include "walk/walker.h"

#include <math.h>

/* Of several findings at one point the one nearest the cause comes first. */
static const gw_finding_code precedence[GW_FINDING_COUNT] = {
    GW_FOUND_RAIL_OFF,         GW_FOUND_RIPPLE_HIGH, GW_FOUND_PROBE_SUSPECT,    GW_FOUND_CAPTURE_POOR,
    GW_FOUND_TONE_ADDED,       GW_FOUND_SIGNAL_LOST, GW_FOUND_CUTS_OUT,         GW_FOUND_CRACKLE,
    GW_FOUND_POLARITY_FLIPPED, /* it flips the DC as well */
    GW_FOUND_DC_PASSED,        GW_FOUND_DC_SHIFT,    GW_FOUND_PITCH_OFF,        GW_FOUND_HIGHS_LOST,
    GW_FOUND_LOWS_LOST,        GW_FOUND_LEVEL_HIGH,  GW_FOUND_CLIPPED,          GW_FOUND_LEVEL_LOW,
    GW_FOUND_HUM_ADDED,        GW_FOUND_NOISE_ADDED, GW_FOUND_DISTORTION_ADDED, GW_FOUND_ODD_ONE_OUT,
};

static int place(gw_finding_code code) {
    int i = 0;
    while (i < GW_FINDING_COUNT && precedence[i] != code)
        i++;
    return i;
}

/* One-sided clipping moves the mean by up to 1/pi of what is left, peak to peak (half-wave); more is a DC fault that
 * clips. */
static const double clip_dc_share = 0.35;

static const gw_judgement *dc_at(const gw_walker *walker, int point) {
    bool stage = walker->nodes[point].from >= 0 && walker->nodes[point].usable;
    return stage ? &walker->stage_of[point].dc : &walker->walk->points[point].dc;
}

/* A DC shift no larger than the clipping at the same point makes by itself. */
static bool shift_is_clipping(const gw_walker *walker, const gw_finding *shift) {
    const gw_node *node = &walker->nodes[shift->point];
    const gw_judgement *dc = dc_at(walker, shift->point);
    bool clipped = gw_finding_at(walker, GW_FOUND_CLIPPED, shift->point) >= 0 ||
                   gw_finding_at(walker, GW_FOUND_DISTORTION_ADDED, shift->point) >= 0;
    return clipped && node->readings &&
           fabs(dc->value - dc->expected) <=
               clip_dc_share * gw_reading_or(node->readings, GW_PEAK_TO_PEAK, 0) + dc->high - dc->expected;
}

/* A loss, or too much gain, takes the DC along: what came in, times the gain as it is. */
static bool shift_is_gain(const gw_walker *walker, const gw_finding *shift) {
    const gw_judgement *dc = dc_at(walker, shift->point), *gain = &walker->stage_of[shift->point].gain;
    if (gain->status != GW_OFF || !gain->has_value || gain->below || !(gain->expected > 0))
        return false;
    double half = fmax(dc->high - dc->expected, dc->expected - dc->low);
    return fabs(dc->value - dc->expected * gain->value / gain->expected) <= half + dc->u95;
}

/* A sine cut at both sides: what is left of the fundamental against the THD that this makes (closed form; see the table
 * of clipped sines in tests/standards). */
static const struct {
    double thd, left;
} cut_sines[] = {{0, 1},           {0.0192, 0.9867}, {0.0422, 0.9626}, {0.0898, 0.8959},
                 {0.1342, 0.8183}, {0.2329, 0.6090}, {0.3543, 0.3150}};

/* Of two tones at 4:1 a hard limiter leaves more than this. */
static const double bent_tones_left = 0.5;

static double left_of_cut_sine(double thd) {
    size_t last = sizeof cut_sines / sizeof cut_sines[0] - 1;
    for (size_t i = 0; i < last; i++)
        if (thd < cut_sines[i + 1].thd) {
            double way = (thd - cut_sines[i].thd) / (cut_sines[i + 1].thd - cut_sines[i].thd);
            return cut_sines[i].left + way * (cut_sines[i + 1].left - cut_sines[i].left);
        }
    return cut_sines[last].left;
}

/* A low gain that bending alone explains: with what the bend took away the gain would be inside its limits. */
static bool loss_is_bending(const gw_walker *walker, const gw_finding *loss) {
    const gw_judgement *gain = &walker->stage_of[loss->point].gain;
    const gw_node *node = &walker->nodes[loss->point];
    bool bent = gw_finding_at(walker, GW_FOUND_DISTORTION_ADDED, loss->point) >= 0 ||
                gw_finding_at(walker, GW_FOUND_CLIPPED, loss->point) >= 0;
    if (!bent || !node->readings || !gain->has_value || !gain->has_expected)
        return false;
    /* two tones that are bent lose to their products; their closed form depends on both */
    if (walker->shape == GW_SHAPE_TWO_TONE)
        return gain->value > bent_tones_left * gain->expected;
    return gain->value / left_of_cut_sine(gw_reading_or(node->readings, GW_THD, 0)) + gain->u95 >= gain->low;
}

/* A contact loses level, and the more of it the less there is: what it does to the weak lines of a signal is no corner.
 */
static bool has_no_capacitor(const gw_walker *walker, int point) {
    const char *kind = walker->span_of[point].kind;
    return kind && (gw_word_equal(kind, "wire") || gw_word_equal(kind, "pot") || gw_word_equal(kind, "divider"));
}

static int rank_at_point(const gw_walker *walker, const gw_finding *found) {
    int rank = 10 * place(found->code);
    if (found->code == GW_FOUND_DC_SHIFT && (shift_is_clipping(walker, found) || shift_is_gain(walker, found)))
        rank = 10 * place(GW_FOUND_DISTORTION_ADDED) + 5;
    if (found->code == GW_FOUND_LEVEL_LOW && loss_is_bending(walker, found))
        rank = 10 * place(GW_FOUND_DISTORTION_ADDED) + 6;
    /* peaks that are cut take harmonics along that no filter took */
    bool tilted = found->code == GW_FOUND_HIGHS_LOST || found->code == GW_FOUND_LOWS_LOST;
    if (tilted && gw_finding_at(walker, GW_FOUND_CLIPPED, found->point) >= 0)
        rank = 10 * place(GW_FOUND_CLIPPED) + 5;
    if (found->code == GW_FOUND_LOWS_LOST && has_no_capacitor(walker, found->point) &&
        gw_finding_at(walker, GW_FOUND_LEVEL_LOW, found->point) >= 0)
        rank = 10 * place(GW_FOUND_LEVEL_LOW) + 5;
    /* what is certain comes before what is not */
    return found->status == GW_OFF ? rank : rank + 1000;
}

/* Hum, noise and distortion at one point: the largest is the fault, the others are its shadows. */
static double size_of(const gw_walker *walker, const gw_finding *found) {
    const gw_readings *readings = walker->nodes[found->point].readings;
    switch (found->code) {
    case GW_FOUND_HUM_ADDED:
        return gw_reading_or(readings, GW_HUM, 0);
    case GW_FOUND_NOISE_ADDED:
        return gw_reading_or(readings, GW_NOISE, 0);
    case GW_FOUND_DISTORTION_ADDED:
        return gw_reading_or(readings, GW_THD, 0) * walker->nodes[found->point].level.value;
    default:
        return 0;
    }
}

static bool comes_before(const gw_walker *walker, const gw_finding *one, const gw_finding *other) {
    double size = size_of(walker, one), other_size = size_of(walker, other);
    if (one->status == other->status && size > 0 && other_size > 0)
        return size > other_size;
    return rank_at_point(walker, one) < rank_at_point(walker, other);
}

/* The first of each point's findings leads the others. */
static void mark_points(gw_walker *walker) {
    for (size_t i = 0; i < walker->finding_count; i++) {
        gw_finding *found = &walker->findings[i];
        int lead = (int)i;
        for (size_t k = 0; k < walker->finding_count; k++)
            if (walker->findings[k].rail < 0 && found->rail < 0 && walker->findings[k].point == found->point &&
                comes_before(walker, &walker->findings[k], &walker->findings[lead]))
                lead = (int)k;
        found->follows = lead == (int)i ? -1 : lead;
    }
}

/* ---- along the chain ---- */

static bool blocked_between(const gw_walker *walker, int from, int to) {
    return gw_layout_span(walker, from, to).blocks;
}

/* DC that came in wrong and went on: what is measured is what the stage makes of its input, or nobody can say. */
static bool dc_came_through(const gw_walker *walker, const gw_finding *earlier, const gw_finding *later) {
    const gw_span *span = &walker->span_of[later->point];
    const gw_judgement *dc = dc_at(walker, later->point);
    if (blocked_between(walker, earlier->point, later->point))
        return false;
    if (span->dc_unknown || !span->dc_known || !dc->has_value)
        return true;
    bool inside = dc->value + dc->u95 >= span->dc_low && dc->value - dc->u95 <= span->dc_high;
    bool less = dc->value * span->dc > 0 && fabs(dc->value) < fabs(span->dc);
    return inside || less;
}

/* A wrong DC in front upsets what comes after it, unless the DC there is in order again. */
static bool dc_upsets(const gw_walker *walker, const gw_finding *earlier, const gw_finding *later) {
    const gw_judgement *dc = dc_at(walker, later->point);
    return !blocked_between(walker, earlier->point, later->point) && dc->status != GW_OK;
}

typedef enum family { SIGNAL, BENDING, DC, MOMENTS, PITCH, OTHERS } family;

static family family_of(gw_finding_code code) {
    switch (code) {
    case GW_FOUND_SIGNAL_LOST:
    case GW_FOUND_LEVEL_LOW:
    case GW_FOUND_LEVEL_HIGH:
        return SIGNAL;
    case GW_FOUND_CLIPPED:
    case GW_FOUND_DISTORTION_ADDED:
        return BENDING;
    case GW_FOUND_DC_SHIFT:
    case GW_FOUND_DC_PASSED:
        return DC;
    case GW_FOUND_CUTS_OUT:
    case GW_FOUND_CRACKLE:
    case GW_FOUND_TONE_ADDED:
        return MOMENTS;
    case GW_FOUND_PITCH_OFF:
        return PITCH;
    default:
        return OTHERS;
    }
}

/* A level against its own statement, where the stage's gain says nothing: it may have come in wrong. */
static bool is_level_statement(const gw_walker *walker, const gw_finding *found) {
    gw_status gain = walker->stage_of[found->point].gain.status;
    return found->from >= 0 && (found->code == GW_FOUND_LEVEL_LOW || found->code == GW_FOUND_LEVEL_HIGH) &&
           gain != GW_OFF && gain != GW_UNSURE;
}

static bool same_direction(const gw_finding *one, const gw_finding *other) {
    bool one_high = one->code == GW_FOUND_LEVEL_HIGH, other_high = other->code == GW_FOUND_LEVEL_HIGH;
    return one_high == other_high;
}

/* Two findings of one family that reach back over the same stage, since the capture between tells too little, have one
 * source. */
static bool same_source(const gw_walker *walker, const gw_finding *earlier, const gw_finding *later) {
    bool noise = earlier->code == GW_FOUND_NOISE_ADDED && later->code == GW_FOUND_NOISE_ADDED;
    bool hum = earlier->code == GW_FOUND_HUM_ADDED && later->code == GW_FOUND_HUM_ADDED;
    bool bending = family_of(earlier->code) == BENDING && family_of(later->code) == BENDING;
    return (noise || hum || bending) && later->from != earlier->point &&
           gw_layout_is_before(walker, later->from, earlier->point);
}

/* Whether a finding at one point explains one at a later point of the same way. */
static bool explains(const gw_walker *walker, const gw_finding *earlier, const gw_finding *later) {
    family cause = family_of(earlier->code), effect = family_of(later->code);
    if (later->code == GW_FOUND_ODD_ONE_OUT)
        return true;
    if (is_level_statement(walker, later) && (cause == SIGNAL || cause == BENDING || cause == MOMENTS))
        return cause != SIGNAL || same_direction(earlier, later);
    /* a stuck output in front of a point that was reached across it, signal and all */
    bool across = later->from != earlier->point && gw_layout_is_before(walker, later->from, earlier->point);
    if (cause == DC && effect == SIGNAL && across && earlier->code == GW_FOUND_DC_SHIFT)
        return true;
    if (cause == DC)
        return effect == DC ? dc_came_through(walker, earlier, later)
                            : (effect == SIGNAL || effect == BENDING) && dc_upsets(walker, earlier, later);
    if (same_source(walker, earlier, later))
        return true;
    if (earlier->code == GW_FOUND_CUTS_OUT && effect == DC)
        return fabs(walker->nodes[earlier->point].cuts.dc_v) > 0;
    if (earlier->code == GW_FOUND_CUTS_OUT && effect == PITCH)
        return true; /* what comes and goes has a pitch of its own */
    if (cause == MOMENTS)
        return effect != DC && effect != PITCH;
    if (cause == PITCH)
        return effect == PITCH;
    if (earlier->code == GW_FOUND_SIGNAL_LOST)
        return effect != DC || dc_came_through(walker, earlier, later);
    if (earlier->code == GW_FOUND_LEVEL_HIGH)
        return effect == BENDING || later->code == GW_FOUND_LEVEL_LOW ||
               (effect == DC && shift_is_clipping(walker, later));
    return cause == BENDING && effect == BENDING && later->status != GW_OFF;
}

static void mark_chain(gw_walker *walker) {
    for (size_t i = 0; i < walker->finding_count; i++) {
        gw_finding *later = &walker->findings[i];
        int best = -1;
        for (size_t k = 0; k < walker->finding_count && later->follows < 0 && later->rail < 0; k++) {
            const gw_finding *earlier = &walker->findings[k];
            /* a shadow explains what comes after it as well as its leader at the same point does */
            bool first = earlier->follows < 0 || walker->findings[earlier->follows].point == earlier->point;
            bool before = earlier->rail < 0 && earlier->point != later->point && first && earlier->status == GW_OFF &&
                          !gw_finding_is_doubt(earlier->code) &&
                          gw_layout_is_before(walker, earlier->point, later->point);
            /* nothing steady is left of what comes and goes */
            bool hidden = later->code == GW_FOUND_CAPTURE_POOR && walker->nodes[later->point].hidden_poor &&
                          earlier->code == GW_FOUND_CUTS_OUT;
            if (before && (hidden || !gw_finding_is_doubt(later->code)) && explains(walker, earlier, later) &&
                (best < 0 || walker->nodes[earlier->point].depth < walker->nodes[walker->findings[best].point].depth))
                best = (int)k;
        }
        if (best >= 0)
            later->follows = best;
    }
}

/* ---- rails ---- */

static bool rail_explains(const gw_walker *walker, const gw_finding *rail, const gw_finding *found) {
    if (found->from < 0 && walker->nodes[found->point].depth == 0)
        return false; /* what is fed in needs no rail of this chain */
    if (walker->span_of[found->point].passive || gw_finding_is_doubt(found->code))
        return false;
    if (rail->code == GW_FOUND_RIPPLE_HIGH)
        return found->code == GW_FOUND_HUM_ADDED || found->code == GW_FOUND_NOISE_ADDED ||
               found->code == GW_FOUND_TONE_ADDED;
    return found->code != GW_FOUND_DC_PASSED && found->code != GW_FOUND_POLARITY_FLIPPED &&
           found->code != GW_FOUND_PITCH_OFF && found->code != GW_FOUND_HIGHS_LOST && found->code != GW_FOUND_LOWS_LOST;
}

static void mark_rails(gw_walker *walker) {
    for (size_t i = 0; i < walker->finding_count; i++) {
        gw_finding *found = &walker->findings[i];
        for (size_t k = 0; k < walker->finding_count && found->rail < 0 && found->follows < 0; k++)
            if (walker->findings[k].rail >= 0 && walker->findings[k].status == GW_OFF &&
                rail_explains(walker, &walker->findings[k], found))
                found->follows = (int)k;
    }
}

/* An intermittent contact seen as a lower level here, and in the act at a later point: captures of moments. */
static const double sag_least = 0.3162277660168; /* -10 dB */

static void name_intermittent(gw_walker *walker) {
    for (size_t i = 0; i < walker->finding_count; i++) {
        gw_finding *sag = &walker->findings[i];
        const gw_judgement *gain = sag->point >= 0 ? &walker->stage_of[sag->point].gain : NULL;
        if (sag->code != GW_FOUND_LEVEL_LOW || sag->status != GW_OFF || sag->follows >= 0 || !gain ||
            !gain->has_value || gain->value < sag_least * gain->expected)
            continue;
        for (size_t k = 0; k < walker->finding_count && sag->code == GW_FOUND_LEVEL_LOW; k++) {
            gw_finding *act = &walker->findings[k];
            if (act->code != GW_FOUND_CUTS_OUT || act->status != GW_OFF || act->follows >= 0 ||
                !gw_layout_is_before(walker, sag->point, act->point))
                continue;
            sag->code = GW_FOUND_CUTS_OUT;
            sag->evidence = gw_walker_text(walker, "%s here, and at %s %s", sag->evidence,
                                           gw_words_name(walker, act->point), act->evidence);
            act->follows = (int)i;
        }
    }
}

void gw_follows_mark(gw_walker *walker) {
    mark_points(walker);
    mark_rails(walker);
    mark_chain(walker);
    name_intermittent(walker);
}
