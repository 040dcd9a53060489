/* Runs a program, several times, and tells of each run what it took. Built and run by scripts/bench: started from here,
 * a program's peak memory is its own; started from Python it would be Python's, which a child is a copy of until it
 * begins.
 *
 * usage: run TIMES FILE PROGRAM WORD…: a line in FILE for each run: exit status, wall and processor seconds, peak kB.
 */
#define _DEFAULT_SOURCE /* wait4 */
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

static double now(void) {
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static double seconds(struct timeval t) {
    return (double)t.tv_sec + 1e-6 * (double)t.tv_usec;
}

int main(int argc, char **argv) {
    FILE *out = argc > 3 ? fopen(argv[2], "w") : NULL;
    if (out == NULL)
        return 125;
    for (int left = atoi(argv[1]); left > 0; left--) {
        int status = 0;
        struct rusage used;
        double began = now();
        pid_t child = fork();
        if (child == 0) {
            int nowhere = open("/dev/null", O_WRONLY);
            dup2(nowhere, 1);
            dup2(nowhere, 2);
            execvp(argv[3], argv + 3);
            _exit(127);
        }
        if (child < 0 || wait4(child, &status, 0, &used) != child)
            return 125;
        fprintf(out, "%d %.9f %.6f %ld\n", WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status),
                now() - began, seconds(used.ru_utime) + seconds(used.ru_stime), used.ru_maxrss);
    }
    return fclose(out) == 0 ? 0 : 125;
}
