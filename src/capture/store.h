/* Where the samples of a capture are: in memory, or in an open file that is read again at each fetch. */
#ifndef GAINWALK_CAPTURE_STORE_H
#define GAINWALK_CAPTURE_STORE_H

#include "capture/packs.h"
#include "capture/wav.h"
#include "gainwalk/capture.h"

#include <omp.h>

struct gw_capture_store {
    gw_arena *arena; /* names and phrases */
    size_t channel_count;
    double **values;       /* of each channel, scaled, in rooms; NULL where samples are streamed */
    unsigned char **marks; /* of each channel, in rooms; NULL where all samples are present */
    gw_packs *packs;       /* where some of the values stand packed; or NULL */
    size_t *packed;        /* of each channel, its column there; SIZE_MAX for none */
    gw_wave *wave;         /* the open file of a streamed capture */
    double scale;          /* what streamed samples are multiplied by */
    double *block;         /* room for a block of interleaved frames */
    size_t block_frames;
    omp_lock_t fetching;  /* the library reads for one at a time */
    bool short_of_memory; /* something was left out for want of memory */
};

/* An empty capture of the named file with its store and arena; NULL when memory is out. */
gw_capture *gw_capture_new(const char *path, gw_capture_kind kind, gw_error *error);

/* Gives the capture `count` channels, numbered from 1, in `unit`, without samples yet. */
bool gw_capture_widen(gw_capture *capture, size_t count, const char *unit, gw_error *error);

/* Values of a channel that is not streamed: where they stand, or in `room`. */
const double *gw_store_look(const gw_capture_store *store, size_t index, size_t first, size_t count, double *room);

/* Adds a remark; when memory is out the capture is not handed out. */
void gw_capture_remark(gw_capture *capture, const char *format, ...) GW_PRINTF(2, 3);

/* What a sample of a sound file is, before it is scaled: not a number is missing; infinite, or too large to be a
 * voltage as in text captures, is overload. */
unsigned char gw_wave_mark(double value, double scale);

/* Whether every sample is sure to be one: integers, at any scale that volts have. */
bool gw_wave_whole(bool is_float, double scale);

/* One channel of a block of interleaved frames, scaled, and its marks where `marks` is not NULL. */
void gw_wave_column(const double *block, size_t stride, size_t index, size_t count, bool is_float, double scale,
                    double *values, unsigned char *marks);

/* Reads the samples of an open WAV into `capture`. Takes over `input`. */
bool gw_capture_read_wave(gw_capture *capture, gw_input *input, gw_wave_family family,
                          const gw_capture_options *options, gw_error *error);

/* Reads a text capture. `input` stays the caller's. */
bool gw_capture_read_text(gw_capture *capture, gw_input *input, const gw_capture_options *options, gw_error *error);

#endif
