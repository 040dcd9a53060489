#include "cli.h"

#include <omp.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <unistd.h>

/* A file beyond the user's own limit (ulimit -f) is a write that fails and is told, not the end. */
static void outlive_file_limit(void) {
    const struct sigaction ignore = {.sa_handler = SIG_IGN};
    (void)sigaction(SIGXFSZ, &ignore, NULL);
}

/* What a thread's stack may need, with room to spare: measuring takes under half of it. */
static const rlim_t stack_bytes = (rlim_t)256 * 1024;

/* A stack that is too small would end the program without a word. It is not made larger here: other threads have got
 * their size from the limit already. */
static bool stack_suffices(void) {
    struct rlimit limit;
    return getrlimit(RLIMIT_STACK, &limit) != 0 || limit.rlim_cur >= stack_bytes;
}

/* Set where the program ends by itself; OpenMP's runtime ends it with status 1 where it gets no thread or memory, and
 * that would say that a fault was found. */
static _Thread_local bool done;

static void tell(const char *why) {
    if (write(STDERR_FILENO, why, strlen(why)) < 0) {
        /* nobody to be told */
    }
}

static void note_end(void) {
    if (done)
        return;
    tell("gainwalk: the system gives no more threads or memory: '--jobs 1' takes the least\n");
    _exit(EXIT_NOT_DONE);
}

int main(int argc, char **argv) {
    if (!stack_suffices()) {
        tell("gainwalk: the stack is limited to less than 256 KiB, see 'ulimit -s'\n");
        return EXIT_NOT_DONE;
    }
    gw_cli_memory_begin();
    outlive_file_limit();
    (void)atexit(note_end);
    omp_set_max_active_levels(3); /* chains, their captures, their segments */
    int status = gw_cli_main(argc, argv);
    done = true;
    return status;
}
