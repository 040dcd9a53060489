/* Passes over the samples with one sinusoid: the inner loops of the fit. Private to src/measure/.
 *
 * Time is counted in samples from the middle of the record, t = i - (n - 1)/2; a frequency is in cycles a sample. */
#ifndef GAINWALK_MEASURE_SWEEP_H
#define GAINWALK_MEASURE_SWEEP_H

#include <stddef.h>

/* vector[i] += cosine·cos 2πft + sine·sin 2πft. */
void gw_sweep_add(double *vector, size_t count, double frequency, double cosine, double sine);

/* Σ vector[i]·cos 2πft and Σ vector[i]·sin 2πft. */
void gw_sweep_dot(const double *vector, size_t count, double frequency, double *cosine, double *sine);

#endif
