/* What a stage adds to the signal: distortion, noise, hum. Each against what came in, times the gain. */
#include "walk/added.h"

#include <math.h>
#include <stdio.h>

/* Where no limit is stated only gross departures are faults: this share of the signal. Tape and transconductance
 * amplifiers reach 3 % of THD in health, a single-ended valve stage a little more (common practice). */
static const double gross_thd = 0.05, gross_noise = 0.03, gross_hum = 0.03;
/* What sharp edges leave behind between the samples passes for noise. */
static const double gross_edges = 0.10;
static const double edge_samples = 100;
/* Edges sampled as densely as the input's leave no more between them than was left there. */
static const double as_dense = 0.8;
/* The converter's own noise, in steps; a fitted hum line averages most of it away. */
static const double noise_floor_steps = 1, hum_floor_steps = 0.25;
/* So many times the noise, a tone is what the noise may be made of. */
static const double beside_tone = 2;
/* Harmonics count beside the THD where they are more than it by this much: above the band. */
static const double beyond_band = 1.05;
/* What noise puts into a few lines may well be this many times its mean power. */
static const double noise_spread = 2;
/* Orders 2 to 10. */
enum { THD_LINES = 9 };
/* No converter's noise is so white that less than this share of it must be reckoned with in any band. */
static const double least_floor_share = 0.6;

/* ---- what there is to judge ---- */

static bool take(const gw_readings *readings, gw_reading_key key, double *value, double *u95, bool *below) {
    const gw_reading *reading = &readings->values[key];
    if (reading->state == GW_READING_NONE)
        return false;
    *value = reading->value;
    *below = reading->state == GW_READING_BELOW;
    *u95 = *below ? 0 : reading->u95;
    return true;
}

/* Intermodulation products of two tones, over the tones. */
static bool take_products(const gw_walker *walker, const gw_node *node, double *value, double *u95, bool *below) {
    double power = 0, uncertainty = 0, pair_hz[2];
    const gw_readings *readings = node->readings;
    /* bent so much that they were read as something else, they still make what two tones make */
    bool others = readings->signal != GW_SIGNAL_TWO_TONE && gw_level_pair(walker, pair_hz);
    double reach_hz = readings->source.duration_s > 0 ? 0.5 / readings->source.duration_s : 0;
    if (!(node->level.value > 0))
        return false;
    for (size_t i = 0; i < readings->tone_count; i++) {
        const gw_tone *tone = &readings->tones[i];
        if (tone->kind != GW_TONE_PRODUCT && !(others && gw_level_is_product(pair_hz, tone->frequency_hz, reach_hz)))
            continue;
        power += tone->rms * tone->rms;
        uncertainty += tone->u95 * tone->u95;
    }
    for (size_t i = 0; others && i < readings->harmonic_count; i++) {
        const gw_harmonic *line = &readings->harmonics[i];
        bool fed =
            gw_level_same(line->frequency_hz, pair_hz[0], 0.01) || gw_level_same(line->frequency_hz, pair_hz[1], 0.01);
        if (!line->resolved || fed || !gw_level_is_product(pair_hz, line->frequency_hz, reach_hz))
            continue;
        power += line->rms * line->rms;
        uncertainty += line->u95 * line->u95;
    }
    *value = sqrt(power) / node->level.value;
    *u95 = sqrt(uncertainty) / node->level.value;
    *below = false;
    return true;
}

/* What noise puts into the lines of the harmonics by chance, as a share of the signal: its density over one line's
 * width, so many lines. A record of few cycles cannot tell one from the other. */
static double noise_in_lines(const gw_node *node) {
    const gw_readings *readings = node->readings;
    double band = readings->band_high_hz - readings->band_low_hz, noise = gw_reading_or(readings, GW_NOISE, 0);
    if (!(band > 0) || !(readings->source.duration_s > 0) || !(node->level.value > 0))
        return 0;
    return noise / node->level.value * sqrt(THD_LINES / band / readings->source.duration_s);
}

/* Harmonics above the band are no part of THD, but of what a stage bends: as the lines have them. */
static void take_lines(const gw_node *node, double *value, double *u95, bool *below) {
    double power = 0, uncertainty = 0;
    for (size_t i = 0; i < node->readings->harmonic_count; i++) {
        const gw_harmonic *line = &node->readings->harmonics[i];
        if (!line->resolved || line->order < 2 || line->order > THD_LINES + 1 || gw_tone_is_lone(node->readings, line))
            continue;
        power += line->rms * line->rms;
        uncertainty += line->u95 * line->u95;
    }
    if (!(node->level.value > 0) || sqrt(power) <= beyond_band * *value * node->level.value)
        return;
    *value = sqrt(power) / node->level.value;
    *u95 = sqrt(uncertainty) / node->level.value;
    *below = false;
}

