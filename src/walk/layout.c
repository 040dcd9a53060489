/* The chain as a tree: which usable point stands before which, and what the stages between should do together. */
#include "walk/walker.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* Of a record in which every sample is the same nobody knows the step: the value may be one step itself; more than a
 * tenth of a volt only where that is a fiftieth of it, two divisions of ten in 8 bits. */
static const double flat_step_v = 0.1, flat_step_share = 0.02;
/* Common practice: input offset of an op-amp stage, and the least DC tolerance of any stage. */
static const double input_offset_v = 5e-3, least_dc_v = 10e-3;

/* Common practice: DC beyond 80 % of a rail is an output stuck at it. */
static const double stuck_share = 0.8;
/* A sound card's own offset can reach this; more is DC that came through it. */
static const double card_offset_v = 20e-3;

/* So many columns of a waveform's picture make its mean over a period trustworthy. */
static const double columns_a_period = 20;
/* What a bend moves the mean by is known to no better than this many times itself. */
static const double bend_times = 1.5;

static const char *const passive_kinds[] = {"divider",  "pot",         "coupling", "lowpass",
                                            "highpass", "transformer", "wire",     NULL};

static bool is_passive(const gw_point *point) {
    if (!point->has_stage || !point->stage.kind)
        return false;
    for (size_t i = 0; passive_kinds[i]; i++)
        if (strcmp(point->stage.kind->name, passive_kinds[i]) == 0)
            return true;
    return false;
}

/* Depths by repeated relaxing: a chain file may name a later section in `after`. The chain room refuses circles; should
 * one get through, the loop still ends. */
static void find_depths(gw_walker *walker) {
    for (size_t round = 0; round < walker->count; round++) {
        bool moved = false;
        for (size_t i = 0; i < walker->count; i++) {
            int after = walker->nodes[i].point->after;
            int depth = after < 0 ? 0 : walker->nodes[after].depth + 1;
            moved = moved || depth != walker->nodes[i].depth;
            walker->nodes[i].depth = depth;
        }
        if (!moved)
            return;
    }
}

static void find_order(gw_walker *walker) {
    size_t used = 0;
    for (int depth = 0; used < walker->count && depth <= (int)walker->count; depth++)
        for (size_t i = 0; i < walker->count; i++)
            if (walker->nodes[i].depth == depth)
                walker->order[used++] = (int)i;
}

bool gw_layout_init(gw_walker *walker, const gw_probe *points) {
    const gw_chain *chain = walker->chain;
    walker->count = chain->point_count;
    walker->nodes = gw_arena_array(walker->arena, walker->count, sizeof *walker->nodes);
    walker->order = gw_arena_array(walker->arena, walker->count, sizeof *walker->order);
    walker->path = gw_arena_array(walker->arena, walker->count, sizeof *walker->path);
    walker->stage_of = gw_arena_array(walker->arena, walker->count, sizeof *walker->stage_of);
    walker->span_of = gw_arena_array(walker->arena, walker->count, sizeof *walker->span_of);
    if (!walker->nodes || !walker->order || !walker->path || !walker->stage_of || !walker->span_of)
        return false;
    for (size_t i = 0; i < walker->count; i++) {
        gw_node *node = &walker->nodes[i];
        node->point = &chain->points[i];
        node->probe = &points[i];
        node->from = -1;
        if (points[i].state == GW_PROBE_READ && points[i].readings) {
            node->readings = points[i].readings;
            node->reference = points[i].reference;
            node->usable = true;
        }
    }
    find_depths(walker);
    find_order(walker);
    return true;
}

void gw_layout_link(gw_walker *walker) {
    for (size_t k = 0; k < walker->count; k++) {
        int i = walker->order[k];
        gw_node *node = &walker->nodes[i];
        int after = node->point->after;
        node->from = -1;
        if (after >= 0)
            node->from = walker->nodes[after].usable ? after : walker->nodes[after].from;
        walker->span_of[i] = gw_layout_span(walker, node->from, i);
    }
}

const gw_node *gw_layout_input(const gw_walker *walker, int point) {
    int from = walker->span_of[point].from;
    return from < 0 ? NULL : &walker->nodes[from];
}

