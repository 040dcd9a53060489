/* Captures of samples that a test made, by way of a file. */
#ifndef GAINWALK_TESTS_CAPTURED_H
#define GAINWALK_TESTS_CAPTURED_H

#include "assert_close.h"

#include "gainwalk/capture.h"

#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

static inline void put32(FILE *file, unsigned value) {
    for (int i = 0; i < 4; i++)
        fputc((int)(value >> (8 * i) & 0xff), file);
}

/* Two channels as a float WAV; reads it back as a capture. */
static inline gw_capture *capture_of(const double *one, const double *other, size_t n, unsigned rate_hz) {
    char path[] = "/tmp/gainwalk-captured-XXXXXX";
    int handle = mkstemp(path);
    assert_true(handle >= 0);
    FILE *file = fdopen(handle, "wb");
    assert_non_null(file);
    unsigned bytes = (unsigned)n * 8;
    fwrite("RIFF", 1, 4, file), put32(file, 36 + bytes), fwrite("WAVEfmt ", 1, 8, file);
    put32(file, 16), put32(file, 3 | 2 << 16), put32(file, rate_hz), put32(file, rate_hz * 8);
    put32(file, 8 | 32 << 16), fwrite("data", 1, 4, file), put32(file, bytes);
    for (size_t i = 0; i < n; i++) {
        float pair[2] = {(float)one[i], (float)other[i]};
        fwrite(pair, sizeof *pair, 2, file); /* the tests run on little-endian machines */
    }
    assert_int_equal(fclose(file), 0);
    gw_error error = {0};
    gw_capture *capture = NULL;
    bool read = gw_capture_read(path, NULL, &capture, &error);
    unlink(path);
    if (!read)
        print_error("%s\n", error.text);
    assert_true(read);
    return capture;
}

#endif
