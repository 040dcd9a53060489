/* Signs by which the causes of a finding are told apart. */
#include "walk/signs.h"

#include <math.h>
#include <string.h>

static bool kind_is(const gw_scene *s, const char *name) {
    return strcmp(s->kind, name) == 0;
}

bool gw_sign_is_wire(const gw_scene *s) {
    return kind_is(s, "wire");
}

bool gw_sign_is_pot(const gw_scene *s) {
    return kind_is(s, "pot");
}

bool gw_sign_is_contact(const gw_scene *s) {
    return gw_sign_is_wire(s) || gw_sign_is_pot(s);
}

bool gw_sign_is_divider(const gw_scene *s) {
    return kind_is(s, "divider") || gw_sign_is_pot(s) || kind_is(s, "transformer") || kind_is(s, "lowpass");
}

bool gw_sign_is_op_amp(const gw_scene *s) {
    return kind_is(s, "noninverting") || kind_is(s, "inverting") || kind_is(s, "follower") || kind_is(s, "mix");
}

bool gw_sign_is_passive(const gw_scene *s) {
    return s->span && s->span->passive;
}

bool gw_sign_is_source(const gw_scene *s) {
    return s->found->from < 0;
}

bool gw_sign_is_coupling(const gw_scene *s) {
    return s->span && s->span->last_blocks;
}

bool gw_sign_is_no_coupling(const gw_scene *s) {
    return s->span && !s->span->blocks;
}

bool gw_sign_is_discrete(const gw_scene *s) {
    return kind_is(s, "emitter") || kind_is(s, "amp");
}

/* Common practice: an open leg to ground turns a non-inverting amplifier into a follower, 0 dB exactly. */
bool gw_sign_gain_is_one(const gw_scene *s) {
    return s->gain > 0 && s->expected > 1.26 && fabs(gw_db_from_ratio(s->gain)) < 0.5 && !gw_sign_is_passive(s) &&
           !kind_is(s, "inverting");
}

bool gw_sign_gain_is_not_one(const gw_scene *s) {
    return !gw_sign_gain_is_one(s);
}

static bool off_by(const gw_scene *s, double db, double within) {
    return s->gain > 0 && s->expected > 0 && fabs(s->off_db - db) < within;
}

bool gw_sign_is_half(const gw_scene *s) {
    return off_by(s, -6.02, 0.6);
}

bool gw_sign_is_half_with_hum(const gw_scene *s) {
    return gw_sign_is_half(s) && s->hum_rose;
}

bool gw_sign_is_not_half(const gw_scene *s) {
    return !gw_sign_is_half(s);
}

bool gw_sign_is_tenth(const gw_scene *s) {
    return off_by(s, -20, 0.6);
}

bool gw_sign_is_not_tenth(const gw_scene *s) {
    return !gw_sign_is_tenth(s);
}

bool gw_sign_is_tenfold(const gw_scene *s) {
    return off_by(s, 20, 0.6);
}

bool gw_sign_is_not_tenfold(const gw_scene *s) {
    return !gw_sign_is_tenfold(s);
}

bool gw_sign_is_loaded(const gw_scene *s) {
    return off_by(s, -20.8, 0.4) || gw_sign_is_half(s);
}

static const gw_judgement *dc_of(const gw_scene *s) {
    int point = s->found->point;
    if (point < 0)
        return NULL;
    return s->found->from >= 0 ? &s->walker->stage_of[point].dc : &s->walker->walk->points[point].dc;
}

bool gw_sign_dc_is_ok(const gw_scene *s) {
    const gw_judgement *dc = dc_of(s);
    return dc && dc->status == GW_OK;
}

bool gw_sign_is_stuck(const gw_scene *s) {
    return gw_layout_near_rail(s->walker, s->readings);
}

bool gw_sign_is_not_stuck(const gw_scene *s) {
    return !gw_sign_is_stuck(s);
}

static bool some_rail(const gw_scene *s, gw_status status) {
    for (size_t i = 0; i < s->walker->walk->rail_count; i++)
        if (s->walker->walk->rails[i].status == status)
            return true;
    return false;
}

bool gw_sign_rail_is_off(const gw_scene *s) {
    return some_rail(s, GW_OFF);
}

bool gw_sign_rail_is_unprobed(const gw_scene *s) {
    return some_rail(s, GW_UNPROBED);
}

bool gw_sign_rails_are_ok(const gw_scene *s) {
    size_t count = s->walker->walk->rail_count;
    for (size_t i = 0; i < count; i++)
        if (s->walker->walk->rails[i].status != GW_OK)
            return false;
    return count > 0;
}

bool gw_sign_mains_only(const gw_scene *s) {
    return s->found->point >= 0 && s->walker->nodes[s->found->point].strange &&
           (gw_level_hums(s->readings) || gw_level_is_mains(s->walker, gw_reading_or(s->readings, GW_FREQUENCY, 0)));
}

bool gw_sign_is_inside(const gw_scene *s) {
    return s->found->from >= 0;
}

