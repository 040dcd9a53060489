/* How memory is asked of the system, where its C library lets one say so. What is not to be had is done without. */
#define _DEFAULT_SOURCE /* madvise */
#include "cli.h"

#include <stdint.h>
#include <stdlib.h>
#include <sys/mman.h>
#include <unistd.h>

#if defined(__GLIBC__)
#include <malloc.h>

/* What the heap begins with: addresses, not memory yet. Measuring on two threads takes less. */
enum { HEAP_BYTES = 48 << 20, KEPT_BYTES = 64 << 20, PAD_BYTES = 128 << 10, FIRST_BYTES = 256 << 10 };

/* The heap grows to its first size at once, in large pages, if the system has them: the first touch of a page is dear,
 * above all on a virtual machine. */
static void heap_begin(void) {
    (void)mallopt(M_TOP_PAD, HEAP_BYTES);
    char *first = malloc(FIRST_BYTES); /* more than lies ready, less than stands by itself */
    (void)mallopt(M_TOP_PAD, PAD_BYTES);
#if defined(MADV_HUGEPAGE)
    uintptr_t page = (uintptr_t)sysconf(_SC_PAGESIZE), from = ((uintptr_t)first + page - 1) / page * page;
    if (first != NULL)
        (void)madvise((void *)from, HEAP_BYTES, MADV_HUGEPAGE);
#endif
    free(first);
}

void gw_cli_memory_begin(void) {
    (void)mallopt(M_MMAP_THRESHOLD, 16 << 20);
    (void)mallopt(M_TRIM_THRESHOLD, KEPT_BYTES);
    heap_begin();
}

void gw_cli_memory_share(void) {
    (void)mallopt(M_ARENA_MAX, 1);
}
#else
void gw_cli_memory_begin(void) {}

void gw_cli_memory_share(void) {}
#endif
