/* Peaks that a stage cut off: flat tops, and of a waveform with a shape of its own what is left of its peaks. */
#include "walk/walker.h"

#include <math.h>

/* Clipping that bends a sine less than this is a soft stage's business, judged by its THD (a sine cut at 95 % of its
 * amplitude has 1.9 % of THD, at 90 % 4.2 %). */
static const double least_clip_thd = 0.025, least_clip_share = 0.01;
/* Flat tops of so many codes from peak to peak are told from a coarse range. */
static const double tops_need_codes = 30;
/* Crest factor from which on a waveform has a peak that can be cut, and how much of it is left at most after a cut:
 * where flat tops are seen, and where they are not. A cut at one side moves the mean, and so the other peak, a little.
 */
static const double peaky_crest = 1.3, flattened = 0.93, cut_crest = 0.88, other_crest = 1.15;
/* A cut peak stands still: share of a period within a twentieth of the swing below it, at least, and against what it
 * was before. A sine, the roundest that a filter leaves of anything, has 0.144. */
static const double near_peak = 0.05, least_stand = 0.15, longer_stand = 1.4;
/* Harmonics that a filter left go down from one to the next, but for this. */
static const double uneven = 1.15;
/* What passes from a fifth of the fundamental to seven times it has its harmonics in their places. */
static const double flat_from = 0.2, flat_to = 7, flat_within = 0.05;

static double clipped_share(const gw_readings *readings) {
    const gw_clues *clues = &readings->clues;
    double high = clues->high.clipped && !clues->high.recorder ? clues->high.share : 0;
    double low = clues->low.clipped && !clues->low.recorder ? clues->low.share : 0;
    return high + low;
}

/* Bent as little as a limit allows, or as little as soft stages do. */
static bool is_harmless(const gw_walker *walker, int point) {
    const gw_walk_stage *stage = &walker->stage_of[point];
    const gw_readings *readings = walker->nodes[point].readings;
    if (walker->nodes[point].point->thd.stated)
        return stage->thd_added.status == GW_OK;
    return gw_reading_has(readings, GW_THD) && readings->values[GW_THD].value < least_clip_thd;
}

static const char *flat_words(gw_walker *walker, const char *where, const gw_flat *flat, const char *unit) {
    char level[64], share[32];
    if (!flat->clipped || flat->recorder)
        return "";
    gw_quantity_print(flat->level_v, 0, unit, 3, level, sizeof level);
    gw_words_percent(flat->share, share, sizeof share);
    return gw_walker_text(walker, "flat at the %s, at %s, for %s of the time", where, level, share);
}

/* ---- the outline of a periodic signal ---- */

/* One period put together from its first harmonics, which neither noise nor the sampling of an edge touches: the crest
 * of its less and its more peaked side, and for how long it stands near each. */
typedef struct outline {
    double crest[2], stand[2];
} outline;

enum { OUTLINE_SAMPLES = 240, OUTLINE_ORDERS = 10 };

static double outline_at(const gw_readings *readings, double turn) {
    const double two_pi = 6.283185307179586;
    double sum = 0;
    for (size_t i = 0; i < readings->harmonic_count; i++) {
        const gw_harmonic *line = &readings->harmonics[i];
        if (line->resolved && line->order >= 1 && line->order <= OUTLINE_ORDERS)
            sum += sqrt(2) * line->rms * cos(line->order * two_pi * turn + line->phase_rad);
    }
    return sum;
}

double gw_outline_swing(const gw_readings *readings) {
    double high = 0, low = 0;
    for (int i = 0; i < OUTLINE_SAMPLES; i++) {
        double volts = outline_at(readings, (double)i / OUTLINE_SAMPLES);
        high = fmax(high, volts);
        low = fmin(low, volts);
    }
    return high - low;
}

/* All 0 where there is no periodic signal. */
static outline outline_of(const gw_readings *readings) {
    double volts[OUTLINE_SAMPLES], high = -INFINITY, low = INFINITY, power = 0;
    outline out = {{0, 0}, {0, 0}};
    for (int i = 0; i < OUTLINE_SAMPLES; i++) {
        volts[i] = outline_at(readings, (double)i / OUTLINE_SAMPLES);
        high = fmax(high, volts[i]);
        low = fmin(low, volts[i]);
        power += volts[i] * volts[i] / OUTLINE_SAMPLES;
    }
    if (!(power > 0))
        return out;
    double within = near_peak * (high - low);
    for (int i = 0; i < OUTLINE_SAMPLES; i++) {
        out.stand[0] += volts[i] > high - within ? 1.0 / OUTLINE_SAMPLES : 0;
        out.stand[1] += volts[i] < low + within ? 1.0 / OUTLINE_SAMPLES : 0;
    }
    bool turn = high > -low;
    out.crest[turn ? 1 : 0] = high / sqrt(power);
    out.crest[turn ? 0 : 1] = -low / sqrt(power);
    if (turn) {
        double first = out.stand[0];
        out.stand[0] = out.stand[1];
        out.stand[1] = first;
    }
    return out;
}

/* The side that has lost its peak: below `left` of what it was, while the other side is as it was or cut as well; -1
 * where none has. */
static int cut_side(const outline *before, const outline *here, double left) {
    for (int side = 0; side < 2; side++)
        if (before->crest[side] > peaky_crest && here->crest[side] > 0 &&
            here->crest[side] < left * before->crest[side] &&
            here->crest[1 - side] < other_crest * before->crest[1 - side])
            return side;
    return -1;
}

