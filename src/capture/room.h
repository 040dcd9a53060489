/* Blocks of memory that are touched from end to end: rooms. Long ones may be kept in a file without a name, of which
 * only the part in use is in memory. */
#ifndef GAINWALK_CAPTURE_ROOM_H
#define GAINWALK_CAPTURE_ROOM_H

#include <stdbool.h>
#include <stddef.h>

/* `size` bytes, freed by gw_room_free; NULL when memory is out. Large ones ask the system for large pages, where it has
 * them: first touches of small pages would cost more than reading the numbers. */
void *gw_room_new(size_t size);
void gw_room_free(void *room);

/* As realloc, from `old_size` bytes. With `file` the room lies in a file of its own from then on, in the folder for
 * temporary files (TMPDIR), its blocks reserved; where that can't be made the room stays in memory. On failure NULL,
 * and the old room stays. */
void *gw_room_grow(void *room, size_t old_size, size_t size, bool file);

/* A file in that folder that is gone when it is closed; -1 where none can be made. */
int gw_room_nameless_file(void);

/* Copies `length` bytes to byte `from` of a room. What lies in a file is written there, which touches no page of it. */
void gw_room_write(void *room, size_t from, const void *bytes, size_t length);

/* Says that bytes `from` to `from + length` are not needed for now: of a room in a file they leave memory, and come
 * back when they are touched. */
void gw_room_forget(const void *room, size_t from, size_t length);

/* Says that they are needed next: what of a room in a file is to be touched comes at once instead of page by page. */
void gw_room_expect(const void *room, size_t from, size_t length, bool write);

/* Both for a pass over objects of `size` bytes, once every so many of them: `i` was the last one touched. */
enum { GW_ROOM_PASS = 1 << 16 };
static inline void gw_room_passed(const void *room, size_t size, size_t i) {
    if (room != NULL && (i + 1) % GW_ROOM_PASS == 0) {
        gw_room_forget(room, (i + 1 - GW_ROOM_PASS) * size, GW_ROOM_PASS * size);
        gw_room_expect(room, (i + 1) * size, GW_ROOM_PASS * size, false);
    }
}

#endif
