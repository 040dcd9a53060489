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

/* The same of one segment of several, in two steps: the model, by which `hint` is known, then the readings. The caller
 * ends `out` in any case; `block` stays as it is until then. */
typedef struct gw_modelled {
    const gw_block *block;
    gw_block steady, living; /* without its soft ends, and without its dropouts */
    unsigned char *soft, *marks;
    gw_model model;
    gw_hint hint;
} gw_modelled;

bool gw_segment_model(const gw_block *block, const gw_measure_options *options, gw_modelled *out, gw_error *error);
bool gw_segment_read(const gw_modelled *modelled, const gw_measure_options *options, gw_readings *out,
                     gw_outline *outline, gw_error *error);
void gw_modelled_end(gw_modelled *modelled);

/* Both steps. */
bool gw_measure_segment(const gw_block *block, const gw_measure_options *options, gw_readings *out, gw_legacy *legacy,
                        gw_error *error);

/* Readings with an arena and nothing else; NULL when memory is out. */
gw_readings *gw_readings_new(gw_error *error);

#endif
