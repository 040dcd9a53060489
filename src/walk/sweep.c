/* A sweep: gain against frequency over each stage, its -3 dB corners, highs lost and lows lost, each against what the
 * stage's values say. */
#include "walk/walker.h"

#include <math.h>
#include <stdio.h>

/* Half the power gone where it should be there is what the trade calls a corner; of a stage that tells nothing of its
 * response a quarter (6 dB): where no limit is stated only gross departures are faults. In nepers. */
static const double limit_told = 0.34538776394910684, limit_untold = 0.69077552789821368;
static const double half_power = 0.70710678118654752;
/* Usual band of audio where the chain states none. */
static const double usual_low_hz = 20, usual_high_hz = 20000;
/* The last third of an octave at either end decides, so that no single line does. */
enum { END_LINES = 4, LEAST_LINES = 12 };
/* So near to half the sample rate a converter's own filter shows. */
static const double below_rate = 0.45;

/* One stage, or several, under judgement. */
typedef struct sweep {
    const gw_span *span;
    const gw_response *response;
    double low_hz, high_hz; /* between these it is judged */
    double limit;           /* nepers */

} sweep;

static double tilt_at(const gw_walker *walker, const sweep *of, double frequency_hz) {
    return gw_layout_tilt(walker, of->span->from, of->span->to, frequency_hz) /
           gw_layout_tilt(walker, of->span->from, of->span->to, of->response->middle_hz);
}

/* What the parts' tolerances add at a frequency to what they do in the middle, downwards; nepers. */
static double spread_at(const gw_walker *walker, const sweep *of, double frequency_hz) {
    double sum = 0;
    for (int i = of->span->to; i >= 0 && i != of->span->from; i = walker->nodes[i].point->after) {
        const gw_point *point = walker->nodes[i].point;
        if (!point->has_stage || !point->stage.kind->gain || !point->stage.kind->corners)
            continue;
        double low, high, middle_low, middle_high;
        bool worst;
        gw_stage_spread(&point->stage, frequency_hz, &low, &high, &worst);
        gw_stage_spread(&point->stage, of->response->middle_hz, &middle_low, &middle_high, &worst);
        double here = gw_stage_gain(&point->stage, frequency_hz).magnitude;
        double middle = gw_stage_gain(&point->stage, of->response->middle_hz).magnitude;
        if (low > 0 && middle_low > 0)
            sum += fmax(0, log(here / low) - log(middle / middle_low));
    }
    return sum;
}

/* ---- limits ---------------------------------------------------------------------------------------- */

/* Every stage on the way tells how its gain goes with frequency, or states where it is flat. */
static void set_limits(const gw_walker *walker, sweep *of) {
    const gw_chain *chain = walker->chain;
    double rate = walker->nodes[of->span->to].readings->source.rate_hz;
    of->low_hz = chain->band_low_hz > 0 ? chain->band_low_hz : usual_low_hz;
    of->high_hz = fmin(chain->band_high_hz > 0 ? chain->band_high_hz : usual_high_hz, below_rate * rate);
    bool told = true;
    for (int i = of->span->to; i >= 0 && i != of->span->from; i = walker->nodes[i].point->after) {
        const gw_point *point = walker->nodes[i].point;
        bool stated = point->flat_high_hz > 0;
        told = told && (stated || (point->has_stage && point->stage.kind->gain));
        if (!stated)
            continue;
        of->low_hz = fmax(of->low_hz, point->flat_low_hz);
        of->high_hz = fmin(of->high_hz, point->flat_high_hz);
    }
    of->limit = (told ? limit_told : limit_untold) * sqrt((double)of->span->across);
}

/* ---- one end --------------------------------------------------------------------------------------- */

typedef struct end {
    bool has;
    double frequency_hz;        /* middle of its lines */
    double measured, expected;  /* re the middle, nepers */
    double u95, allowed, slack; /* nepers; slack: what the parts' spread allows */
} end;

