/* Whole commands run inside the test, with the N-th call of a chosen kind failing. The linker's --wrap leads every call
 * of the library and the program here; tests/CMakeLists.txt lists them. Blocks that nothing freed are counted. */
#ifndef GAINWALK_TESTS_FAULTY_H
#define GAINWALK_TESTS_FAULTY_H

#define _GNU_SOURCE /* memfd_create */

#include "assert_close.h"

#include "cli/cli.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <jansson.h>
#include <pthread.h>
#include <stdio.h>
#include <stdio_ext.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <unistd.h>

/* ---- which call fails ---------------------------------------------------------------------------- */

typedef struct fault {
    const char *call; /* NULL: none; "memory": any allocation */
    long at;          /* this one, from 1 */
    bool lasting;     /* and all after it */
    int reason;       /* errno */
    long seen;        /* calls of this kind so far */
    long failed;
} fault;

static fault now;
static void (*on_allocation)(long at); /* NULL, or is told of each, with its number */
static pthread_mutex_t guard = PTHREAD_MUTEX_INITIALIZER;

static bool fails(const char *call) {
    if (now.call == NULL || strcmp(now.call, call) != 0)
        return false;
    pthread_mutex_lock(&guard);
    now.seen++;
    if (on_allocation != NULL && strcmp(call, "memory") == 0)
        on_allocation(now.seen);
    bool failing = now.at > 0 && (now.lasting ? now.seen >= now.at : now.seen == now.at);
    now.failed += failing;
    pthread_mutex_unlock(&guard);
    if (failing)
        errno = now.reason;
    return failing;
}

/* ---- blocks -------------------------------------------------------------------------------------- */

enum { BLOCKS = 1 << 18 }; /* a table with open addresses; far more room than there are blocks */
static void *blocks[BLOCKS];
static char gone; /* stands where a block was */
static long live;
static bool counting; /* blocks are counted while a command runs */

static size_t place_of(const void *block) {
    return (size_t)(((uintptr_t)block >> 4) * UINT64_C(0x9E3779B97F4A7C15) >> 40) % BLOCKS;
}

static void *note_block(void *block) {
    if (block == NULL || !counting)
        return block;
    pthread_mutex_lock(&guard);
    size_t at = place_of(block);
    while (blocks[at] != NULL && blocks[at] != &gone)
        at = (at + 1) % BLOCKS;
    blocks[at] = block;
    live++;
    pthread_mutex_unlock(&guard);
    return block;
}

static void forget_block(const void *block) {
    pthread_mutex_lock(&guard);
    for (size_t at = place_of(block); block != NULL && blocks[at] != NULL; at = (at + 1) % BLOCKS)
        if (blocks[at] == block) {
            blocks[at] = &gone;
            live--;
            break;
        }
    pthread_mutex_unlock(&guard);
}

#define REAL(type, name, ...)                                                                                          \
    type __real_##name(__VA_ARGS__);                                                                                   \
    type __wrap_##name(__VA_ARGS__);                                                                                   \
    type __wrap_##name(__VA_ARGS__)

REAL(void *, malloc, size_t size) {
    return fails("memory") ? NULL : note_block(__real_malloc(size));
}

REAL(void *, calloc, size_t count, size_t size) {
    return fails("memory") ? NULL : note_block(__real_calloc(count, size));
}

REAL(void, free, void *block) {
    forget_block(block);
    __real_free(block);
}

REAL(void *, realloc, void *block, size_t size) {
    if (fails("memory"))
        return NULL;
    uintptr_t old = (uintptr_t)block;
    forget_block(block);
    void *grown = __real_realloc(block, size);
    return note_block(grown != NULL ? grown : (void *)old);
}

REAL(int, posix_memalign, void **out, size_t alignment, size_t size) {
    if (fails("memory"))
        return ENOMEM;
    int status = __real_posix_memalign(out, alignment, size);
    if (status == 0)
        note_block(*out);
    return status;
}

REAL(char *, strdup, const char *text) {
    return fails("memory") ? NULL : note_block(__real_strdup(text));
}

REAL(char *, strndup, const char *text, size_t length) {
    return fails("memory") ? NULL : note_block(__real_strndup(text, length));
}

/* ---- files --------------------------------------------------------------------------------------- */

REAL(int, open, const char *path, int flags, ...) {
    mode_t mode = 0;
    if (flags & O_CREAT) {
        va_list rest;
        va_start(rest, flags);
        mode = (mode_t)va_arg(rest, int);
        va_end(rest);
    }
    return fails("open") ? -1 : __real_open(path, flags, mode);
}

REAL(int, mkstemp, char *path) {
    return fails("open") ? -1 : __real_mkstemp(path);
}

REAL(ssize_t, read, int descriptor, void *bytes, size_t length) {
    return fails("read") ? -1 : __real_read(descriptor, bytes, length);
}

