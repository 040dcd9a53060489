/* Which impulses of a residual are crackle, and which a waveform's or a programme's own. Private to src/measure/. */
#ifndef GAINWALK_MEASURE_CLICKS_H
#define GAINWALK_MEASURE_CLICKS_H

#include "gainwalk/measure.h"

typedef struct gw_clicks_of {
    const double *residual, *volts;
    const unsigned char *marks; /* NULL: all present */
    size_t n;
    double rate_hz;
    double dc;  /* of the model */
    bool edges; /* the waveform has edges that the fit may not follow */
    bool notes; /* nothing steady is there: what is loud for a while may be a note, or an echo of one */
} gw_clicks_of;

/* Leaves out of `events` (crackle, in order of time) those that don't stand out of what the residual is like before
 * them and behind, by 6 robust deviations of the larger of both (where a note begins, all that follows is as large);
 * and of a waveform with edges those on whose sides it stands at levels as far apart as half their size: an impulse
 * returns to where it came from, an edge does not; of notes those that swing about nothing and go on behind; and at the
 * record's ends those where the wave lacks a part of itself, as a test signal does that swells and dies down. Returns
 * how many are left; `*done` is false when memory is out. */
size_t gw_clicks_keep(const gw_clicks_of *of, gw_event *events, size_t count, bool *done);

#endif
