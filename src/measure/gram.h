/* Sums of sinusoids over the present samples in closed form: the normal matrix of the fit, but for
 * the few products of its columns that are no plain sinusoid. Private to src/measure/. */
#ifndef GAINWALK_MEASURE_GRAM_H
#define GAINWALK_MEASURE_GRAM_H

#include "measure/fit.h"
#include "measure/moments.h"
#include "measure/sums.h"

/* Σ cos 2πft and Σ sin 2πft over the present samples, t from mid-record. */
void gw_gram_sum(const gw_fit *fit, double frequency, double *cosine, double *sine);

/* The products of the (cosine, sine) columns at `one` with those at `other`: cc, cs, sc, ss. */
void gw_gram_pair(const gw_fit *fit, double one, double other, double products[4]);

/* Fills the whole normal matrix (lower triangle) of the model, priors included. */
void gw_gram_fill(const gw_fit *fit, double *matrix);

/* The products of every unknown's column with the cosine and the sine at `frequency`, those of drift and of the bases'
 * columns included; no pass over the samples. */
void gw_gram_against(const gw_fit *fit, double frequency, double *cosines, double *sines);

/* The same at a multiple of the signal's base, and gw_gram_pair of it with itself: the sums at `known_count` multiples
 * of the base are known, twice `order` among them. */
void gw_gram_against_order(const gw_fit *fit, const gw_moments *known, size_t known_count, int order, double *cosines,
                           double *sines, double own[4]);

#endif
