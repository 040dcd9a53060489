/* The least and the greatest of many values. Private to src/measure/. */
#ifndef GAINWALK_MEASURE_SPAN_H
#define GAINWALK_MEASURE_SPAN_H

#include <stddef.h>

typedef struct gw_span {
    double low, high; /* +infinity, -infinity of nothing */
} gw_span;

/* Of values[i] - less[i] (`less` NULL: of the values themselves) over the samples that are present. */
gw_span gw_span_of(const double *values, const double *less, const unsigned char *marks, size_t count);

#endif
