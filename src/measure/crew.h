/* The channels of a long capture, measured by several threads. Private to src/measure/.
 *
 * Every thread takes the next unit of work there is, of whichever stretch and channel: fits first, then looks, so that
 * at the end there is something small left to do for each. No thread waits but for want of work. */
#ifndef GAINWALK_MEASURE_CREW_H
#define GAINWALK_MEASURE_CREW_H

#include "measure/block.h"

/* One channel. */
typedef struct gw_crew_job {
    const gw_capture *capture; /* as this channel has it */
    gw_capture thin;           /* what `capture` is where the channel has values in some of the rows only */
    size_t index;              /* of the channel, from 0 */
    gw_readings *out;          /* of the whole; its arena and source stand */
    gw_error error;            /* why there are none */
} gw_crew_job;

/* Is it long enough to be of several segments? */
bool gw_crew_takes(const gw_crew_job *job);

/* The readings of those of `count` channels that are of several segments, by options->jobs threads. The same whatever
 * the number of threads. False when any failed. */
bool gw_crew_measure(const gw_measure_options *options, gw_crew_job *jobs, size_t count);

#endif
