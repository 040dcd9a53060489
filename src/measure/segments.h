/* Readings of a long capture from those of its segments, gathered one by one in bounded memory. Private to
 * src/measure/. */
#ifndef GAINWALK_MEASURE_SEGMENTS_H
#define GAINWALK_MEASURE_SEGMENTS_H

#include "measure/block.h"
#include "measure/course.h"
#include "measure/lasting.h"

/* Samples a segment at most; captures up to this long are one. */
enum { GW_SEGMENT_SAMPLES = 1 << 17 };

typedef struct gw_segments gw_segments;

/* `samples` of the whole capture. NULL when memory is out. */
gw_segments *gw_segments_new(uint64_t samples, double rate_hz, gw_error *error);
void gw_segments_free(gw_segments *all);

/* One segment on its way: fitted itself, or looked at and found to show what a fitted one does. */
typedef struct gw_segment {
    uint64_t first; /* sample */
    size_t count;
    gw_course_part course;
    double powers[GW_LASTING_PARTS];
    gw_glance glance;
    bool tone;         /* of a fitted one: its glance has the amplitude and phase of the fundamental */
    gw_readings *part; /* of a fitted one; NULL of the others */
    bool kept;         /* the whole has taken `part` over */
    size_t like;       /* index of the fitted one that it is like */
    size_t weight;     /* of a fitted one: segments that it stands for, itself among them */
} gw_segment;

void gw_segment_end(gw_segment *segment);

/* Takes the next segment: its samples and what was read from them (`part` is taken over). False when memory is out. */
bool gw_segments_add(gw_segments *all, const gw_block *block, gw_readings *part, gw_error *error);

/* Takes segment `at` of several; what was read of it is taken over. The first of each kind of signal must come with its
 * spectrum: gw_segments_wants tells. False when memory is out. */
bool gw_segments_take(gw_segments *all, gw_segment *segments, size_t at, gw_error *error);
bool gw_segments_wants(const gw_segments *all, const gw_segment *segment);
bool gw_segments_picture(const gw_block *block, gw_readings *part);

/* The readings of the whole into `out`, whose arena and source stand. The kind of signal is what most segments show;
 * readings of a tone come from those segments alone. Levels are root mean squares over segments, DC means; frequency is
 * the slope of the phase from segment to segment where that keeps in step. DC, RMS, level, peaks and phase are those of
 * every segment, other figures those of the fitted ones, each counted as often as segments are like it. Uncertainties:
 * the fitted segments' own, averaged, or their scatter, whichever is larger. False when memory is out. */
bool gw_segments_finish(gw_segments *all, gw_readings *out, gw_error *error);

/* The levels of all. */
const gw_lasting *gw_segments_lasting(const gw_segments *all);

#endif
