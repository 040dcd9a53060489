/* Stretches where next to nothing moves, told without knowing the signal. Private to src/measure/. */
#ifndef GAINWALK_MEASURE_DEAD_H
#define GAINWALK_MEASURE_DEAD_H

#include "measure/coarse.h"
#include "measure/events.h"

enum { GW_DEAD_MAX = 16 };

/* The longest stretch whose samples lie within an eighth of the record's swing, and others at least half as long that
 * lie where it does (within another eighth): in order of time, at most GW_DEAD_MAX. A sine stays so near its peak for a
 * quarter of a period, so a longer stretch is a signal that is gone, or a waveform with pauses of its own. `*count` is
 * 0 of a record of fewer than 64 samples, or of one with no swing. False when memory is out. */
bool gw_dead_stretches(const gw_block *block, gw_event *out, size_t *count);

/* How far off the ends of a stretch may be. */
double gw_dead_error_s(const gw_block *block);

#endif
