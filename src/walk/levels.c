/* Is the stimulus there, and how large is it? */
#include "walk/walker.h"

#include <math.h>

/* Common practice: a stage is dead when the level at the stimulus frequency is 30 to 40 dB under what it should be.
 * Where nothing is expected, a loss of 40 dB is no design. */
static const double dead_below_expected = 0.0177827941; /* -35 dB */
static const double dead_below_input = 0.01;            /* -40 dB */
/* Two frequencies are the same within this; a stimulus is a hundred times steadier. */
static const double same_frequency = 0.02;

bool gw_level_same(double one_hz, double other_hz, double within) {
    return one_hz > 0 && other_hz > 0 && fabs(one_hz / other_hz - 1) <= within;
}

/* Relative standard uncertainty of a level pieced together from lines and a rest. */
static const double pieced_together = 0.15;

static bool near(double one, double other, double within) {
    return gw_level_same(one, other, within);
}

bool gw_level_is_comb(const gw_readings *readings) {
    return readings->signal == GW_SIGNAL_SINE || readings->signal == GW_SIGNAL_PERIODIC;
}

bool gw_level_is_mains(const gw_walker *walker, double frequency_hz) {
    double mains = walker->chain->mains_hz;
    bool at_50 = mains != 60 && (near(frequency_hz, 50, 0.012) || near(frequency_hz, 100, 0.012));
    bool at_60 = mains != 50 && (near(frequency_hz, 60, 0.012) || near(frequency_hz, 120, 0.012));
    return at_50 || at_60;
}

/* A line at a frequency among the harmonics and tones; false where there is none above the floor. */
static bool find_line(const gw_readings *readings, double frequency_hz, gw_figure *out) {
    for (size_t i = 0; i < readings->harmonic_count; i++) {
        const gw_harmonic *line = &readings->harmonics[i];
        if (line->resolved && line->rms > 0 && near(line->frequency_hz, frequency_hz, same_frequency / 2)) {
            *out = (gw_figure){.has = true, .value = line->rms, .random = line->u95 / 2 / line->rms};
            return true;
        }
    }
    for (size_t i = 0; i < readings->tone_count; i++) {
        const gw_tone *line = &readings->tones[i];
        if (line->rms > 0 && near(line->frequency_hz, frequency_hz, same_frequency / 2)) {
            *out = (gw_figure){.has = true, .value = line->rms, .random = line->u95 / 2 / line->rms};
            return true;
        }
    }
    return false;
}

/* Mains is most of what there is. */
bool gw_level_hums(const gw_readings *readings) {
    return gw_reading_has(readings, GW_HUM) &&
           readings->values[GW_HUM].value > 0.7 * gw_reading_or(readings, GW_AC_RMS, INFINITY);
}

/* The most that a stimulus nobody saw can be. */
static gw_figure hidden_level(const gw_readings *readings) {
    gw_figure figure = {.has = true, .below = true};
    double all = gw_reading_or(readings, GW_AC_RMS, INFINITY);
    bool silent = readings->signal == GW_SIGNAL_NONE || readings->signal == GW_SIGNAL_DC;
    if (silent && readings->values[GW_LEVEL].state == GW_READING_BELOW) {
        figure.value = readings->values[GW_LEVEL].value; /* as the table shows it */
        return figure;
    }
    if (!isfinite(all) && gw_reading_has(readings, GW_PEAK_TO_PEAK))
        all = readings->values[GW_PEAK_TO_PEAK].value / (2 * sqrt(2)); /* no sine reaches further than its samples */
    if (gw_level_hums(readings))
        all = fmax(gw_rest(all, readings->values[GW_HUM].value), gw_reading_or(readings, GW_NOISE, 0));
    double floor = fmax(2 * readings->noise_floor_v, readings->source.step);
    figure.value = gw_level_is_comb(readings) || readings->signal == GW_SIGNAL_TWO_TONE ? fmin(all, floor) : all;
    if (silent)
        figure.value = fmin(all, fmax(floor, gw_reading_or(readings, GW_LEVEL, 0)));
    if (gw_layout_is_flat(readings))
        figure.value = gw_layout_flat_step(readings) / (2 * sqrt(2));
    if (!isfinite(figure.value))
        figure.value = fmax(floor, fabs(gw_reading_or(readings, GW_PEAK_TO_PEAK, 0)));
    return figure;
}