bool gw_layout_same_file(const gw_walker *walker, int one, int other) {
    if (one < 0 || other < 0)
        return false;
    const char *first = walker->nodes[one].probe->same_file, *second = walker->nodes[other].probe->same_file;
    return first && second && strcmp(first, second) == 0;
}

bool gw_layout_is_before(const gw_walker *walker, int earlier, int later) {
    for (int i = later; i >= 0; i = walker->nodes[i].point->after)
        if (i == earlier)
            return true;
    return earlier < 0;
}

/* ---- gain over several stages ---- */

/* Computed figures are for the stated stimulus; where none is stated, for the frequency that was found. */
static gw_expected stage_gain(const gw_walker *walker, const gw_point *point) {
    if (walker->chain->stimulus.frequency_hz > 0 || !(walker->frequency_hz > 0))
        return point->gain;
    return gw_point_gain_at(point, walker->frequency_hz);
}

typedef struct spreads {
    double up, down, up_square, down_square; /* in nepers */
    double up_linear, down_linear;           /* of the worst case */
    int count;
} spreads;

/* All parts at the end of their tolerance that counts, in nepers: more than the limits have where these are the root
 * sum of squares of many parts. */
static void add_worst(const gw_walker *walker, spreads *sum, const gw_point *point, const gw_expected *gain) {
    double low, high, at = walker->chain->stimulus.frequency_hz;
    if (gain->origin != GW_ORIGIN_COMPUTED || !point->has_stage || !point->stage.kind->gain)
        return;
    gw_stage_worst(&point->stage, at > 0 ? at : walker->frequency_hz, &low, &high);
    if (low > 0)
        sum->down_linear += fmax(0, log(gain->low / low));
    if (high > 0)
        sum->up_linear += fmax(0, log(high / gain->high));
}

static void add_gain(gw_span *span, spreads *sum, const gw_expected *gain) {
    if (gain->origin == GW_ORIGIN_NONE || !(gain->value > 0)) {
        span->gain_known = false;
        return;
    }
    double up = log(gain->high / gain->value);
    double down = gain->low > 0 ? log(gain->value / gain->low) : 10;
    span->gain *= gain->value;
    sum->up_linear += up;
    sum->down_linear += down;
    sum->up += up;
    sum->down += down;
    sum->up_square += up * up;
    sum->down_square += down * down;
    sum->count++;
}

static void close_gain(gw_span *span, const spreads *sum) {
    bool few = sum->count <= 2;
    span->far_low = span->gain * exp(-sum->down_linear);
    span->far_high = span->gain * exp(sum->up_linear);
    span->near_low = span->gain * exp(few ? -sum->down : -sqrt(sum->down_square));
    span->near_high = span->gain * exp(few ? sum->up : sqrt(sum->up_square));
}

static void add_phase(gw_span *span, const gw_point *point, double frequency_hz) {
    const gw_stage_kind *kind = point->has_stage ? point->stage.kind : NULL;
    const double half_turn = 3.14159265358979323846;
    if (point->polarity == 0)
        span->phase_known = false;
    else if (kind && kind->gain)
        span->phase_rad += gw_stage_gain(&point->stage, frequency_hz).phase_rad;
    else if (point->polarity < 0)
        span->phase_rad += half_turn;
}

/* ---- DC over several stages ---- */

static bool blocks_dc(const gw_point *point) {
    return point->has_stage && gw_stage_dc(&point->stage) == GW_DC_BLOCKED;
}

static double dc_gain(const gw_stage *stage) {
    gw_gain gain = gw_stage_gain(stage, 0);
    return fabs(gain.phase_rad) > 1.5 ? -gain.magnitude : gain.magnitude;
}

static void set_dc(gw_span *span, double value, double low, double high) {
    span->dc_known = true;
    span->dc = value;
    span->dc_low = low;
    span->dc_high = high;
}

/* DC passes with the gain's own tolerance; of a wire and a follower there is none. */
static double gain_tolerance(const gw_point *point, double gain) {
    const gw_expected *expected = &point->gain;
    if (fabs(fabs(gain) - 1) < 1e-9 || expected->origin == GW_ORIGIN_NONE || !(expected->value > 0))
        return 0;
    return fmax(expected->high / expected->value - 1, 1 - expected->low / expected->value);
}

