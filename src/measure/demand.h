/* Which lines join the fit: those that the record demands. Private to src/measure/. */
#ifndef GAINWALK_MEASURE_DEMAND_H
#define GAINWALK_MEASURE_DEMAND_H

#include "measure/model.h"

/* Least cycles between two lines that the record can tell apart well. */
#define GW_LEAST_APART 1.2

/* A line that may join, and what it would bring. */
typedef struct gw_wish {
    int multiple[GW_BASES];
    int order; /* for the threshold */
    double drop, cosine, sine;
} gw_wish;

enum { GW_WISHES_MAX = 256 };

typedef struct gw_wishes {
    gw_wish items[GW_WISHES_MAX];
    size_t count;
} gw_wishes;

/* Puts a line on the list unless the model has it or it lies outside of what the record can show. `order` sets what it
 * has to bring. */
void gw_wish_add(const gw_fit *fit, gw_wishes *list, int signal, int second, int mains, int order);

/* What every wish would bring now. Lines that the model already has in all but name bring nothing. */
void gw_wishes_weigh(const gw_fit *fit, gw_wishes *list);

/* Drop of rss over the noise's variance that a line of this order must bring: chance gives more than 8 + 2 ln k once in
 * 55·k lines. Above the tenth order it must bring 2 ln k/10 more. */
double gw_line_demand(int order);

/* How many more lines the fit has room for. */
size_t gw_lines_left(const gw_fit *fit);

/* Adds harmonics (or intermodulation products) until no more are demanded. False when memory is out. */
bool gw_lines_grow(gw_model *model, gw_error *error);

/* When no odd line came up, the fundamental is an octave (or more) higher than was thought; `*moved` tells. */
bool gw_octave_settle(gw_model *model, bool *moved, gw_error *error);

#endif
