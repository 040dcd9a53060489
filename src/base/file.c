/* Files, read whole and written whole or not at all. */
#include "gainwalk/base.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

char *gw_path_join(const char *folder, const char *name) {
    if (folder == NULL || *folder == '\0' || *name == '/')
        return strdup(name);
    gw_text path = {0};
    gw_text_add(&path, folder);
    if (folder[strlen(folder) - 1] != '/')
        gw_text_add_char(&path, '/');
    gw_text_add(&path, name);
    if (path.failed) {
        gw_text_free(&path);
        return NULL;
    }
    return path.data;
}

char *gw_path_folder(const char *path) {
    const char *slash = strrchr(path, '/');
    if (slash == NULL)
        return strdup("");
    return strndup(path, slash == path ? 1 : (size_t)(slash - path));
}

const char *gw_path_name(const char *path) {
    const char *slash = strrchr(path, '/');
    return slash != NULL ? slash + 1 : path;
}

static bool write_all(int descriptor, const char *bytes, size_t length) {
    while (length > 0) {
        ssize_t written = write(descriptor, bytes, length);
        if (written < 0 && errno == EINTR)
            continue;
        if (written <= 0)
            return false;
        bytes += written;
        length -= (size_t)written;
    }
    return true;
}

/* Makes the name durable as well; a folder that can't be opened or flushed is no failure of the file. */
static void flush_folder(const char *path) {
    char *folder = gw_path_folder(path);
    if (folder == NULL)
        return;
    int descriptor = open(*folder != '\0' ? folder : ".", O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (descriptor >= 0) {
        (void)fsync(descriptor);
        close(descriptor);
    }
    free(folder);
}

/* Gives the finished temporary file its name; without `force` never over an existing one. */
static bool put_in_place(const char *temporary, const char *path, bool force) {
    if (force)
        return rename(temporary, path) == 0;
    if (link(temporary, path) == 0) {
        unlink(temporary);
        return true;
    }
    /* a file system without links (a memory stick): the check before the rename has to do */
    bool no_links = errno == EPERM || errno == ENOTSUP || errno == ENOSYS || errno == EMLINK;
    struct stat status;
    if (no_links && lstat(path, &status) == 0) {
        errno = EEXIST;
        return false;
    }
    return no_links && rename(temporary, path) == 0;
}

/* Opens a new file beside `path`; its name is put into `name`. */
static int open_beside(const char *path, gw_text *name) {
    for (int attempt = 0; attempt < 100; attempt++) {
        gw_text_free(name);
        gw_text_printf(name, "%s.part%ld-%d", path, (long)getpid(), attempt);
        if (name->failed) {
            errno = ENOMEM;
            return -1;
        }
        int descriptor = open(name->data, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
        if (descriptor >= 0 || errno != EEXIST)
            return descriptor;
    }
    return -1;
}

static bool write_failed(const char *path, const char *temporary, int reason, gw_error *error) {
    if (temporary != NULL)
        unlink(temporary);
    if (reason == EEXIST)
        return gw_error_set(error, path, 0, "exists already, not overwritten");
    return gw_error_set(error, path, 0, "cannot be written: %s", strerror(reason));
}

static bool write_through(int descriptor, const void *bytes, size_t length, int *reason) {
    bool written = write_all(descriptor, bytes, length) && fsync(descriptor) == 0;
    *reason = errno;
    if (close(descriptor) != 0 && written) {
        written = false;
        *reason = errno;
    }
    return written;
}

bool gw_file_write(const char *path, const void *bytes, size_t length, bool force, gw_error *error) {
    struct stat status;
    if (lstat(path, &status) == 0) {
        if (!force)
            return write_failed(path, NULL, EEXIST, error);
        if (!S_ISREG(status.st_mode))
            return gw_error_set(error, path, 0, "not a regular file, not overwritten");
    }
    gw_text name = {0};
    int descriptor = open_beside(path, &name);
    int reason = errno;
    if (descriptor < 0) {
        gw_text_free(&name);
        return write_failed(path, NULL, reason, error);
    }
    bool done = write_through(descriptor, bytes, length, &reason);
    if (done && !put_in_place(name.data, path, force)) {
        reason = errno;
        done = false;
    }
    if (done)
        flush_folder(path);
    else
        write_failed(path, name.data, reason, error);
    gw_text_free(&name);
    return done;
}

static bool read_failed(int descriptor, char *bytes, const char *path, const char *what, gw_error *error) {
    if (descriptor >= 0)
        close(descriptor);
    free(bytes);
    return gw_error_set(error, path, 0, "cannot be read: %s", what);
}

/* Reads to the end or `limit` bytes, whichever comes first; -1 on failure. */
static ssize_t read_all(int descriptor, char *bytes, size_t limit) {
    size_t length = 0;
    while (length < limit) {
        ssize_t got = read(descriptor, bytes + length, limit - length);
        if (got < 0 && errno == EINTR)
            continue;
        if (got < 0)
            return -1;
        if (got == 0)
            break;
        length += (size_t)got;
    }
    return (ssize_t)length;
}

int gw_file_open(const char *path, uintmax_t *size, gw_error *error) {
    /* without O_NONBLOCK, opening a FIFO waits for ever */
    int descriptor = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK | O_NOCTTY);
    struct stat status;
    if (descriptor < 0 || fstat(descriptor, &status) != 0)
        read_failed(descriptor, NULL, path, strerror(errno), error);
    else if (!S_ISREG(status.st_mode))
        read_failed(descriptor, NULL, path, S_ISDIR(status.st_mode) ? "a folder" : "not a regular file", error);
    else {
        *size = (uintmax_t)status.st_size;
        return descriptor;
    }
    return -1;
}

bool gw_file_read(const char *path, size_t limit, char **bytes, size_t *length, gw_error *error) {
    uintmax_t size = 0;
    *bytes = NULL;
    *length = 0;
    int descriptor = gw_file_open(path, &size, error);
    if (descriptor < 0)
        return false;
    if (size > limit || limit > SIZE_MAX - 2) {
        close(descriptor);
        return gw_error_set(error, path, 0, "too large: up to %zu bytes are read", limit);
    }
    size_t room = (size_t)size;
    char *all = malloc(room + 1);
    if (all == NULL)
        return read_failed(descriptor, NULL, path, "out of memory", error);
    ssize_t got = read_all(descriptor, all, room);
    if (got < 0)
        return read_failed(descriptor, all, path, strerror(errno), error);
    close(descriptor);
    all[got] = '\0';
    *bytes = all;
    *length = (size_t)got;
    return true;
}