static bool take_distortion(const gw_walker *walker, const gw_node *node, double *value, double *u95, bool *below) {
    if (walker->shape == GW_SHAPE_TWO_TONE)
        return take_products(walker, node, value, u95, below);
    if (walker->shape != GW_SHAPE_SINE || !take(node->readings, GW_THD, value, u95, below))
        return false;
    if (!node->point->thd.stated)
        take_lines(node, value, u95, below);
    double noise = noise_in_lines(node);
    *u95 = *below ? 0 : hypot(*u95, *value - gw_rest(*value, sqrt(noise_spread) * noise));
    return true;
}

static bool signal_is_good(const gw_node *node) {
    return node->detected && !node->dead && !node->hidden;
}

static const gw_node *node_at(const gw_walker *walker, int point) {
    return point < 0 ? NULL : &walker->nodes[point];
}

static bool shows_thd(const gw_walker *walker, int point) {
    const gw_node *node = &walker->nodes[point];
    double value, u95;
    bool below;
    return signal_is_good(node) && !node->readings->clues.too_coarse &&
           take_distortion(walker, node, &value, &u95, &below);
}

/* The last point before it whose distortion is known; -1 where there is none. */
static int last_with_thd(const gw_walker *walker, int from) {
    while (from >= 0 && !shows_thd(walker, from))
        from = walker->span_of[from].from;
    return from;
}

/* A line above the band folds down at low rates, and may fall on a harmonic there. THD that an earlier capture has and
 * a faster one between has not is no stage's: it was folded, and is again here. 0 where there is none. */
static double folded_thd(const gw_walker *walker, int from, int point) {
    double most = 0, fast = from < 0 ? 0 : walker->nodes[from].readings->source.rate_hz;
    if (!(walker->nodes[point].readings->source.rate_hz < fast))
        return 0;
    for (; from >= 0; from = walker->span_of[from].from) {
        const gw_node *node = &walker->nodes[from];
        if (node->readings->source.rate_hz < fast && signal_is_good(node) && gw_reading_has(node->readings, GW_THD))
            most = fmax(most, node->readings->values[GW_THD].value);
    }
    return most;
}

static gw_added find_thd(const gw_walker *walker, int point, int from_point) {
    const gw_node *node = &walker->nodes[point];
    /* a capture too coarse to show what came in does not say that nothing did */
    int known = last_with_thd(walker, from_point);
    bool pure = walker->chain->stimulus.shape == GW_SHAPE_SINE || walker->shape == GW_SHAPE_TWO_TONE;
    const gw_node *from = node_at(walker, known >= 0 || !pure ? known : from_point);
    if (known >= 0)
        from_point = known;
    gw_added a = {
        .kind = GW_JUDGE_PERCENT, .limit = &node->point->thd, .gross = gross_thd, .whole = 1, .from = from_point};
    if (walker->shape != GW_SHAPE_SINE && walker->shape != GW_SHAPE_TWO_TONE) {
        a.why = "the stimulus is no sine";
    } else if (!signal_is_good(node) || node->below_dead) {
        a.why = "no signal to judge";
    } else if (node->readings->clues.too_coarse) {
        a.why = "too few codes: the capture invents harmonics";
    } else {
        a.has = take_distortion(walker, node, &a.out, &a.out_u95, &a.out_below);
        a.why = node->readings->values[GW_THD].why;
    }
    bool before = from && signal_is_good(from) && !from->readings->clues.too_coarse &&
                  take_distortion(walker, from, &a.in, &a.in_u95, &a.in_below);
    a.in_below = a.in_below || !before;
    double folded = a.limit->stated ? 0 : folded_thd(walker, from_point, point);
    if (folded > a.in || (a.in_below && folded > 0)) {
        a.in = folded;
        a.in_below = false;
    }
    a.fed = from != NULL;
    return a;
}

/* Gain between two points as measured; as expected where it wasn't. */
static double passed_gain_from(const gw_walker *walker, int from, int point) {
    const gw_node *before = &walker->nodes[from], *after = &walker->nodes[point];
    if (before->detected && after->detected && before->level.value > 0)
        return after->level.value / before->level.value;
    gw_span span = gw_layout_span(walker, from, point);
    return span.gain_known ? span.gain : 1;
}

