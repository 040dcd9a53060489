#define _DEFAULT_SOURCE /* madvise is no part of POSIX */

#include "capture/room.h"

#include <fcntl.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

enum { LARGE_PAGE = 2 << 20, HEAD = 64, FILE_HEAD = 1 << 16, NAME_MAX_LENGTH = 4096 };

/* Stands right before the room. */
typedef struct head {
    size_t size; /* of all, the head included */
    int file;    /* of a room in a file; -1 */
} head;

_Static_assert(sizeof(head) <= HEAD, "the head must fit before the room");

static head *head_of(const void *room) {
    return (head *)((uintptr_t)room - HEAD);
}

/* Where a room begins in its block: behind one unit of the largest page size of a file. */
static void *room_in(void *block, size_t offset, size_t size, int file) {
    unsigned char *room = (unsigned char *)block + offset;
    *head_of(room) = (head){.size = size, .file = file};
    return room;
}

void *gw_room_new(size_t size) {
    void *block = NULL;
    if (size > SIZE_MAX / 2)
        return NULL;
    size += HEAD;
    if (size < 2 * (size_t)LARGE_PAGE) {
        block = malloc(size);
        return block != NULL ? room_in(block, HEAD, size, -1) : NULL;
    }
    if (posix_memalign(&block, LARGE_PAGE, size) != 0)
        return NULL;
#ifdef MADV_HUGEPAGE
    (void)madvise(block, size, MADV_HUGEPAGE); /* a hint: without it all works the same */
#endif
    return room_in(block, HEAD, size, -1);
}

void gw_room_free(void *room) {
    if (room == NULL)
        return;
    head h = *head_of(room);
    if (h.file < 0) {
        free(head_of(room));
        return;
    }
    munmap((unsigned char *)room - FILE_HEAD, h.size);
    close(h.file);
}

/* ---- rooms in a file ----------------------------------------------------------------------------- */

int gw_room_nameless_file(void) {
    char name[NAME_MAX_LENGTH];
    const char *folder = getenv("TMPDIR");
    int length = snprintf(name, sizeof name, "%s/gainwalk-XXXXXX", folder != NULL && *folder != '\0' ? folder : "/tmp");
    int file = length > 0 && (size_t)length < sizeof name ? mkstemp(name) : -1;
    if (file >= 0) {
        unlink(name);
        (void)fcntl(file, F_SETFD, FD_CLOEXEC);
    }
    return file;
}

/* Reserved in full: a full disk is told here, not by a signal at some later touch. */
static void *map_file(int file, size_t size) {
    if (size > INT64_MAX - FILE_HEAD || posix_fallocate(file, 0, (off_t)(size + FILE_HEAD)) != 0)
        return NULL;
    void *block = mmap(NULL, size + FILE_HEAD, PROT_READ | PROT_WRITE, MAP_SHARED, file, 0);
#ifdef MADV_RANDOM
    if (block != MAP_FAILED) /* what comes next is said (gw_room_expect); there is nothing to be read ahead */
        (void)madvise(block, size + FILE_HEAD, MADV_RANDOM);
#endif
    return block != MAP_FAILED ? room_in(block, FILE_HEAD, size + FILE_HEAD, file) : NULL;
}

void gw_room_write(void *room, size_t from, const void *bytes, size_t length) {
    const char *rest = bytes;
    while (head_of(room)->file >= 0 && length > 0) {
        ssize_t put = pwrite(head_of(room)->file, rest, length, (off_t)(FILE_HEAD + from));
        if (put <= 0)
            break; /* then through memory */
        rest += put;
        from += (size_t)put;
        length -= (size_t)put;
    }
    if (length > 0)
        memcpy((char *)room + from, rest, length);
}

static void *grow_in_file(void *room, size_t old_size, size_t size) {
    bool filed = room != NULL && head_of(room)->file >= 0;
    int file = filed ? head_of(room)->file : gw_room_nameless_file();
    void *grown = file >= 0 ? map_file(file, size) : NULL;
    if (grown == NULL) {
        if (file >= 0 && !filed)
            close(file);
        return NULL;
    }
    if (filed) {
        munmap((unsigned char *)room - FILE_HEAD, old_size + FILE_HEAD);
        return grown;
    }
    if (room != NULL)
        gw_room_write(grown, 0, room, old_size < size ? old_size : size);
    gw_room_free(room);
    return grown;
}

static void *grow_in_memory(void *room, size_t old_size, size_t size) {
    if (room != NULL && size > 0 && size < (size_t)LARGE_PAGE && head_of(room)->file < 0) {
        void *block = realloc(head_of(room), size + HEAD);
        return block != NULL ? room_in(block, HEAD, size + HEAD, -1) : NULL;
    }
    void *grown = gw_room_new(size);
    if (grown == NULL)
        return NULL;
    if (room != NULL)
        memcpy(grown, room, old_size < size ? old_size : size);
    gw_room_free(room);
    return grown;
}

void *gw_room_grow(void *room, size_t old_size, size_t size, bool file) {
    bool filed = room != NULL && head_of(room)->file >= 0;
    void *grown = file || filed ? grow_in_file(room, filed ? head_of(room)->size - FILE_HEAD : old_size, size) : NULL;
    return grown != NULL ? grown : grow_in_memory(room, filed ? head_of(room)->size - FILE_HEAD : old_size, size);
}

/* What the system is told of the whole pages between `from` and `from + length`, as far as the room goes. */
static void advise(const void *room, size_t from, size_t length, int what) {
    if (room == NULL || head_of(room)->file < 0)
        return;
    uintptr_t page = (uintptr_t)sysconf(_SC_PAGESIZE), start = (uintptr_t)room + from, end = start + length;
    uintptr_t last = (uintptr_t)room - FILE_HEAD + head_of(room)->size;
    start = (start + page - 1) / page * page;
    end = (end < last ? end : last) / page * page;
    if (end > start)
        (void)madvise((void *)start, end - start, what);
}

void gw_room_forget(const void *room, size_t from, size_t length) {
    advise(room, from, length, MADV_DONTNEED);
}

void gw_room_expect(const void *room, size_t from, size_t length, bool write) {
#if defined(MADV_POPULATE_READ) && defined(MADV_POPULATE_WRITE) && defined(MADV_WILLNEED)
    if (!write)
        advise(room, from, length, MADV_WILLNEED);
    advise(room, from, length, write ? MADV_POPULATE_WRITE : MADV_POPULATE_READ);
#else
    (void)room, (void)from, (void)length, (void)write;
#endif
}
