/* Lines that stand above the floor of a Hann spectrum: where the search for the fundamental begins. Private to
 * src/measure/. */
#ifndef GAINWALK_MEASURE_PEAKS_H
#define GAINWALK_MEASURE_PEAKS_H

#include "measure/spectrum.h"

/* A line; its frequency counted in cycles over the whole record. */
typedef struct gw_peak {
    double cycles, rms;
} gw_peak;

enum { GW_PEAKS_MAX = 200 };

typedef struct gw_peaks {
    gw_peak items[GW_PEAKS_MAX]; /* strongest first */
    size_t count;
} gw_peaks;

/* Finds lines that noise of the floor around them reaches once in ten thousand records, that are no side lobes of
 * stronger ones (Harris 1978: the Hann window's fall as the cube of the distance) and not more than 80 dB under the
 * strongest. False when memory is out. */
bool gw_peaks_find(gw_shelf *shelf, const double *volts, const unsigned char *marks, size_t count, double rate_hz,
                   gw_peaks *out);

#endif