static void pass_dc(gw_span *span, const gw_point *point) {
    const gw_stage *stage = &point->stage;
    double gain = dc_gain(stage), low, high;
    bool worst;
    double offset = input_offset_v * gw_stage_noise_gain(stage);
    gw_stage_spread(stage, 0, &low, &high, &worst);
    double spread = fmax(fmax(high - fabs(gain), fabs(gain) - low), gain_tolerance(point, gain) * fabs(gain));
    spread *= fabs(span->dc);
    double value = span->dc * gain;
    double half =
        fmax(span->dc_high - span->dc, span->dc - span->dc_low) * fabs(gain) + spread + fmax(offset, least_dc_v);
    span->dc_gain *= gain;
    set_dc(span, value, value - half, value + half);
}

/* Takes the DC to come through one more stage. `last`: the stage leads to the judged point itself, whose own stated
 * DC is judged elsewhere. */
static void add_dc(gw_span *span, const gw_point *point, bool last) {
    const gw_stage_kind *kind = point->has_stage ? point->stage.kind : NULL;
    span->last_blocks = blocks_dc(point);
    if (span->last_blocks) {
        span->blocks = true;
        span->dc_gain = 0;
        span->dc_unknown = false;
        set_dc(span, 0, -least_dc_v, least_dc_v);
    } else if (!kind || gw_stage_dc(&point->stage) != GW_DC_PASSES || !kind->gain) {
        span->dc_unknown = true;
        span->dc_known = false;
    } else if (span->dc_known) {
        pass_dc(span, point);
    }
    if (!last && point->metered) {
        span->dc_unknown = false;
        set_dc(span, point->meter_v, point->meter_v - point->meter_u95_v, point->meter_v + point->meter_u95_v);
    } else if (!last && point->dc.origin == GW_ORIGIN_STATED) {
        span->dc_unknown = false;
        set_dc(span, point->dc.value, point->dc.low, point->dc.high);
    }
}

bool gw_layout_dc_hidden(const gw_walker *walker, const gw_readings *readings) {
    if (readings->dc_hidden || walker->dc_hidden_all)
        return true;
    const gw_reading *dc = &readings->values[GW_DC];
    return readings->source.wav && fabs(dc->value) < fmax(card_offset_v, 3 * dc->u95);
}

/* Mean of a periodic signal over the whole periods of its picture; false where that is too short or too coarse. */
static bool mean_of_periods(const gw_walker *walker, const gw_readings *readings, double *mean_v) {
    const gw_trace *trace = &readings->waveform;
    double columns = walker->frequency_hz * (trace->end - trace->start) > 0
                         ? (double)trace->count / (walker->frequency_hz * (trace->end - trace->start))
                         : 0;
    if (!trace->low || !trace->high || columns < columns_a_period || columns > (double)trace->count)
        return false;
    double width = columns * floor((double)trace->count / columns), sum = 0;
    for (size_t i = 0; i < trace->count; i++)
        sum += (trace->low[i] + trace->high[i]) / 2 * fmax(0, fmin(1, width - (double)i));
    *mean_v = sum / width;
    return true;
}

/* A piece of a mains cycle that was taken out of a short record carries a mean of its own, and nobody knows how much of
 * it is true: what it moves the DC by joins the uncertainty. */
static double bend_u95(const gw_walker *walker, const gw_readings *readings, double dc_v) {
    bool steady = walker->shape == GW_SHAPE_SINE || walker->shape == GW_SHAPE_PERIODIC;
    bool bent =
        readings->values[GW_HUM].state == GW_READING_NONE && readings->values[GW_DRIFT].state == GW_READING_NONE;
    double mean;
    if (!steady || !bent || !mean_of_periods(walker, readings, &mean))
        return 0;
    return bend_times * fabs(dc_v - mean);
}

/* An edge lies anywhere between two samples, and takes the DC of its period along: as many volts as it is high, for one
 * sample of the period. */
static double edges_u95(const gw_walker *walker, const gw_readings *readings) {
    double samples = walker->frequency_hz > 0 ? readings->source.rate_hz / walker->frequency_hz : 0;
    if (walker->shape != GW_SHAPE_PERIODIC || readings->signal != GW_SIGNAL_PERIODIC || !(samples > 0))
        return 0;
    return gw_reading_or(readings, GW_PEAK_TO_PEAK, 0) / samples;
}

