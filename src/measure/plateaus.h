/* What the levels of a long capture show. Private to src/measure/. */
#ifndef GAINWALK_MEASURE_PLATEAUS_H
#define GAINWALK_MEASURE_PLATEAUS_H

#include "measure/lasting.h"

/* A signal that is gone from the end of `before` to the begin of `after`; `first` and `last` are of nothing, or of half
 * and less. */
typedef struct gw_gap {
    const gw_plateau *before, *first, *last, *after;
    size_t next; /* where to go on; 0 to begin with */
} gw_gap;

bool gw_gap_next(const gw_lasting *all, gw_gap *gap);

/* Is there silence at the record's begin, or at its end, and the signal as usual beside it? */
bool gw_silent_begin(const gw_lasting *all, const gw_plateau **silent, const gw_plateau **signal);
bool gw_silent_end(const gw_lasting *all, const gw_plateau **silent, const gw_plateau **signal);

/* Is the level one up to a moment, and another from then on? */
bool gw_change_find(const gw_lasting *all, const gw_plateau **before, const gw_plateau **after);

#endif
