/* What a converter's steps do to a sinusoid. Private to src/measure/. */
#ifndef GAINWALK_MEASURE_RESOLUTION_H
#define GAINWALK_MEASURE_RESOLUTION_H

#include "measure/model.h"

/* Standard uncertainties by the steps, in the unit of the record; all 0 where the step is unknown. */
typedef struct gw_steps {
    double coherent; /* share of the steps' error that repeats with the signal, 0..1 */
    double u_steps;  /* of a sinusoid's peak */
    double u_code;   /* what of that the residual does not tell */
    double u_level;  /* of DC, where the error does not average out: flat tops */
} gw_steps;

/* Of a model with a tone, `noise_v` the standard deviation of its residual. False when memory is out. */
bool gw_steps_of(const gw_model *model, const gw_block *block, double noise_v, gw_steps *out, gw_error *error);

#endif
