/* Does a signal that is low for a while go at once, as a contact makes it go, or little by little? Private to
 * src/measure/. */
#ifndef GAINWALK_MEASURE_SUDDEN_H
#define GAINWALK_MEASURE_SUDDEN_H

#include <stdbool.h>
#include <stddef.h>

/* Level over a stretch, in any unit, and its standard deviation; a level below 0 where nothing is known of it. */
typedef struct gw_sudden_level {
    double value, sigma;
} gw_sudden_level;

/* Of places `from` to `to`, `to` not included and `from` < `to` <= n. */
typedef gw_sudden_level gw_sudden_level_fn(const void *signal, size_t from, size_t to);

/* A record of `n` places (samples, or windows of an envelope). */
typedef struct gw_sudden_signal {
    const void *signal;
    gw_sudden_level_fn *level;
    size_t n;
    size_t window; /* places that a level takes at least; >= 1 */
    /* next to an end of the stretch so many places show both sides of it: outside, and within */
    size_t blur, inner;
} gw_sudden_signal;

/* Does the signal go at once where it is low from place `first` to `end`? Or, where that is the record's begin, does it
 * come at once, and not as a note that died away before?
 *
 * A signal that goes little by little (a tremolo, a swell, a note that dies away) is still on its way on both sides of
 * the stretch's end: outside, between what is next to it and what is half of the stretch's length further out, and
 * within, between its lowest level and what is next to the end, there lies an eighth or more of the whole way between
 * the lowest and what is further out. Where the record has less room outside the slope tells; where the stretch has too
 * little, the outside alone. What noise hides, or the record does not show, counts as going at once. A level that is
 * hardly lower than beside it does not go at all. The shares are no published values: they were set so that simulated
 * contacts and simulated tremolos, notes and swells were told apart. */
bool gw_sudden(const gw_sudden_signal *signal, size_t first, size_t end);

#endif
