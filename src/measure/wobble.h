/* Slow amplitude modulation of a steady signal, 1 to 20 Hz (motor-boating). */
#ifndef GAINWALK_MEASURE_WOBBLE_H
#define GAINWALK_MEASURE_WOBBLE_H

#include "gainwalk/measure.h"

typedef struct gw_wobble {
    bool found;
    double frequency_hz;
    double depth; /* 0..1: the envelope is 1 + depth cos */
    double share; /* 0..1: what that explains of how the level rises and falls */
} gw_wobble;

/* From the RMS over one period, taken every quarter of it. Needs two cycles of the wobble in the record and 4 periods
 * of the signal in each, and `frequency_hz` of at least 40 Hz. `volts` without mains (else its beat with the signal
 * shows). Found where the line stands above the envelope's own noise (false alarm 1e-4) and the depth is at least 2 %.
 */
bool gw_wobble_find(const double *volts, const unsigned char *marks, size_t n, double rate_hz, double step, double dc,
                    double frequency_hz, gw_wobble *out);

/* Does the level rise and fall as 1 + depth cos and hardly otherwise, as where a tremolo is at work? Then it is nowhere
 * cut off, however low it falls. Arguments and what is needed as above. False when memory is out. */
bool gw_wobble_alone(const double *volts, const unsigned char *marks, size_t n, double rate_hz, double dc,
                     double frequency_hz, bool *alone);

#endif
