#define _DEFAULT_SOURCE /* madvise and anonymous mappings are no part of POSIX */

#include "capture/window.h"

#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

enum { PART = 1 << 18, SCANNED = 1 << 16 };

#ifndef MAP_NORESERVE
#define MAP_NORESERVE 0
#endif

static size_t page_size(void) {
    long size = sysconf(_SC_PAGESIZE);
    return size > 0 ? (size_t)size : 4096;
}

gw_window *gw_window_new(gw_input *input, uint64_t offset, size_t length, size_t pad) {
    gw_window *window = calloc(1, sizeof *window);
    if (window == NULL)
        return NULL;
    *window = (gw_window){.input = input, .offset = offset, .length = length, .room = length + pad};
    void *space = mmap(NULL, window->room, PROT_READ | PROT_WRITE, MAP_PRIVATE | MAP_ANONYMOUS | MAP_NORESERVE, -1, 0);
    if (space == MAP_FAILED) {
        free(window);
        return NULL;
    }
    window->bytes = space;
    return window;
}

void gw_window_free(gw_window *window) {
    if (window == NULL)
        return;
    munmap(window->bytes, window->room);
    free(window);
}

static bool is_line_end(char character) {
    return character == '\n' || character == '\r';
}

/* Gives back what is loaded before `keep`. */
static void leave(gw_window *window, size_t keep) {
    size_t page = page_size(), from = window->from / page * page, to = keep / page * page;
    if (to > from)
        (void)madvise(window->bytes + from, to - from, MADV_DONTNEED);
}

/* The line in hand is too long: it ends here for whoever reads it, and nothing is loaded any more. */
static void stop(gw_window *window) {
    window->overlong = true;
    window->bytes[window->to] = '\n';
    window->safe = window->room;
}

/* Loads the next part behind what is loaded. */
static void load_part(gw_window *window) {
    size_t left = window->length - window->to, some = left < PART ? left : PART;
#ifdef MADV_POPULATE_WRITE
    (void)madvise(window->bytes + window->to, PART <= window->room - window->to ? PART : 0, MADV_POPULATE_WRITE);
#endif
    size_t got = gw_input_read(window->input, window->offset + window->to, window->bytes + window->to, some);
    window->broken = window->broken || got < some;
    window->zeros = window->zeros || memchr(window->bytes + window->to, '\0', got) != NULL;
    window->to += some;
    if (window->to == window->length) {
        window->bytes[window->length] = '\n';
        window->safe = window->room;
        return;
    }
    size_t end = window->to;
    while (end > window->to - some && !is_line_end(window->bytes[end - 1]))
        end--;
    if (end > window->to - some)
        window->safe = end;
    else if (window->to - window->safe > GW_LINE_MAX)
        stop(window);
}

static void start_at(gw_window *window, size_t at) {
    size_t page = page_size();
    leave(window, window->to + page < window->room ? window->to + page : window->room);
    window->from = window->to = window->safe = at / page * page;
}

void gw_window_move(gw_window *window, size_t at) {
    if (at >= window->from && at < window->safe)
        return;
    if (at < window->from || at >= window->to) {
        start_at(window, at < window->length ? at : window->length);
    } else {
        size_t page = page_size();
        leave(window, at);
        window->from = at / page * page > window->from ? at / page * page : window->from;
    }
    while (window->safe <= at && window->safe < window->room)
        load_part(window);
}

void gw_window_hold(gw_window *window, size_t from, size_t to) {
    to = to < window->length ? to : window->length;
    if (from < window->from || from > window->to)
        start_at(window, from);
    while ((window->safe <= to || window->to < to) && window->safe < window->room)
        load_part(window);
}

/* ---- looks at the file itself ------------------------------------------------------------------- */

uint64_t gw_window_tail(gw_input *input) {
    char part[SCANNED];
    uint64_t tail = 0;
    while (tail < input->size) {
        uint64_t left = input->size - tail;
        size_t some = left < sizeof part ? (size_t)left : sizeof part;
        size_t end = gw_input_read(input, left - some, part, some), all = end;
        while (end > 0 && part[end - 1] == '\0')
            end--;
        tail += all - end;
        if (end > 0 || all < some)
            break;
    }
    return tail;
}

bool gw_window_any_zero(gw_input *input, uint64_t length) {
    char part[SCANNED];
    for (uint64_t at = 0; at < length; at += sizeof part) {
        size_t some = length - at < sizeof part ? (size_t)(length - at) : sizeof part;
        size_t got = gw_input_read(input, at, part, some);
        if (memchr(part, '\0', got) != NULL)
            return true;
        if (got < some)
            break;
    }
    return false;
}

uint64_t gw_window_last_line(gw_input *input, uint64_t length) {
    char part[SCANNED];
    while (length > 0) {
        size_t some = length < sizeof part ? (size_t)length : sizeof part;
        size_t got = gw_input_read(input, length - some, part, some);
        for (size_t i = got; i > 0; i--)
            if (is_line_end(part[i - 1]))
                return length - some + i;
        length -= some;
    }
    return 0;
}
