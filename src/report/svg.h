/* Drawings: parts that every picture uses. Pictures are 360 units wide, so that their text is legible on a phone. */
#ifndef GAINWALK_REPORT_SVG_H
#define GAINWALK_REPORT_SVG_H

#include "report/html.h"

enum { GW_SVG_WIDTH = 360, GW_SVG_PITCH = 44, GW_SVG_TOP = 34 };

/* `label` is what a screen reader says. */
void gw_svg_begin(gw_text *out, double height, const char *label);
void gw_svg_end(gw_text *out);

void gw_svg_line(gw_text *out, const char *class_name, double x1, double y1, double x2, double y2);
void gw_svg_rect(gw_text *out, const char *class_name, double x, double y, double width, double height);
/* Text cut to about `width` units. */
void gw_svg_text(gw_text *out, const char *class_name, double x, double y, double width, const char *text);
/* Two numbers of a path: "12.5,8". */
void gw_svg_point(gw_text *out, char command, double x, double y);
/* The mark of a status: a shape of its own for each, beside its colour. */
void gw_svg_node(gw_text *out, gw_status status, double x, double y);

/* Middle of row `index` in the pictures that have a row a point: they stand beside each other. */
double gw_svg_row(size_t index);

/* ---- rows along an axis: levels and DC --------------------------------------------------------------- */

typedef struct gw_strip_mark {
    bool has, below;
    double value, low, high; /* low and high: with its uncertainty */
    gw_status status;
    char text[64]; /* "1.09 V" */
} gw_strip_mark;

typedef struct gw_strip_row {
    const char *name;
    bool has_band;
    double expected, low, high;
    gw_strip_mark marks[2]; /* now; before (comparisons only) */
    const char *missing;    /* said where there is no mark; NULL */
} gw_strip_row;

typedef struct gw_strip {
    const char *label; /* for a screen reader */
    const char *axis;  /* "dBV", "V" */
    bool from_zero;    /* a bar from zero to the mark */
    gw_strip_row *rows;
    size_t count;
} gw_strip;

void gw_svg_strip(gw_text *out, const gw_strip *strip);

/* ---- pictures ---------------------------------------------------------------------------------------- */

/* The chain with its branches, top to bottom, the faulty stage marked. False when memory is out. */
bool gw_svg_chain(gw_text *out, const gw_walk *walk);

/* Levels of a walk, DC of its points or of its rails; `before` may be NULL, its points are matched by name. False when
 * memory is out. */
bool gw_svg_levels(gw_text *out, const gw_walk *walk, const gw_walk *before);
bool gw_svg_dc(gw_text *out, const gw_walk *walk, const gw_walk *before, bool rails);

/* Level of each point at one frequency of a sweep. False when memory is out. */
bool gw_svg_levels_at(gw_text *out, const gw_walk *walk, double frequency_hz);

/* Gain of a stage against frequency, measured and expected. */
void gw_svg_response(gw_text *out, const char *name, const gw_walk_curve *curve);

/* Curves at a point; `before` may be NULL. */
void gw_svg_waveform(gw_text *out, const char *name, const gw_readings *now, const gw_readings *before);
void gw_svg_spectrum(gw_text *out, const char *name, const gw_readings *now, const gw_readings *before);

#endif
