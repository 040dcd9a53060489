/* A cheap look at a segment of a long capture: enough to say whether it shows what another one, that was fitted, shows.
 *
 * The lines that the fitted one holds are taken out of it by least squares. What is left is halved again and again
 * (Haar's wavelets: differences and sums of neighbours), so that each octave of it has its own energy and its own
 * largest value: noise that grew, a burst of hum or of another tone raise an octave's energy, an impulse, a dropout, a
 * step or a cut crest its largest value. Private to src/measure/. */
#ifndef GAINWALK_MEASURE_GLANCE_H
#define GAINWALK_MEASURE_GLANCE_H

#include "measure/coarse.h"
#include "measure/course.h"
#include "measure/model.h"
#include "measure/sweep.h"

enum { GW_OUTLINE_LINES = 40, GW_GLANCE_OCTAVES = 18, GW_GLANCE_PROBES = 6 };

/* What a fitted segment was found to hold. */
typedef struct gw_outline {
    bool usable;                        /* others can be held against it */
    bool tone;                          /* the first line is the fundamental */
    size_t count;                       /* of lines */
    double frequency[GW_OUTLINE_LINES]; /* cycles a sample */
} gw_outline;

/* From a segment's model and the readings that came of it: events in it, or more lines than there is room for, leave it
 * to stand for itself. */
void gw_outline_make(const gw_model *model, const gw_readings *readings, const gw_block *block, gw_outline *out);

/* Of one octave of what the lines leave. */
typedef struct gw_octave {
    double count, energy, largest; /* of its values: how many, Σ of their squares, the largest square */
} gw_octave;

typedef struct gw_glance {
    bool made; /* every sample is there, the lines can be told apart */
    size_t samples;
    double step;            /* of the samples; 0: unknown */
    double dc, mean_square; /* by least squares; of all but DC: of the lines in whole cycles, and of what they leave */
    double low, high;       /* of the samples */
    double amplitude[GW_OUTLINE_LINES];
    double phase_rad; /* of the fundamental's cosine in the middle */
    gw_octave whole;  /* all that the lines leave */
    gw_octave octaves[GW_GLANCE_OCTAVES];
    size_t octave_count;             /* the last one: all that is slower */
    double probes[GW_GLANCE_PROBES]; /* amplitudes where hum may be */
} gw_glance;

/* What looks with the same outline share: segments are of two lengths, one sample apart. Start with {0}. */
typedef struct gw_sweepers {
    gw_sweeper *by_rest[2]; /* of even lengths, of odd ones */
} gw_sweepers;
void gw_sweepers_end(gw_sweepers *kept);

/* Looks at a block with the lines of `outline`; `total` are its sums, `room` is for `block->count` values. False when
 * memory is out. */
bool gw_glance_make(const gw_block *block, const gw_outline *outline, const gw_course_cell *total, gw_sweepers *kept,
                    double *room, gw_glance *out);

/* Does a segment show what the fitted one shows, both looked at with the lines of the latter? Differences that noise
 * makes are none; level and DC, which are read of every segment, may differ by a thousandth and a hundredth. */
bool gw_glance_alike(const gw_glance *fitted, const gw_glance *other, const gw_outline *outline);

#endif
