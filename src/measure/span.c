#include "measure/span.h"

#include "gainwalk/capture.h"
#include "measure/lanes.h"

#include <math.h>

static gw_span span_marked(const double *values, const double *less, const unsigned char *marks, size_t count) {
    gw_span out = {INFINITY, -INFINITY};
    for (size_t i = 0; i < count; i++) {
        if (marks[i] != GW_SAMPLE_PRESENT)
            continue;
        double value = values[i] - (less ? less[i] : 0);
        out.low = value < out.low ? value : out.low;
        out.high = value > out.high ? value : out.high;
    }
    return out;
}

GW_WIDE static void span_plain(const double *values, size_t count, gw_span *out) {
    double low = INFINITY, high = -INFINITY;
#pragma omp simd reduction(min : low) reduction(max : high)
    for (size_t i = 0; i < count; i++) {
        low = values[i] < low ? values[i] : low;
        high = values[i] > high ? values[i] : high;
    }
    *out = (gw_span){low, high};
}

GW_WIDE static void span_apart(const double *values, const double *less, size_t count, gw_span *out) {
    double low = INFINITY, high = -INFINITY;
#pragma omp simd reduction(min : low) reduction(max : high)
    for (size_t i = 0; i < count; i++) {
        double value = values[i] - less[i];
        low = value < low ? value : low;
        high = value > high ? value : high;
    }
    *out = (gw_span){low, high};
}

gw_span gw_span_of(const double *values, const double *less, const unsigned char *marks, size_t count) {
    gw_span out;
    if (marks)
        return span_marked(values, less, marks, count);
    if (less)
        span_apart(values, less, count, &out);
    else
        span_plain(values, count, &out);
    return out;
}
