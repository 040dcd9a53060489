/* The products of a vector with all harmonics of one frequency, in one pass. Private to src/measure/. */
#ifndef GAINWALK_MEASURE_COMB_H
#define GAINWALK_MEASURE_COMB_H

#include "measure/spectrum.h"

enum { GW_COMB_ORDERS = 256 };

/* What all such products are made with: windows, twiddles, gains. NULL when memory is out. */
typedef struct gw_comb gw_comb;
gw_comb *gw_comb_new(void);

/* cosines[k] = Σ vector[i]·cos 2πkft and the same with sines, k = 1 … orders (at most GW_COMB_ORDERS; [0] stays as it
 * is), time as in sweep.h; to 1e-5 of the root of Σ vector². What it is made with comes from a shelf; NULL: is made for
 * this once.
 *
 * Every sample is spread over the eight nearest cells of a period cut in four cells an order and more, and the cells
 * are transformed; what the spreading does to an order is divided out (nonuniform transform of type 1; Barnett, Magland
 * & af Klinteberg 2019, for the window and its width). */
void gw_comb_dot(gw_shelf *shelf, const double *vector, size_t count, double frequency, size_t orders, double *cosines,
                 double *sines);

#endif