bool gw_layout_is_flat(const gw_readings *readings) {
    return readings->source.step <= 0 && gw_reading_has(readings, GW_PEAK_TO_PEAK) &&
           gw_reading_has(readings, GW_PEAK_HIGH) && readings->values[GW_PEAK_TO_PEAK].value <= 0;
}

double gw_layout_flat_step(const gw_readings *readings) {
    double value = fabs(gw_reading_or(readings, GW_PEAK_HIGH, 0));
    return fmin(value, fmax(flat_step_share * value, flat_step_v));
}

/* Every sample is the same: that is the DC, as well as the step is known. */
bool gw_layout_flat_dc(const gw_readings *readings, gw_reading *dc, double *step_v) {
    if (!gw_layout_is_flat(readings) || gw_reading_has(readings, GW_DC))
        return false;
    gw_figure peak = gw_figure_of(&readings->values[GW_PEAK_HIGH]);
    double value = readings->values[GW_PEAK_HIGH].value;
    *step_v = gw_layout_flat_step(readings);
    double random = *step_v / (2 * sqrt(3)), scale = isfinite(peak.scale) ? peak.scale * fabs(value) : 0;
    *dc = (gw_reading){.state = GW_READING_VALUE,
                       .value = value,
                       .u_random = random,
                       .u_scale = scale,
                       .u95 = 2 * hypot(random, scale)};
    return true;
}

/* DC against the samples it was found in: outside of them it is none. Of a sine it lies half way between its peaks, and
 * what it is away from there beyond steps and noise joins its uncertainty. */
static bool doubt_dc(const gw_walker *walker, const gw_readings *readings, gw_reading *dc) {
    dc->u95 = hypot(dc->u95, hypot(bend_u95(walker, readings, dc->value), edges_u95(walker, readings)));
    if (!gw_reading_has(readings, GW_PEAK_HIGH) || !gw_reading_has(readings, GW_PEAK_LOW))
        return true;
    double high = readings->values[GW_PEAK_HIGH].value, low = readings->values[GW_PEAK_LOW].value;
    double slack = 1.5 * readings->source.step + 2 * readings->noise_floor_v;
    if (dc->value > high + slack || dc->value < low - slack)
        return false;
    double off = fabs(dc->value - (high + low) / 2) - slack;
    if (off > 0 && (walker->shape == GW_SHAPE_SINE || walker->shape == GW_SHAPE_TWO_TONE))
        dc->u95 = hypot(dc->u95, off);
    return true;
}

/* Where nothing is fed in and the output wanders, the mean of the record is what a meter would show: what swings as
 * fast as the mains or faster leaves at most its half swing over pi times its cycles in it. */
static bool wandering_dc(const gw_walker *walker, const gw_readings *readings, gw_reading *dc) {
    const gw_trace *trace = &readings->waveform;
    double mains = walker->chain->mains_hz > 0 ? walker->chain->mains_hz : 50, sum = 0, high = -INFINITY,
           low = INFINITY;
    double cycles = mains * (trace->end - trace->start);
    if (walker->shape != GW_SHAPE_NONE || readings->values[GW_DC].state != GW_READING_NONE || !trace->count ||
        !trace->low || !trace->high || cycles < 1)
        return false;
    for (size_t i = 0; i < trace->count; i++) {
        sum += (trace->low[i] + trace->high[i]) / 2;
        high = fmax(high, trace->high[i]);
        low = fmin(low, trace->low[i]);
    }
    gw_figure swing = gw_figure_of(&readings->values[GW_PEAK_TO_PEAK]);
    double value = sum / (double)trace->count, random = (high - low) / 2 / (3.14159265358979323846 * cycles) / 2;
    *dc = (gw_reading){.state = GW_READING_VALUE,
                       .value = value,
                       .u_random = random,
                       .u_scale = swing.scale * fabs(value),
                       .u95 = 2 * hypot(random, swing.scale * value)};
    return true;
}

