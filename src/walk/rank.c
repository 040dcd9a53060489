/* The causes of each finding in the order of the very case. A rule lifts a cause (or, with a negative weight, drops it)
 * where its sign is there; what no rule touches keeps the table's order. */
#include "walk/causes.h"
#include "walk/walker.h"

#include <math.h>
#include <string.h>

/* What the rules look at. */
typedef struct scene {
    const gw_walker *walker;
    const gw_finding *found;
    const gw_readings *readings; /* of the point or rail; may be NULL */
    const gw_span *span;         /* NULL for rails */
    const char *kind;            /* of the last stage; "" */
    double gain, expected;       /* ratios; 0 unknown */
    double off_db;               /* gain over expectation */
    bool hum_rose;
} scene;

typedef bool sign(const scene *s);

static bool kind_is(const scene *s, const char *name) {
    return strcmp(s->kind, name) == 0;
}

static bool is_wire(const scene *s) {
    return kind_is(s, "wire");
}

static bool is_pot(const scene *s) {
    return kind_is(s, "pot");
}

static bool is_contact(const scene *s) {
    return is_wire(s) || is_pot(s);
}

static bool is_divider(const scene *s) {
    return kind_is(s, "divider") || is_pot(s) || kind_is(s, "transformer") || kind_is(s, "lowpass");
}

static bool is_op_amp(const scene *s) {
    return kind_is(s, "noninverting") || kind_is(s, "inverting") || kind_is(s, "follower") || kind_is(s, "mix");
}

static bool is_passive(const scene *s) {
    return s->span && s->span->passive;
}

static bool is_source(const scene *s) {
    return s->found->from < 0;
}

static bool is_coupling(const scene *s) {
    return s->span && s->span->last_blocks;
}

static bool is_no_coupling(const scene *s) {
    return s->span && !s->span->blocks;
}

static bool is_discrete(const scene *s) {
    return kind_is(s, "emitter") || kind_is(s, "amp");
}

/* Common practice: an open leg to ground turns a non-inverting amplifier into a follower, 0 dB exactly. */
static bool gain_is_one(const scene *s) {
    return s->gain > 0 && s->expected > 1.26 && fabs(gw_db_from_ratio(s->gain)) < 0.5 && !is_passive(s) &&
           !kind_is(s, "inverting");
}

static bool gain_is_not_one(const scene *s) {
    return !gain_is_one(s);
}

static bool off_by(const scene *s, double db, double within) {
    return s->gain > 0 && s->expected > 0 && fabs(s->off_db - db) < within;
}

static bool is_half(const scene *s) {
    return off_by(s, -6.02, 0.6);
}

static bool is_half_with_hum(const scene *s) {
    return is_half(s) && s->hum_rose;
}

static bool is_not_half(const scene *s) {
    return !is_half(s);
}

static bool is_tenth(const scene *s) {
    return off_by(s, -20, 0.6);
}

static bool is_not_tenth(const scene *s) {
    return !is_tenth(s);
}

static bool is_tenfold(const scene *s) {
    return off_by(s, 20, 0.6);
}

static bool is_not_tenfold(const scene *s) {
    return !is_tenfold(s);
}

static bool is_loaded(const scene *s) {
    return off_by(s, -20.8, 0.4) || is_half(s);
}

static const gw_judgement *dc_of(const scene *s) {
    int point = s->found->point;
    if (point < 0)
        return NULL;
    return s->found->from >= 0 ? &s->walker->stage_of[point].dc : &s->walker->walk->points[point].dc;
}

static bool dc_is_ok(const scene *s) {
    const gw_judgement *dc = dc_of(s);
    return dc && dc->status == GW_OK;
}

static bool is_stuck(const scene *s) {
    return gw_layout_near_rail(s->walker, s->readings);
}

static bool is_not_stuck(const scene *s) {
    return !is_stuck(s);
}

static bool some_rail(const scene *s, gw_status status) {
    for (size_t i = 0; i < s->walker->walk->rail_count; i++)
        if (s->walker->walk->rails[i].status == status)
            return true;
    return false;
}

static bool rail_is_off(const scene *s) {
    return some_rail(s, GW_OFF);
}

static bool rail_is_unprobed(const scene *s) {
    return some_rail(s, GW_UNPROBED);
}

static bool rails_are_ok(const scene *s) {
    size_t count = s->walker->walk->rail_count;
    for (size_t i = 0; i < count; i++)
        if (s->walker->walk->rails[i].status != GW_OK)
            return false;
    return count > 0;
}

