/* A swing of slow noise that looks like a cycle or two of a signal. Private to src/measure/. */
#ifndef GAINWALK_MEASURE_SWING_H
#define GAINWALK_MEASURE_SWING_H

#include "measure/model.h"

/* Is what a fit leaves white? By the mean square successive difference (von Neumann 1941). */
bool gw_rest_white(const gw_fit *fit);

/* Does a fit leave next to nothing of what the samples have but their mean? */
bool gw_swing_explained(const gw_fit *fit);

/* May the signal that a solved model holds be a swing of noise that rises to low frequencies? Of little more than two
 * cycles, which nobody states, beside which as much is left as such noise leaves. */
bool gw_swing_is(const gw_model *model, const gw_stimulus *stimulus);

#endif