/* Where the stimulus stands on the mains, what was read as hum may be the stimulus. */
static gw_figure hidden_on_mains(const gw_walker *walker, const gw_readings *readings, double fed_hz) {
    gw_figure figure = hidden_level(readings);
    if (gw_level_is_mains(walker, fed_hz))
        figure.value = fmax(figure.value, gw_reading_or(readings, GW_HUM, 0));
    return figure;
}

/* Most of the record stands on the mains, and so do all lines of what is fed in: they are the signal. */
static bool hum_is_signal(const gw_walker *walker, const gw_readings *readings, double fed_hz, gw_figure *level) {
    if (walker->shape != GW_SHAPE_PERIODIC || !gw_level_is_mains(walker, fed_hz) || !gw_level_hums(readings))
        return false;
    *level = gw_figure_of(&readings->values[GW_AC_RMS]);
    level->random = fmax(level->random, pieced_together);
    return true;
}

/* The fundamental of what was a sine before it was bent out of shape. */
static gw_figure fundamental(const gw_readings *readings, const gw_figure *whole) {
    for (size_t i = 0; i < readings->harmonic_count; i++)
        if (readings->harmonics[i].order == 1 && readings->harmonics[i].rms > 0) {
            const gw_harmonic *line = &readings->harmonics[i];
            return (gw_figure){
                .has = true, .value = line->rms, .random = line->u95 / 2 / line->rms, .scale = whole->scale};
        }
    return *whole;
}

/* Of noise over a record of c periods what repeats in them is the signal's as well, where the fit has the whole comb:
 * 1/(c - 1) of the power that is left, or less. A line or two of a comb take next to none of it. */
static void take_noise_out(const gw_readings *readings, gw_figure *level) {
    const double most = 0.5;
    const size_t comb = 3;
    double cycles = gw_reading_or(readings, GW_FREQUENCY, 0) * readings->source.duration_s;
    double rest = gw_rest(gw_reading_or(readings, GW_AC_RMS, 0), level->value);
    double share = cycles > 1 && readings->harmonic_count >= comb ? pow(rest / level->value, 2) / (cycles - 1) : 0;
    if (!(share > 0))
        return;
    level->value *= share < most ? sqrt(1 - share) : 1;
    level->random = hypot(level->random, fmin(share, most) / 4); /* half of what it takes out */
}

static gw_figure comb_level(const gw_walker *walker, const gw_readings *readings) {
    gw_figure level = gw_figure_of(&readings->values[GW_LEVEL]);
    if (level.has && walker->shape == GW_SHAPE_SINE && readings->signal == GW_SIGNAL_PERIODIC)
        return fundamental(readings, &level);
    if (level.has && walker->shape == GW_SHAPE_PERIODIC && readings->signal == GW_SIGNAL_PERIODIC)
        take_noise_out(readings, &level);
    return level;
}

/* A tone at another pitch is still the signal when it is as large as what came in, and no mains. */
static bool is_pitched(const gw_walker *walker, const gw_readings *readings, double frequency_hz, double before_hz,
                       const gw_figure *before) {
    double level = gw_reading_or(readings, GW_LEVEL, 0);
    if (gw_level_is_mains(walker, frequency_hz) || !(before_hz > 0) || !(frequency_hz > 0))
        return false;
    double ratio = frequency_hz / before_hz;
    return ratio > 0.5 && ratio < 2 && (!before->has || level > 0.1 * before->value);
}

