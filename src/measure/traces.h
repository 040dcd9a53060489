/* Pictures of curves with peaks kept. */
#ifndef GAINWALK_MEASURE_TRACES_H
#define GAINWALK_MEASURE_TRACES_H

#include "gainwalk/measure.h"
#include "measure/shelf.h"

/* The waveform in at most `columns` columns (fewer where there are fewer samples), each with its lowest and highest
 * sample; a column that holds only missing samples repeats the one before. x runs from `start_s`. */
bool gw_trace_waveform(const double *volts, const unsigned char *marks, size_t n, double rate_hz, double start_s,
                       size_t columns, gw_arena *arena, gw_trace *out);

/* The Hann amplitude spectrum (RMS volts a line, the mean taken out) in at most `columns` columns spaced
 * logarithmically from one bin to half the rate; the highest line in each, or the nearest where it holds none. `low` is
 * NULL. With a shelf (or NULL) for the transform. Records over 2^18 samples are shown by the highest of their segments'
 * lines. count is 0 with fewer than 8 samples. */
bool gw_trace_spectrum(gw_shelf *shelf, const double *volts, const unsigned char *marks, size_t n, double rate_hz,
                       size_t columns, gw_arena *arena, gw_trace *out);

#endif
