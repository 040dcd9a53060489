/* Plans and windows that were made once and are used again: segments of a long capture, and channels of a short one,
 * ask for the same lengths. Private to src/measure/. */
#ifndef GAINWALK_MEASURE_SHELF_H
#define GAINWALK_MEASURE_SHELF_H

#include "gainwalk/measure.h"
#include "measure/comb.h"
#include "measure/spectrum.h"

/* For one thread at a time. NULL works everywhere as a shelf that keeps nothing. */
gw_shelf *gw_shelf_new(void);
void gw_shelf_free(gw_shelf *shelf);

/* A shelf that no other thread uses just now, or a new one; gw_kept_return puts it back. `kept` NULL: for this once. */
gw_shelf *gw_kept_take(gw_measure_kept *kept);
void gw_kept_return(gw_measure_kept *kept, gw_shelf *shelf);

/* A plan for `length` values, as gw_fft_new; gw_shelf_return puts it back. */
gw_fft *gw_shelf_plan(gw_shelf *shelf, size_t length);
void gw_shelf_return(gw_shelf *shelf, gw_fft *plan);

/* Fills `out` with the Hann window, as gw_window_hann. */
void gw_shelf_window(gw_shelf *shelf, double *out, size_t length);

/* Has a plan and a window of `length` at hand. */
void gw_shelf_prepare(gw_shelf *shelf, size_t length);

/* What gw_comb_dot is made with, kept from the first time on. NULL: no shelf, or memory is out. */
const gw_comb *gw_shelf_comb(gw_shelf *shelf);

#endif
