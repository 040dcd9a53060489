/* Edges of a waveform that pass between two samples. Private to src/measure/. */
#ifndef GAINWALK_MEASURE_EDGES_H
#define GAINWALK_MEASURE_EDGES_H

#include <stdbool.h>
#include <stddef.h>

/* All zero where there are none; of unresolved edges count and height, of others that are steep their steepness. */
typedef struct gw_edges {
    double count;    /* in the record */
    double height_v; /* the mean edge's, without its sign */
    /* of edges that take more than one step the share of their height that lies between two samples */
    double steepest;
} gw_edges;

/* A record of a periodic waveform of `n` samples, `period` samples long. An edge is unresolved when nearly all of it
 * lies between one sample and the next, with no ringing beside it: nobody knows where in that gap it stood. The edge
 * that a band-limited converter leaves rings, and its samples tell where it stood. `noise_v` as the standard deviation
 * of each sample. `marks` as in spectrum.h. False when memory is out. */
bool gw_edges_unresolved(const double *volts, const unsigned char *marks, size_t n, double period, double noise_v,
                         gw_edges *out);

/* Standard uncertainty that edges leave to the period of `cycles` cycles of `samples` samples each, in samples. Of
 * unresolved ones each is even within one sample, and a straight line is laid through the moments of those that follow
 * each other. Of steep ones harmonics from above half the rate fold down onto those of the signal, and shift each edge
 * by where it falls between two samples: that goes on from period to period by the same part of a sample. */
double gw_edges_period_uncertainty(const gw_edges *edges, double cycles, double samples);

/* Standard uncertainty of the mean that each edge's place within its sample makes; volts. */
double gw_edges_mean_uncertainty(const gw_edges *edges, size_t n);

#endif
