/* The capture is doubted before the stage. */
#include "walk/walker.h"

#include <math.h>
#include <stdio.h>

static const double eight_bits = 256;
/* A sine's crest factor is 1.414; less than this is a sine cut off. */
static const double flat_crest = 1.33;
/* A record of so many cycles of the stimulus would show it, whatever else was made of it. */
static const double cycles_needed = 2;
/* A source off by less than this is no probe error. */
static const double least_probe_error = 1.9; /* 5.6 dB */
/* Relative, of a level. */
static const double witness_u95 = 0.7;
/* What a capture made itself is gone at the next point: less than this share of it is left there. */
static const double gone_share = 0.4;
/* A stage that leaves this much of a frequency has not filtered it away. */
static const double kept_share = 0.7;

/* Flat at one end or both, and as many codes in between as a converter of 8 bits has: the screen's edge. */
static bool fills_screen(const gw_readings *readings) {
    const gw_clues *clues = &readings->clues;
    double rms = gw_reading_or(readings, GW_AC_RMS, 0), swing = gw_reading_or(readings, GW_PEAK_TO_PEAK, 0);
    bool flat = readings->signal == GW_SIGNAL_SINE && rms > 0 && swing / 2 / rms < flat_crest;
    return (clues->high.clipped || clues->low.clipped || flat) && fabs(clues->codes - eight_bits) <= 1.01;
}

static bool is_poor(const gw_walker *walker, const gw_node *node) {
    const gw_clues *clues = &node->readings->clues;
    bool recorder = (clues->high.clipped && clues->high.recorder) || (clues->low.clipped && clues->low.recorder) ||
                    fills_screen(node->readings);
    double cycles = walker->frequency_hz * node->readings->source.duration_s;
    bool unread = !node->detected && clues->too_short && node->readings->values[GW_LEVEL].state == GW_READING_NONE &&
                  cycles < cycles_needed;
    return walker->shape != GW_SHAPE_NONE && (clues->overloaded || recorder || unread);
}

static void find_poor(gw_walker *walker) {
    for (size_t i = 0; i < walker->count; i++) {
        gw_node *node = &walker->nodes[i];
        if (node->usable && is_poor(walker, node)) {
            node->poor = true;
            node->usable = false;
        }
    }
}

static bool is_clipped(const gw_readings *readings) {
    return readings->clues.high.clipped || readings->clues.low.clipped;
}

/* Harmonics of orders 2 to 10 over the signal, above the band as well; -1 where nothing is known. */
static double bending(const gw_readings *readings, double level) {
    double power = 0, thd = gw_reading_or(readings, GW_THD, -1);
    for (size_t i = 0; i < readings->harmonic_count; i++) {
        const gw_harmonic *line = &readings->harmonics[i];
        if (line->resolved && line->order >= 2 && line->order <= 10)
            power += line->rms * line->rms;
    }
    return thd >= 0 && level > 0 ? fmax(thd, sqrt(power) / level) : thd;
}

/* No linear stage un-clips: flat tops that the next point does not have were the screen's. */
static bool child_denies_clipping(const gw_walker *walker, int point, int child) {
    const gw_node *node = &walker->nodes[point], *next = &walker->nodes[child];
    double here = gw_reading_has(node->readings, GW_THD) ? bending(node->readings, node->level.value) : -1,
           there = bending(next->readings, next->level.value);
    if (next->detected && gw_clipping_is_undone(walker, point, child))
        return true;
    return next->detected && !is_clipped(next->readings) && there >= 0 && there < gone_share * here &&
           gw_layout_tilt(walker, point, child, 3 * walker->frequency_hz) > kept_share;
}

static void find_unclipped(gw_walker *walker) {
    for (size_t i = 0; i < walker->count; i++) {
        gw_node *node = &walker->nodes[i];
        if (!node->usable || !is_clipped(node->readings))
            continue;
        for (size_t k = 0; k < walker->count && !node->poor; k++)
            node->poor = node->unclipped_next = walker->nodes[k].usable && walker->nodes[k].from == (int)i &&
                                                child_denies_clipping(walker, (int)i, (int)k);
        node->usable = !node->poor;
    }
}

/* ---- one point's reading explains two opposite errors ---- */

/* Gain over expectation from one point to another (from -1: from the stated stimulus); 0 where not judged. */
static double deviation(const gw_walker *walker, int from, int to, gw_status *status) {
    gw_judgement gain;
    *status = GW_UNJUDGED;
    if (from < 0) {
        if (!gw_gain_source(walker, to, &gain))
            return 0;
    } else {
        gw_span span = gw_layout_span(walker, from, to);
        gain = gw_gain_between(walker, &span);
    }
    if (!gain.has_value || !gain.has_expected || gain.below || !(gain.expected > 0))
        return 0;
    *status = gain.status;
    return log(gain.value / gain.expected);
}

/* A level that is hardly known bears no witness against another. */
static bool is_witness(const gw_node *node) {
    return node->detected && gw_figure_u95(&node->level) < witness_u95;
}

