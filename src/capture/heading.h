/* The rows right above a block of numbers that name its columns. */
#ifndef GAINWALK_CAPTURE_HEADING_H
#define GAINWALK_CAPTURE_HEADING_H

#include "capture/settings.h"

typedef struct gw_heading {
    const gw_line *names;  /* NULL: none */
    const gw_line *units;  /* the unit row; NULL: none */
    size_t preamble;       /* lines above the heading */
    bool half;             /* the row above has just half as many names as the data have fields */
    gw_stated start, step; /* given in the heading's own cells, behind the columns */
} gw_heading;

/* Looks at the last of `lines`. `width` is the number of the data's columns. */
bool gw_heading_find(gw_heading *heading, gw_arena *arena, const gw_script *script, gw_line *lines, size_t count,
                     size_t width, gw_format format);

/* The cell of a heading line at `index`; "" where there is none. */
const char *gw_line_cell(const gw_line *line, size_t index);

#endif
