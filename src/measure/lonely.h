/* Tones that a comb took for its own. Private to src/measure/. */
#ifndef GAINWALK_MEASURE_LONELY_H
#define GAINWALK_MEASURE_LONELY_H

#include "measure/model.h"

/* A comb of more lines may go on where the fit has no room for it. */
enum { GW_RICH_COMB = 20 };

/* A line of a high order that stands nearly alone turns the whole comb to suit itself: a tone near a harmonic, but not
 * on it, moves the fundamental away from where its own line stands. Such lines leave the model where the record shows
 * them beside the comb that the other lines make; what they were is then found in the residual. False when memory is
 * out; `*left` tells whether any did. */
bool gw_lonely_leave(gw_model *model, bool *left, gw_error *error);

/* Whether a line of this order would stand nearly alone among those of the signal that the model has. */
bool gw_order_lonely(const gw_fit *fit, int order);

#endif
