/* A source that changes from capture to capture, as music does. */
#include "walk/walker.h"

#include <math.h>

/* Captures of one tone agree so well, or stand in small whole ratios. */
static const double same_tone = 0.02;
enum { RATIO_MOST = 3, OTHERS_LEAST = 3 };
/* Of what has a tone: a dead stage leaves far less. */
static const double as_loud = 0.3;
/* The cross-spectrum with the reference channel tells a gain where so much of the power is common to both. */
static const double least_coherence = 0.7;

static bool is_same_tone(double one, double other) {
    for (int k = 1; k <= RATIO_MOST; k++)
        if (fabs(one * k / other - 1) < same_tone || fabs(other * k / one - 1) < same_tone)
            return true;
    return false;
}

/* Is this a tone that no capture before holds? A fault's own tones are in it and in what follows. */
static bool is_new(const gw_walker *walker, size_t at, double frequency) {
    for (size_t k = 0; k < at; k++) {
        double before = gw_reading_or(walker->nodes[walker->order[k]].readings, GW_FREQUENCY, 0);
        if (before > 0 && is_same_tone(before, frequency))
            return false;
    }
    return true;
}

/* All but DC, volts RMS; also of a signal that comes and goes. */
static gw_figure whole_of(const gw_readings *readings) {
    gw_figure all = {0}, level = {0}, noise = {0};
    if (!readings)
        return all;
    if (gw_reading_has(readings, GW_AC_RMS))
        return gw_figure_of(&readings->values[GW_AC_RMS]);
    level = gw_figure_of(&readings->values[GW_LEVEL]);
    noise = gw_figure_of(&readings->values[GW_NOISE]);
    all = level.has ? level : noise;
    all.value = hypot(level.value, noise.value);
    return all;
}

/* Of a waveform's power, what it leaves in the first capture: a source that leaves so much is no generator's, though
 * for a while it comes again, as chords do. */
static const double unsteady = 0.3;

static bool source_is_unsteady(const gw_walker *walker) {
    const gw_readings *first = walker->count > 0 ? walker->nodes[walker->order[0]].readings : NULL;
    if (!first || first->signal != GW_SIGNAL_PERIODIC || !gw_reading_has(first, GW_LEVEL) ||
        !gw_reading_has(first, GW_NOISE))
        return false;
    double level = first->values[GW_LEVEL].value, left = first->values[GW_NOISE].value;
    return left * left > unsteady * level * level;
}

/* What the captures show, in order. */
typedef struct seen {
    size_t tones, new_tones; /* with a tone; with one that none before has */
    size_t toneless;         /* as loud as those with tones */
    bool back;               /* a tone behind a toneless one: no stage has buried it for good */
} seen;

static seen look(const gw_walker *walker) {
    seen out = {0};
    double loud = 0;
    for (size_t k = 0; k < walker->count; k++) {
        const gw_readings *readings = walker->nodes[walker->order[k]].readings;
        double frequency = gw_reading_or(readings, GW_FREQUENCY, 0), whole = whole_of(readings).value;
        if (!readings || (frequency > 0 && gw_level_is_mains(walker, frequency)))
            continue;
        if (frequency > 0) {
            out.tones++;
            out.new_tones += is_new(walker, k, frequency) ? 1 : 0;
            out.back = out.back || out.toneless > 0;
            loud = fmax(loud, as_loud * whole);
        } else {
            out.toneless += readings->signal == GW_SIGNAL_NOISE && whole > loud ? 1 : 0;
        }
    }
    return out;
}

/* Nothing states what is fed in, and it is noise, or leaves much beside what repeats, or most captures show a tone of
 * their own or none. */
void gw_wander_find(gw_walker *walker) {
    if (walker->chain->stimulus.shape != GW_SHAPE_UNKNOWN || walker->chain->stimulus.frequency_hz > 0)
        return;
    seen s = look(walker);
    size_t others = s.new_tones + (s.back ? s.toneless : 0);
    walker->wanders = walker->shape == GW_SHAPE_NOISE || source_is_unsteady(walker) ||
                      (others >= OTHERS_LEAST && 2 * others >= s.tones + s.toneless);
    if (!walker->wanders)
        return;
    walker->shape = GW_SHAPE_NOISE;
    walker->frequency_hz = 0;
    gw_walker_remark(walker, "what is fed in is not stated and no steady tone: levels of captures made one after the "
                             "other say little; a sine, or the source on a reference channel, would settle it");
}

void gw_wander_level(gw_node *node) {
    const gw_pair *pair = node->probe->pair;
    gw_figure fed = whole_of(node->reference);
    node->level = whole_of(node->readings);
    node->detected = node->level.has && !node->level.below && node->level.value > 0;
    if (!pair || !pair->valid || pair->coherence < least_coherence || !(pair->gain > 0) || !(fed.value > 0))
        return;
    node->detected = node->tied = true;
    node->level = fed;
    node->level.value *= pair->gain;
    node->level.random = pair->gain_u95 / 2 / pair->gain;
}

gw_figure gw_wander_reference(const gw_node *node) {
    gw_figure figure = whole_of(node->reference);
    figure.random = node->tied ? 0 : figure.random;
    return figure;
}

void gw_wander_doubt(const gw_walker *walker, const gw_span *span, gw_judgement *gain) {
    bool tied = span->from < 0 ? walker->nodes[span->to].tied
                               : gw_layout_same_file(walker, span->from, span->to) ||
                                     (walker->nodes[span->from].tied && walker->nodes[span->to].tied);
    if (!walker->wanders || tied || gain->status != GW_OFF)
        return;
    gain->status = GW_UNSURE;
    gain->why = "what is fed in changes";
}
