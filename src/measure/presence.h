/* Sums of sinusoids over the present samples of a record with holes all over it, at any frequency from one table.
 * Private to src/measure/.
 *
 * Which samples are present is a row of ones and zeros; its spectrum is wanted at frequencies between those of a
 * transform. The row is divided by a Gaussian's spectrum and transformed with so many zeros that the sum over the 24
 * nearest values, weighted with the Gaussian, is the wanted one to 1e-11 of the number of samples (nonuniform transform
 * of type 2; Greengard & Lee 2004, "Accelerating the nonuniform fast Fourier transform"). */
#ifndef GAINWALK_MEASURE_PRESENCE_H
#define GAINWALK_MEASURE_PRESENCE_H

#include "measure/moments.h"

/* From so many runs of present samples on it may be of use. */
enum { GW_MANY_RUNS = 256 };

/* A table that is made when so many sums were asked for that it pays. NULL when memory is out. gw_presence_free frees,
 * NULL too. */
gw_presence *gw_presence_new(void);
void gw_presence_free(gw_presence *presence);

/* The sums, as gw_moments_of. False while they are quicker had run by run, and where memory for the table is out (told
 * in fit->error). */
bool gw_presence_sums(gw_presence *presence, const gw_fit *fit, double frequency, gw_moments *out);

#endif
