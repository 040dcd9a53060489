/* The only place where anything is printed. */
#include "cli.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <time.h>
#include <unistd.h>

/* What a hostile file name or record would tell the terminal must not reach it. */
static void print_plainly(FILE *to, const char *text) {
    for (char shown[12]; gw_text_visible(&text, shown);)
        fputs(shown, to);
}

int gw_cli_fail(const gw_error *error) {
    char text[1024];
    fputs("gainwalk: ", stderr);
    print_plainly(stderr, gw_error_print(error, text, sizeof text));
    fputc('\n', stderr);
    return EXIT_NOT_DONE;
}

void gw_cli_note(const char *what, const char *subject) {
    fputs(what, stderr);
    print_plainly(stderr, subject);
    fputc('\n', stderr);
}

bool gw_cli_print(const gw_text *text) {
    gw_error error = {0};
    if (text->failed) {
        gw_error_memory(&error);
        gw_cli_fail(&error);
        return false;
    }
    size_t written = fwrite(gw_text_string(text), 1, text->length, stdout);
    if (written == text->length && fflush(stdout) == 0)
        return true;
    gw_error_set(&error, NULL, 0, "standard output cannot be written: %s", strerror(errno));
    gw_cli_fail(&error);
    return false;
}

bool gw_cli_write(const char *path, const gw_text *text, bool force) {
    gw_error error = {0};
    if (strcmp(path, "-") == 0)
        return gw_cli_print(text);
    if (text->failed)
        gw_error_memory(&error);
    else if (gw_file_write(path, gw_text_string(text), text->length, force, &error))
        return true;
    gw_cli_fail(&error);
    return false;
}

bool gw_cli_output_taken(const arguments *given) {
    static const option_id files[] = {OPTION_CSV, OPTION_HTML};
    for (size_t i = 0; i < sizeof files / sizeof *files; i++)
        if (given->values[files[i]] != NULL && gw_cli_is_standard(given->values[files[i]]))
            return true;
    return false;
}

bool gw_cli_deliver(bool made, gw_text *text, const gw_error *error, const arguments *given, const char *path) {
    if (!made)
        gw_cli_fail(error);
    bool done =
        made && (path == NULL ? gw_cli_print(text) : gw_cli_write(path, text, given->values[OPTION_FORCE] != NULL));
    gw_text_free(text);
    return done;
}

static int terminal_width(void) {
    struct winsize size = {0};
    if (isatty(STDOUT_FILENO) && ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) == 0 && size.ws_col > 0)
        return size.ws_col < 40 ? 40 : size.ws_col > 100 ? 100 : size.ws_col;
    return 100;
}

bool gw_cli_report_options(const arguments *given, gw_report_options *out) {
    const char *when = given->values[OPTION_COLOR];
    const char *refused = getenv("NO_COLOR"); /* set and not empty: no colour */
    *out = (gw_report_options){.program = PROGRAM, .width = terminal_width()};
    out->quiet = given->values[OPTION_QUIET] != NULL;
    if (when == NULL || strcmp(when, "auto") == 0)
        out->color = isatty(STDOUT_FILENO) && (refused == NULL || *refused == '\0');
    else if (strcmp(when, "always") == 0 || strcmp(when, "never") == 0)
        out->color = strcmp(when, "always") == 0;
    else {
        gw_error error = {0};
        gw_error_set(&error, "--color", 0, "not auto, always or never: '%s'", when);
        gw_cli_fail(&error);
        return false;
    }
    return true;
}

int gw_cli_worse(int one, int other) {
    static const int gravity[] = {[EXIT_IN_ORDER] = 0, [EXIT_FAULT_FOUND] = 2, [EXIT_NOT_DONE] = 3, [EXIT_UNSURE] = 1};
    return gravity[one] >= gravity[other] ? one : other;
}

const char *gw_cli_now(char *out, size_t size) {
    time_t now = time(NULL);
    struct tm utc;
    if (now == (time_t)-1 || gmtime_r(&now, &utc) == NULL || strftime(out, size, "%Y-%m-%dT%H:%M:%SZ", &utc) == 0)
        return NULL;
    return out;
}

static double now_s(void) {
    struct timespec now = {0};
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

progress gw_cli_progress_begin(size_t of, bool quiet) {
    return (progress){.of = !quiet && isatty(STDERR_FILENO) ? of : 0, .started_s = now_s()};
}

void gw_cli_progress_step(progress *state) {
    state->done++;
    if (state->of == 0 || now_s() - state->started_s < 0.5)
        return;
    state->shown = true;
    fprintf(stderr, "\r%zu of %zu captures read", state->done, state->of);
}

void gw_cli_progress_end(progress *state) {
    if (state->shown)
        fputs("\r\033[K", stderr);
}
