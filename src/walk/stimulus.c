/* What is fed in: its shape and frequency. */
#include "walk/walker.h"

static gw_shape shape_of(const gw_readings *readings) {
    switch (readings->signal) {
    case GW_SIGNAL_SINE:
        return GW_SHAPE_SINE;
    case GW_SIGNAL_PERIODIC:
        return GW_SHAPE_PERIODIC;
    case GW_SIGNAL_TWO_TONE:
        return GW_SHAPE_TWO_TONE;
    case GW_SIGNAL_NOISE:
        return GW_SHAPE_NOISE;
    case GW_SIGNAL_SWEEP:
        return GW_SHAPE_SWEEP;
    default:
        return GW_SHAPE_UNKNOWN;
    }
}

/* Of a signal that stands on the mains everywhere only the frequency is taken, for gains that depend on it. */
static void find_mains_stimulus(gw_walker *walker) {
    for (size_t k = 0; k < walker->count && walker->frequency_hz <= 0; k++) {
        const gw_node *node = &walker->nodes[walker->order[k]];
        if (node->readings && gw_level_is_comb(node->readings))
            walker->frequency_hz = gw_reading_or(node->readings, GW_FREQUENCY, 0);
    }
}

/* Where a sweep's levels and gains are taken: in the middle of the first response. */
static double sweep_middle(const gw_walker *walker) {
    for (size_t k = 0; k < walker->count; k++) {
        const gw_probe *probe = walker->nodes[walker->order[k]].probe;
        if (probe->response && probe->response->count > 0)
            return probe->response->middle_hz;
    }
    return 0;
}

/* Where nothing is stated, does this capture leave open what was fed in? Mains alone may be a probe that hangs in the
 * air; but two points with the same may be the stimulus, and noise after them is what is left of it. */
static bool says_nothing(const gw_walker *walker, const gw_readings *readings, int *mains_seen) {
    if (walker->shape != GW_SHAPE_UNKNOWN)
        return false;
    if (gw_level_is_comb(readings) && gw_level_is_mains(walker, gw_reading_or(readings, GW_FREQUENCY, 0))) {
        ++*mains_seen;
        return true;
    }
    return readings->signal == GW_SIGNAL_NOISE && (gw_level_hums(readings) || *mains_seen >= 2);
}

void gw_stimulus_find(gw_walker *walker) {
    walker->shape = walker->chain->stimulus.shape;
    walker->frequency_hz = walker->chain->stimulus.frequency_hz;
    if (walker->shape == GW_SHAPE_SWEEP) {
        walker->frequency_hz = sweep_middle(walker);
        return;
    }
    int mains_seen = 0;
    for (size_t k = 0; k < walker->count; k++) {
        const gw_node *node = &walker->nodes[walker->order[k]];
        if (!node->readings || shape_of(node->readings) == GW_SHAPE_UNKNOWN ||
            says_nothing(walker, node->readings, &mains_seen))
            continue;
        double frequency = gw_reading_or(node->readings, GW_FREQUENCY, 0);
        if (walker->shape == GW_SHAPE_UNKNOWN)
            walker->shape = shape_of(node->readings);
        if (walker->frequency_hz <= 0 && walker->shape != GW_SHAPE_NOISE && walker->shape != GW_SHAPE_NONE) {
            if (!(frequency > 0))
                continue; /* one capture that shows none does not speak for the others */
            walker->frequency_hz = frequency;
        }
        return;
    }
    if (walker->shape == GW_SHAPE_UNKNOWN)
        find_mains_stimulus(walker);
}