REAL(ssize_t, pread, int descriptor, void *bytes, size_t length, off_t at) {
    return fails("read") ? -1 : __real_pread(descriptor, bytes, length, at);
}

/* Half of it arrives before the disk is full. */
REAL(ssize_t, write, int descriptor, const void *bytes, size_t length) {
    if (!fails("write"))
        return __real_write(descriptor, bytes, length);
    if (now.reason == ENOSPC && __real_write(descriptor, bytes, length / 2) < 0)
        return -1;
    errno = now.reason;
    return -1;
}

REAL(ssize_t, pwrite, int descriptor, const void *bytes, size_t length, off_t at) {
    if (!fails("write"))
        return __real_pwrite(descriptor, bytes, length, at);
    if (now.reason == ENOSPC && __real_pwrite(descriptor, bytes, length / 2, at) < 0)
        return -1;
    errno = now.reason;
    return -1;
}

REAL(int, posix_fallocate, int descriptor, off_t at, off_t length) {
    return fails("reserve") ? now.reason : __real_posix_fallocate(descriptor, at, length);
}

REAL(int, fsync, int descriptor) {
    return fails("fsync") ? -1 : __real_fsync(descriptor);
}

/* The descriptor is gone even when closing failed, as on Linux. */
REAL(int, close, int descriptor) {
    bool failing = fails("close");
    int status = __real_close(descriptor);
    if (failing)
        errno = now.reason;
    return failing ? -1 : status;
}

REAL(int, rename, const char *from, const char *to) {
    return fails("rename") ? -1 : __real_rename(from, to);
}

REAL(int, link, const char *from, const char *to) {
    return fails("link") ? -1 : __real_link(from, to);
}

REAL(int, fstat, int descriptor, struct stat *out) {
    return fails("stat") ? -1 : __real_fstat(descriptor, out);
}

REAL(int, lstat, const char *path, struct stat *out) {
    return fails("lstat") ? -1 : __real_lstat(path, out);
}

REAL(DIR *, opendir, const char *path) {
    return fails("opendir") ? NULL : __real_opendir(path);
}

REAL(struct dirent *, readdir, DIR *folder) {
    return fails("readdir") ? NULL : __real_readdir(folder);
}

REAL(size_t, fwrite, const void *bytes, size_t size, size_t count, FILE *to) {
    return fails("print") ? 0 : __real_fwrite(bytes, size, count, to);
}

REAL(int, fflush, FILE *of) {
    return fails("flush") ? EOF : __real_fflush(of);
}

/* ---- running a command --------------------------------------------------------------------------- */

static char scratch[] = "/tmp/gainwalk-faults-XXXXXX";

typedef struct outcome {
    int status;
    char printed[1 << 16]; /* the beginning of standard output */
    char told[4096];       /* and of standard error */
    long left;             /* blocks that nothing freed */
    long failed;           /* calls that were made to fail */
} outcome;

static void take(int descriptor, char *out, size_t size) {
    ssize_t got = __real_pread(descriptor, out, size - 1, 0);
    out[got > 0 ? got : 0] = '\0';
    __real_close(descriptor);
}

static void direct(int to, int from) {
    assert_true(dup2(from, to) >= 0);
}

static const char *input_name = "/dev/null"; /* what comes by standard input */

static void direct_input(void) {
    int from = __real_open(input_name, O_RDONLY);
    assert_true(from >= 0);
    __fpurge(stdin);
    clearerr(stdin);
    direct(0, from);
    __real_close(from);
}

/* Words end with a NULL. Both streams go to nameless files meanwhile. */
static void run_command(const char *const *words, const fault *failing, outcome *out) {
    int kept[] = {dup(1), dup(2)}, streams[] = {memfd_create("out", 0), memfd_create("err", 0)};
    direct_input();
    int count = 0;
    while (words[count] != NULL)
        count++;
    __real_fflush(NULL);
    direct(1, streams[0]);
    direct(2, streams[1]);
    memset(blocks, 0, sizeof blocks);
    live = 0;
    counting = true;
    now = failing != NULL ? *failing : (fault){0};
    out->status = gw_cli_main(count, (char **)(uintptr_t)words);
    out->failed = now.failed;
    now = (fault){0};
    counting = false;
    out->left = live;
    __real_fflush(NULL);
    clearerr(stdout);
    for (int i = 0; i < 2; i++) {
        direct(i + 1, kept[i]);
        __real_close(kept[i]);
    }
    take(streams[0], out->printed, sizeof out->printed);
    take(streams[1], out->told, sizeof out->told);
}

#define COMMAND(...)                                                                                                   \
    (const char *const[]) {                                                                                            \
        "gainwalk", __VA_ARGS__, NULL                                                                                  \
    }

typedef const char *const *command_words;

