#include "wobble.h"

#include "envelope.h"
#include "sweep.h"

#include <math.h>
#include <stdlib.h>

static const double pi = 3.14159265358979323846;
static const double lowest_hz = 1, highest_hz = 20, least_depth = 0.02, false_alarm = 1e-4;
static const double signal_at_least_hz = 40, envelope_rate_hz = 200, samples_at_least = 48;

/* The envelope about its mean (`*level`, V) and slope, relative to the mean. */
static bool level_out(gw_envelope *envelope, double *level) {
    double count = (double)envelope->count, mean = 0, slope = 0, spread = 0;
    for (size_t k = 0; k < envelope->count; k++) {
        if (envelope->rms[k] < 0)
            return false; /* gaps: no steady record to tell from */
        mean += envelope->rms[k] / count;
    }
    *level = mean;
    if (!(mean > 0))
        return false;
    for (size_t k = 0; k < envelope->count; k++) {
        double t = (double)k - (count - 1) / 2;
        envelope->rms[k] = envelope->rms[k] / mean - 1;
        slope += t * envelope->rms[k];
        spread += t * t;
    }
    for (size_t k = 0; k < envelope->count; k++)
        envelope->rms[k] -= slope / spread * ((double)k - (count - 1) / 2);
    return true;
}

/* Squared amplitude of the line at `frequency_hz`, times count/2: what it explains of the envelope's sum of squares. */
static double explained_at(const gw_envelope *envelope, double frequency_hz, double spacing_s) {
    double c, s;
    gw_sweep_dot(envelope->rms, envelope->count, frequency_hz * spacing_s, &c, &s);
    return 2 * (c * c + s * s) / (double)envelope->count;
}

static void search_line(const gw_envelope *envelope, double spacing_s, double least, gw_wobble *out) {
    double duration_s = (double)envelope->count * spacing_s, total = 0, best = 0, at_hz = 0;
    double low = fmax(lowest_hz, 2 / duration_s), high = fmin(highest_hz, 0.4 / spacing_s);
    for (size_t k = 0; k < envelope->count; k++)
        total += envelope->rms[k] * envelope->rms[k];
    for (double f = low; f <= high; f += 0.125 / duration_s) {
        double explained = explained_at(envelope, f, spacing_s);
        if (explained > best) {
            best = explained;
            at_hz = f;
        }
    }
    double cells = fmax((high - low) * duration_s * 2, 1), freedom = (double)envelope->count - 5;
    if (!(freedom >= 4) || !(best > 0))
        return;
    /* F with 2 and v degrees of freedom is passed by chance with (1 + 2 F/v)^(-v/2), exactly */
    double left = fmax(total - best, 0);
    double chance = left > 0 ? cells * pow(1 + best / left, -freedom / 2) : 0;
    double window_s = spacing_s, x = pi * at_hz * window_s;
    double depth = sqrt(2 * best / (double)envelope->count) * x / sin(x);
    if (chance < false_alarm && depth >= least && best > 0.25 * total)
        *out = (gw_wobble){.found = true, .frequency_hz = at_hz, .depth = fmin(depth, 1), .share = best / total};
}

bool gw_wobble_find(const double *volts, const unsigned char *marks, size_t n, double rate_hz, double step, double dc,
                    double frequency_hz, gw_wobble *out) {
    *out = (gw_wobble){0};
    if (!(frequency_hz >= signal_at_least_hz) || rate_hz / frequency_hz < 4)
        return true;
    double period = rate_hz / frequency_hz;
    /* a window a part of a sample off a whole number of periods ripples: the longer, the less */
    double periods = fmax(floor(frequency_hz / envelope_rate_hz), ceil(samples_at_least / period));
    size_t window = (size_t)(periods * period + 0.5);
    gw_envelope envelope;
    if (!gw_envelope_make(volts, marks, n, dc, window, window, &envelope))
        return false;
    double level = 0;
    if (envelope.count >= 10 && level_out(&envelope, &level))
        search_line(&envelope, (double)window / rate_hz, fmax(least_depth, 0.5 * step / (sqrt(2) * level)), out);
    free(envelope.rms);
    return true;
}

/* A stretch cut out of a steady level is a sine to no more than 2 (sin x)²/(x (pi - x)), x half its share of the
 * circle: eight tenths where it is half of the time, less otherwise. */
static const double sine_alone = 0.85;

bool gw_wobble_alone(const double *volts, const unsigned char *marks, size_t n, double rate_hz, double dc,
                     double frequency_hz, bool *alone) {
    gw_wobble wobble;
    bool done = gw_wobble_find(volts, marks, n, rate_hz, 0, dc, frequency_hz, &wobble);
    *alone = done && wobble.found && wobble.share > sine_alone;
    return done;
}