static end take_end(const gw_walker *walker, const sweep *of, bool highs) {
    const gw_response *response = of->response;
    end out = {0};
    size_t taken = 0;
    for (size_t i = 0; i < response->count && taken < END_LINES; i++) {
        const gw_response_line *line = &response->lines[highs ? response->count - 1 - i : i];
        if (line->frequency_hz < of->low_hz || line->frequency_hz > of->high_hz)
            continue;
        out.measured += log(line->gain / response->middle_gain);
        out.expected += log(tilt_at(walker, of, line->frequency_hz));
        out.slack += spread_at(walker, of, line->frequency_hz);
        out.u95 += line->u95;
        out.frequency_hz += log(line->frequency_hz);
        taken++;
    }
    if (taken < END_LINES)
        return (end){0};
    double n = (double)taken;
    out.frequency_hz = exp(out.frequency_hz / n);
    bool outside = highs ? out.frequency_hz > response->middle_hz : out.frequency_hz < response->middle_hz;
    out = (end){outside, out.frequency_hz, out.measured / n, out.expected / n, out.u95 / n, of->limit, out.slack / n};
    return out;
}

static gw_status judge_end(const end *at) {
    double lost = at->expected - at->measured, limit = at->allowed + at->slack;
    return lost - at->u95 > limit ? GW_OFF : lost + at->u95 < limit ? GW_OK : GW_UNSURE;
}

/* ---- corners --------------------------------------------------------------------------------------- */

/* Where the expected gain has fallen to half the power, from the middle to the end of the lines; 0 nowhere there. */
static double expected_corner(const gw_walker *walker, const sweep *of, bool highs) {
    const gw_response *response = of->response;
    double inner = response->middle_hz;
    double outer = response->lines[highs ? response->count - 1 : 0].frequency_hz;
    if (tilt_at(walker, of, outer) > half_power || (highs ? outer <= inner : outer >= inner))
        return 0;
    for (int round = 0; round < 60; round++) {
        double between = sqrt(inner * outer);
        if (tilt_at(walker, of, between) > half_power)
            inner = between;
        else
            outer = between;
    }
    return inner;
}

/* The gain around a corner that is uncertain by u moves it by u over the slope, a first-order one's being one half
 * there. */
static double corner_u95(const gw_response *response, double corner_hz) {
    double u = 0;
    for (size_t i = 0; i < response->count; i++)
        if (fabs(log(response->lines[i].frequency_hz / corner_hz)) < 0.06)
            u = fmax(u, response->lines[i].u95);
    return 2 * u * corner_hz;
}

static void fill_corner(const gw_walker *walker, const sweep *of, bool highs, const end *at, gw_judgement *out) {
    double measured = highs ? of->response->high_hz : of->response->low_hz;
    *out = (gw_judgement){.kind = GW_JUDGE_HERTZ, .has_value = measured > 0, .value = measured};
    if (measured > 0)
        out->u95 = corner_u95(of->response, measured);
    else
        out->why = "nowhere in the sweep";
    out->expected = expected_corner(walker, of, highs);
    out->has_expected = out->expected > 0;
    out->low = out->high = out->expected;
    out->status = at->has ? judge_end(at) : GW_UNJUDGED;
}

/* ---- findings -------------------------------------------------------------------------------------- */

static const char *corner_words(gw_walker *walker, const gw_judgement *corner, bool highs, bool expected) {
    char text[32];
    double value = expected ? corner->expected : corner->value;
    if (expected ? corner->has_expected : corner->has_value)
        return gw_walker_text(walker, "%s", gw_quantity_print(value, 0, "Hz", 3, text, sizeof text));
    return highs ? "none up to the end of the sweep" : "none down to the start of the sweep";
}

static void report(gw_walker *walker, const sweep *of, bool highs, const end *at, const gw_judgement *corner) {
    char here[32], middle[32], measured[32], expected[32];
    gw_finding *found = gw_finding_add(walker, highs ? GW_FOUND_HIGHS_LOST : GW_FOUND_LOWS_LOST, corner->status,
                                       of->span->from, of->span->to);
    if (!found)
        return;
    gw_words_db(exp(at->measured), measured, sizeof measured);
    gw_words_db(exp(at->expected), expected, sizeof expected);
    gw_quantity_print(at->frequency_hz, 0, "Hz", 3, here, sizeof here);
    gw_quantity_print(of->response->middle_hz, 0, "Hz", 3, middle, sizeof middle);
    found->evidence =
        gw_walker_text(walker, "%s at %s against %s, expected %s; %s -3 dB corner %s, expected %s", measured, here,
                       middle, expected, highs ? "upper" : "lower", corner_words(walker, corner, highs, false),
                       corner_words(walker, corner, highs, true));
    if (corner->status == GW_UNSURE)
        found->settle = "take a longer sweep, or a louder one";
}

