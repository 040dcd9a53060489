#define _DEFAULT_SOURCE /* madvise is no part of POSIX */

#include "capture/room.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>

enum { LARGE_PAGE = 2 << 20 };

void *gw_room_new(size_t size) {
    void *room = NULL;
    if (size < 2 * (size_t)LARGE_PAGE)
        return malloc(size > 0 ? size : 1);
    if (size > SIZE_MAX / 2 || posix_memalign(&room, LARGE_PAGE, size) != 0)
        return NULL;
#ifdef MADV_HUGEPAGE
    (void)madvise(room, size, MADV_HUGEPAGE); /* a hint: without it all works the same */
#endif
    return room;
}

void *gw_room_grow(void *old, size_t old_size, size_t size) {
    if (size < 2 * (size_t)LARGE_PAGE)
        return realloc(old, size > 0 ? size : 1);
    void *room = gw_room_new(size);
    if (room == NULL)
        return NULL;
    if (old != NULL)
        memcpy(room, old, old_size < size ? old_size : size);
    free(old);
    return room;
}
