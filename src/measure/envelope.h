/* The envelope of a steady signal: RMS over whole periods, so that nothing periodic ripples in it. */
#ifndef GAINWALK_MEASURE_ENVELOPE_H
#define GAINWALK_MEASURE_ENVELOPE_H

#include "gainwalk/base.h"

/* RMS about `dc` of the samples `k * hop` to `k * hop + window`, k = 0 .. count - 1; -1 where over half of them are
 * missing. The caller frees `rms`. */
typedef struct gw_envelope {
    double *rms;
    size_t count;
    size_t window, hop; /* samples */
} gw_envelope;

/* As many windows as fit; count 0 (and true) where none does, or window or hop is 0. `marks` as in spectrum.h. False
 * when memory is out. */
bool gw_envelope_make(const double *volts, const unsigned char *marks, size_t n, double dc, size_t window, size_t hop,
                      gw_envelope *out);

#endif
