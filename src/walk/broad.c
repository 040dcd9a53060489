/* Gain over a signal of many frequencies. */
#include "walk/walker.h"

#include <math.h>

static double comb_tilt(const gw_walker *walker, const gw_span *span, const gw_readings *readings) {
    double in = 0, out = 0;
    for (size_t i = 0; i < readings->harmonic_count; i++) {
        const gw_harmonic *line = &readings->harmonics[i];
        double power = line->rms * line->rms;
        double tilt = gw_layout_tilt(walker, span->from, span->to, line->frequency_hz);
        in += power;
        out += power * tilt * tilt;
    }
    return in > 0 ? sqrt(out / in) : 1;
}

static double tones_tilt(const gw_walker *walker, const gw_span *span, const gw_readings *readings) {
    double in = 0, out = 0;
    for (size_t i = 0; i < readings->tone_count; i++) {
        const gw_tone *line = &readings->tones[i];
        if (line->kind != GW_TONE_STIMULUS)
            continue;
        double tilt = gw_layout_tilt(walker, span->from, span->to, line->frequency_hz);
        in += line->rms * line->rms;
        out += line->rms * line->rms * tilt * tilt;
    }
    return in > 0 ? sqrt(out / in) : 1;
}

/* White noise over the band, by the midpoint rule. */
static double noise_tilt(const gw_walker *walker, const gw_span *span, const gw_readings *readings) {
    enum { slices = 64 };
    double low = readings->band_low_hz, high = readings->band_high_hz, sum = 0;
    if (!(high > low))
        return 1;
    for (int i = 0; i < slices; i++) {
        double tilt = gw_layout_tilt(walker, span->from, span->to, low + (high - low) * (i + 0.5) / slices);
        sum += tilt * tilt;
    }
    return sqrt(sum / slices);
}

double gw_level_tilt(const gw_walker *walker, const gw_span *span) {
    const gw_readings *readings = span->from < 0 ? NULL : walker->nodes[span->from].readings;
    if (!readings)
        return 1;
    switch (readings->signal) {
    case GW_SIGNAL_PERIODIC:
        return walker->shape == GW_SHAPE_SINE ? 1 : comb_tilt(walker, span, readings);
    case GW_SIGNAL_TWO_TONE:
        return tones_tilt(walker, span, readings);
    case GW_SIGNAL_NOISE:
        return walker->shape == GW_SHAPE_NOISE ? noise_tilt(walker, span, readings) : 1;
    default:
        return 1;
    }
}
