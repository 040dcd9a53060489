/* What happens at moments: cut-outs, crackle. Each only where it begins. And the order of what the waveform shows. */
#include "walk/walker.h"

#include <math.h>

/* Impulses and steps under this share of the peak are not what anyone hears as crackle; one alone is an accident. */
static const double crackle_share = 0.03;
enum { CRACKLE_LEAST = 2 };
/* The same in steps of the converter, whose own noise is all there is where nothing is fed in. */
static const double steps_of_signal = 3, steps_of_silence = 6;
/* Beside a steep edge: so many moves of the waveform within a sample, so many deviations of what the fit leaves; looked
 * for within so many half samples. */
static const double edge_moves = 1.5, edge_noise = 4;
/* An impulse makes the picture of its moment as high as itself; on an edge that is many times as much. */
static const double edge_swing = 4, most_of_period = 0.05;
enum { EDGE_REACH = 4 };
static const double hum_sway = 0.15;
/* What a swing from peak to peak must be in steps of the converter and in deviations of the noise, for gaps in it. */
static const double swing_of_rms = 2.8284271247461903, least_swing_steps = 6, least_swing_noise = 2;
/* Impulses in step with half a mains period are the rectifier's or the hum's, not a contact's. */
static const double mains_step = 0.04;

static bool to_be_judged(const gw_node *node) {
    return node->usable && !node->below_dead;
}

/* When and how long: as the events have the first, or the picture. */
static bool first_gap(const gw_node *node, double *start_s, double *length_s) {
    *start_s = node->cuts.start_s;
    *length_s = node->cuts.length_s;
    for (size_t i = 0; i < node->readings->event_count; i++) {
        const gw_event *event = &node->readings->events[i];
        if (event->kind != GW_EVENT_DROPOUT)
            continue;
        *start_s = event->start_s;
        *length_s = event->length_s;
        return true;
    }
    return node->cuts.count > 0;
}

static double count_dropouts(const gw_node *node) {
    return node ? fmax((double)node->cuts.count, gw_reading_or(node->readings, GW_DROPOUTS, 0)) : 0;
}

/* In a swing of a few steps, or in noise as large as the signal, the envelope falls by itself. */
static bool stands_out(const gw_node *node) {
    double swing = swing_of_rms * node->level.value;
    return node->cuts.count > 0 || (swing > least_swing_steps * node->readings->source.step &&
                                    swing > least_swing_noise * node->readings->noise_floor_v);
}

/* Of a record that is long enough for a hand to start or stop a tone in: does the signal only begin late, or end early?
 * A contact may do that as well, and a fader. */
static const double by_hand_s = 0.3, end_known_s = 0.005;

static bool begins_or_ends(const gw_node *node) {
    const gw_readings *readings = node->readings;
    double duration = readings->source.duration_s;
    size_t gaps = 0;
    if (duration < by_hand_s || (size_t)gw_reading_or(readings, GW_DROPOUTS, 0) > readings->event_count)
        return false;
    for (size_t i = 0; i < readings->event_count; i++) {
        const gw_event *event = &readings->events[i];
        if (event->kind != GW_EVENT_DROPOUT)
            continue;
        if (event->start_s > end_known_s && event->start_s + event->length_s < duration - end_known_s)
            return false;
        gaps++;
    }
    return gaps > 0;
}

static void judge_dropouts(gw_walker *walker, int point) {
    const gw_node *node = &walker->nodes[point], *from = gw_layout_input(walker, point);
    double count = count_dropouts(node), before = count_dropouts(from);
    bool steady = walker->shape == GW_SHAPE_SINE || walker->shape == GW_SHAPE_PERIODIC;
    double hum = gw_reading_or(node->readings, GW_HUM, 0);
    /* two tones beat and noise wanders by themselves; strong hum sways the envelope of a short period, but
     * not the swing within one */
    if (!steady || node->dead || !node->detected || count < 1 || before >= 1 || !stands_out(node) ||
        (node->cuts.count == 0 && hum > (count < 2 ? hum_sway : 2 * hum_sway) * node->level.value))
        return;
    bool by_hand = begins_or_ends(node);
    gw_finding *found =
        gw_finding_add(walker, GW_FOUND_CUTS_OUT, by_hand ? GW_UNSURE : GW_OFF, walker->span_of[point].from, point);
    char number[32], start[64] = "", length[64] = "";
    double start_s, length_s;
    if (!found)
        return;
    if (by_hand)
        found->settle = "capture again, with the tone on from before the record begins until after it ends";
    found->evidence = gw_walker_text(walker, count < 2 ? "%s dropout" : "%s dropouts",
                                     gw_number_print(count, 4, number, sizeof number));
    if (!first_gap(node, &start_s, &length_s))
        return;
    const char *takes_dc = fabs(node->cuts.dc_v) > 0 ? "; the DC goes with it" : "";
    gw_quantity_print(start_s, 0, "s", 3, start, sizeof start);
    gw_quantity_print(length_s, 0, "s", 2, length, sizeof length);
    found->evidence =
        gw_walker_text(walker, count < 2 ? "%s, at %s for %s%s%s" : "%s, the first at %s for %s%s%s", found->evidence,
                       start, length, takes_dc, by_hand ? ", where the record begins or ends: was the tone on?" : "");
}

