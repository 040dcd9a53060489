/* One sine in a record, by least squares: fitted near a frequency, taken out. Private to src/measure/. */
#ifndef GAINWALK_MEASURE_SINE_H
#define GAINWALK_MEASURE_SINE_H

#include <stdbool.h>
#include <stddef.h>

/* c cos + s sin at an angular frequency a sample, the time taken from the middle of the record. */
typedef struct gw_sine {
    double omega, c, s;
} gw_sine;

/* One step of Gauss and Newton on c, s and omega: least squares for a single sine (IEEE 1057's four-parameter fit
 * without the constant). `tune` false leaves omega as it is. Samples that `marks` (NULL: none) calls anything but
 * present don't count. The same to the last bit whatever the machine's vectors. */
void gw_sine_step(const double *x, const unsigned char *marks, size_t n, gw_sine *at, bool tune);

/* The least-squares sine near `omega`; kept within `reach` of it. */
gw_sine gw_sine_fit(const double *x, const unsigned char *marks, size_t n, double omega, double reach);

void gw_sine_subtract(double *x, const unsigned char *marks, size_t n, gw_sine what);

#endif