bool gw_sign_fed_wrong(const gw_scene *s) {
    return s->found->from < 0 && s->walker->nodes[s->found->point].depth == 0;
}

bool gw_sign_slides(const gw_scene *s) {
    return s->found->point >= 0 && s->walker->nodes[s->found->point].slides;
}

bool gw_sign_slides_not(const gw_scene *s) {
    return !gw_sign_slides(s);
}

bool gw_sign_nothing_is_fed(const gw_scene *s) {
    return s->walker->shape == GW_SHAPE_NONE;
}

/* ---- shape ---- */

bool gw_sign_clips_both(const gw_scene *s) {
    return s->readings && s->readings->clues.high.clipped && s->readings->clues.low.clipped;
}

bool gw_sign_clips_one(const gw_scene *s) {
    return s->readings && s->readings->clues.high.clipped != s->readings->clues.low.clipped;
}

bool gw_sign_level_is_high(const gw_scene *s) {
    return s->off_db > 1;
}

bool gw_sign_clips_far_below(const gw_scene *s) {
    double rail = 0;
    for (size_t i = 0; i < s->walker->chain->rail_count; i++)
        rail = fmax(rail, fabs(s->walker->chain->rails[i].dc.value));
    return gw_sign_clips_both(s) && rail > 0 && fabs(s->readings->clues.high.level_v) < 0.5 * rail;
}

bool gw_sign_has_crossover(const gw_scene *s) {
    return s->readings && s->readings->clues.crossover;
}

bool gw_sign_has_no_crossover(const gw_scene *s) {
    return !gw_sign_has_crossover(s);
}

bool gw_sign_is_slewing(const gw_scene *s) {
    return s->readings && s->readings->clues.slew_limited;
}

bool gw_sign_is_not_slewing(const gw_scene *s) {
    return !gw_sign_is_slewing(s);
}

/* ---- hum ---- */

bool gw_sign_hum_is_twice(const gw_scene *s) {
    double once = 0, twice = 0;
    if (s->readings && s->found->rail >= 0)
        gw_rail_parts(s->readings, &once, &twice);
    else if (s->readings)
        twice = s->readings->clues.hum_twice_v, once = s->readings->clues.hum_mains_v;
    return twice > 2 * once;
}

bool gw_sign_hum_is_not_twice(const gw_scene *s) {
    return !gw_sign_hum_is_twice(s);
}

bool gw_sign_hum_is_pure(const gw_scene *s) {
    const gw_clues *c = s->readings ? &s->readings->clues : NULL;
    return c && c->hum_mains_v > 5 * hypot(c->hum_twice_v, c->hum_rest_v);
}

bool gw_sign_hum_is_comb(const gw_scene *s) {
    const gw_clues *c = s->readings ? &s->readings->clues : NULL;
    return c && !gw_sign_hum_is_twice(s) && c->hum_rest_v > 0.25 * c->hum_mains_v;
}

bool gw_sign_ripple_is_high(const gw_scene *s) {
    for (size_t i = 0; i < s->walker->finding_count; i++)
        if (s->walker->findings[i].code == GW_FOUND_RIPPLE_HIGH && s->walker->findings[i].status == GW_OFF)
            return true;
    return false;
}

bool gw_sign_twice_with_clean_rail(const gw_scene *s) {
    return gw_sign_hum_is_twice(s) && gw_sign_rails_are_ok(s) && !gw_sign_ripple_is_high(s);
}

/* ---- tones, captures, rails ---- */

bool gw_sign_is_slow(const gw_scene *s) {
    return s->readings && s->readings->clues.wobble_depth > 0.05;
}

bool gw_sign_is_not_slow(const gw_scene *s) {
    return !gw_sign_is_slow(s);
}

bool gw_sign_is_overloaded(const gw_scene *s) {
    const gw_clues *c = s->readings ? &s->readings->clues : NULL;
    return c && (c->overloaded || c->high.recorder || c->low.recorder);
}

bool gw_sign_is_coarse(const gw_scene *s) {
    return s->readings && s->readings->clues.too_coarse;
}

bool gw_sign_is_short(const gw_scene *s) {
    return s->readings && s->readings->clues.too_short;
}

bool gw_sign_is_gappy(const gw_scene *s) {
    return s->readings && s->readings->clues.gappy;
}

static double rail_share(const gw_scene *s) {
    const gw_walk_point *rail = s->found->rail >= 0 ? &s->walker->walk->rails[s->found->rail] : NULL;
    return rail && rail->dc.has_value && rail->dc.expected != 0 ? rail->dc.value / rail->dc.expected : 1;
}

bool gw_sign_rail_is_gone(const gw_scene *s) {
    return rail_share(s) < 0.15;
}

bool gw_sign_rail_is_low(const gw_scene *s) {
    return rail_share(s) >= 0.15 && rail_share(s) < 0.97;
}

bool gw_sign_rail_is_high(const gw_scene *s) {
    return rail_share(s) > 1;
}

gw_scene gw_signs_look(const gw_walker *walker, const gw_finding *found) {
    gw_scene s = {.walker = walker, .found = found, .kind = ""};
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
