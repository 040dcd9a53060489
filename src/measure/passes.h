/* The passes over the samples that a step of the fit takes: two, part by part, so that what one loop leaves is still in
 * the nearest cache when the next one takes it up. Private to src/measure/. */
#ifndef GAINWALK_MEASURE_PASSES_H
#define GAINWALK_MEASURE_PASSES_H

#include "measure/fit.h"

/* Takes the residual and its sum of squares of the model as it is. */
void gw_passes_residual(gw_fit *fit);

/* Of the model that the residual was taken of: what the special columns bring, the residual's sum, and in `sweeps` its
 * products with each line. */
void gw_passes_columns(gw_fit *fit);

#endif
