/* Plain samples as most sound files hold them, made numbers without a library. Private to src/capture/. */
#ifndef GAINWALK_CAPTURE_PCM_H
#define GAINWALK_CAPTURE_PCM_H

#include <stdbool.h>
#include <stddef.h>

/* Bytes that may be read behind the last sample. */
enum { GW_PCM_PAD = 16 };

/* Whether samples of so many bytes, least significant first, are decoded here: 2, 3 or 4 bytes of integers, 4 bytes of
 * floating point (IEEE 754). */
bool gw_pcm_takes(unsigned bytes, bool is_float);

/* Every `stride`-th of the samples from `from` on, `count` of them: integers divided by 2^(bits-1) and multiplied by
 * `scale`, floating point as it is. GW_PCM_PAD bytes behind the last may be read. */
void gw_pcm_decode(const unsigned char *from, unsigned bytes, bool is_float, size_t stride, size_t count, double scale,
                   double *values);

#endif
