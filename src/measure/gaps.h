/* A signal that cuts out: measured where it is there. Private to src/measure/. */
#ifndef GAINWALK_MEASURE_GAPS_H
#define GAINWALK_MEASURE_GAPS_H

#include "measure/events.h"
#include "measure/model.h"

/* Marks of a block with these stretches, and a margin either side, missing as well. NULL when memory is out; the caller
 * frees. */
unsigned char *gw_gaps_marks(const gw_block *block, const gw_event *gaps, size_t count, double margin_s);

/* Looks for dropouts that leave next to nothing of the signal. Where there are some, `*marks` (the caller frees) marks
 * them missing: what is fitted beside them has the level, the hum and the noise of the signal while it is there, where
 * a fit over all of it has a lower level and makes hum and noise of the rest. NULL where there are none, or where too
 * little would be left to fit. `beside`: the model is one beside gaps already. False when memory is out. */
bool gw_gaps_find(const gw_block *block, const gw_model *model, bool beside, unsigned char **marks, gw_error *error);

/* The same for a signal of this frequency of which no model is known: by its RMS over windows of whole periods about
 * `dc`, in volts. */
bool gw_gaps_of_period(const gw_block *block, double dc, double frequency_hz, unsigned char **marks, gw_error *error);

/* Are these marks of gw_gaps_find, beside which the model was fitted, but impulses? As gw_cutouts_are_impulses. */
bool gw_gaps_are_impulses(const gw_model *beside, const unsigned char *marks);

#endif
