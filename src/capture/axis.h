/* The sampling interval that a time column shows, and where the column is broken. */
#ifndef GAINWALK_CAPTURE_AXIS_H
#define GAINWALK_CAPTURE_AXIS_H

#include "capture/packs.h"
#include "gainwalk/capture.h"

/* Times in seconds, in the order of the rows. */
typedef struct gw_times {
    const double *values;
    const unsigned char *marks; /* state in the low two bits; NULL: all present */
    size_t count;
    double quantum;  /* one printed digit, in seconds */
    int jobs;        /* threads at most */
    gw_packs *packs; /* where some of them stand, in column `column`; NULL: all in `values` */
    size_t column;
} gw_times;

/* What a least-squares line says of a stretch of times. */
typedef struct gw_slope {
    double interval, start; /* of a row; of the first row */
    double residual;        /* the largest */
    double largest;         /* |time| */
    size_t present;
} gw_slope;

typedef enum gw_evenness { GW_TIMES_EVEN, GW_TIMES_FALLING, GW_TIMES_PAIRS, GW_TIMES_UNEVEN } gw_evenness;

/* Fits rows `first` to `first + count`; packed or not, the same comes of it. With marks they must not be packed. False
 * with fewer than two times present. */
bool gw_times_fit(const gw_times *times, size_t first, size_t count, gw_slope *slope);

/* Whether the residual is no more than printing, single precision and one per cent of an interval explain. */
bool gw_slope_is_even(const gw_slope *slope, double quantum);

/* What the whole column is. `*repeats` tells whether times repeat as printed; `*slope` is that of an even one. */
gw_evenness gw_times_judge(const gw_times *times, bool *repeats, gw_slope *slope);

/* A run of rows between two breaks: gaps, restarts. */
typedef struct gw_run {
    size_t first, count, runs; /* the longest, of equals the first; how many there are */
} gw_run;

/* Cuts times that are not packed where a step differs from the median positive step by more than half of it and two
 * printed digits. False when memory is out. */
bool gw_times_cut(const gw_times *times, gw_run *run);

/* The half width of what the printing leaves open of a slope. */
double gw_slope_width(const gw_slope *slope, double quantum, size_t count);

/* The interval or rate of fewest significant digits within `width` of the slope, the nearest of equals; as a rate. */
double gw_slope_snap(double interval, double width);

#endif