static bool mains_only(const scene *s) {
    return s->found->point >= 0 && s->walker->nodes[s->found->point].strange &&
           (gw_level_hums(s->readings) || gw_level_is_mains(s->walker, gw_reading_or(s->readings, GW_FREQUENCY, 0)));
}

static bool is_inside(const scene *s) {
    return s->found->from >= 0;
}

static bool fed_wrong(const scene *s) {
    return s->found->from < 0 && s->walker->nodes[s->found->point].depth == 0;
}

/* ---- shape ---- */

static bool clips_both(const scene *s) {
    return s->readings && s->readings->clues.high.clipped && s->readings->clues.low.clipped;
}

static bool clips_one(const scene *s) {
    return s->readings && s->readings->clues.high.clipped != s->readings->clues.low.clipped;
}

static bool level_is_high(const scene *s) {
    return s->off_db > 1;
}

static bool clips_far_below(const scene *s) {
    double rail = 0;
    for (size_t i = 0; i < s->walker->chain->rail_count; i++)
        rail = fmax(rail, fabs(s->walker->chain->rails[i].dc.value));
    return clips_both(s) && rail > 0 && fabs(s->readings->clues.high.level_v) < 0.5 * rail;
}

static bool has_crossover(const scene *s) {
    return s->readings && s->readings->clues.crossover;
}

static bool has_no_crossover(const scene *s) {
    return !has_crossover(s);
}

static bool is_slewing(const scene *s) {
    return s->readings && s->readings->clues.slew_limited;
}

static bool is_not_slewing(const scene *s) {
    return !is_slewing(s);
}

/* ---- hum ---- */

static bool hum_is_twice(const scene *s) {
    double once = 0, twice = 0;
    if (s->readings && s->found->rail >= 0)
        gw_rail_parts(s->readings, &once, &twice);
    else if (s->readings)
        twice = s->readings->clues.hum_twice_v, once = s->readings->clues.hum_mains_v;
    return twice > 2 * once;
}

static bool hum_is_not_twice(const scene *s) {
    return !hum_is_twice(s);
}

static bool hum_is_pure(const scene *s) {
    const gw_clues *c = s->readings ? &s->readings->clues : NULL;
    return c && c->hum_mains_v > 5 * hypot(c->hum_twice_v, c->hum_rest_v);
}

static bool hum_is_comb(const scene *s) {
    const gw_clues *c = s->readings ? &s->readings->clues : NULL;
    return c && !hum_is_twice(s) && c->hum_rest_v > 0.25 * c->hum_mains_v;
}

static bool ripple_is_high(const scene *s) {
    for (size_t i = 0; i < s->walker->finding_count; i++)
        if (s->walker->findings[i].code == GW_FOUND_RIPPLE_HIGH && s->walker->findings[i].status == GW_OFF)
            return true;
    return false;
}

static bool twice_with_clean_rail(const scene *s) {
    return hum_is_twice(s) && rails_are_ok(s) && !ripple_is_high(s);
}

/* ---- tones, captures, rails ---- */

static bool is_slow(const scene *s) {
    return s->readings && s->readings->clues.wobble_depth > 0.05;
}

static bool is_not_slow(const scene *s) {
    return !is_slow(s);
}

static bool is_overloaded(const scene *s) {
    const gw_clues *c = s->readings ? &s->readings->clues : NULL;
    return c && (c->overloaded || c->high.recorder || c->low.recorder);
}

static bool is_coarse(const scene *s) {
    return s->readings && s->readings->clues.too_coarse;
}

static bool is_short(const scene *s) {
    return s->readings && s->readings->clues.too_short;
}

static bool is_gappy(const scene *s) {
    return s->readings && s->readings->clues.gappy;
}

static double rail_share(const scene *s) {
    const gw_walk_point *rail = s->found->rail >= 0 ? &s->walker->walk->rails[s->found->rail] : NULL;
    return rail && rail->dc.has_value && rail->dc.expected != 0 ? rail->dc.value / rail->dc.expected : 1;
}

static bool rail_is_gone(const scene *s) {
    return rail_share(s) < 0.15;
}

static bool rail_is_low(const scene *s) {
    return rail_share(s) >= 0.15 && rail_share(s) < 0.97;
}

static bool rail_is_high(const scene *s) {
    return rail_share(s) > 1;
}

enum { DROP = -100 };

typedef struct rule {
    gw_finding_code code;
    int cause;
    sign *when;
    int weight;
} rule;

