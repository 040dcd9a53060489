#include "measure/sudden.h"

#include <math.h>

/* Of the way from what is left within to the level further out. */
static const double still_to_go = 0.125;
/* Of the level beside, in the stretch: more is no stretch without the signal. Of its begin, at its end: less dies away.
 */
static const double low_at_most = 0.7, died_away = 0.85;
/* Deviations. */
static const double out_of_reach = 3;

/* One end of the stretch, and what the record shows beyond it: next to it and further out, over `length` places each.
 */
typedef struct side {
    const gw_sudden_signal *s;
    size_t first, end;
    bool at_end;
    size_t length;
    gw_sudden_level near_by, further;
    double times; /* from near by to where half of the stretch's length lies between, re what lies between the two */
} side;

static size_t larger(size_t a, size_t b) {
    return a > b ? a : b;
}

static size_t smaller(size_t a, size_t b) {
    return a < b ? a : b;
}

static gw_sudden_level level_outside(const side *at, size_t away, size_t length) {
    size_t from = at->at_end ? at->end + away : at->first - away - length;
    return at->s->level(at->s->signal, from, from + length);
}

/* The highest level of a window near by: a contact that bounces is there in between. */
static gw_sudden_level highest_near(const side *at) {
    gw_sudden_level out = {.value = -1};
    for (size_t k = 0; k + at->s->window <= at->length; k += at->s->window) {
        gw_sudden_level here = level_outside(at, at->s->blur + k, at->s->window);
        out = here.value > out.value ? here : out;
    }
    return out;
}

/* False where the record ends before there is something to be seen. */
static bool side_of(const gw_sudden_signal *s, size_t first, size_t end, bool at_end, side *out) {
    size_t low = end - first, reach = larger(2 * s->window, low / 2), room = at_end ? s->n - end : first;
    if (room < s->blur + 2 * s->window)
        return false;
    size_t length = smaller(larger(s->window, low / 8), (room - s->blur) / 2);
    size_t apart = larger(smaller(reach, room - length - s->blur), length);
    *out = (side){.s = s, .first = first, .end = end, .at_end = at_end, .length = length};
    out->near_by = highest_near(out);
    out->further = level_outside(out, s->blur + apart, length);
    out->times = fmax((double)reach / (double)apart, 1);
    return out->near_by.value >= 0 && out->further.value >= 0;
}

/* ---- within -------------------------------------------------------------------------------------------- */

static gw_sudden_level lowest_within(const side *at) {
    const gw_sudden_signal *s = at->s;
    gw_sudden_level out = s->level(s->signal, at->first, at->end);
    for (size_t k = at->first; k + s->window <= at->end; k += s->window) {
        gw_sudden_level here = s->level(s->signal, k, k + s->window);
        out = here.value >= 0 && here.value < out.value ? here : out;
    }
    return out;
}

/* Is there room for a window at the end, and another? */
static bool shows_inside(const side *at, gw_sudden_level *edge) {
    const gw_sudden_signal *s = at->s;
    if (at->end - at->first < 2 * (s->inner + s->window))
        return false;
    size_t from = at->at_end ? at->end - s->inner - s->window : at->first + s->inner;
    *edge = s->level(s->signal, from, from + s->window);
    return edge->value >= 0;
}

static bool is_low(const side *at) {
    size_t quarter = (at->end - at->first) / 4;
    gw_sudden_level within = at->s->level(at->s->signal, at->first + quarter, at->end - quarter);
    return within.value <= low_at_most * fmax(at->near_by.value, at->further.value);
}

static bool is_part(gw_sudden_level from, gw_sudden_level to, double times, double whole) {
    double noise = out_of_reach * hypot(from.sigma, to.sigma);
    return times * (to.value - from.value - noise) > still_to_go * whole;
}

/* Outside the level still goes on and, as far as that can be seen, within. */
static bool is_gradual(const side *at) {
    gw_sudden_level least = lowest_within(at), edge;
    double whole = at->near_by.value + at->times * (at->further.value - at->near_by.value) - least.value;
    return is_part(at->near_by, at->further, at->times, whole) &&
           (!shows_inside(at, &edge) || is_part(least, edge, 1, whole));
}

/* Is less there at the stretch's end than at its begin? */
static bool dies_away(const gw_sudden_signal *s, size_t end) {
    size_t quarter = end / 4;
    if (quarter < s->window + s->inner)
        return false;
    gw_sudden_level begin = s->level(s->signal, 0, quarter);
    gw_sudden_level late = s->level(s->signal, end - s->inner - quarter, end - s->inner);
    return begin.value >= 0 && late.value >= 0 &&
           late.value + out_of_reach * hypot(begin.sigma, late.sigma) < died_away * begin.value;
}

bool gw_sudden(const gw_sudden_signal *s, size_t first, size_t end) {
    side at;
    if (first == 0 && dies_away(s, end))
        return false;
    return !side_of(s, first, end, first == 0, &at) || (is_low(&at) && !is_gradual(&at));
}