/* A point with a loss that its next point does not know of. */
static bool child_denies_loss(const gw_walker *walker, int point, int child) {
    int from = walker->nodes[point].from;
    const gw_node *next = &walker->nodes[child];
    gw_status status;
    if (!is_witness(next))
        return false;
    deviation(walker, from, child, &status);
    if (status != GW_UNJUDGED)
        return status != GW_OFF;
    return from < 0 || next->level.value > 0.1 * walker->nodes[from].level.value;
}

/* ±D dB in, ∓D dB out, and right across. */
static bool child_undoes(const gw_walker *walker, int point, int child, double in) {
    gw_status status_out, status_across;
    double out = deviation(walker, point, child, &status_out);
    double across = deviation(walker, walker->nodes[point].from, child, &status_across);
    if (!is_witness(&walker->nodes[child]) || status_out != GW_OFF || out * in >= 0 || status_across == GW_UNJUDGED ||
        status_across == GW_OFF)
        return false;
    return fabs(across) < 0.5 * fabs(in);
}

/* The chain's first point read wrong: every branch from it is off by the same, the same way, and no stated stimulus
 * speaks for it. Branches that share a stage behind it may have the fault there. */
static bool branches_agree(const gw_walker *walker, int point) {
    double first = 0;
    size_t branches = 0;
    gw_status source;
    deviation(walker, -1, point, &source);
    if (source == GW_OK)
        return false;
    for (size_t i = 0; i < walker->count; i++) {
        gw_status status;
        if (!walker->nodes[i].usable || walker->nodes[i].from != point)
            continue;
        double off = deviation(walker, point, (int)i, &status);
        if (status != GW_OFF || walker->span_of[i].across != 1 || fabs(off) < log(least_probe_error) ||
            (branches && fabs(off - first) > 0.12))
            return false;
        first = off;
        branches++;
    }
    return branches >= 2 && walker->nodes[point].from < 0;
}

static bool is_suspect(const gw_walker *walker, int point) {
    const gw_node *node = &walker->nodes[point];
    gw_status status;
    double in = deviation(walker, node->from, point, &status);
    /* what comes and goes is now lower, now higher */
    bool steady = node->cuts.count == 0 && gw_reading_or(node->readings, GW_DROPOUTS, 0) < 1;
    bool off = steady && status == GW_OFF && fabs(in) > (node->from < 0 ? log(least_probe_error) : 0);
    size_t children = 0, deny = 0;
    for (size_t i = 0; i < walker->count; i++) {
        if (!walker->nodes[i].usable || walker->nodes[i].from != point)
            continue;
        children++;
        if (node->dead || !node->detected)
            deny += child_denies_loss(walker, point, (int)i) ? 1 : 0;
        else
            deny += off && child_undoes(walker, point, (int)i, in) ? 1 : 0;
    }
    if (node->dead || !node->detected)
        return deny > 0;
    return (children > 0 && deny == children) || (node->detected && branches_agree(walker, point));
}

/* A capture too coarse to show whether the signal is there is no ground to build on; its DC stays. */
static bool set_hidden_aside(gw_walker *walker) {
    for (size_t k = 0; k < walker->count; k++) {
        gw_node *node = &walker->nodes[walker->order[k]];
        if (!node->usable || !node->hidden)
            continue;
        node->poor = node->hidden_poor = true;
        node->usable = false;
        return true;
    }
    return false;
}

void gw_doubts_find(gw_walker *walker) {
    if (walker->shape == GW_SHAPE_NONE)
        return;
    find_poor(walker);
    gw_layout_link(walker);
    find_unclipped(walker);
    for (size_t round = 0; round <= 2 * walker->count; round++) {
        int suspect = -1;
        gw_layout_link(walker);
        gw_levels_death(walker);
        if (set_hidden_aside(walker))
            continue;
        for (size_t k = 0; k < walker->count && suspect < 0; k++)
            if (walker->nodes[walker->order[k]].usable && is_suspect(walker, walker->order[k]))
                suspect = walker->order[k];
        if (suspect < 0)
            return;
        walker->nodes[suspect].doubted = true;
        walker->nodes[suspect].usable = false;
    }
}

/* ---- as findings ---- */

static gw_finding *add_doubt(gw_walker *walker, gw_finding_code code, int point) {
    gw_finding *found = gw_finding_add(walker, code, GW_UNSURE, -1, -1);
    if (found)
        found->point = point;
    return found;
}

static const char *suspect_evidence(gw_walker *walker, int point) {
    const gw_node *node = &walker->nodes[point];
    gw_judgement gain = {0};
    char off[32];
    if (node->strange)
        return "mains or another tone and no stimulus, but the next point has its signal";
    if (node->dead || !node->detected)
        return "no stimulus, but the next point has its signal";
    if (walker->span_of[point].from < 0)
        gw_gain_source(walker, point, &gain);
    else
        gain = gw_gain_between(walker, &walker->span_of[point]);
    if (!gain.has_value || !(gain.expected > 0))
        return "every branch from here is off by the same";
    double ratio = gain.value / gain.expected;
    gw_words_db(ratio, off, sizeof off);
    return gw_walker_text(walker, "level %s%s off here, and as far the other way at the next point",
                          ratio > 1 ? "+" : "", off);
}