/* A capture whose noise is the instrument's own says nothing of the circuit's: then the point before it is asked. */
static int noise_source(const gw_walker *walker, int point) {
    int from = walker->span_of[point].from;
    for (; from >= 0; from = walker->span_of[from].from) {
        const gw_readings *readings = walker->nodes[from].readings;
        const gw_reading *noise = &readings->values[GW_NOISE];
        bool own =
            noise->state == GW_READING_VALUE && noise->value > floor_times * noise_floor_steps * readings->source.step;
        double here = gw_reading_or(walker->nodes[point].readings, GW_NOISE, 0);
        double most = noise->value * passed_gain_from(walker, from, point);
        bool small = noise->state != GW_READING_NONE && most * gross_times < here;
        if (own || small || walker->span_of[from].from < 0)
            break;
    }
    return from;
}

/* Gain that hum had on the way: as measured, else as expected; `at_hz` where it lies at one frequency. */
static double passed_gain(const gw_walker *walker, int from, int point, double at_hz) {
    double tilted = at_hz > 0 ? gw_layout_tilt(walker, from, point, at_hz) : 1;
    if (from != walker->span_of[point].from)
        return passed_gain_from(walker, from, point) * fmax(1, tilted);
    const gw_walk_stage *stage = &walker->stage_of[point];
    const gw_span *span = &walker->span_of[point];
    double gain = stage->gain.has_value && !stage->gain.below ? stage->gain.value : span->gain_known ? span->gain : 0;
    return gain * fmax(1, tilted);
}

/* Lines of the mains that fall on harmonics of the stimulus are the signal's as well: out of the hum with them. */
double gw_shape_hum(const gw_walker *walker, const gw_readings *readings) {
    double power = 0, base = walker->frequency_hz, hum = gw_reading_or(readings, GW_HUM, 0);
    for (size_t i = 0; i < readings->tone_count; i++) {
        const gw_tone *tone = &readings->tones[i];
        double order = base > 0 ? floor(tone->frequency_hz / base + 0.5) : 0;
        if (tone->kind == GW_TONE_MAINS && order >= 1 && gw_level_same(tone->frequency_hz, order * base, 0.01))
            power += tone->rms * tone->rms;
    }
    return gw_rest(hum, sqrt(power));
}

/* The converter's own noise is white: of a band that is a part of what the capture spans, a part of it at most. */
static double floor_share(const gw_readings *readings) {
    double spans = readings->source.rate_hz / 2, band = readings->band_high_hz - readings->band_low_hz;
    return band > 0 && spans > band ? fmax(least_floor_share, sqrt(band / spans)) : 1;
}

/* So many samples a period that steep edges leave little between them. */
static bool shows_edges(const gw_walker *walker, const gw_node *node) {
    return walker->frequency_hz > 0 && node->readings->source.rate_hz > edge_samples * walker->frequency_hz;
}

/* A lower rate folds down what a higher one sees above the band: all noise of the input's capture lands below half the
 * rate of this one. Volts at the input. */
static double folded_noise(const gw_readings *readings, const gw_readings *from) {
    double half = readings->source.rate_hz / 2, band = readings->band_high_hz - readings->band_low_hz;
    if (readings->source.rate_hz > as_dense * from->source.rate_hz || !(half > 0) || !(band > 0))
        return 0;
    return from->noise_floor_v * sqrt(fmin(1, band / half));
}

/* What a fit leaves of edges hangs on where the samples fall: a share of the signal that one capture before has for
 * noise may be left of it in this one too. Volts at the point. */
static double left_of_edges(const gw_walker *walker, int from, int point) {
    double most = 0;
    for (; from >= 0; from = walker->span_of[from].from) {
        const gw_node *node = &walker->nodes[from];
        const gw_reading *noise = &node->readings->values[GW_NOISE];
        if (signal_is_good(node) && noise->state == GW_READING_VALUE && node->level.value > 0 &&
            walker->nodes[point].detected)
            most = fmax(most, noise->value / node->level.value);
    }
    return most * walker->nodes[point].level.value;
}

/* Harmonics of edges that fold down between the lines pass for noise. Where the comb goes up to half the rate, those
 * beyond hold about what the last one says: lines that fall as 1/k from order K on have K times its power. Volts. */
