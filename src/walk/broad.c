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

/* Of n like powers that are even by chance (exponential) the largest is the nth harmonic number times their mean: so
 * much a column of the spectrum, which holds its largest line, is more than the mean of its lines. */
static double peak_of(double lines) {
    const double euler = 0.57721566490153286;
    return lines > 1 ? log(lines) + euler + 1 / (2 * lines) : 1;
}

/* Noise with the spectrum that came in; 0 where that is not known. */
static double spectrum_tilt(const gw_walker *walker, const gw_span *span, const gw_readings *readings) {
    const gw_trace *trace = &readings->spectrum;
    double in = 0, out = 0;
    if (!trace->high || !trace->log_x || !(trace->start > 0) || !(trace->end > trace->start))
        return 0;
    double ratio = log(trace->end / trace->start) / (double)trace->count;
    for (size_t i = 0; i < trace->count; i++) {
        double from_hz = trace->start * exp(ratio * (double)i), to_hz = from_hz * exp(ratio);
        double middle_hz = sqrt(from_hz * to_hz), lines = (to_hz - from_hz) / trace->start;
        if (middle_hz < readings->band_low_hz || middle_hz > readings->band_high_hz)
            continue;
        double tilt = gw_layout_tilt(walker, span->from, span->to, middle_hz);
        double power = trace->high[i] * trace->high[i] / peak_of(lines) * lines;
        in += power;
        out += power * tilt * tilt;
    }
    return in > 0 ? sqrt(out / in) : 0;
}

/* White noise over the band, by the midpoint rule, where nothing better is known. */
static double noise_tilt(const gw_walker *walker, const gw_span *span, const gw_readings *readings) {
    enum { slices = 64 };
    double low = readings->band_low_hz, high = readings->band_high_hz, sum = 0;
    double known = spectrum_tilt(walker, span, readings);
    if (known > 0)
        return known;
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
