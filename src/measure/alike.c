/* Whether two segments of a long capture show the same, by what a cheap look finds in both. */
#include "measure/glance.h"

#include <math.h>

/* In standard deviations. Of octaves and lines noise passes this once in a million segments; the largest of 2^17 values
 * of Gaussian noise once in a hundred thousand. */
static const double apart = 5, largest_apart = 6.5;

/* Neighbours in an octave of coloured noise are not wholly independent: half the values count. */
static const double independent = 0.5;

/* Arithmetic alone makes so much of the samples' energy. */
static const double rounding = 1e-26;

/* Squares of a step. What rounding to steps leaves of a waveform, step²/12 in all, repeats with it in a few lines;
 * which octave has them depends on where the octave's pairs begin. An octave's energy may differ by that, and the
 * energy of the whole, which does not depend on it, tells what came in. */
static const double grid_share = 0.5;

/* Level and DC are read of every segment; what is left of others' figures by such a change is far under their
 * uncertainty. A harmonic may differ by its own share, as it is read of the fitted ones alone. */
static const double level_share = 1e-3, dc_share = 1e-2, line_share = 1e-2;

/* A waveform that the lines don't follow to its end leaves the same peaks everywhere: so much more is another. */
static const double peak_ratio = 1.3;

static double mean_of(const gw_octave *octave) {
    return octave->count > 0 ? octave->energy / octave->count : 0;
}

/* `least` and `grid` as mean squares: what arithmetic makes, and by how much the energy may differ anyway. */
static bool octave_alike(const gw_octave *fitted, const gw_octave *other, double least, double grid) {
    double was = fitted->energy + least * fitted->count, is = other->energy + least * other->count;
    /* the logarithm of a mean square of n values has a variance of 2/n */
    double deviation = sqrt(2 / (independent * fitted->count) + 2 / (independent * other->count));
    if (fabs(is - was) > grid * fitted->count && !(fabs(log(is / was)) <= apart * deviation))
        return false;
    double limit = largest_apart * largest_apart * (mean_of(fitted) + least);
    return other->largest <= fmax(limit, peak_ratio * peak_ratio * fitted->largest);
}

/* Mean square of the noise about a frequency, by the octave that it lies in. */
static double noise_at(const gw_glance *of, double frequency) {
    int octave = 0;
    for (double top = 0.5; frequency < 0.5 * top && octave + 1 < (int)of->octave_count; top *= 0.5)
        octave++;
    return mean_of(&of->octaves[octave]);
}

/* Of the difference of two amplitudes. */
static double line_deviation(const gw_glance *fitted, double frequency) {
    return sqrt(4 * noise_at(fitted, frequency) / (double)fitted->samples);
}

static bool lines_alike(const gw_glance *fitted, const gw_glance *other, const gw_outline *outline) {
    for (size_t k = 0; k < outline->count; k++) {
        double share = k == 0 && outline->tone ? level_share : line_share;
        double limit = share * fitted->amplitude[k] + apart * line_deviation(fitted, outline->frequency[k]);
        if (!(fabs(other->amplitude[k] - fitted->amplitude[k]) <= limit))
            return false;
    }
    return true;
}

static bool probes_alike(const gw_glance *fitted, const gw_glance *other) {
    double slow = 0;
    for (size_t k = fitted->octave_count > 5 ? fitted->octave_count - 5 : 0; k < fitted->octave_count; k++)
        slow = fmax(slow, mean_of(&fitted->octaves[k]));
    for (size_t k = 0; k < GW_GLANCE_PROBES; k++)
        if (!(fabs(other->probes[k] - fitted->probes[k]) <=
              line_share * fitted->probes[k] + apart * sqrt(4 * slow / (double)fitted->samples)))
            return false;
    return true;
}

static bool dc_alike(const gw_glance *fitted, const gw_glance *other) {
    const gw_octave *slow = &fitted->octaves[fitted->octave_count - 1];
    double swing = fmax(fabs(fitted->dc), sqrt(fmax(fitted->mean_square, 0)));
    double u = sqrt(2 * mean_of(slow) / (double)fitted->samples);
    return fabs(other->dc - fitted->dc) <= dc_share * swing + apart * u;
}

bool gw_glance_alike(const gw_glance *fitted, const gw_glance *other, const gw_outline *outline) {
    if (!fitted->made || !other->made || fitted->octave_count != other->octave_count)
        return false;
    double least = rounding * (fitted->mean_square + fitted->dc * fitted->dc);
    double grid = grid_share * fitted->step * fitted->step;
    if (!octave_alike(&fitted->whole, &other->whole, least, 0) || !dc_alike(fitted, other) ||
        !lines_alike(fitted, other, outline) || !probes_alike(fitted, other))
        return false;
    for (size_t k = 0; k < fitted->octave_count; k++)
        if (!octave_alike(&fitted->octaves[k], &other->octaves[k], least, grid))
            return false;
    return true;
}
