#include "cli.h"

#include <omp.h>

#if defined(__GLIBC__)
#include <malloc.h>
#endif

/* Arrays of a segment come and go by the hundred: kept by the allocator instead of being given back to the system and
 * cleared again each time, they cost a seventh less. */
static void keep_memory(void) {
#if defined(__GLIBC__)
    (void)mallopt(M_MMAP_THRESHOLD, 16 << 20);
    (void)mallopt(M_TRIM_THRESHOLD, 32 << 20);
#endif
}

int main(int argc, char **argv) {
    keep_memory();
    omp_set_max_active_levels(3); /* chains, their captures, their segments */
    return gw_cli_main(argc, argv);
}
