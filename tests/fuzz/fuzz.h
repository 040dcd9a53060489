/* What the fuzz targets share: the input as a file without a name, and checks that stop the run. */
#ifndef GAINWALK_TESTS_FUZZ_H
#define GAINWALK_TESTS_FUZZ_H

#define _GNU_SOURCE /* memfd_create */

#include "gainwalk/gainwalk.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length);

/* Not assert(): it must hold in every build type. */
#define MUST(condition)                                                                                                \
    do {                                                                                                               \
        if (!(condition)) {                                                                                            \
            fprintf(stderr, "%s:%d: not so: %s\n", __FILE__, __LINE__, #condition);                                    \
            abort();                                                                                                   \
        }                                                                                                              \
    } while (0)

/* A regular file in memory that holds the input; `path` leads to it while the descriptor is open. */
static inline int file_of(const uint8_t *bytes, size_t length, char *path, size_t size) {
    int descriptor = memfd_create("fuzz", MFD_CLOEXEC);
    MUST(descriptor >= 0);
    MUST(write(descriptor, bytes, length) == (ssize_t)length);
    snprintf(path, size, "/proc/self/fd/%d", descriptor);
    return descriptor;
}

/* The input as a string of its own, so that reading behind its end is seen. The caller frees. */
static inline char *string_of(const uint8_t *bytes, size_t length) {
    char *text = malloc(length + 1);
    MUST(text != NULL);
    memcpy(text, bytes, length);
    text[length] = '\0';
    return text;
}

/* A refusal says why. */
static inline void must_tell(const gw_error *error) {
    char text[1024];
    MUST(error->set);
    MUST(strlen(gw_error_print(error, text, sizeof text)) > 0);
}

static inline gw_capture *read_bytes(const uint8_t *bytes, size_t length) {
    char path[64];
    gw_error error = {0};
    gw_capture *capture = NULL;
    gw_capture_options options = {.probe = 1, .full_scale_v = length % 2 == 0 ? 0 : 1.5};
    int descriptor = file_of(bytes, length, path, sizeof path);
    if (!gw_capture_read(path, &options, &capture, &error)) {
        must_tell(&error);
        MUST(capture == NULL);
    }
    close(descriptor);
    return capture;
}

/* Every sample of every channel: finite, within the channel's range, marked with one of the marks there are. */
static inline void fetch_all(const gw_capture *capture) {
    enum { BLOCK = 512 };
    double values[BLOCK];
    unsigned char marks[BLOCK];
    for (size_t c = 0; c < capture->channel_count; c++)
        for (uint64_t at = 0; at < capture->samples; at += BLOCK) {
            uint64_t rest = capture->samples - at;
            size_t count = rest < BLOCK ? (size_t)rest : BLOCK;
            gw_error error = {0};
            MUST(gw_capture_fetch(capture, c, at, count, values, marks, &error));
            for (size_t i = 0; i < count; i++) {
                MUST(marks[i] <= GW_SAMPLE_OVERLOAD && isfinite(values[i]));
                MUST(marks[i] != GW_SAMPLE_PRESENT || capture->channels[c].has_range);
                MUST(marks[i] != GW_SAMPLE_PRESENT ||
                     (values[i] >= capture->channels[c].min && values[i] <= capture->channels[c].max));
            }
        }
}

/* What peek says of a capture can be made. */
static inline void peek_at(const gw_capture *capture) {
    gw_report_capture one = {.file = "fuzz", .capture = capture};
    gw_report_options options = {.program = "fuzz"};
    gw_error error = {0};
    gw_text text = {0}, json = {0};
    MUST(gw_report_peek_text(&one, 1, &options, &text, &error));
    MUST(gw_report_peek_json(&one, 1, &options, &json, &error));
    gw_text_free(&text);
    gw_text_free(&json);
}

/* Every report of a walk can be made, and is one string. */
static inline void tell_walk(const gw_walk *walk) {
    typedef bool walk_report(const gw_walk *const *, size_t, const gw_report_options *, gw_text *, gw_error *);
    static walk_report *const reports[] = {gw_report_walk_text, gw_report_walk_json, gw_report_walk_csv,
                                           gw_report_walk_html};
    gw_report_options options = {.program = "fuzz"};
    gw_error error = {0};
    for (size_t i = 0; i < sizeof reports / sizeof *reports; i++) {
        gw_text text = {0};
        MUST(reports[i](&walk, 1, &options, &text, &error));
        MUST(strlen(text.data) == text.length);
        gw_text_free(&text);
    }
}

#endif