/* Where memory was out, either the command ends with 2 and says why, its standard output the whole report, nothing, or
 * a report that says so as well; or the allocation was one to do without, and all is as it was. */
static inline bool is_right_short_of_memory(const outcome *made, const outcome *whole) {
    bool same = strcmp(made->printed, whole->printed) == 0;
    if (made->left != 0)
        return false;
    bool as_it_was = made->status == whole->status && same && strcmp(made->told, whole->told) == 0;
    if (as_it_was || made->status != 2)
        return as_it_was;
    /* jansson cuts a string short where its buffer cannot grow: the record's format is the first long one */
    bool told = strstr(made->told, "out of memory") != NULL || strstr(made->told, "Cannot allocate memory") != NULL ||
                strstr(made->told, "no record: its format is") != NULL;
    return told && (same || made->printed[0] == '\0' || strstr(made->printed, "out of memory") != NULL ||
                    strstr(made->printed, "unreadable") != NULL);
}

/* ---- the bench: two captures, a chain, two records ----------------------------------------------- */

static void write_text(const char *name, const char *text) {
    gw_error error = {0};
    assert_true(gw_file_write(name, text, strlen(text), true, &error));
}

static void write_capture(const char *name, double volts) {
    gw_text text = {0};
    gw_text_add(&text, "time (s),CH1 (V)\n");
    for (int i = 0; i < 200; i++) {
        char number[32];
        gw_text_printf(&text, "%s,", gw_number_print(i * 2e-5, 9, number, sizeof number));
        double phase = 6.283185307 * 1000 * i * 2e-5;
        gw_text_printf(&text, "%s\n", gw_number_fixed(volts * sin(phase), 4, number, sizeof number));
    }
    write_text(name, text.data);
    gw_text_free(&text);
}

/* Noise, and half of it: programme through a stage. */
static void write_pair(const char *name) {
    gw_text text = {0};
    unsigned random = 1;
    gw_text_add(&text, "time (s),CH1 (V),CH2 (V)\n");
    for (int i = 0; i < 1500; i++) {
        char number[32];
        random = random * 1664525U + 1013904223U;
        double volts = (double)(random >> 8) / (1 << 24) - 0.5;
        gw_text_printf(&text, "%s,", gw_number_print(i * 2e-5, 9, number, sizeof number));
        gw_text_printf(&text, "%s,", gw_number_fixed(volts, 5, number, sizeof number));
        gw_text_printf(&text, "%s\n", gw_number_fixed(0.5 * volts, 5, number, sizeof number));
    }
    write_text(name, text.data);
    gw_text_free(&text);
}

/* Sixteen-bit mono at 48 kHz. */
static void write_sound(const char *name) {
    gw_wav_layout layout = {.format = GW_WAV_PCM16, .rate_hz = 48000, .channels = 1, .frames = 400};
    double values[400];
    gw_text text = {0};
    gw_error error = {0};
    for (int i = 0; i < 400; i++)
        values[i] = 0.5 * sin(6.283185307 * 1000 * i / 48e3);
    assert_true(gw_wav_add_header(&layout, &text, &error));
    gw_wav_add_frames(&layout, values, NULL, 400, &text);
    gw_wav_add_end(&layout, &text);
    assert_true(gw_file_write(name, text.data, text.length, true, &error));
    gw_text_free(&text);
}

static void save_record(const char *name) {
    static outcome made;
    const char *words[] = {"gainwalk", "walk", "--quiet", "--jobs", "1", "--save", name, "chain.ini", NULL};
    run_command(words, NULL, &made);
    assert_int_not_equal(made.status, 2);
}

static int set_up(void **state) {
    (void)state;
    if (mkdtemp(scratch) == NULL || chdir(scratch) != 0)
        return -1;
    setenv("TMPDIR", ".", 1); /* so that a file left behind is seen */
    json_set_alloc_funcs(__wrap_malloc, __wrap_free);
    write_capture("in.csv", 0.1);
    write_capture("out.csv", 1.0);
    write_sound("in.wav");
    write_pair("pair.csv");
    write_text("chain.ini", "[chain]\ntitle = two points\nstimulus = sine 1 kHz\n\n[point in]\n\n[point out]\nstage = "
                            "noninverting rf=9k rg=1k\n\n[rail plus]\nreading = 15 V\ndc = 15 V\n");
    save_record("before.json");
    write_capture("out.csv", 0.5);
    save_record("after.json");
    return 0;
}

static int tear_down(void **state) {
    (void)state;
    DIR *folder = opendir(".");
    for (struct dirent *entry = readdir(folder); entry != NULL; entry = readdir(folder))
        if (entry->d_name[0] != '.')
            unlink(entry->d_name);
    closedir(folder);
    return chdir("/") != 0 || rmdir(scratch) != 0;
}

#endif