static void find_comb(gw_walker *walker, gw_node *node, const gw_node *before) {
    const gw_readings *readings = node->readings;
    double expected = before && before->frequency_hz > 0 ? before->frequency_hz : walker->frequency_hz;
    double found = gw_reading_or(readings, GW_FREQUENCY, 0);
    bool same = gw_level_is_comb(readings) && (near(found, expected, same_frequency) || !(expected > 0));
    bool level = readings->values[GW_LEVEL].state == GW_READING_VALUE;
    if (!same && gw_level_is_comb(readings) && level)
        same = before ? is_pitched(walker, readings, found, expected, &before->level)
                      : !gw_level_is_mains(walker, found) && node->point->after < 0;
    if (same && level) {
        node->detected = true;
        node->level = comb_level(walker, readings);
        node->frequency_hz = found;
    } else if (gw_cuts_take(walker, node, before, expected, true)) {
        return;
    } else if (expected > 0 && (hum_is_signal(walker, readings, expected, &node->level) ||
                                find_line(readings, expected, &node->level))) {
        node->detected = true;
        node->frequency_hz = expected;
    } else if (!gw_cuts_take(walker, node, before, expected, false)) {
        node->level = hidden_on_mains(walker, readings, expected);
        node->strange = (gw_level_is_comb(readings) && level) || gw_level_hums(readings);
        node->frequency_hz = 0;
    }
}

/* A short piece of noise may have been read as lines and a rest: all of it together is the noise that was fed in. */
static gw_figure noise_level(const gw_readings *readings) {
    const gw_reading *noise = &readings->values[GW_NOISE];
    double power = noise->value * noise->value;
    if (gw_level_is_comb(readings) || readings->signal == GW_SIGNAL_TWO_TONE)
        power += pow(gw_reading_or(readings, GW_LEVEL, 0), 2);
    for (size_t i = 0; i < readings->tone_count; i++)
        power += readings->tones[i].kind == GW_TONE_OTHER ? readings->tones[i].rms * readings->tones[i].rms : 0;
    double random = fmax(pieced_together, noise->u95 / 2 / noise->value);
    return (gw_figure){.has = true, .value = sqrt(power), .random = random, .scale = gw_figure_of(noise).scale};
}

/* Noise of the converter's own, a step at most, passes for a part of the noise that is fed in. */
static void add_converter(const gw_readings *readings, gw_figure *level) {
    double step = readings->source.step;
    if (level->value > step)
        level->random = hypot(level->random, (1 - sqrt(1 - pow(step / level->value, 2))) / 2);
    else
        level->random = hypot(level->random, 0.5);
}

/* Two tones and noise: there, or not, by the level over all of them. */
bool gw_level_pair(const gw_walker *walker, double pair_hz[2]) {
    size_t found = 0;
    pair_hz[0] = walker->chain->stimulus.frequency_hz;
    pair_hz[1] = walker->chain->stimulus.second_hz;
    if (walker->shape != GW_SHAPE_TWO_TONE || (pair_hz[0] > 0 && pair_hz[1] > 0))
        return walker->shape == GW_SHAPE_TWO_TONE;
    for (size_t k = 0; k < walker->count && found < 2; k++) {
        const gw_readings *readings = walker->nodes[walker->order[k]].readings;
        found = 0;
        for (size_t i = 0; readings && i < readings->tone_count && found < 2; i++)
            if (readings->tones[i].kind == GW_TONE_STIMULUS)
                pair_hz[found++] = readings->tones[i].frequency_hz;
    }
    return found == 2;
}

bool gw_level_is_product(const double pair_hz[2], double frequency_hz, double reach_hz) {
    enum { highest = 5 };
    for (int m = -highest; m <= highest; m++)
        for (int n = 0; n <= highest; n++) {
            int order = (m < 0 ? -m : m) + n;
            if (order >= 2 && order <= highest && fabs(fabs(m * pair_hz[0] + n * pair_hz[1]) - frequency_hz) < reach_hz)
                return true;
        }
    return false;
}

/* Two tones that are fed in, found again among other lines: bent as they are, they are no pair any more. */
static bool find_pair(const gw_walker *walker, const gw_readings *readings, gw_figure *out) {
    double power = 0, pair_hz[2];
    *out = (gw_figure){0};
    if (!gw_level_pair(walker, pair_hz))
        return false;
    for (size_t i = 0; i < 2; i++) {
        gw_figure line;
        if (!find_line(readings, pair_hz[i], &line))
            continue;
        power += line.value * line.value;
        out->random = fmax(out->random, line.random);
        out->has = true;
    }
    out->value = sqrt(power);
    out->scale = gw_figure_of(&readings->values[GW_PEAK_TO_PEAK]).scale;
    return out->has;
}