/* Volts that the waveform itself moves from one sample to the next at a moment, at most, from its harmonics. */
static double move_at(const gw_readings *readings, double time_s) {
    const double two_pi = 6.283185307179586;
    double fastest = 0, sample_s = readings->source.rate_hz > 0 ? 1 / readings->source.rate_hz : 0;
    for (int k = -EDGE_REACH; k <= EDGE_REACH; k++) {
        double slope = 0, t = time_s + k * sample_s / 2;
        for (size_t i = 0; i < readings->harmonic_count; i++) {
            const gw_harmonic *line = &readings->harmonics[i];
            double omega = two_pi * line->frequency_hz;
            slope -= sqrt(2) * line->rms * omega * sin(omega * t + line->phase_rad);
        }
        fastest = fmax(fastest, fabs(slope) * sample_s);
    }
    return fastest;
}

/* Swing of the waveform's picture about a moment: its column and those beside it; 0 where they are no small part of a
 * period. */
static double swing_at(const gw_readings *readings, double frequency_hz, double time_s) {
    const gw_trace *trace = &readings->waveform;
    double width = trace->count > 0 ? (trace->end - trace->start) / (double)trace->count : 0;
    if (!trace->low || !trace->high || !(width > 0) || width * frequency_hz > most_of_period)
        return 0;
    double at = time_s / width, low = INFINITY, high = -INFINITY;
    for (size_t i = at > 1 ? (size_t)at - 1 : 0; i < trace->count && (double)i <= at + 1; i++) {
        low = fmin(low, trace->low[i]);
        high = fmax(high, trace->high[i]);
    }
    return fmax(high - low, 0);
}

/* What a fit leaves of steep edges, sampled now here and now there, is no crackle; nor, in a record of hardly two
 * periods, what it leaves of an edge that rises in less time than its last harmonic. */
static bool is_edge(const gw_walker *walker, const gw_readings *readings, const gw_event *event) {
    if (walker->shape != GW_SHAPE_PERIODIC)
        return false;
    if (swing_at(readings, walker->frequency_hz, event->start_s) > edge_swing * fabs(event->size_v))
        return true;
    double least = fmax(edge_noise * readings->noise_floor_v, edge_moves * move_at(readings, event->start_s));
    return fabs(event->size_v) < least;
}

/* Impulses and steps large enough to matter. */
static size_t count_events(const gw_walker *walker, const gw_readings *readings, double *largest) {
    double peak = gw_reading_or(readings, GW_PEAK_TO_PEAK, 0) / 2,
           steps = walker->shape == GW_SHAPE_NONE ? steps_of_silence : steps_of_signal,
           least = fmax(crackle_share * peak, steps * readings->source.step);
    size_t count = 0;
    for (size_t i = 0; i < readings->event_count; i++) {
        const gw_event *event = &readings->events[i];
        if (event->kind == GW_EVENT_DROPOUT || fabs(event->size_v) < least || is_edge(walker, readings, event))
            continue;
        *largest = fmax(*largest, fabs(event->size_v));
        count++;
    }
    return count;
}

bool gw_marks_in_step(const gw_walker *walker, const gw_readings *readings) {
    double mains = walker->chain->mains_hz > 0    ? walker->chain->mains_hz
                   : readings->clues.mains_hz > 0 ? readings->clues.mains_hz
                                                  : 50;
    const gw_event *last = NULL;
    size_t steps = 0, in_step = 0;
    for (size_t i = 0; i < readings->event_count; i++) {
        const gw_event *event = &readings->events[i];
        if (event->kind == GW_EVENT_DROPOUT)
            continue;
        double halves = last ? (event->start_s - last->start_s) * 2 * mains : 0;
        steps += last ? 1 : 0;
        in_step += last && halves > 0.5 && fabs(halves - floor(halves + 0.5)) < mains_step ? 1 : 0;
        last = event;
    }
    return steps >= 2 && in_step == steps;
}

/* What slides away steadily and is fetched back in steps does not crackle. */
static void judge_crackle(gw_walker *walker, int point) {
    const gw_node *node = &walker->nodes[point], *from = gw_layout_input(walker, point);
    double largest = 0, unused = 0;
    size_t count = count_events(walker, node->readings, &largest);
    size_t before = from ? count_events(walker, from->readings, &unused) : 0;
    bool loses = count_dropouts(node) >= 1;
    if (count < CRACKLE_LEAST || count < 3 * before || loses || node->dead || node->slides ||
        gw_marks_in_step(walker, node->readings)) {
        if (count == 1 && before == 0 && !loses && !node->slides)
            gw_walker_remark(walker, "one impulse at %s: an accident, or the first of a crackle: capture for longer",
                             node->point->name);
        return;
    }
    gw_finding *found = gw_finding_add(walker, GW_FOUND_CRACKLE, GW_OFF, walker->span_of[point].from, point);
    char size[64];
    if (!found)
        return;
    gw_quantity_print(largest, 0, gw_words_unit(node->readings), 2, size, sizeof size);
    found->evidence = gw_walker_text(walker,
                                     from ? "%zu impulses or steps of up to %s that are not in the input"
                                          : "%zu impulses or steps of up to %s",
                                     count, size);
}

void gw_marks_judge(gw_walker *walker) {
    for (size_t k = 0; k < walker->count; k++) {
        int i = walker->order[k];
        if (!to_be_judged(&walker->nodes[i]))
            continue;
        gw_clipping_judge(walker, i);
        gw_tones_judge(walker, i);
        judge_dropouts(walker, i);
        judge_crackle(walker, i);
    }
}
