/* A test signal that swells out of nothing after a record's begin, or dies down before its end. Private to
 * src/measure/. */
#ifndef GAINWALK_MEASURE_SOFT_H
#define GAINWALK_MEASURE_SOFT_H

#include "measure/model.h"

/* Marks of a block in which what comes before the signal has swollen, and after it has begun to die down, is missing as
 * well; the caller frees. NULL where the signal of `model` is there from end to end, begins or ends at once (a contact
 * does), or is not steady between. False when memory is out. */
bool gw_soft_ends_find(const gw_block *block, const gw_model *model, unsigned char **marks);

#endif