/* One tone where two should be: the record is too short or too coarse to show both, but what is there is no silence. */
static gw_figure hidden_pair(const gw_walker *walker, const gw_readings *readings, double fed_hz) {
    gw_figure figure = hidden_on_mains(walker, readings, fed_hz);
    bool hums = gw_level_is_mains(walker, gw_reading_or(readings, GW_FREQUENCY, 0));
    if ((gw_level_is_comb(readings) && !hums) || readings->signal == GW_SIGNAL_NOISE)
        figure.value = fmax(figure.value, gw_reading_or(readings, GW_AC_RMS, 0));
    return figure;
}

static void find_broad(gw_walker *walker, gw_node *node, const gw_node *before) {
    const gw_readings *readings = node->readings;
    bool right =
        walker->shape == GW_SHAPE_NOISE ? readings->signal == GW_SIGNAL_NOISE : readings->signal == GW_SIGNAL_TWO_TONE;
    if (right && gw_reading_has(readings, GW_LEVEL)) {
        node->detected = true;
        node->level = gw_figure_of(&readings->values[GW_LEVEL]);
        node->frequency_hz = gw_reading_or(readings, GW_FREQUENCY, 0);
    } else if (walker->shape == GW_SHAPE_NOISE && gw_reading_has(readings, GW_NOISE) && !gw_level_hums(readings)) {
        node->detected = true;
        node->level = noise_level(readings);
    } else if (walker->shape == GW_SHAPE_TWO_TONE && find_pair(walker, readings, &node->level)) {
        node->detected = true;
        node->frequency_hz = before ? before->frequency_hz : 0;
    } else {
        double fed_hz = before ? before->frequency_hz : walker->frequency_hz;
        node->level = walker->shape == GW_SHAPE_TWO_TONE ? hidden_pair(walker, readings, fed_hz)
                                                         : hidden_on_mains(walker, readings, fed_hz);
        node->strange =
            gw_level_is_comb(readings) && !gw_level_is_mains(walker, gw_reading_or(readings, GW_FREQUENCY, 0));
    }
    if (walker->shape == GW_SHAPE_NOISE && node->detected)
        add_converter(readings, &node->level);
}

static void find_swept(gw_node *node) {
    const gw_response *response = node->probe->response;
    if (node->readings->signal == GW_SIGNAL_SWEEP && response && response->count > 0 &&
        gw_reading_has(node->readings, GW_LEVEL)) {
        node->detected = true;
        node->level = gw_figure_of(&node->readings->values[GW_LEVEL]);
        node->frequency_hz = response->middle_hz;
    } else {
        node->level = hidden_level(node->readings);
    }
}

static const gw_node *heard_before(const gw_walker *walker, int point) {
    for (int i = walker->nodes[point].point->after; i >= 0; i = walker->nodes[i].point->after)
        if (walker->nodes[i].detected)
            return &walker->nodes[i];
    return NULL;
}

void gw_levels_find(gw_walker *walker) {
    gw_stimulus_find(walker);
    gw_wander_find(walker);
    for (size_t k = 0; k < walker->count; k++) {
        int i = walker->order[k];
        gw_node *node = &walker->nodes[i];
        if (!node->readings || walker->shape == GW_SHAPE_NONE)
            continue;
        if (walker->wanders)
            gw_wander_level(node);
        else if (walker->shape == GW_SHAPE_SWEEP)
            find_swept(node);
        else if (walker->shape == GW_SHAPE_NOISE || walker->shape == GW_SHAPE_TWO_TONE)
            find_broad(walker, node, heard_before(walker, i));
        else {
            const gw_node *before = heard_before(walker, i);
            find_comb(walker, node, before);
            gw_cuts_look(walker, node, before);
        }
    }
}

