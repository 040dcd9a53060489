/* Readings of a long capture from those of its segments, gathered one by one in bounded memory. Private to
 * src/measure/. */
#ifndef GAINWALK_MEASURE_SEGMENTS_H
#define GAINWALK_MEASURE_SEGMENTS_H

#include "measure/block.h"

/* Samples a segment at most; captures up to this long are one. */
enum { GW_SEGMENT_SAMPLES = 1 << 17 };

typedef struct gw_segments gw_segments;

/* `samples` of the whole capture. NULL when memory is out. */
gw_segments *gw_segments_new(uint64_t samples, double rate_hz, gw_error *error);
void gw_segments_free(gw_segments *all);

/* Takes the next segment: its samples and what was read from them (`part` is taken over). False when memory is out. */
bool gw_segments_add(gw_segments *all, const gw_block *block, gw_readings *part, gw_error *error);

/* The readings of the whole into `out`, whose arena and source stand. The kind of signal is what most segments show;
 * readings of a tone come from those segments alone. Levels are root mean squares over segments, DC means; frequency is
 * the slope of the phase from segment to segment where that keeps in step. Uncertainties: the segments' own, averaged,
 * or their scatter, whichever is larger. False when memory is out. */
bool gw_segments_finish(gw_segments *all, gw_readings *out, gw_error *error);

#endif
