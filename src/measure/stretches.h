/* Long captures: segment by segment, fitted where they show something new. Private to src/measure/. */
#ifndef GAINWALK_MEASURE_STRETCHES_H
#define GAINWALK_MEASURE_STRETCHES_H

#include "measure/block.h"

/* What one thread works with. */
typedef struct gw_desk {
    double *volts;
    unsigned char *marks;
    gw_shelf *shelf;
    gw_sweepers sweepers;
    gw_measure_kept *kept; /* where the shelf goes back */
} gw_desk;

bool gw_desk_make(gw_desk *out, size_t count, const gw_measure_options *options, gw_error *error);
void gw_desk_end(gw_desk *desk);

/* The block of `count` samples that `desk` holds. */
gw_block gw_desk_block(const gw_capture *capture, const gw_channel *channel, const gw_desk *desk, size_t count);

/* The readings of a capture of several segments, which are of equal length, so that no short rest is left.
 *
 * Every sample is looked at; the fit, which takes a hundred times as long, is made of the first segments, of one in
 * each stretch of the rest, and of all that show anything that a fitted one of their stretch does not. The same
 * whatever the number of threads. */
bool gw_stretches_measure(const gw_capture *capture, size_t index, const gw_measure_options *options, gw_readings *out,
                          gw_error *error);

#endif
