#include "cli.h"

#include <omp.h>
#include <signal.h>

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

/* A file beyond the user's own limit (ulimit -f) is a write that fails and is told, not the end. */
static void outlive_file_limit(void) {
    const struct sigaction ignore = {.sa_handler = SIG_IGN};
    (void)sigaction(SIGXFSZ, &ignore, NULL);
}

int main(int argc, char **argv) {
    keep_memory();
    outlive_file_limit();
    omp_set_max_active_levels(3); /* chains, their captures, their segments */
    return gw_cli_main(argc, argv);
}
