/* Is there a tone, or does noise only look like one? Private to src/measure/. */
#ifndef GAINWALK_MEASURE_CERTAIN_H
#define GAINWALK_MEASURE_CERTAIN_H

#include "measure/model.h"

/* The strongest line must stand out of white noise of the residual's size (searched over all frequencies), out of what
 * the residual shows around it (noise may be coloured: then that is more), and hold a good part of what lies near (a
 * hump of noise is no tone). A comb without a strong line must stand out of what lies between its lines. */
bool gw_tone_certain(const gw_model *model);

/* Variance of a sample by white noise that would bring as much as what lies beside a line of `cycles` a record, 2 to 6
 * cycles off, and 2 from the next line of its comb (`apart` cycles), or half-way; the model left out. 0 where nothing
 * is there to tell. */
double gw_noise_around(const gw_fit *fit, double cycles, double apart);
/* The same, more the fewer neighbours there are, for a line to be tested against. */
double gw_noise_demanded(const gw_fit *fit, double cycles, double apart);

/* The same from what lies half-way between the lines of a comb, where these stand so near to each other that nothing
 * else of the noise is seen; a plain mean where it is hardly more than white noise brings. */
double gw_noise_between(const gw_fit *fit, double cycles, double apart);

#endif
