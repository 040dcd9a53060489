/* Large blocks of memory that are touched once from end to end. */
#ifndef GAINWALK_CAPTURE_ROOM_H
#define GAINWALK_CAPTURE_ROOM_H

#include <stddef.h>

/* `size` bytes, freed by free(); NULL when memory is out. Large ones ask the system for large pages, where it has
 * them: first touches of small pages would cost more than reading the numbers. */
void *gw_room_new(size_t size);

/* As realloc, from `old_size` bytes. On failure NULL, and the old block stays. */
void *gw_room_grow(void *old, size_t old_size, size_t size);

#endif
