/* The channels of a long capture, measured by several threads. Private to src/measure/.
 *
 * Every thread takes the next unit of work there is, of whichever stretch and channel: fits first, then looks, so that
 * at the end there is something small left to do for each. No thread waits but for want of work. */
#ifndef GAINWALK_MEASURE_CREW_H
#define GAINWALK_MEASURE_CREW_H

#include "measure/block.h"

/* One channel: its number, from 0; the readings of the whole, whose arena and source stand; why there are none. */
typedef struct gw_crew_job {
    size_t index;
    gw_readings *out;
    gw_error error;
} gw_crew_job;

/* The readings of `count` channels of a capture of several segments, by options->jobs threads. The same whatever the
 * number of threads. False when any failed. */
bool gw_crew_measure(const gw_capture *capture, const gw_measure_options *options, gw_crew_job *jobs, size_t count);

#endif
