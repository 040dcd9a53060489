/* The chunk list of WAV and its relatives, read with the forgiveness that unfinished and odd files need.
 *
 * The library that decodes samples gives up on some of these files, or finds nothing in them. So the list is walked
 * here, and the library gets a clean heading in front of the samples. */
#ifndef GAINWALK_CAPTURE_CHUNKS_H
#define GAINWALK_CAPTURE_CHUNKS_H

#include "capture/input.h"

typedef enum gw_wave_family {
    GW_WAVE_NONE,  /* no WAV at all */
    GW_WAVE_RIFF,  /* RIFF, and RF64 or BW64 with 64-bit sizes in a chunk of their own */
    GW_WAVE_RIFX,  /* the same, most significant byte first */
    GW_WAVE_W64,   /* 16-byte ids, 64-bit sizes */
    GW_WAVE_OTHER, /* another container of plain samples that the library reads as it stands */
} gw_wave_family;

typedef struct gw_wave_format {
    unsigned tag;             /* 1 integers, 3 floating point, else compressed; the sub-format's where there is one */
    unsigned channels, bytes; /* bytes a sample of one channel takes */
    unsigned bits;            /* of these, how many the file says are used */
    uint32_t rate_hz;
} gw_wave_format;

typedef struct gw_chunks {
    gw_wave_family family;
    gw_wave_format format;
    uint64_t data_at, frames;
} gw_chunks;

enum { GW_WAVE_PCM = 1, GW_WAVE_FLOAT = 3, GW_WAVE_CHANNELS_MAX = 256 };

/* By the first bytes, never by the name. `length` bytes of the beginning are in `head` (24 suffice). */
gw_wave_family gw_wave_family_of(const unsigned char *head, size_t length);

/* Walks the chunks of a RIFF, RIFX or W64 file; finds the format and the samples, before or after each other. What
 * is odd goes to `remarks`. False with an error for a compressed or broken file, and for one without samples. */
bool gw_chunks_read(gw_input *input, gw_chunks *out, gw_strings *remarks, gw_error *error);

/* Little-endian integers. */
void gw_put_little(unsigned char *bytes, uint64_t value, size_t count);
uint64_t gw_get_little(const unsigned char *bytes, size_t count);

#endif
