/* A long text of which only a part is in memory: a window that follows whoever reads. */
#ifndef GAINWALK_CAPTURE_WINDOW_H
#define GAINWALK_CAPTURE_WINDOW_H

#include "capture/input.h"

typedef struct gw_window {
    gw_input *input; /* not owned: it must stay open */
    char *bytes;     /* address space for the whole text; what is outside the window reads as zero */
    size_t room;     /* of it */
    uint64_t offset; /* of the text in the file */
    size_t length;   /* of the text in the file, without the end of the last line that is put behind */
    size_t from, to; /* what is loaded */
    size_t safe;     /* lines that begin before here are loaded whole */
    bool broken;     /* the file ended before `length` */
    bool zeros;      /* zero bytes were met */
    bool overlong;   /* a line longer than GW_LINE_MAX was met: it is loaded in part only */
} gw_window;

/* Bytes of a line. */
enum { GW_LINE_MAX = 64 << 20 };

/* Address space for `length` bytes of text from `offset` in the file on, and `pad` bytes behind. NULL when memory is
 * out. */
gw_window *gw_window_new(gw_input *input, uint64_t offset, size_t length, size_t pad);
void gw_window_free(gw_window *window);

/* Loads what is needed so that the line at byte `at`, from there to its end, is in memory. */
void gw_window_move(gw_window *window, size_t at);

/* Loads all from `from` to `to`, and on to the end of a line. */
void gw_window_hold(gw_window *window, size_t from, size_t to);

/* How many zero bytes end the file. */
uint64_t gw_window_tail(gw_input *input);

/* Whether the first `length` bytes of the file hold a zero byte. */
bool gw_window_any_zero(gw_input *input, uint64_t length);

/* The end of the last line that is whole among the first `length` bytes of the file; 0 without any. */
uint64_t gw_window_last_line(gw_input *input, uint64_t length);

#endif
