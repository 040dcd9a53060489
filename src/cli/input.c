/* Standard input where a file is named `-`. */
#include "cli.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { BLOCK = 1 << 16 };

bool gw_cli_is_standard(const char *word) {
    return strcmp(word, "-") == 0;
}

static bool too_large(uint64_t limit, gw_error *error) {
    return gw_error_set(error, "-", 0, "too large: up to %llu bytes of standard input are kept",
                        (unsigned long long)limit);
}

static bool cannot_keep(gw_error *error) {
    return gw_error_set(error, "-", 0, "standard input cannot be kept: %s", strerror(errno));
}

/* A file that is too large is seen to be so before any of it is copied; what comes through a pipe, on its way. */
static bool is_within(uint64_t limit, gw_error *error) {
    struct stat about;
    off_t at = lseek(STDIN_FILENO, 0, SEEK_CUR);
    if (at < 0 || fstat(STDIN_FILENO, &about) != 0 || !S_ISREG(about.st_mode) || about.st_size <= at)
        return true;
    return (uint64_t)(about.st_size - at) <= limit || too_large(limit, error);
}

static bool write_block(int to, const char *block, size_t length, gw_error *error) {
    for (size_t done = 0; done < length;) {
        ssize_t written = write(to, block + done, length - done);
        if (written < 0 && errno == EINTR)
            continue;
        if (written <= 0)
            return cannot_keep(error);
        done += (size_t)written;
    }
    return true;
}

/* Copies standard input to an open file. */
static bool copy_input(int to, uint64_t limit, gw_error *error) {
    char block[BLOCK];
    uint64_t copied = 0;
    for (size_t got = 0; (got = fread(block, 1, sizeof block, stdin)) > 0; copied += got) {
        if (got > limit - copied)
            return too_large(limit, error);
        if (!write_block(to, block, got, error))
            return false;
    }
    return ferror(stdin) == 0 || gw_error_set(error, "-", 0, "standard input cannot be read: %s", strerror(errno));
}

/* Where the system has names for what is open. */
#define FOR_OPEN "/dev/fd/"

/* The file once more, to be read under such a name, so that it needs none of its own and is gone with the program,
 * however that ends; -1 where there are no such names. */
static int open_again(int descriptor) {
    char name[sizeof FOR_OPEN + 12];
    struct stat one, other;
    snprintf(name, sizeof name, FOR_OPEN "%d", descriptor);
    int again = open(name, O_RDONLY | O_CLOEXEC);
    if (again >= 0 && fstat(descriptor, &one) == 0 && fstat(again, &other) == 0 && one.st_dev == other.st_dev &&
        one.st_ino == other.st_ino)
        return again;
    if (again >= 0)
        close(again);
    return -1;
}

bool gw_cli_keep_input(uint64_t limit, char *path, size_t size, int *held, gw_error *error) {
    if (!is_within(limit, error))
        return false;
    const char *folder = getenv("TMPDIR");
    int length = snprintf(path, size, "%s/gainwalk-XXXXXX", folder != NULL && *folder != '\0' ? folder : "/tmp");
    if (length < 0 || (size_t)length >= size)
        return gw_error_set(error, "-", 0, "the name of the folder for temporary files is too long");
    int descriptor = mkstemp(path);
    if (descriptor < 0)
        return cannot_keep(error);
    *held = open_again(descriptor);
    if (*held >= 0) {
        unlink(path);
        snprintf(path, size, FOR_OPEN "%d", *held);
    }
    bool kept = copy_input(descriptor, limit, error);
    if (close(descriptor) != 0 && kept)
        kept = cannot_keep(error);
    if (!kept)
        gw_cli_drop_input(path, *held);
    return kept;
}

void gw_cli_drop_input(const char *path, int held) {
    if (held >= 0)
        close(held);
    else
        unlink(path);
}

bool gw_cli_input_text(size_t limit, gw_text *out, gw_error *error) {
    char block[BLOCK];
    size_t got = 0;
    while ((got = fread(block, 1, sizeof block, stdin)) > 0) {
        gw_text_add_bytes(out, block, got);
        if (out->length > limit)
            return gw_error_set(error, "-", 0, "too large: up to %zu bytes are read", limit);
    }
    if (ferror(stdin) != 0)
        return gw_error_set(error, "-", 0, "standard input cannot be read: %s", strerror(errno));
    return !out->failed || gw_error_memory(error);
}
