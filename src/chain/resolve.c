/* What is expected at each point: stated figures first, then what the stage's parts give, then defaults. */
#include "draft.h"

#include <math.h>
#include <stdlib.h>

/* Defaults of a chain file where nothing is stated. */
static const double usual_gain_db = 1;     /* 5 to 10 % parts (common practice) */
static const double blocked_dc_v = 10e-3;  /* behind a coupling capacitor */
static const double stated_dc_share = 0.1; /* half-supply outputs (common practice) */
static const double rail_dc_share = 0.05;  /* regulated rails (common practice) */
static const double usual_frequency_share = 0.02;
static const double meter_share = 0.01; /* a plain handheld meter on DC volts (common practice) */
static const double meter_least_v = 1e-3;
static const double root_eight = 2.8284271247461903; /* peak to peak over RMS of a sine */
static const double gain_least = 1e-9, gain_most = 1e9;

/* Far enough from any corner: a first-order stage is then within 5e-9 of its mid-band gain. */
static const double mid_band_factor = 1e4;

static double mid_band_hz(const gw_stage *stage) {
    double low_hz = 0, high_hz = 0;
    gw_stage_corners(stage, &low_hz, &high_hz);
    if (low_hz > 0)
        return low_hz * mid_band_factor;
    return high_hz > 0 ? high_hz / mid_band_factor : 1000;
}

/* ---- gains ---------------------------------------------------------------------------------------- */

/* A stage's gain with what its parts' tolerances allow. */
typedef struct computed {
    double value, low, high;
    bool worst_case, spread;
} computed;

static computed compute_gain(const gw_stage *stage, double frequency_hz) {
    computed out = {0};
    double at = frequency_hz > 0 ? frequency_hz : mid_band_hz(stage);
    out.value = gw_stage_gain(stage, at).magnitude;
    gw_stage_spread(stage, at, &out.low, &out.high, &out.worst_case);
    out.spread = out.high > out.low;
    return out;
}

static double usual_db(const gw_stage *stage) {
    return stage->kind->usual_db != NULL ? stage->kind->usual_db(stage) : usual_gain_db;
}

/* The component spread, or the usual tolerance where that is larger; true where the parts decide. */
static bool widen(const computed *gain, double about, double usual, gw_expected *out) {
    double factor = gw_ratio_from_db(usual);
    double by_parts_low = about * gain->low / gain->value, by_parts_high = about * gain->high / gain->value;
    out->value = about;
    out->low = fmin(about / factor, by_parts_low);
    out->high = fmax(about * factor, by_parts_high);
    return by_parts_low < about / factor || by_parts_high > about * factor;
}

static void add_where(gw_text *how, const gw_stage *stage, double frequency_hz) {
    char number[32];
    bool kilo = frequency_hz >= 1000;
    if (stage->kind->corners == NULL)
        return;
    if (frequency_hz > 0)
        gw_text_printf(how, " at %s %s",
                       gw_number_print(kilo ? frequency_hz / 1000 : frequency_hz, 4, number, sizeof number),
                       kilo ? "kHz" : "Hz");
    else
        gw_text_add(how, " in mid-band");
}

static void add_tolerance(gw_text *how, const computed *gain, bool parts_decide, double usual) {
    char number[32];
    if (parts_decide)
        gw_text_add(how, gain->worst_case ? ", worst case of its parts" : ", root sum of squares of its parts");
    else
        gw_text_printf(how, ", ±%s dB by default", gw_number_print(usual, 3, number, sizeof number));
}

static void describe_computed(gw_text *how, const gw_stage *stage, double frequency_hz) {
    gw_text_printf(how, "%s", stage->kind->formula);
    add_where(how, stage, frequency_hz);
}

static void computed_gain(const gw_point *point, double frequency_hz, const computed *gain, gw_expected *out,
                          gw_text *how) {
    double usual = usual_db(&point->stage);
    bool parts_decide = widen(gain, gain->value, usual, out);
    out->origin = GW_ORIGIN_COMPUTED;
    describe_computed(how, &point->stage, frequency_hz);
    add_tolerance(how, gain, parts_decide, usual);
}

