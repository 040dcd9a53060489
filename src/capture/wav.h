/* Samples of WAV files and their relatives, through libsndfile where they are not plain. The only place that knows it.
 */
#ifndef GAINWALK_CAPTURE_WAV_H
#define GAINWALK_CAPTURE_WAV_H

#include "capture/chunks.h"

/* An open file of samples, read in blocks. */
typedef struct gw_wave gw_wave;

typedef struct gw_wave_info {
    unsigned channels;
    uint64_t frames;
    double rate_hz; /* 0 where the file gives none */
    unsigned bits;  /* used ones a sample */
    unsigned bytes; /* a sample takes */
    bool is_float;
} gw_wave_info;

/* Takes over `input` (closed by gw_wave_close, and here on failure). What is odd goes to `remarks`. */
gw_wave *gw_wave_open(gw_input *input, gw_wave_family family, gw_strings *remarks, gw_error *error);
void gw_wave_close(gw_wave *wave);
const gw_wave_info *gw_wave_about(const gw_wave *wave);

/* Reads `count` frames from frame `first` on, channels interleaved, integers divided by 2^(bits-1), floating point as
 * it is. False with an error where fewer can be read. */
bool gw_wave_read(gw_wave *wave, uint64_t first, size_t count, double *values, gw_error *error);

/* Whether the samples are plain: several threads may then read at a time, and one channel may be read by itself. */
bool gw_wave_is_plain(const gw_wave *wave);

/* The same of one channel of a plain file, integers multiplied by `scale`. */
bool gw_wave_read_channel(const gw_wave *wave, size_t index, uint64_t first, size_t count, double scale, double *values,
                          gw_error *error);

#endif
