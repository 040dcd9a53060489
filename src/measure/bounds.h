/* What no line that gw_peaks_find could tell of can exceed, found without a transform: where that is too little for
 * whatever is asked, the answer is certain and the search is spared. Of records without gaps. Private to src/measure/.
 */
#ifndef GAINWALK_MEASURE_BOUNDS_H
#define GAINWALK_MEASURE_BOUNDS_H

#include "measure/coarse.h"

/* RMS that no line of a record of `count` samples exceeds whose sum of squares is `squares`. */
double gw_line_most(double squares, size_t count);

/* The same of a record itself, nearer to what is there where no line holds much of it: by the sums of its products with
 * itself some samples later. Infinite when memory is out. */
double gw_line_most_of(gw_shelf *shelf, const double *values, size_t count);

/* Is the strongest line for certain one of fewer cycles than these? False: not for certain, or memory is out. */
bool gw_line_below(const gw_block *block, double cycles);

#endif
