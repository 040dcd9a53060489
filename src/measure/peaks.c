#include "measure/peaks.h"

#include "measure/robust.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Zeros behind the record: of a long one half as many, as its maxima are narrow beside what lies between them, and the
 * fit refines whatever the parabola finds. */
enum { PAD = 4, PAD_LONG = 2, LONG = 1 << 14, FLOOR_SPAN = 64 };

static const double weakest = 1e-4; /* of the strongest line */

static int by_strength(const void *one, const void *other) {
    double a = ((const gw_peak *)one)->rms, b = ((const gw_peak *)other)->rms;
    return (a < b) - (a > b);
}

/* Median of the lines in every stretch of FLOOR_SPAN unpadded bins: they are `count` values. */
static double *floor_make(const gw_spectrum *spectrum, size_t stride, size_t *count) {
    size_t span = FLOOR_SPAN * stride;
    *count = (spectrum->bins + span - 1) / span;
    double *floors = malloc(*count * sizeof *floors);
    if (!floors)
        return NULL;
    for (size_t k = 0; k < *count; k++) {
        double part[FLOOR_SPAN] = {0};
        size_t n = 0, first = k * span;
        /* the last stretch is a full one, drawn back over the one before */
        if (first + span > spectrum->bins)
            first = spectrum->bins > span ? spectrum->bins - span : 0;
        for (size_t i = first; i < spectrum->bins && n < FLOOR_SPAN; i += stride)
            part[n++] = spectrum->rms[i];
        floors[k] = n > 0 ? gw_rank_select(part, n, n / 2) : 0;
    }
    return floors;
}

/* Largest that the side lobes of stronger lines can be here. */
static double skirts(const gw_peaks *peaks, double cycles) {
    double sum = 0;
    for (size_t k = 0; k < peaks->count; k++) {
        double d = fabs(cycles - peaks->items[k].cycles);
        sum += d < 1.5 ? peaks->items[k].rms : peaks->items[k].rms / (3.1416 * d * (d * d - 1));
    }
    return sum;
}

/* A maximum between its neighbours, by a parabola through the logarithms. A Hann window's main lobe falls to no less
 * than a fifth from one bin to the next; what is lower is the null beside a side lobe, whose height a parabola would
 * double. */
static gw_peak peak_at(const gw_spectrum *spectrum, size_t k, double cycles_a_bin) {
    double least = 0.2 * spectrum->rms[k] + 1e-300;
    double left = log(fmax(spectrum->rms[k - 1], least)), middle = log(fmax(spectrum->rms[k], least));
    double right = log(fmax(spectrum->rms[k + 1], least)), bend = left - 2 * middle + right;
    double shift = bend < 0 ? 0.5 * (left - right) / bend : 0;
    return (gw_peak){.cycles = ((double)k + shift) * cycles_a_bin, .rms = exp(middle - 0.25 * (left - right) * shift)};
}

static size_t maxima(const gw_spectrum *spectrum, const double *floors, double over, size_t stride, double cycles_a_bin,
                     gw_peak *out) {
    size_t count = 0, span = FLOOR_SPAN * stride;
    for (size_t k = 1; k + 1 < spectrum->bins; k++) {
        double here = spectrum->rms[k];
        if (here > spectrum->rms[k - 1] && here >= spectrum->rms[k + 1] && here > over * floors[k / span])
            out[count++] = peak_at(spectrum, k, cycles_a_bin);
    }
    return count;
}

static void keep_true(gw_peak *found, size_t count, gw_peaks *out) {
    qsort(found, count, sizeof *found, by_strength);
    for (size_t k = 0; k < count && out->count < GW_PEAKS_MAX; k++) {
        if (found[k].rms < weakest * found[0].rms)
            break;
        if (found[k].rms > 2 * skirts(out, found[k].cycles))
            out->items[out->count++] = found[k];
    }
}

bool gw_peaks_find(gw_shelf *shelf, const double *volts, const unsigned char *marks, size_t count, double rate_hz,
                   gw_peaks *out) {
    out->count = 0;
    gw_arena *arena = gw_arena_new();
    gw_spectrum spectrum;
    if (!arena || !gw_spectrum_amplitude_by(shelf, volts, marks, count, rate_hz, count > LONG ? PAD_LONG : PAD, arena,
                                            &spectrum)) {
        gw_arena_free(arena);
        return false;
    }
    double cycles_a_bin = spectrum.bin_hz * (double)count / rate_hz;
    size_t stride = (size_t)fmax(1, floor(1 / cycles_a_bin)), floor_count;
    double *floors = floor_make(&spectrum, stride, &floor_count);
    gw_peak *found = malloc((spectrum.bins / 2 + 1) * sizeof *found);
    bool done = floors && found;
    if (done) {
        /* exp(-x²/2) times the number of lines is 1e-4; the median of a Rayleigh distribution is 1.1774 */
        double over = sqrt(2 * log(5000 * (double)count)) / 1.1774;
        size_t maximum_count = maxima(&spectrum, floors, over, stride, cycles_a_bin, found);
        keep_true(found, maximum_count, out);
    }
    free(floors);
    free(found);
    gw_arena_free(arena);
    return done;
}