static void stated_gain(const gw_draft_point *from, double frequency_hz, const computed *gain, gw_expected *out,
                        gw_text *how) {
    char number[32];
    const gw_stated *stated = &from->gain;
    *out = (gw_expected){.origin = GW_ORIGIN_STATED, .value = stated->value, .line = stated->line};
    gw_text_add(how, "stated");
    if (stated->has_tolerance) {
        out->low = stated->low;
        out->high = stated->high;
    } else {
        computed alone = {.value = 1, .low = 1, .high = 1, .worst_case = true};
        const computed *spread = gain != NULL ? gain : &alone;
        add_tolerance(how, spread, widen(spread, stated->value, usual_gain_db, out), usual_gain_db);
    }
    if (gain == NULL)
        return;
    gw_text_printf(how, "; computed %s dB from ",
                   gw_number_fixed(gw_db_from_ratio(gain->value), 2, number, sizeof number));
    describe_computed(how, &from->point.stage, frequency_hz);
}

static bool check_computed(gw_chain_draft *draft, const gw_draft_point *from, const computed *gain) {
    char number[32];
    draft->line = from->stage_line;
    if (gain->value >= gain_least && gain->value <= gain_most && isfinite(gain->high))
        return true;
    return gw_draft_fail(draft, "stage '%s' would have a gain of %s: look at its values", from->point.stage.text,
                         gw_number_print(gain->value, 3, number, sizeof number));
}

static bool resolve_gain(gw_chain_draft *draft, const gw_draft_point *from, gw_point *point) {
    double frequency_hz = draft->chain->stimulus.frequency_hz;
    bool computable = point->has_stage && point->stage.kind->gain != NULL;
    gw_text how = {0};
    computed gain = {0};
    if (computable) {
        gain = compute_gain(&point->stage, frequency_hz);
        if (!check_computed(draft, from, &gain))
            return false;
        point->gain.line = from->stage_line;
    }
    if (from->gain.given)
        stated_gain(from, frequency_hz, computable ? &gain : NULL, &point->gain, &how);
    else if (computable)
        computed_gain(point, frequency_hz, &gain, &point->gain, &how);
    point->polarity = point->has_stage ? gw_stage_polarity(&point->stage) : 0;
    if (from->gain.given && from->gain.sign < 0)
        point->polarity = -1;
    point->gain.how = how.length > 0 ? gw_draft_copy(draft, gw_text_string(&how)) : NULL;
    gw_text_free(&how);
    return !draft->error->set;
}

gw_expected gw_point_gain_at(const gw_point *point, double frequency_hz) {
    gw_expected out = point->gain;
    if (out.origin != GW_ORIGIN_COMPUTED)
        return out;
    computed gain = compute_gain(&point->stage, frequency_hz);
    if (gain.value >= gain_least && gain.value <= gain_most)
        widen(&gain, gain.value, usual_db(&point->stage), &out);
    return out;
}

/* ---- DC, level, frequency -------------------------------------------------------------------------- */

static gw_expected from_stated(const gw_stated *stated, double share, double least, const char *how,
                               const char *how_default) {
    gw_expected out = {.origin = GW_ORIGIN_STATED, .value = stated->value, .low = stated->low, .high = stated->high};
    out.line = stated->line;
    out.how = stated->has_tolerance ? how : how_default;
    if (!stated->has_tolerance) {
        double by = fmax(share * fabs(stated->value), least);
        out.low = stated->value - by;
        out.high = stated->value + by;
    }
    return out;
}

static void resolve_dc(const gw_draft_point *from, gw_point *point) {
    bool blocked = point->has_stage && gw_stage_dc(&point->stage) == GW_DC_BLOCKED;
    if (from->dc.given && point->rail)
        point->dc = from_stated(&from->dc, rail_dc_share, blocked_dc_v, "stated", "stated, ±5 % by default");
    else if (from->dc.given && blocked)
        point->dc = from_stated(&from->dc, stated_dc_share, blocked_dc_v, "stated; 0 V for a stage that blocks DC",
                                "stated, ±10 % or 10 mV by default; 0 V for a stage that blocks DC");
    else if (from->dc.given)
        point->dc =
            from_stated(&from->dc, stated_dc_share, blocked_dc_v, "stated", "stated, ±10 % or 10 mV by default");
    else if (blocked)
        point->dc = (gw_expected){.origin = GW_ORIGIN_DEFAULT,
                                  .low = -blocked_dc_v,
                                  .high = blocked_dc_v,
                                  .how = "the stage blocks DC: 0 V ± 10 mV by default",
                                  .line = from->stage_line};
}