static const rule rules[] = {
    {GW_FOUND_SIGNAL_LOST, LOST_OPEN, is_wire, 8},
    {GW_FOUND_SIGNAL_LOST, LOST_OPEN, is_pot, 6},
    {GW_FOUND_SIGNAL_LOST, LOST_COUPLING, is_coupling, 10},
    {GW_FOUND_SIGNAL_LOST, LOST_COUPLING, is_no_coupling, DROP},
    {GW_FOUND_SIGNAL_LOST, LOST_STUCK, is_stuck, 12},
    {GW_FOUND_SIGNAL_LOST, LOST_STUCK, is_not_stuck, DROP},
    {GW_FOUND_SIGNAL_LOST, LOST_RAIL, rail_is_off, 20},
    {GW_FOUND_SIGNAL_LOST, LOST_RAIL, rail_is_unprobed, 4},
    {GW_FOUND_SIGNAL_LOST, LOST_RAIL, rails_are_ok, DROP},
    {GW_FOUND_SIGNAL_LOST, LOST_RAIL, is_passive, DROP},
    {GW_FOUND_SIGNAL_LOST, LOST_DEAD, is_passive, DROP},
    {GW_FOUND_SIGNAL_LOST, LOST_SOURCE, is_source, 10},
    {GW_FOUND_SIGNAL_LOST, LOST_SOURCE, is_inside, DROP},
    {GW_FOUND_SIGNAL_LOST, LOST_DEAD, fed_wrong, DROP},
    {GW_FOUND_SIGNAL_LOST, LOST_COUPLING, fed_wrong, DROP},
    {GW_FOUND_SIGNAL_LOST, LOST_RAIL, fed_wrong, DROP},
    {GW_FOUND_SIGNAL_LOST, LOST_PROBE, mains_only, 3},
    {GW_FOUND_LEVEL_LOW, LOW_FEEDBACK, gain_is_one, 12},
    {GW_FOUND_LEVEL_LOW, LOW_FEEDBACK, gain_is_not_one, DROP},
    {GW_FOUND_LEVEL_LOW, LOW_BALANCED, is_half, 9},
    {GW_FOUND_LEVEL_LOW, LOW_BALANCED, is_half_with_hum, 4},
    {GW_FOUND_LEVEL_LOW, LOW_BALANCED, is_not_half, DROP},
    {GW_FOUND_LEVEL_LOW, LOW_COUPLING, is_coupling, 8},
    {GW_FOUND_LEVEL_LOW, LOW_COUPLING, is_no_coupling, DROP},
    {GW_FOUND_LEVEL_LOW, LOW_BYPASS, is_discrete, 5},
    {GW_FOUND_LEVEL_LOW, LOW_BYPASS, dc_is_ok, 1},
    {GW_FOUND_LEVEL_LOW, LOW_BYPASS, is_passive, DROP},
    {GW_FOUND_LEVEL_LOW, LOW_BYPASS, is_op_amp, DROP},
    {GW_FOUND_LEVEL_LOW, LOW_CONTACT, is_contact, 7},
    {GW_FOUND_LEVEL_LOW, LOW_PART, is_wire, DROP},
    {GW_FOUND_LEVEL_LOW, LOW_PART, is_coupling, DROP},
    {GW_FOUND_LEVEL_LOW, LOW_LOAD, is_loaded, 2},
    {GW_FOUND_LEVEL_LOW, LOW_PROBE, is_tenth, 11},
    {GW_FOUND_LEVEL_LOW, LOW_PROBE, is_not_tenth, DROP},
    {GW_FOUND_LEVEL_HIGH, HIGH_TERMINATION, is_divider, 6},
    {GW_FOUND_LEVEL_HIGH, HIGH_TERMINATION, is_op_amp, DROP},
    {GW_FOUND_LEVEL_HIGH, HIGH_PART, is_passive, DROP},
    {GW_FOUND_LEVEL_HIGH, HIGH_LEG, is_passive, DROP},
    {GW_FOUND_LEVEL_HIGH, HIGH_CONTROL, is_pot, 5},
    {GW_FOUND_LEVEL_HIGH, HIGH_CONTROL, is_op_amp, DROP},
    {GW_FOUND_LEVEL_HIGH, HIGH_PROBE, is_tenfold, 11},
    {GW_FOUND_LEVEL_HIGH, HIGH_PROBE, is_not_tenfold, DROP},
    {GW_FOUND_DC_SHIFT, SHIFT_STUCK, is_stuck, 10},
    {GW_FOUND_DC_SHIFT, SHIFT_STUCK, is_not_stuck, DROP},
    {GW_FOUND_DC_SHIFT, SHIFT_RAIL, rail_is_off, 12},
    {GW_FOUND_DC_SHIFT, SHIFT_RAIL, rails_are_ok, DROP},
    {GW_FOUND_DC_SHIFT, SHIFT_CLIP, clips_one, 6},
    {GW_FOUND_DC_SHIFT, SHIFT_OFFSET, is_op_amp, 1},
    {GW_FOUND_DC_SHIFT, SHIFT_DEVICE, is_passive, DROP},
    {GW_FOUND_DC_SHIFT, SHIFT_LEAK, is_passive, 8},
    {GW_FOUND_CLIPPED, CLIP_RAIL, rail_is_off, 12},
    {GW_FOUND_CLIPPED, CLIP_RAIL, rail_is_unprobed, 3},
    {GW_FOUND_CLIPPED, CLIP_RAIL, rails_are_ok, DROP},
    {GW_FOUND_CLIPPED, CLIP_RAIL, is_passive, DROP},
    {GW_FOUND_CLIPPED, CLIP_BIAS, clips_one, 5},
    {GW_FOUND_CLIPPED, CLIP_DEVICE, clips_one, 4},
    {GW_FOUND_CLIPPED, CLIP_DRIVE, clips_both, 3},
    {GW_FOUND_CLIPPED, CLIP_DRIVE, level_is_high, 4},
    {GW_FOUND_CLIPPED, CLIP_LIMIT, clips_far_below, 8},
    {GW_FOUND_DISTORTION_ADDED, BENT_CROSSOVER, has_crossover, 10},
    {GW_FOUND_DISTORTION_ADDED, BENT_CROSSOVER, has_no_crossover, DROP},
    {GW_FOUND_DISTORTION_ADDED, BENT_SLEW, is_slewing, 10},
    {GW_FOUND_DISTORTION_ADDED, BENT_SLEW, is_not_slewing, DROP},
    {GW_FOUND_DISTORTION_ADDED, BENT_CONTACT, is_contact, 6},
    {GW_FOUND_DISTORTION_ADDED, BENT_BIAS, is_passive, DROP},
    {GW_FOUND_DISTORTION_ADDED, BENT_DEVICE, is_passive, DROP},
    {GW_FOUND_DISTORTION_ADDED, BENT_RAIL, is_passive, DROP},
    {GW_FOUND_DISTORTION_ADDED, BENT_RAIL, rail_is_off, 12},
    {GW_FOUND_DISTORTION_ADDED, BENT_RAIL, rails_are_ok, DROP},
    {GW_FOUND_DISTORTION_ADDED, BENT_CAPACITOR, is_coupling, 5},
    {GW_FOUND_NOISE_ADDED, NOISE_DEVICE, is_passive, DROP},
    {GW_FOUND_NOISE_ADDED, NOISE_GROUND, is_wire, 5},
    {GW_FOUND_NOISE_ADDED, NOISE_RAIL, ripple_is_high, 8},
    {GW_FOUND_NOISE_ADDED, NOISE_RAIL, is_passive, DROP},
    {GW_FOUND_HUM_ADDED, HUM_SMOOTHING, hum_is_twice, 8},
    {GW_FOUND_HUM_ADDED, HUM_SMOOTHING, hum_is_not_twice, DROP},
    {GW_FOUND_HUM_ADDED, HUM_VALVE, hum_is_twice, 5},
    {GW_FOUND_HUM_ADDED, HUM_VALVE, twice_with_clean_rail, 6},
    {GW_FOUND_HUM_ADDED, HUM_VALVE, hum_is_not_twice, DROP},
    {GW_FOUND_HUM_ADDED, HUM_VALVE, is_passive, DROP},
    {GW_FOUND_HUM_ADDED, HUM_DIODE, ripple_is_high, 6},
    {GW_FOUND_HUM_ADDED, HUM_INDUCTION, hum_is_pure, 6},
    {GW_FOUND_HUM_ADDED, HUM_LOOP, hum_is_comb, 6},
    {GW_FOUND_HUM_ADDED, HUM_LOOP, hum_is_twice, DROP},
    {GW_FOUND_HUM_ADDED, HUM_SCREEN, is_wire, 5},
    {GW_FOUND_HUM_ADDED, HUM_HEATER, is_op_amp, DROP},
    {GW_FOUND_HUM_ADDED, HUM_HEATER, is_passive, DROP},
    {GW_FOUND_TONE_ADDED, TONE_MOTORBOATING, is_slow, 10},
    {GW_FOUND_TONE_ADDED, TONE_MOTORBOATING, is_not_slow, DROP},
    {GW_FOUND_CRACKLE, CRACKLE_DC, is_pot, 2},
    {GW_FOUND_HIGHS_LOST, HIGHS_DEVICE, is_passive, DROP},
    {GW_FOUND_LOWS_LOST, LOWS_DRY, is_coupling, 3},
    {GW_FOUND_PITCH_OFF, PITCH_SOURCE, is_source, 5},
    {GW_FOUND_PITCH_OFF, PITCH_SOURCE, is_inside, DROP},
    {GW_FOUND_RAIL_OFF, RAIL_MISSING, rail_is_gone, 5},
    {GW_FOUND_RAIL_OFF, RAIL_LOADED, rail_is_low, 5},
    {GW_FOUND_RAIL_OFF, RAIL_UNREGULATED, rail_is_low, 4},
    {GW_FOUND_RAIL_OFF, RAIL_REGULATOR, rail_is_high, 5},
    {GW_FOUND_RAIL_OFF, RAIL_MISSING, rail_is_low, DROP},
    {GW_FOUND_RAIL_OFF, RAIL_MISSING, rail_is_high, DROP},
    {GW_FOUND_RAIL_OFF, RAIL_LOADED, rail_is_high, DROP},
    {GW_FOUND_RAIL_OFF, RAIL_UNREGULATED, rail_is_high, DROP},
    {GW_FOUND_RIPPLE_HIGH, RIPPLE_SMOOTHING, hum_is_twice, 5},
    {GW_FOUND_RIPPLE_HIGH, RIPPLE_DIODE, hum_is_not_twice, 5},
    {GW_FOUND_PROBE_SUSPECT, PROBE_FLOATING, mains_only, 9},
    {GW_FOUND_PROBE_SUSPECT, PROBE_SWITCH, is_tenth, 5},
    {GW_FOUND_PROBE_SUSPECT, PROBE_SWITCH, is_tenfold, 5},
    {GW_FOUND_PROBE_SUSPECT, PROBE_LOADING, is_loaded, 4},
    {GW_FOUND_CAPTURE_POOR, POOR_OVERLOAD, is_overloaded, 9},
    {GW_FOUND_CAPTURE_POOR, POOR_COARSE, is_coarse, 7},
    {GW_FOUND_CAPTURE_POOR, POOR_SHORT, is_short, 8},
    {GW_FOUND_CAPTURE_POOR, POOR_GAPS, is_gappy, 6},
};