static double harmonic_of(const gw_readings *readings, int order) {
    for (size_t i = 0; i < readings->harmonic_count; i++)
        if (readings->harmonics[i].order == order && readings->harmonics[i].resolved)
            return readings->harmonics[i].rms;
    return 0;
}

/* A filter takes the more of a harmonic the higher it is; a cut takes some and leaves others, or makes more of them. */
static bool falls_steadily(const gw_readings *from, const gw_readings *to) {
    double least = INFINITY;
    for (int order = 1; order <= OUTLINE_ORDERS; order++) {
        double before = harmonic_of(from, order), here = harmonic_of(to, order);
        if (!(before > 0))
            continue;
        if (here / before > uneven * least)
            return false;
        least = fmin(least, here / before);
    }
    return true;
}

/* ---- where it came in ---- */

/* The nearest point before that is fine enough to show peaks; -1 where there is none. */
static int fine_before(const gw_walker *walker, int point) {
    int from = walker->span_of[point].from;
    while (from >= 0 && (walker->nodes[from].readings->clues.codes < tops_need_codes || !walker->nodes[from].detected))
        from = walker->span_of[from].from;
    return from;
}

/* No passive part cuts a signal: where the capture in front of one is too coarse to show flat tops, they may have come
 * in. */
static int cut_from(const gw_walker *walker, int point) {
    int from = walker->span_of[point].from;
    if (walker->shape == GW_SHAPE_PERIODIC)
        return fine_before(walker, point);
    while (from >= 0 && walker->span_of[point].passive && walker->nodes[from].readings->clues.codes < tops_need_codes &&
           walker->span_of[from].from >= 0) {
        point = from;
        from = walker->span_of[from].from;
    }
    return from;
}

/* Of a waveform with a shape of its own flat tops may be that shape (a square wave's): only what comes in with peaks
 * and goes out with less of them was cut. */
static bool may_be_cut(const gw_walker *walker, int point) {
    if (walker->shape != GW_SHAPE_PERIODIC)
        return true;
    int from = fine_before(walker, point);
    if (from < 0)
        return false;
    outline before = outline_of(walker->nodes[from].readings), here = outline_of(walker->nodes[point].readings);
    return cut_side(&before, &here, flattened) >= 0;
}

static bool is_flat(const gw_walker *walker, int from, int point) {
    double f = walker->frequency_hz;
    return fabs(gw_layout_tilt(walker, from, point, flat_from * f) - 1) <= flat_within &&
           fabs(gw_layout_tilt(walker, from, point, flat_to * f) - 1) <= flat_within;
}

bool gw_clipping_is_undone(const gw_walker *walker, int point, int next) {
    const gw_readings *here = walker->nodes[point].readings, *there = walker->nodes[next].readings;
    if (walker->shape != GW_SHAPE_PERIODIC || there->clues.codes < tops_need_codes || !is_flat(walker, point, next))
        return false;
    outline cut = outline_of(here), whole = outline_of(there);
    return cut_side(&whole, &cut, flattened) >= 0;
}

/* ---- judging ---- */

/* Peaks that a stage cut off, seen in what is left of them where the flat tops themselves are not: of a waveform with
 * peaks, in an active stage that passes all of its harmonics alike. */
static void judge_peaks(gw_walker *walker, int point) {
    const gw_node *node = &walker->nodes[point];
    const gw_span *span = &walker->span_of[point];
    int from = span->from;
    if (walker->shape != GW_SHAPE_PERIODIC || from < 0 || span->passive || !span->gain_known ||
        !node->point->has_stage || node->readings->clues.codes < tops_need_codes || fine_before(walker, point) != from)
        return;
    outline before = outline_of(walker->nodes[from].readings), here = outline_of(node->readings);
    int side = cut_side(&before, &here, cut_crest);
    if (side < 0 || here.stand[side] < least_stand || here.stand[side] < longer_stand * before.stand[side] ||
        !is_flat(walker, from, point) || falls_steadily(walker->nodes[from].readings, node->readings))
        return;
    gw_finding *found = gw_finding_add(walker, GW_FOUND_CLIPPED, GW_OFF, from, point);
    char is[32], was[32];
    if (found)
        found->evidence = gw_walker_text(walker, "crest factor %s, %s before: its peaks are gone",
                                         gw_number_fixed(here.crest[side], 2, is, sizeof is),
                                         gw_number_fixed(before.crest[side], 2, was, sizeof was));
}

void gw_clipping_judge(gw_walker *walker, int point) {
    const gw_node *node = &walker->nodes[point];
    int from = walker->span_of[point].from;
    double share = clipped_share(node->readings);
    double before = from < 0 ? 0 : clipped_share(walker->nodes[from].readings);
    if (node->dead || !node->detected)
        return;
    if (share < least_clip_share) {
        judge_peaks(walker, point);
        return;
    }
    if (share < 2 * before || is_harmless(walker, point) || !may_be_cut(walker, point))
        return;
    gw_finding *found = gw_finding_add(walker, GW_FOUND_CLIPPED, GW_OFF, cut_from(walker, point), point);
    if (!found)
        return;
    const char *unit = gw_words_unit(node->readings);
    const char *high = flat_words(walker, "top", &node->readings->clues.high, unit);
    const char *low = flat_words(walker, "bottom", &node->readings->clues.low, unit);
    found->evidence = gw_walker_text(walker, "%s%s%s", high, *high && *low ? "; " : "", low);
}
