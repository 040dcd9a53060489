/* The bytes of a regular file, read where they are wanted. */
#ifndef GAINWALK_CAPTURE_INPUT_H
#define GAINWALK_CAPTURE_INPUT_H

#include "gainwalk/base.h"

typedef struct gw_input {
    const char *path; /* as it was named; not copied */
    int descriptor;   /* -1: closed */
    uint64_t size;
    int reason; /* errno of the first read that failed; 0 */
} gw_input;

/* Opens a regular file for reading. Directories, pipes and devices are refused, and never waited for. */
bool gw_input_open(gw_input *input, const char *path, gw_error *error);
void gw_input_close(gw_input *input);

/* False when a read failed, which then is the error, whatever else looked wrong for want of those bytes. */
bool gw_input_good(const gw_input *input, gw_error *error);

/* Reads up to `length` bytes at `at`; the number that were there. A failure is noted in the input. */
size_t gw_input_read(gw_input *input, uint64_t at, void *bytes, size_t length);

#endif