static scene look(const gw_walker *walker, const gw_finding *found) {
    scene s = {.walker = walker, .found = found, .kind = ""};
    if (found->rail >= 0)
        s.readings = walker->walk->rails[found->rail].readings;
    if (found->point < 0)
        return s;
    const gw_node *node = &walker->nodes[found->point];
    const gw_judgement *gain = &walker->stage_of[found->point].gain;
    s.readings = node->readings;
    s.span = &walker->span_of[found->point];
    if (node->point->has_stage && node->point->stage.kind)
        s.kind = node->point->stage.kind->name;
    gw_judgement source;
    if (found->from < 0 && node->readings && gw_gain_source(walker, found->point, &source))
        gain = &source;
    if (gain->has_value && !gain->below && gain->value > 0) {
        s.gain = gain->value;
        s.expected = gain->has_expected ? gain->expected : 0;
        s.off_db = s.expected > 0 ? gw_db_from_ratio(s.gain / s.expected) : 0;
    }
    if (found->from >= 0 && s.gain > 0) {
        double before = gw_reading_or(walker->nodes[found->from].readings, GW_HUM, 0);
        s.hum_rose = gw_reading_has(s.readings, GW_HUM) && s.readings->values[GW_HUM].value > 1.5 * before * s.gain;
    }
    return s;
}

static void rank(gw_walker *walker, gw_finding *found) {
    const gw_finding_info *info = &gw_finding_infos[found->code];
    scene s = look(walker, found);
    int score[GW_CAUSES_MAX] = {0};
    for (size_t i = 0; i < sizeof rules / sizeof rules[0]; i++)
        if (rules[i].code == found->code && rules[i].when(&s))
            score[rules[i].cause] += rules[i].weight;
    const char *confirm = NULL;
    found->cause_count = 0;
    for (size_t taken = 0; taken < GW_CAUSES_MAX; taken++) {
        int best = -1;
        for (int i = 0; i < GW_CAUSES_MAX && info->causes[i].cause; i++)
            if (score[i] > DROP / 2 && (best < 0 || score[i] > score[best]))
                best = i;
        if (best < 0)
            break;
        confirm = confirm ? confirm : info->causes[best].confirm;
        found->causes[found->cause_count++] = info->causes[best].cause;
        score[best] = 2 * DROP;
    }
    found->confirm = confirm ? confirm : info->causes[0].confirm;
    found->lookalikes = info->lookalikes;
}

void gw_rank_causes(gw_walker *walker) {
    for (size_t i = 0; i < walker->finding_count; i++)
        rank(walker, &walker->findings[i]);
}
