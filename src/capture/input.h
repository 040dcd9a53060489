/* The bytes of a regular file, read where they are wanted. */
#ifndef GAINWALK_CAPTURE_INPUT_H
#define GAINWALK_CAPTURE_INPUT_H

#include "gainwalk/base.h"

typedef struct gw_input {
    const char *path; /* as it was named; not copied */
    int descriptor;   /* -1: closed */
    uint64_t size;
} gw_input;

/* Opens a regular file for reading. Directories, pipes and devices are refused, and never waited for. */
bool gw_input_open(gw_input *input, const char *path, gw_error *error);
void gw_input_close(gw_input *input);

/* Reads up to `length` bytes at `at`; the number that were there. */
size_t gw_input_read(const gw_input *input, uint64_t at, void *bytes, size_t length);

#endif