static bool resolve_level(gw_chain_draft *draft, const gw_draft_point *from, gw_point *point) {
    gw_stated level = from->level;
    gw_shape shape = draft->chain->stimulus.shape;
    if (!level.given)
        return true;
    draft->line = level.line;
    if (level.peak_to_peak && shape != GW_SHAPE_SINE && shape != GW_SHAPE_UNKNOWN)
        return gw_draft_fail(draft, "'level' needs volts RMS where the stimulus is no sine");
    if (level.peak_to_peak) {
        level.value /= root_eight;
        level.low /= root_eight;
        level.high /= root_eight;
    }
    if (!level.has_tolerance) {
        level.low = level.value / gw_ratio_from_db(usual_gain_db);
        level.high = level.value * gw_ratio_from_db(usual_gain_db);
    }
    point->level = (gw_expected){GW_ORIGIN_STATED, level.value, level.low, level.high, NULL, level.line};
    point->level.how = level.has_tolerance ? "stated" : "stated, ±1 dB by default";
    return true;
}

static void resolve_frequency(const gw_chain *chain, const gw_draft_point *from, gw_point *point) {
    if (from->frequency.given) {
        point->frequency = from_stated(&from->frequency, usual_frequency_share, 0, "stated", "stated, ±2 % by default");
        return;
    }
    double stimulus = chain->stimulus.frequency_hz;
    if (stimulus > 0)
        point->frequency = (gw_expected){.origin = GW_ORIGIN_DEFAULT,
                                         .value = stimulus,
                                         .low = stimulus * (1 - usual_frequency_share),
                                         .high = stimulus * (1 + usual_frequency_share),
                                         .how = "the stimulus, ±2 % by default"};
}

/* ---- points --------------------------------------------------------------------------------------- */

/* A meter's stated limits are taken as rectangular, like an instrument's accuracy: u95 is 2 a/sqrt 3. */
static void resolve_meter(const gw_draft_point *from, gw_point *point) {
    const gw_stated *meter = &from->meter;
    if (!meter->given)
        return;
    double by = fmax(meter_share * fabs(meter->value), meter_least_v);
    if (meter->has_tolerance)
        by = (meter->high - meter->low) / 2;
    point->metered = true;
    point->meter_v = meter->value;
    point->meter_u95_v = 2 * by / sqrt(3);
}

static void resolve_instrument(const gw_chain_draft *draft, const gw_draft_point *from, gw_point *point) {
    if (!from->probe_stated)
        point->probe = draft->probe;
    if (!from->accuracy_stated)
        point->accuracy = draft->chain->accuracy;
    if (!from->full_scale_stated)
        point->full_scale_v = draft->full_scale_v;
    if (point->rate_hz == 0)
        point->rate_hz = draft->rate_hz;
    if (!from->coupling_stated)
        point->ac_coupled = draft->ac_coupled;
}

static bool resolve_capture(gw_chain_draft *draft, const gw_draft_point *from, gw_point *point) {
    if (from->capture == NULL)
        return true;
    char *path = gw_path_join(draft->chain->folder, from->capture);
    if (path == NULL)
        return gw_error_memory(draft->error);
    point->capture = gw_draft_copy(draft, path);
    point->capture_stated = true;
    free(path);
    return point->capture != NULL;
}

static bool resolve_point(gw_chain_draft *draft, const gw_draft_point *from, gw_point *point) {
    *point = from->point;
    resolve_instrument(draft, from, point);
    resolve_meter(from, point);
    resolve_dc(from, point);
    double usual = point->has_stage ? point->stage.kind->suspect : 1;
    point->suspect = usual * (from->suspect > 0 ? from->suspect : 1);
    if (!resolve_capture(draft, from, point))
        return false;
    if (point->rail)
        return true;
    resolve_frequency(draft->chain, from, point);
    return resolve_gain(draft, from, point) && resolve_level(draft, from, point);
}

static bool resolve_list(gw_chain_draft *draft, const gw_draft_point *from, size_t count, gw_point **out) {
    *out = gw_arena_array(draft->arena, count, sizeof **out);
    if (*out == NULL)
        return gw_error_memory(draft->error);
    for (size_t i = 0; i < count; i++)
        if (!resolve_point(draft, &from[i], &(*out)[i]))
            return false;
    return true;
}

bool gw_draft_resolve(gw_chain_draft *draft) {
    gw_chain *chain = draft->chain;
    chain->reference_probe = draft->probe;
    if (!resolve_list(draft, draft->points, draft->point_count, &chain->points) ||
        !resolve_list(draft, draft->rails, draft->rail_count, &chain->rails))
        return false;
    chain->point_count = draft->point_count;
    chain->rail_count = draft->rail_count;
    return true;
}
