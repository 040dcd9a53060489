/* Edges of a waveform that pass between two samples. Private to src/measure/. */
#ifndef GAINWALK_MEASURE_EDGES_H
#define GAINWALK_MEASURE_EDGES_H

#include <stdbool.h>
#include <stddef.h>

/* All zero where there are none. */
typedef struct gw_edges {
    double count;    /* in the record */
    double height_v; /* the mean edge's, without its sign */
} gw_edges;

/* A record of a periodic waveform of `n` samples, `period` samples long. An edge is unresolved when nearly all of it
 * lies between one sample and the next, with no ringing beside it: nobody knows where in that gap it stood. The edge
 * that a band-limited converter leaves rings, and its samples tell where it stood. `noise_v` as the standard deviation
 * of each sample. `marks` as in spectrum.h. False when memory is out. */
bool gw_edges_unresolved(const double *volts, const unsigned char *marks, size_t n, double period, double noise_v,
                         gw_edges *out);

/* Standard uncertainty of the period of `cycles` cycles that is read off unresolved edges alone, samples: each edge is
 * even within one sample, and a straight line is laid through the moments of those that follow each other. */
double gw_edges_period_uncertainty(const gw_edges *edges, double cycles);

/* Standard uncertainty of the mean that each edge's place within its sample makes; volts. */
double gw_edges_mean_uncertainty(const gw_edges *edges, size_t n);

#endif