static const char *poor_evidence(gw_walker *walker, const gw_node *node) {
    const gw_clues *clues = &node->readings->clues;
    char share[64];
    if (node->hidden_poor) {
        gw_words_volts(node->level.value, 0, gw_words_unit(node->readings), share, sizeof share);
        return gw_walker_text(walker, "no stimulus seen, but up to %s of it could hide in the capture", share);
    }
    if (node->unclipped_next)
        return "clipped here and not at the next point: no stage un-clips, so the screen or recorder did it";
    if (clues->high.recorder || clues->low.recorder || fills_screen(node->readings)) {
        if (!(clues->high.share + clues->low.share > 0))
            return "as high as the screen, its crests cut off: the screen or recorder did it";
        gw_words_percent(clues->high.share + clues->low.share, share, sizeof share);
        return gw_walker_text(walker, "clipped in the recorder: %s of the record is flat at its end", share);
    }
    if (clues->overloaded)
        return "the file marks samples as overloaded";
    return clues->too_short ? "too short to read the level" : "the level cannot be read";
}

void gw_doubts_report(gw_walker *walker) {
    for (size_t k = 0; k < walker->count; k++) {
        int i = walker->order[k];
        const gw_node *node = &walker->nodes[i];
        if (node->doubted) {
            gw_finding *found = add_doubt(walker, GW_FOUND_PROBE_SUSPECT, i);
            const char *evidence = suspect_evidence(walker, i);
            if (!found)
                return;
            found->evidence = evidence;
            found->settle = "check the probe and its switch, then capture this point again";
        } else if (node->poor) {
            gw_finding *found = add_doubt(walker, GW_FOUND_CAPTURE_POOR, i);
            const char *evidence = poor_evidence(walker, node);
            if (!found)
                return;
            found->evidence = evidence;
            found->settle = node->hidden_poor && !node->readings->clues.too_short
                                ? "capture again on a finer range, or state the stimulus"
                            : node->readings->clues.too_short && !node->unclipped_next
                                ? "capture again with a slower time base"
                                : "capture again on a coarser range";
        }
    }
}

/* ---- what is gone at the next point ---- */

static double amount(const gw_walker *walker, const gw_finding *found, const gw_readings *readings, double level) {
    switch (found->code) {
    case GW_FOUND_CLIPPED:
    case GW_FOUND_DISTORTION_ADDED:
        return bending(readings, level);
    case GW_FOUND_HUM_ADDED:
        if (readings->values[GW_HUM].state == GW_READING_NONE || !(level > 0))
            return -1;
        return gw_shape_hum(walker, readings) / level;
    case GW_FOUND_NOISE_ADDED:
        return level > 0 ? gw_reading_or(readings, GW_NOISE, -1) / level : -1;
    default:
        return -1;
    }
}

static bool passes(const gw_walker *walker, const gw_finding *found, int child) {
    double at = found->code == GW_FOUND_HUM_ADDED     ? walker->nodes[found->point].readings->clues.mains_hz
                : found->code == GW_FOUND_NOISE_ADDED ? 0.5 * walker->nodes[found->point].readings->band_high_hz
                                                      : 3 * walker->frequency_hz;
    return gw_layout_tilt(walker, found->point, child, at) > kept_share;
}

static gw_reading_key figure_of(gw_finding_code code) {
    return code == GW_FOUND_HUM_ADDED ? GW_HUM : code == GW_FOUND_NOISE_ADDED ? GW_NOISE : GW_THD;
}

static bool gone_at(const gw_walker *walker, const gw_finding *found, int child) {
    const gw_node *node = &walker->nodes[found->point], *next = &walker->nodes[child];
    /* "at most" is no ground to say that there was more here than there is there */
    if (!gw_reading_has(node->readings, figure_of(found->code)) ||
        (found->code == GW_FOUND_CLIPPED && is_clipped(next->readings)))
        return false;
    double here = amount(walker, found, node->readings, node->level.value);
    double there = amount(walker, found, next->readings, next->level.value);
    return here > 0 && there >= 0 && there < gone_share * here && passes(walker, found, child);
}

void gw_doubts_unbend(gw_walker *walker) {
    for (size_t f = 0; f < walker->finding_count; f++) {
        gw_finding *found = &walker->findings[f];
        if (found->status != GW_OFF || found->point < 0 || walker->nodes[found->point].cuts.count > 0)
            continue; /* what a contact does now it may not do at the next capture */
        for (size_t i = 0; i < walker->count; i++) {
            const gw_node *next = &walker->nodes[i];
            if (!next->usable || next->from != found->point || !next->detected || next->dead ||
                !gone_at(walker, found, (int)i))
                continue;
            found->evidence =
                gw_walker_text(walker, "%s; gone at %s, so the capture made it", found->evidence, next->point->name);
            found->code = GW_FOUND_CAPTURE_POOR;
            found->status = GW_UNSURE;
            found->from = found->to = -1;
            found->settle = "capture this point again, with a short ground lead";
            break;
        }
    }
}
