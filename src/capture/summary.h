/* What is told of a channel without keeping its samples: range, first values, marks, the step between values. */
#ifndef GAINWALK_CAPTURE_SUMMARY_H
#define GAINWALK_CAPTURE_SUMMARY_H

#include "gainwalk/capture.h"

/* Takes a block of samples into the channel's first values, range and counts. `stride` is the distance between
 * successive values in `values`; `marks` (NULL: all present) lie close together. */
void gw_channel_take(gw_channel *channel, const double *values, size_t stride, const unsigned char *marks,
                     size_t count);

/* Takes in the range of what another thread took of the same channel, samples of which all are present. */
void gw_channel_join(gw_channel *channel, const gw_channel *part);

/* Forgets the range, which is that of a part only. */
void gw_channel_unrange(gw_channel *channel);

/* A set of distinct values, up to a limit. Start with {.finer = …}. */
typedef struct gw_levels {
    double finer;     /* values are, times this, whole numbers; those that aren't take longer, and that is all */
    double *slots;    /* hash table; NaN: free */
    double *distinct; /* its values, one behind the other */
    size_t slot_count, count;
    bool full, failed; /* full: more distinct values came than are kept */
} gw_levels;

/* Adds `count` values, those marked left out. */
void gw_levels_take(gw_levels *levels, const double *values, const unsigned char *marks, size_t count);

/* The smallest meaningful gap between the values seen; 0 where there is none. `noise` is half a printed digit, or 0:
 * values nearer than that to each other, or than single-precision rounding, are one level; gaps that printing may have
 * made of the same step are averaged, so that steps printed with few digits come out whole. Sorts the set: call it
 * once, at the end. */
double gw_levels_step(gw_levels *levels, double noise);
void gw_levels_free(gw_levels *levels);

/* The runs of a record that holds two values. Start with {0}. */
typedef struct gw_runs {
    double value;
    size_t length, changes;            /* of the run that goes on */
    size_t least[2], most[2], ends[2]; /* of whole runs, every second one; of the first run, and of the last */
    bool broken;                       /* a sample is not there */
} gw_runs;

/* Adds samples that follow those before; `marks` as in gw_channel_take. */
void gw_runs_take(gw_runs *runs, const double *values, const unsigned char *marks, size_t count);

/* Does it jump to and fro as evenly as sampling lets it, without a flutter? So does a waveform of two levels; a
 * converter that swings by its last step flutters where noise brings it over the edge. At least three jumps are asked
 * for. */
bool gw_runs_are_even(const gw_runs *runs);

#endif
