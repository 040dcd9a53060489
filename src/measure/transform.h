/* A Fourier transform in double precision, for sums that a fit rests on; spectra are KISS FFT's (spectrum.h). Private
 * to src/measure/. */
#ifndef GAINWALK_MEASURE_TRANSFORM_H
#define GAINWALK_MEASURE_TRANSFORM_H

#include <stddef.h>

/* Twiddles of each stage, one behind the other, from [its half] on: `size` values each, a power of two. */
void gw_twiddles_fill(double *cosines, double *sines, size_t size);

/* The index after `index` where indices go with their bits turned round; after the last one 0. */
size_t gw_turned_next(size_t index, size_t size);

/* z[k] = Σ z[i]·e^{-i2πki/size} in place, z = re + i·im given with the bits of its indices turned round (Cooley & Tukey
 * 1965). */
void gw_transform_run(const double *cosines, const double *sines, size_t size, double *re, double *im);

#endif