static double folded_edges(const gw_readings *readings) {
    const double near_half = 0.4;
    const gw_harmonic *last = NULL;
    for (size_t i = 0; i < readings->harmonic_count; i++)
        if (!last || readings->harmonics[i].order > last->order)
            last = &readings->harmonics[i];
    bool reaches = last && last->frequency_hz > near_half * readings->source.rate_hz;
    return reaches ? last->rms * sqrt(last->order) : 0;
}

static void take_input(const gw_walker *walker, int point, gw_reading_key key, gw_added *a) {
    const gw_readings *readings = walker->nodes[point].readings;
    const gw_node *from = node_at(walker, a->from);
    a->fed = from != NULL;
    a->in_below = true;
    if (!from)
        return;
    if (!take(from->readings, key, &a->in, &a->in_u95, &a->in_below)) {
        a->fed = key != GW_HUM || walker->shape != GW_SHAPE_NOISE;
        return;
    }
    if (key == GW_NOISE && !a->limit->stated)
        a->in = fmax(a->in, folded_noise(readings, from->readings));
    double gain = key == GW_HUM ? passed_gain(walker, a->from, point, readings->clues.mains_hz)
                                : passed_gain_from(walker, a->from, point);
    a->in *= gain;
    a->in_u95 *= gain;
    if (key == GW_NOISE && walker->shape == GW_SHAPE_PERIODIC && !a->limit->stated)
        a->in = fmax(a->in, left_of_edges(walker, a->from, point));
}

/* A strong second tone in a signal that nobody stated: what the fit leaves of it passes for noise. */
static bool is_read_beside_a_tone(const gw_walker *walker, const gw_readings *readings) {
    double loudest = 0;
    for (size_t i = 0; i < readings->tone_count; i++)
        loudest = fmax(loudest, readings->tones[i].kind == GW_TONE_OTHER ? readings->tones[i].rms : 0);
    return walker->chain->stimulus.shape == GW_SHAPE_UNKNOWN &&
           loudest > beside_tone * gw_reading_or(readings, GW_NOISE, 0);
}

static gw_added find_volts(const gw_walker *walker, int point, int source, gw_reading_key key) {
    const gw_node *node = &walker->nodes[point], *from = node_at(walker, source);
    bool noise = key == GW_NOISE;
    gw_added a = {.kind = GW_JUDGE_VOLTS, .limit = noise ? &node->point->noise : &node->point->hum, .from = source};
    a.gross = !noise ? gross_hum : walker->shape == GW_SHAPE_PERIODIC ? gross_edges : gross_noise;
    if (noise && walker->shape == GW_SHAPE_PERIODIC && from &&
        ((shows_edges(walker, node) && shows_edges(walker, from)) ||
         node->readings->source.rate_hz > as_dense * from->readings->source.rate_hz))
        a.gross = gross_edges / 2;
    a.powers = noise;
    a.floor = (noise ? noise_floor_steps : hum_floor_steps) * node->readings->source.step;
    if (noise && !a.limit->stated)
        a.floor = fmax(a.floor * floor_share(node->readings), gw_floor_noise(walker, node->readings));
    if (noise && !a.limit->stated && walker->shape == GW_SHAPE_PERIODIC)
        a.floor = fmax(a.floor, folded_edges(node->readings));
    if (walker->shape == GW_SHAPE_NOISE && noise)
        a.why = "the stimulus is noise";
    else if (node->below_dead || node->dead || node->hidden)
        a.why = "no signal to judge";
    else if (!noise && node->detected && gw_level_is_mains(walker, node->frequency_hz) && gw_level_hums(node->readings))
        a.why = "the signal stands on the mains";
    else if (!take(node->readings, key, &a.out, &a.out_u95, &a.out_below))
        a.why = node->readings->values[key].why;
    else
        a.has = gw_word_equal(gw_words_unit(node->readings), "V") || !a.limit->stated;
    if (a.has && !a.out_below && !noise)
        a.out = gw_shape_hum(walker, node->readings);
    a.whole = signal_is_good(node) ? fmax(node->level.value, walker->walk->points[point].expected_level_v) : 0;
    take_input(walker, point, key, &a);
    if (noise && !a.limit->stated && is_read_beside_a_tone(walker, node->readings))
        a.fed = false;
    return a;
}

static gw_added find_one(const gw_walker *walker, int point, int from, gw_reading_key key) {
    return key == GW_THD ? find_thd(walker, point, from) : find_volts(walker, point, from, key);
}

/* "At most so much" of a coarse capture hides what came in: a point before it may show that it was less, and then it is
 * certain that something was added, if not exactly where. */