/* What the reference channel holds. Of a sweep, which reads as noise, the response knows how much was fed in. */
gw_figure gw_level_reference(const gw_walker *walker, const gw_node *node) {
    if (walker->wanders)
        return gw_wander_reference(node);
    const gw_reading *level = node->reference ? &node->reference->values[GW_LEVEL] : NULL;
    if (!level || level->state != GW_READING_VALUE)
        return (gw_figure){0};
    if (walker->shape == GW_SHAPE_NOISE && node->reference->signal != GW_SIGNAL_NOISE &&
        gw_reading_has(node->reference, GW_NOISE))
        return noise_level(node->reference);
    gw_figure figure = gw_figure_of(level);
    const gw_response *response = node->probe->response;
    if (walker->shape == GW_SHAPE_SWEEP && !walker->chain->sweep && response && response->stimulus_rms > 0) {
        figure.value = response->stimulus_rms;
        figure.random = 0;
    }
    return figure;
}

/* ---- lost or not ---- */

static void mark(gw_node *node, double expected_low, double nothing_below) {
    double most = node->level.value * (node->detected ? 1 + gw_figure_u95(&node->level) : 1);
    if (node->detected)
        node->dead = most < nothing_below;
    else if (most < expected_low)
        node->dead = true;
    else
        node->hidden = true;
}

static void judge_life(gw_walker *walker, int point) {
    gw_node *node = &walker->nodes[point];
    const gw_span *span = &walker->span_of[point];
    const gw_node *from = span->from < 0 ? NULL : &walker->nodes[span->from];
    double input = from ? from->level.value : walker->chain->stimulus.level_v;
    node->below_dead = from && (from->dead || from->below_dead);
    if (node->below_dead)
        return;
    if (from && !from->detected) {
        node->hidden = !node->detected;
        return;
    }
    if (!(input > 0)) {
        /* of two tones one capture may show a single one: then it is too short, not silent */
        node->hidden = !node->detected && walker->shape == GW_SHAPE_TWO_TONE && node->strange;
        node->dead = !node->detected && !node->hidden;
        return;
    }
    double tilt = gw_level_tilt(walker, span);
    if (span->gain_known)
        mark(node, input * span->far_low * tilt / 2, input * span->gain * tilt * dead_below_expected);
    else /* losses that are known count */
        mark(node, input * fmin(1, span->gain) / 10, input * fmin(1, span->gain) * dead_below_input);
}

void gw_levels_death(gw_walker *walker) {
    for (size_t k = 0; k < walker->count; k++) {
        gw_node *node = &walker->nodes[walker->order[k]];
        node->dead = node->hidden = node->below_dead = false;
        if (node->usable && walker->shape != GW_SHAPE_NONE)
            judge_life(walker, walker->order[k]);
    }
}

/* ---- what should arrive ---- */

void gw_levels_expect(gw_walker *walker) {
    bool started = false;
    for (size_t k = 0; k < walker->count; k++) {
        int i = walker->order[k], after = walker->nodes[i].point->after;
        gw_walk_point *out = &walker->walk->points[i];
        const gw_node *node = &walker->nodes[i];
        double stated = walker->chain->stimulus.level_v;
        if (!started && node->usable && node->detected && node->from < 0) {
            out->expected_level_v = out->expected_low_v = out->expected_high_v = node->level.value;
            started = true;
        } else if (after < 0 && stated > 0 && !node->usable) {
            out->expected_level_v = out->expected_low_v = out->expected_high_v = stated;
            started = true;
        } else if (after >= 0 && walker->walk->points[after].expected_level_v > 0) {
            const gw_walk_point *before = &walker->walk->points[after];
            gw_span span = gw_layout_span(walker, after, i);
            if (!span.gain_known)
                continue;
            double tilt = gw_level_tilt(walker, &span);
            out->expected_level_v = before->expected_level_v * span.gain * tilt;
            out->expected_low_v = before->expected_low_v * span.far_low * tilt;
            out->expected_high_v = before->expected_high_v * span.far_high * tilt;
        }
    }
}
