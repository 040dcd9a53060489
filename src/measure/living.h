/* A signal that cuts out, measured where it is there. Private to src/measure/. */
#ifndef GAINWALK_MEASURE_LIVING_H
#define GAINWALK_MEASURE_LIVING_H

#include "measure/model.h"

/* Where the signal of `block` is gone for a while, `*living` becomes the block with those stretches marked missing (by
 * `*marks`, which the caller frees), and `*model`, that of the whole block, the one beside them. Otherwise `*living` is
 * the block and `*marks` NULL. Stretches are told by the model's frequency, or, where gaps have led even that astray,
 * because a stretch longer than three quarters of a period hardly moves and the rest is one steady sine, or by the
 * periods of the strongest line, where a comb of those explains the rest better. False when memory is out; `*model` has
 * to be ended in any case. */
bool gw_living_find(const gw_block *block, const gw_measure_options *options, gw_model *model, gw_block *living,
                    unsigned char **marks, gw_error *error);

#endif
