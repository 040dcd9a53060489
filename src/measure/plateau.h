/* Plateaus of signals that are no sine: cut, or flat by shape. */
#ifndef GAINWALK_MEASURE_PLATEAU_H
#define GAINWALK_MEASURE_PLATEAU_H

#include "flats.h"

/* Judges the end that `sign` (1 upper, -1 lower) says, of a record whose highest and lowest sample there are `top` and
 * `bottom` (times sign). See gw_flats_find for what counts as clipping; `recorder` is left to the caller. */
gw_flat gw_plateau_judge(const gw_flats_input *in, double sign, double top, double bottom);

#endif
