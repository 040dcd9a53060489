/* What noise that is not white does to the covariance. Private to src/measure/. */
#ifndef GAINWALK_MEASURE_COLOUR_H
#define GAINWALK_MEASURE_COLOUR_H

#include "measure/model.h"

/* Noise of a density that goes as a power of frequency, re white noise of the same variance a sample. */
typedef struct gw_colour {
    bool found;
    double log_one, power; /* ln of the density at one cycle a record, exponent of the cycles */
    /* of the places it was found at, in ln cycles: number, mean, sum of squares about it */
    double count, middle, squares;
} gw_colour;

/* The colour of a solved fit's residual up to about 100 cycles a record, where it is none that white noise shows once
 * in a thousand records. */
gw_colour gw_colour_of(const gw_fit *fit);
double gw_colour_at(const gw_colour *colour, double cycles);

/* The same of a model, where its residual is more than the converter's steps; noted in the model. */
gw_colour gw_colour_find(gw_model *model);

/* Gives every unknown the variance that noise of this colour brings it beyond what the covariance holds. What moves
 * more slowly than ten records counts as DC. False when memory is out. */
bool gw_colour_join(gw_model *model, const gw_colour *found, gw_error *error);

#endif