static gw_added find(const gw_walker *walker, int point, gw_reading_key key) {
    int from = key == GW_NOISE ? noise_source(walker, point) : walker->span_of[point].from;
    gw_added near = find_one(walker, point, from, key), far = near;
    if (!near.has || near.limit->stated || gw_added_gross(&near) == GW_OFF)
        return near;
    while (far.in_below && far.from >= 0 && walker->span_of[far.from].from >= 0) {
        far = find_one(walker, point, walker->span_of[far.from].from, key);
        if (gw_added_gross(&far) == GW_OFF)
            return far;
    }
    return near;
}

/* ---- findings ---- */

static const char *before_words(gw_walker *walker, const gw_added *a, const char *unit) {
    char text[64];
    if (!(a->in > 0) || a->in_below)
        return "";
    if (a->kind == GW_JUDGE_PERCENT)
        gw_words_percent(a->in, text, sizeof text);
    else
        gw_quantity_print(a->in, 0, unit, 3, text, sizeof text);
    return gw_walker_text(walker, a->kind == GW_JUDGE_PERCENT ? "; %s before" : "; %s of it came in", text);
}

static const char *settle_words(const gw_added *a, const gw_readings *readings) {
    if (readings->clues.too_short)
        return "capture more cycles";
    if (a->kind == GW_JUDGE_VOLTS && a->out <= 2 * a->floor)
        return "capture on a finer range, with the probe at x1";
    return "capture on a finer range, or with an instrument of more bits";
}

static void report(gw_walker *walker, int point, gw_finding_code code, const char *what, const gw_added *a,
                   const gw_judgement *judgement) {
    const gw_node *node = &walker->nodes[point];
    const char *unit = gw_words_unit(node->readings);
    gw_finding *found = gw_finding_add(walker, code, judgement->status, a->from, point);
    if (!found)
        return;
    gw_judgement shown = *judgement;
    shown.value = a->out;
    shown.u95 = a->out_u95;
    const char *share = "";
    char text[64];
    if (a->kind == GW_JUDGE_VOLTS && a->whole > 0) {
        gw_words_percent(a->out / a->whole, text, sizeof text);
        share = gw_walker_text(walker, ", %s of the signal", text);
    }
    found->evidence = gw_walker_text(walker, "%s%s%s", gw_words_evidence(walker, what, &shown, unit), share,
                                     before_words(walker, a, unit));
    if (judgement->status == GW_UNSURE)
        found->settle = settle_words(a, node->readings);
}

static gw_judgement judge_one(gw_walker *walker, int point, gw_finding_code code, const char *what, const gw_added *a) {
    gw_judgement judgement = gw_added_judge(walker, a);
    if (judgement.status == GW_OFF || judgement.status == GW_UNSURE)
        report(walker, point, code, what, a, &judgement);
    return judgement;
}

/* The point's own figure, with the stage's status: what came in is not its fault. */
static gw_judgement own_figure(const gw_added *a, const gw_judgement *judged) {
    gw_judgement own = *judged;
    if (!a->limit->stated)
        own = (gw_judgement){.kind = a->kind, .status = GW_UNJUDGED, .why = judged->why};
    own.has_value = a->has;
    own.below = a->out_below;
    own.value = a->out;
    own.u95 = a->out_u95;
    return own;
}

void gw_shape_judge(gw_walker *walker) {
    for (size_t k = 0; k < walker->count; k++) {
        int i = walker->order[k];
        const gw_node *node = &walker->nodes[i];
        if (!node->usable)
            continue;
        gw_walk_stage *stage = &walker->stage_of[i];
        gw_walk_point *out = &walker->walk->points[i];
        gw_added thd = find(walker, i, GW_THD);
        gw_added hum = find(walker, i, GW_HUM);
        gw_added noise = find(walker, i, GW_NOISE);
        stage->thd_added = judge_one(walker, i, GW_FOUND_DISTORTION_ADDED,
                                     walker->shape == GW_SHAPE_TWO_TONE ? "intermodulation" : "THD", &thd);
        stage->hum_added = judge_one(walker, i, GW_FOUND_HUM_ADDED, "hum", &hum);
        stage->noise_added = judge_one(walker, i, GW_FOUND_NOISE_ADDED, "noise", &noise);
        out->thd = own_figure(&thd, &stage->thd_added);
        out->hum = own_figure(&hum, &stage->hum_added);
        out->noise = own_figure(&noise, &stage->noise_added);
    }
}
