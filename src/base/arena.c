#include "gainwalk/base.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { BLOCK_BYTES = 4096 };

typedef struct block {
    struct block *next;
    size_t used, size;
    max_align_t bytes[];
} block;

struct gw_arena {
    block *first;
    bool failed;
};

gw_arena *gw_arena_new(void) {
    return calloc(1, sizeof(gw_arena));
}

void gw_arena_free(gw_arena *arena) {
    if (arena == NULL)
        return;
    for (block *at = arena->first; at != NULL;) {
        block *next = at->next;
        free(at);
        at = next;
    }
    free(arena);
}

bool gw_arena_failed(const gw_arena *arena) {
    return arena->failed;
}

static void *fail(gw_arena *arena) {
    arena->failed = true;
    return NULL;
}

void *gw_arena_take(gw_arena *arena, size_t size) {
    const size_t unit = sizeof(max_align_t);
    if (size > SIZE_MAX / 2)
        return fail(arena);
    size = size == 0 ? unit : (size + unit - 1) / unit * unit;
    block *at = arena->first;
    if (at == NULL || at->size - at->used < size) {
        size_t bytes = size > BLOCK_BYTES ? size : BLOCK_BYTES;
        at = calloc(1, sizeof(block) + bytes);
        if (at == NULL)
            return fail(arena);
        at->size = bytes;
        at->next = arena->first;
        arena->first = at;
    }
    void *taken = (char *)at->bytes + at->used;
    at->used += size;
    return taken;
}

void *gw_arena_array(gw_arena *arena, size_t count, size_t size) {
    if (size != 0 && count > SIZE_MAX / size)
        return fail(arena);
    return gw_arena_take(arena, count * size);
}

char *gw_arena_copy(gw_arena *arena, const char *text, size_t length) {
    if (text == NULL || length == SIZE_MAX)
        return NULL;
    char *copy = gw_arena_take(arena, length + 1);
    if (copy != NULL && length > 0)
        memcpy(copy, text, length);
    return copy;
}

char *gw_arena_string(gw_arena *arena, const char *text) {
    return text == NULL ? NULL : gw_arena_copy(arena, text, strlen(text));
}

char *gw_arena_printf(gw_arena *arena, const char *format, ...) {
    va_list arguments;
    va_start(arguments, format);
    int length = vsnprintf(NULL, 0, format, arguments);
    va_end(arguments);
    char *text = length < 0 ? NULL : gw_arena_take(arena, (size_t)length + 1);
    if (text == NULL)
        return NULL;
    va_start(arguments, format);
    vsnprintf(text, (size_t)length + 1, format, arguments);
    va_end(arguments);
    return text;
}