bool gw_layout_dc(const gw_walker *walker, int point, gw_reading *out, double *step_v) {
    *step_v = 0;
    if (point < 0)
        return false;
    const gw_node *node = &walker->nodes[point];
    if (node->point->metered) {
        *out = (gw_reading){.state = GW_READING_VALUE,
                            .value = node->point->meter_v,
                            .u95 = node->point->meter_u95_v,
                            .u_random = node->point->meter_u95_v / 2};
        return true;
    }
    if (!(node->usable || node->hidden_poor) || gw_layout_dc_hidden(walker, node->readings))
        return false;
    *step_v = node->readings->source.step;
    if (gw_layout_flat_dc(node->readings, out, step_v))
        return true;
    if (!gw_reading_has(node->readings, GW_DC))
        return wandering_dc(walker, node->readings, out);
    *out = node->readings->values[GW_DC];
    return doubt_dc(walker, node->readings, out);
}

static void start_dc(const gw_walker *walker, gw_span *span) {
    gw_reading dc;
    double step_v;
    span->dc_gain = 1;
    if (gw_layout_dc(walker, span->from, &dc, &step_v))
        set_dc(span, dc.value, dc.value, dc.value);
}

bool gw_layout_near_rail(const gw_walker *walker, const gw_readings *readings) {
    const gw_chain *chain = walker->chain;
    if (!readings || !gw_reading_has(readings, GW_DC) || gw_layout_dc_hidden(walker, readings))
        return false;
    double dc = readings->values[GW_DC].value;
    for (size_t i = 0; i < chain->rail_count; i++) {
        double rail = chain->rails[i].dc.origin != GW_ORIGIN_NONE ? chain->rails[i].dc.value : 0;
        if (rail * dc > 0 && fabs(dc) > stuck_share * fabs(rail))
            return true;
    }
    return false;
}

/* Where the expectation came from, in words. */
static const char *origin_words(const gw_span *span, const gw_expected *last) {
    if (span->across > 1)
        return "sum of the stages between";
    return last->how;
}

/* The points from `from` (left out) to `to`, in order; how many. `path` holds as many ints as the chain has points. */
static size_t find_path(const gw_walker *walker, int from, int to, int *path) {
    size_t length = 0;
    for (int i = to; i >= 0 && i != from && length < walker->count; i = walker->nodes[i].point->after)
        length++;
    size_t k = length;
    for (int i = to; k > 0; i = walker->nodes[i].point->after)
        path[--k] = i;
    return length;
}

gw_span gw_layout_span(const gw_walker *walker, int from, int to) {
    gw_span span = {.from = from, .to = to, .gain_known = true, .gain = 1, .phase_known = true, .passive = true};
    spreads sum = {0};
    const int *path = walker->path;
    size_t length = find_path(walker, from, to, walker->path);
    start_dc(walker, &span);
    for (size_t k = 0; k < length; k++) {
        const gw_point *point = walker->nodes[path[k]].point;
        bool source = point->after < 0 && !point->has_stage && point->gain.origin == GW_ORIGIN_NONE;
        gw_expected gain = stage_gain(walker, point);
        span.across++;
        if (source)
            continue; /* the source feeds the first point straight */
        add_gain(&span, &sum, &gain);
        add_worst(walker, &sum, point, &gain);
        add_phase(&span, point, walker->frequency_hz);
        add_dc(&span, point, k + 1 == length);
        span.passive = span.passive && is_passive(point);
        span.how = gain.how;
    }
    close_gain(&span, &sum);
    const gw_point *last = walker->nodes[to].point;
    span.kind = span.across > 1 ? "several" : last->has_stage && last->stage.kind ? last->stage.kind->name : NULL;
    span.how = origin_words(&span, &last->gain);
    return span;
}

double gw_layout_tilt(const gw_walker *walker, int from, int to, double frequency_hz) {
    double tilt = 1;
    for (int i = to; i >= 0 && i != from; i = walker->nodes[i].point->after) {
        const gw_point *point = walker->nodes[i].point;
        if (!point->has_stage || !point->stage.kind->gain)
            continue;
        double here = walker->frequency_hz > 0 ? gw_stage_gain(&point->stage, walker->frequency_hz).magnitude
                                               : gw_point_gain_at(point, 0).value;
        if (here > 0 && frequency_hz > 0)
            tilt *= gw_stage_gain(&point->stage, frequency_hz).magnitude / here;
    }
    return tilt;
}
