/* The instrument's own noise, out of what all its captures hold. */
#include "walk/walker.h"

#include <math.h>

/* So many captures tell what the instrument's own noise is: of two the louder one may be the circuit's. */
enum { CAPTURES_LEAST = 3, ROUNDS = 60 };

static bool is_of_the_same(const gw_readings *one, const gw_readings *other) {
    return other && other->source.wav == one->source.wav && other->values[GW_NOISE].state != GW_READING_NONE &&
           gw_word_equal(gw_words_unit(other), gw_words_unit(one));
}

/* The part of a converter's white noise that lies in the band: all of it is below half the rate. */
static double share_in_band(const gw_readings *readings) {
    double half = readings->source.rate_hz / 2, band = readings->band_high_hz - readings->band_low_hz;
    return half > 0 && band > 0 ? fmin(1, band / half) : 1;
}

/* What another capture's noise may be here, in volts: a lower rate folds more of it into the band. */
static double noise_of(const gw_readings *other, const gw_readings *here) {
    double more = share_in_band(here) / share_in_band(other);
    return other->values[GW_NOISE].value * sqrt(fmax(1, more));
}

/* An instrument's noise has a part that is the same in volts on every range and one that goes with the step, added in
 * power. The most that the first can be, in volts squared, where the second is `in_steps`, in steps squared: what no
 * capture exceeds. */
static double constant_part(const gw_walker *walker, const gw_readings *here, double in_steps) {
    double least = INFINITY;
    for (size_t i = 0; i < walker->count; i++) {
        const gw_readings *other = walker->nodes[i].readings;
        if (other == here || !is_of_the_same(here, other))
            continue;
        double noise = noise_of(other, here), step = here->source.wav ? 0 : other->source.step;
        least = fmin(least, noise * noise - in_steps * step * step);
    }
    return least;
}

/* The largest part in steps that no capture exceeds; -1 where too few captures tell. */
static double most_in_steps(const gw_walker *walker, const gw_readings *here) {
    double most = INFINITY;
    size_t count = 1;
    for (size_t i = 0; i < walker->count; i++) {
        const gw_readings *other = walker->nodes[i].readings;
        if (other == here || !is_of_the_same(here, other))
            continue;
        double noise = noise_of(other, here), step = here->source.wav ? 0 : other->source.step;
        most = fmin(most, step > 0 ? noise * noise / step / step : INFINITY);
        count++;
    }
    return count < CAPTURES_LEAST ? -1 : isfinite(most) ? most : 0;
}

/* Noise that every capture of an instrument may have of its own is no stage's: the most that it can be here without
 * being more anywhere else. The sum of both parts is concave in either, so its peak is found by thirds. */
double gw_floor_noise(const gw_walker *walker, const gw_readings *here) {
    double low = 0, high = most_in_steps(walker, here), step = here->source.wav ? 0 : here->source.step;
    if (high < 0)
        return 0;
    for (int i = 0; i < ROUNDS && high > 0; i++) {
        double one = low + (high - low) / 3, other = high - (high - low) / 3;
        if (constant_part(walker, here, one) + one * step * step <
            constant_part(walker, here, other) + other * step * step)
            low = one;
        else
            high = other;
    }
    double most = fmax(constant_part(walker, here, low) + low * step * step,
                       constant_part(walker, here, high) + high * step * step);
    return sqrt(fmax(0, most));
}