/* ---- stages and points ------------------------------------------------------------------------------ */

/* The response's lines, `scale` times; nothing is expected of them yet. */
static void fill_lines(gw_walker *walker, const gw_response *response, double scale, gw_walk_curve *out) {
    out->lines = gw_arena_array(walker->arena, response->count, sizeof *out->lines);
    if (!out->lines) {
        walker->failed = true;
        return;
    }
    out->count = response->count;
    for (size_t i = 0; i < response->count; i++) {
        const gw_response_line *line = &response->lines[i];
        double value = line->gain * scale;
        out->lines[i] = (gw_walk_line){.frequency_hz = line->frequency_hz, .value = value, .u95 = value * line->u95};
    }
}

static void fill_curve(gw_walker *walker, const sweep *of, gw_walk_curve *out) {
    const gw_response *response = of->response;
    double gain = of->span->gain_known ? of->span->gain : response->middle_gain;
    double middle = gw_layout_tilt(walker, of->span->from, of->span->to, response->middle_hz);
    fill_lines(walker, response, 1, out);
    for (size_t i = 0; i < out->count; i++)
        out->lines[i].expected = gain * middle * tilt_at(walker, of, out->lines[i].frequency_hz);
}

static void judge_stage(gw_walker *walker, int to, const gw_response *response) {
    gw_walk_stage *stage = &walker->stage_of[to];
    sweep of = {.span = &walker->span_of[to], .response = response};
    set_limits(walker, &of);
    fill_curve(walker, &of, &stage->response);
    stage->middle_hz = response->middle_hz;
    for (int highs = 0; highs < 2; highs++) {
        gw_judgement *corner = highs ? &stage->high_corner : &stage->low_corner;
        end at = take_end(walker, &of, highs);
        fill_corner(walker, &of, highs, &at, corner);
        if (corner->status == GW_OFF || corner->status == GW_UNSURE)
            report(walker, &of, highs, &at, corner);
    }
}

/* Level against frequency at a point: its gain times the sweep's level, which is the same at all frequencies. */
static void fill_levels(gw_walker *walker, int point) {
    const gw_response *response = walker->nodes[point].probe->response;
    fill_lines(walker, response, response->stimulus_rms, &walker->walk->points[point].levels);
}

static bool tells(const gw_node *node) {
    return node->usable && node->detected && !node->dead && !node->below_dead && node->probe->response;
}

/* A channel of the same capture holds what is fed in, and a stage lies between that and the first probed point. */
static bool leads_from_reference(const gw_walker *walker, int point) {
    const gw_node *node = &walker->nodes[point];
    bool stage = node->depth > 0 || node->point->has_stage || node->point->gain.origin != GW_ORIGIN_NONE;
    return stage && node->reference && !walker->chain->sweep && tells(node) &&
           node->probe->response->count >= LEAST_LINES;
}

void gw_sweep_judge(gw_walker *walker) {
    if (walker->shape != GW_SHAPE_SWEEP)
        return;
    for (size_t k = 0; k < walker->count; k++) {
        int i = walker->order[k], from = walker->nodes[i].from;
        gw_response *between = NULL;
        gw_error error = {0};
        if (walker->nodes[i].readings && walker->nodes[i].probe->response)
            fill_levels(walker, i);
        if (from < 0 && leads_from_reference(walker, i))
            judge_stage(walker, i, walker->nodes[i].probe->response);
        if (!tells(&walker->nodes[i]) || from < 0 || !tells(&walker->nodes[from]))
            continue;
        if (!gw_response_between(walker->nodes[from].probe->response, walker->nodes[i].probe->response, &between,
                                 &error))
            walker->failed = true;
        else if (between->count >= LEAST_LINES)
            judge_stage(walker, i, between);
        gw_response_free(between);
    }
}
