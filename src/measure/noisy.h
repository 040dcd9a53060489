/* Harmonics that are no more than noise which rises to low frequencies. Private to src/measure/. */
#ifndef GAINWALK_MEASURE_NOISY_H
#define GAINWALK_MEASURE_NOISY_H

#include "measure/model.h"

/* Takes out of a solved fit those harmonics above the first that do not stand out of what lies beside them, where noise
 * between the lowest ones is far above the mean: there the mean lets in whatever stands on the comb. False when memory
 * is out. */
bool gw_noisy_leave(gw_model *model, gw_error *error);

/* Variance of the noise that a harmonic of this order has to stand above: the residual's, or that of what lies beside
 * it where that is more. */
double gw_noise_at(const gw_fit *fit, int order);

#endif
