#include "measure/sums.h"

#include "base/lanes.h"
#include "gainwalk/capture.h"

#include <math.h>

static gw_extent extent_marked(const double *values, const double *less, const unsigned char *marks, size_t count) {
    gw_extent out = {INFINITY, -INFINITY};
    for (size_t i = 0; i < count; i++) {
        if (marks[i] != GW_SAMPLE_PRESENT)
            continue;
        double value = values[i] - (less ? less[i] : 0);
        out.low = value < out.low ? value : out.low;
        out.high = value > out.high ? value : out.high;
    }
    return out;
}

GW_WIDE static void extent_plain(const double *values, size_t count, gw_extent *out) {
    *out = (gw_extent){INFINITY, -INFINITY};
    gw_lanes_extent(values, count, &out->low, &out->high);
}

GW_WIDE static void extent_apart(const double *values, const double *less, size_t count, gw_extent *out) {
    double low = INFINITY, high = -INFINITY;
#pragma omp simd reduction(min : low) reduction(max : high)
    for (size_t i = 0; i < count; i++) {
        double value = values[i] - less[i];
        low = value < low ? value : low;
        high = value > high ? value : high;
    }
    *out = (gw_extent){low, high};
}

gw_extent gw_extent_of(const double *values, const double *less, const unsigned char *marks, size_t count) {
    gw_extent out;
    if (marks)
        return extent_marked(values, less, marks, count);
    if (less)
        extent_apart(values, less, count, &out);
    else
        extent_plain(values, count, &out);
    return out;
}

GW_WIDE double gw_gram_total(const double *vector, size_t count) {
    gw_lanes lanes = {0}, next = {0};
    size_t i = 0;
    for (; i + GW_LANES <= count; i += GW_LANES) {
        lanes += GW_LANES_AT(vector + i);
        next += GW_LANES_AT(vector + i + 4);
    }
    double sum = gw_lanes_sum(&lanes, &next);
    for (; i < count; i++)
        sum += vector[i];
    return sum;
}

GW_WIDE double gw_gram_dot(const double *one, const double *other, size_t count) {
    return gw_lanes_dot(one, other, count);
}

GW_WIDE double gw_gram_lean(const double *vector, size_t count) {
    const double middle = 0.5 * (double)(count - 1);
    gw_lanes t = {0 - middle, 1 - middle, 2 - middle, 3 - middle}, lanes = {0}, next = {0};
    const gw_lanes half = {4, 4, 4, 4}, step = half + half;
    size_t i = 0;
    for (; i + GW_LANES <= count; i += GW_LANES, t += step) {
        lanes += t * GW_LANES_AT(vector + i);
        next += (t + half) * GW_LANES_AT(vector + i + 4);
    }
    double sum = gw_lanes_sum(&lanes, &next);
    for (; i < count; i++)
        sum += ((double)i - middle) * vector[i];
    return sum;
}

GW_WIDE void gw_gram_turn(double *column, const double *residual, size_t count, double time, double scale,
                          gw_column_sums *to) {
    const gw_lanes scales = {scale, scale, scale, scale}, half = {4, 4, 4, 4}, step = half + half;
    gw_lanes t = {time, 1 + time, 2 + time, 3 + time};
    gw_lanes total[2] = {{0}}, own[2] = {{0}}, along[2] = {{0}}, lean[2] = {{0}};
    size_t i = 0;
    for (; i + GW_LANES <= count; i += GW_LANES, t += step) {
        gw_lanes one = GW_LANES_AT(column + i) * (scales * t),
                 other = GW_LANES_AT(column + i + 4) * (scales * (t + half));
        *(gw_lanes *)(column + i) = one;
        *(gw_lanes *)(column + i + 4) = other;
        total[0] += one;
        total[1] += other;
        own[0] += one * one;
        own[1] += other * other;
        along[0] += one * GW_LANES_AT(residual + i);
        along[1] += other * GW_LANES_AT(residual + i + 4);
        lean[0] += one * t;
        lean[1] += other * (t + half);
    }
    gw_column_sums sums = {gw_lanes_sum(&total[0], &total[1]), gw_lanes_sum(&own[0], &own[1]),
                           gw_lanes_sum(&along[0], &along[1]), gw_lanes_sum(&lean[0], &lean[1])};
    for (; i < count; i++) {
        column[i] *= scale * ((double)i + time);
        sums.total += column[i];
        sums.own += column[i] * column[i];
        sums.along += column[i] * residual[i];
        sums.lean += column[i] * ((double)i + time);
    }
    to->total += sums.total;
    to->own += sums.own;
    to->along += sums.along;
    to->lean += sums.lean;
}
