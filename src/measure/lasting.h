/* Where the signal of a long capture is gone, or of another level, for longer than one of its segments can show.
 * Private to src/measure/. */
#ifndef GAINWALK_MEASURE_LASTING_H
#define GAINWALK_MEASURE_LASTING_H

#include "gainwalk/capture.h"
#include "gainwalk/measure.h"
#include "measure/course.h"

enum { GW_LASTING_PARTS = GW_COURSE_PARTS, GW_PLATEAUS_MAX = 256 };

/* Power about its mean in each of GW_LASTING_PARTS equal parts of a segment, V²; negative where nothing is present. */
void gw_lasting_parts(const gw_course_part *part, double *powers);

/* Parts one after the other whose level is the same. */
typedef struct gw_plateau {
    uint64_t first, end; /* samples */
    size_t parts;
    double power; /* sum of the parts' */
} gw_plateau;

/* The levels of a capture, as they follow one another; `wavers` where there are more than can be kept. */
typedef struct gw_lasting {
    size_t count;
    bool wavers;
    double highest; /* power */
    gw_plateau plateaus[GW_PLATEAUS_MAX];
} gw_lasting;

/* The next segment: `count` samples from `first` on. */
void gw_lasting_add(gw_lasting *all, uint64_t first, size_t count, const double *powers);

/* Is the level that was read of a segment one of parts with the signal and of such as are without it? */
bool gw_lasting_mixed(const double *powers, double level);

/* Is a steady signal gone for a while, by half or more, and back then; or is it silent to begin or to end with? */
bool gw_lasting_gone(const gw_lasting *all);

/* Adds to `out`, whose events, dropouts and frequency stand, what the levels show of a sine or a periodic signal that
 * is steady otherwise: each time that it is gone as one dropout, in place of what single segments showed of it; a level
 * that changes once and for all as a remark. False after an error. */
bool gw_lasting_tell(const gw_capture *capture, size_t index, const gw_lasting *all, gw_readings *out, gw_error *error);

/* The same of a capture of one piece in which nothing was found to be gone: a level that changes once and for all. */
bool gw_lasting_of_piece(const gw_capture *capture, size_t index, const gw_block *block, gw_readings *out,
                         gw_error *error);

#endif
