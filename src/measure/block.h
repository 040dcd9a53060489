/* Measuring a stretch of samples in memory: the pure function under gw_measure_run. Private to src/measure/. */
#ifndef GAINWALK_MEASURE_BLOCK_H
#define GAINWALK_MEASURE_BLOCK_H

#include "measure/glance.h"

/* All readings of one block. `out` comes with its arena made, source filled; readings, arrays and remarks are added.
 * `wav` decides the default of the accuracy. False when memory is out. */
bool gw_measure_block(const gw_block *block, const gw_measure_options *options, gw_readings *out, gw_error *error);

/* What a segment leaves to others of the same capture. */
typedef struct gw_legacy {
    gw_hint hint;       /* what they may begin from */
    gw_outline outline; /* what they can be held against */
} gw_legacy;

/* The same of one segment of several. */
bool gw_measure_segment(const gw_block *block, const gw_measure_options *options, gw_readings *out, gw_legacy *legacy,
                        gw_error *error);

/* Readings with an arena and nothing else; NULL when memory is out. */
gw_readings *gw_readings_new(gw_error *error);

#endif
