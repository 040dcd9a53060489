/* What every sample of a long capture has a share in: level against time and the waveform's columns. Private to
 * src/measure/. */
#ifndef GAINWALK_MEASURE_COURSE_H
#define GAINWALK_MEASURE_COURSE_H

#include "gainwalk/measure.h"
#include "measure/coarse.h"

enum { GW_COURSE_LEVELS = 600, GW_COURSE_COLUMNS = 720 };

/* Sums and extremes of the samples present in one cell; nothing of them where `present` is 0. */
typedef struct gw_course_cell {
    double present, sum, squares, low, high;
} gw_course_cell;

/* Equal parts of a segment. */
enum { GW_COURSE_PARTS = 32 };

/* A run of samples that lie in one cell of the levels, in one of the columns, and in one part of the segment. */
typedef struct gw_course_run {
    size_t level, column, part;
    gw_course_cell cell;
} gw_course_run;

/* A segment's. */
typedef struct gw_course_part {
    size_t count;
    gw_course_run *runs;
} gw_course_part;

typedef struct gw_course {
    uint64_t samples; /* of the whole capture */
    gw_course_cell levels[GW_COURSE_LEVELS], columns[GW_COURSE_COLUMNS];
} gw_course;

/* Sums up a block that begins at sample `first` of `samples`; gw_course_part_end frees. False when memory is out. */
bool gw_course_part_make(const gw_block *block, uint64_t first, uint64_t samples, gw_course_part *out);
void gw_course_part_end(gw_course_part *part);

/* Adds a segment's share; in the order of the segments, as sums round. */
void gw_course_add(gw_course *all, const gw_course_part *part);

/* Levels and waveform of `out`, whose source stands. False when memory is out. */
bool gw_course_finish(const gw_course *all, gw_readings *out);

/* Of all the segment's samples. */
gw_course_cell gw_course_total(const gw_course_part *part);

/* Of each of its parts. */
void gw_course_parts(const gw_course_part *part, gw_course_cell cells[GW_COURSE_PARTS]);

#endif
