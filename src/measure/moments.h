/* Sums of one sinusoid over the present samples of a fit's record, in closed form. Private to src/measure/. */
#ifndef GAINWALK_MEASURE_MOMENTS_H
#define GAINWALK_MEASURE_MOMENTS_H

#include "measure/fit.h"

/* Σ cos 2πft, Σ sin 2πft, Σ t·cos 2πft and Σ t·sin 2πft over the present samples; t in samples from mid-record, f in
 * cycles a sample. */
typedef struct gw_moments {
    double c, s, tc, ts;
} gw_moments;

void gw_moments_of(const gw_fit *fit, double frequency, gw_moments *out);

/* At all multiples of a frequency from 0 to `count` - 1, below the sample rate; of a record without gaps by recurrence.
 */
void gw_moments_orders(const gw_fit *fit, double frequency, size_t count, gw_moments *out);

#endif
