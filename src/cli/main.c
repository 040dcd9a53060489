#include "cli.h"

#include <omp.h>
#include <signal.h>
#include <stdlib.h>
#include <unistd.h>

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

/* Set where the program ends by itself; OpenMP's runtime ends it with status 1 where it gets no thread or memory, and
 * that would say that a fault was found. */
static _Thread_local bool done;

static void note_end(void) {
    static const char why[] = "gainwalk: the system gives no more threads or memory: '--jobs 1' takes the least\n";
    if (done)
        return;
    if (write(STDERR_FILENO, why, sizeof why - 1) < 0) {
        /* nobody to be told */
    }
    _exit(EXIT_NOT_DONE);
}

int main(int argc, char **argv) {
    keep_memory();
    outlive_file_limit();
    (void)atexit(note_end);
    omp_set_max_active_levels(3); /* chains, their captures, their segments */
    int status = gw_cli_main(argc, argv);
    done = true;
    return status;
}
