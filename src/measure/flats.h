/* Clipping: where the signal stands still although it should not, at each polarity. */
#ifndef GAINWALK_MEASURE_FLATS_H
#define GAINWALK_MEASURE_FLATS_H

#include "gainwalk/measure.h"

typedef struct gw_flats_input {
    const double *volts;
    const unsigned char
        *marks; /* overloaded samples count as flat in the recorder, at the polarity of their neighbours */
    size_t n;
    double rate_hz;
    double step;              /* 0 unknown */
    double low_end, high_end; /* the converter's ends; both 0 unknown */
    double frequency_hz;      /* of the fundamental; 0 none */
    double noise_v;           /* standard deviation of the residual; 0 unknown or none */
    bool sine;                /* the signal is meant to be a sine: stated, or its harmonics hold under a third */
} gw_flats_input;

/* `high` and `low`: share of the record, level, whether it is clipping, whether the recorder's.
 *
 * A sine: its unclipped flanks give the sine it would be (least squares at the known frequency over the samples between
 * the flat levels); the share is the part of the record in which that sine lies beyond the level, acos(c)/pi for a sine
 * cut at c times its amplitude. It is clipping where that excess stands above noise and resolution, and the top is flat
 * (not merely rounded, as a soft stage or a third harmonic makes it).
 * Any other periodic shape: a plateau is clipping unless it's flat by shape: edges much faster than the plateau is long
 * (pulse, square), or like plateaus at other levels (staircase).
 * No period: runs at the converter's end only, of 3 and more equal samples.
 * Without clipping `share` is 0 and `level_v` the highest (lowest) sample. False when memory is out. */
bool gw_flats_find(const gw_flats_input *input, gw_flat *high, gw_flat *low);

/* How many samples in a row a healthy sine of this amplitude (V peak), step and frequency shows equal at its crest, at
 * most: 2 acos(1 - step/amplitude) / (2 pi f / rate), rounded up; at least 1. */
double gw_flats_sine_run(double amplitude, double step, double frequency_hz, double rate_hz);

#endif
