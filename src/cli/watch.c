/* gainwalk watch: each capture judged as it arrives. */
#include "watch.h"

#include <errno.h>
#include <poll.h>
#include <signal.h>
#include <string.h>
#include <sys/inotify.h>
#include <sys/signalfd.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

/* News of the kernel wakes it at once; folders on another machine give none, so it looks by itself too. */
enum { LOOK_MS = 1000, LOOK_SOON_MS = 100 };

typedef struct ears {
    int folder, signals;
} ears;

static double now_s(void) {
    struct timespec now = {0};
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

/* Signals become something to read, so that nothing is cut short. */
static bool open_ears(ears *out, gw_error *error) {
    sigset_t wanted;
    sigemptyset(&wanted);
    sigaddset(&wanted, SIGINT);
    sigaddset(&wanted, SIGTERM);
    sigaddset(&wanted, SIGHUP);
    out->folder = inotify_init1(IN_NONBLOCK | IN_CLOEXEC);
    out->signals = -1;
    if (sigprocmask(SIG_BLOCK, &wanted, NULL) == 0)
        out->signals = signalfd(-1, &wanted, SFD_NONBLOCK | SFD_CLOEXEC);
    return out->signals >= 0 || gw_error_set(error, NULL, 0, "signals cannot be heard: %s", strerror(errno));
}

static void close_ears(const ears *of) {
    if (of->folder >= 0)
        close(of->folder);
    if (of->signals >= 0)
        close(of->signals);
}

static void drain(int descriptor) {
    char block[4096];
    while (read(descriptor, block, sizeof block) > 0)
        ;
}

/* Waits for news or time; false when it is to end. */
static bool listen_for(const ears *with, const watch *of) {
    struct pollfd both[] = {{.fd = with->signals, .events = POLLIN}, {.fd = with->folder, .events = POLLIN}};
    if (with->folder >= 0)
        inotify_add_watch(with->folder, of->files.path,
                          IN_CREATE | IN_MODIFY | IN_CLOSE_WRITE | IN_MOVED_TO | IN_MOVED_FROM | IN_DELETE);
    int got = poll(both, with->folder >= 0 ? 2 : 1, gw_folder_waiting(&of->files) ? LOOK_SOON_MS : LOOK_MS);
    if (got > 0 && both[1].revents != 0)
        drain(with->folder);
    return got <= 0 || both[0].revents == 0;
}

static bool is_free(const arguments *given, option_id option, gw_error *error) {
    const char *path = given->values[option];
    struct stat status;
    if (path == NULL || given->values[OPTION_FORCE] != NULL || gw_cli_is_standard(path))
        return true;
    return lstat(path, &status) != 0 || gw_error_set(error, path, 0, "exists already, not overwritten");
}

static bool check(const arguments *given, gw_error *error) {
    const char *assigned = given->values[OPTION_ASSIGN], *page = given->values[OPTION_HTML];
    if (given->count != 1)
        return gw_error_set(error, NULL, 0, "one chain file is watched, %zu given, see 'gainwalk watch --help'",
                            given->count);
    if (assigned != NULL && strcmp(assigned, "name") != 0 && strcmp(assigned, "order") != 0)
        return gw_error_set(error, "--assign", 0, "not name or order: '%s'", assigned);
    if (page != NULL && gw_cli_is_standard(page))
        return gw_error_set(error, "--html", 0, "a page that is written again and again needs a file");
    if (gw_cli_is_standard(given->words[0]))
        return gw_error_set(error, NULL, 0, "a chain file that is watched has to be a file");
    return is_free(given, OPTION_HTML, error) && is_free(given, OPTION_CSV, error) &&
           is_free(given, OPTION_SAVE, error);
}

static bool begin(watch *of, gw_error *error) {
    gw_chain *chain = NULL;
    struct stat status;
    if (!check(of->given, error) || !gw_cli_jobs(of->given, &of->jobs, error) ||
        !gw_chain_load(of->chain_path, &chain, error))
        return false;
    const char *path = chain->folder[0] != '\0' ? chain->folder : ".";
    bool there = stat(path, &status) == 0 && S_ISDIR(status.st_mode);
    bool fine = there ? gw_folder_open(&of->files, path, error)
                      : gw_error_set(error, path, 0, "no such folder to watch; make it, or name it with 'captures ='");
    gw_chain_free(chain);
    return fine && gw_folder_add(&of->files, of->chain_path, error) && gw_cli_watch_begin(of, error);
}

int gw_cli_watch(const arguments *given) {
    const char *assigned = given->values[OPTION_ASSIGN];
    watch state = {.given = given,
                   .chain_path = given->count > 0 ? given->words[0] : "",
                   .by_order = assigned != NULL && strcmp(assigned, "order") == 0};
    ears heard = {-1, -1};
    gw_error error = {0};
    int status = EXIT_NOT_DONE;
    /* signals first: threads that judge take over what is blocked */
    if (!open_ears(&heard, &error) || !begin(&state, &error))
        gw_cli_fail(&error);
    else {
        gw_text none = {0};
        gw_cli_note("watching, Ctrl-C ends: ", state.files.path);
        gw_cli_watch_verdict(&state, &none);
        while (listen_for(&heard, &state))
            gw_cli_watch_round(&state, now_s());
        status = gw_cli_watch_end(&state);
    }
    close_ears(&heard);
    gw_cli_watch_free(&state);
    return status;
}
