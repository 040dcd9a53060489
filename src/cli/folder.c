#include "folder.h"

#include <dirent.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

bool gw_folder_open(folder *out, const char *path, gw_error *error) {
    *out = (folder){.path = strdup(path[0] != '\0' ? path : ".")};
    return out->path != NULL || gw_error_memory(error);
}

void gw_folder_free(folder *of) {
    for (size_t i = 0; i < of->count; i++)
        free(of->files[i].path);
    free(of->files);
    free(of->path);
    gw_strings_free(&of->extra);
    *of = (folder){0};
}

bool gw_folder_add(folder *to, const char *path, gw_error *error) {
    for (size_t i = 0; i < to->extra.count; i++)
        if (strcmp(to->extra.items[i], path) == 0)
            return true;
    return gw_strings_add(&to->extra, path) || gw_error_memory(error);
}

static long long nanoseconds(const struct stat *status) {
    return (long long)status->st_mtim.tv_sec * 1000000000 + status->st_mtim.tv_nsec;
}

static folder_file *find_same(const folder *of, const struct stat *status, const char *path) {
    for (size_t i = 0; i < of->count; i++) {
        folder_file *at = &of->files[i];
        /* a file saved anew under its old name has another inode */
        if (strcmp(at->path, path) == 0 || (at->there && at->device == status->st_dev && at->inode == status->st_ino))
            return at;
    }
    return NULL;
}

static folder_file *add(folder *to, const char *path) {
    if (!GW_GROW(to->files, to->count, to->capacity))
        return NULL;
    char *copy = strdup(path);
    if (copy == NULL)
        return NULL;
    to->files[to->count] = (folder_file){.path = copy, .early = !to->looked};
    return &to->files[to->count++];
}

/* Takes down how a file is now. */
static bool note(folder *in, const char *path, double now_s) {
    struct stat status;
    if (stat(path, &status) != 0 || !S_ISREG(status.st_mode))
        return true;
    folder_file *at = find_same(in, &status, path);
    if (at == NULL)
        at = add(in, path);
    if (at == NULL)
        return false;
    bool same = at->there && at->device == status.st_dev && at->inode == status.st_ino && at->size == status.st_size &&
                at->modified_ns == nanoseconds(&status);
    if (!same) {
        at->device = status.st_dev;
        at->inode = status.st_ino;
        at->size = status.st_size;
        at->modified_ns = nanoseconds(&status);
        at->since_s = now_s;
        at->judged = false;
        at->tries = 0;
    }
    at->there = true;
    return true;
}

static bool ignored(const char *name) {
    static const char *const endings[] = {"~", ".part", ".tmp", ".crdownload", ".swp"};
    size_t length = strlen(name);
    for (size_t i = 0; i < sizeof endings / sizeof *endings; i++) {
        size_t tail = strlen(endings[i]);
        if (length >= tail && strcmp(name + length - tail, endings[i]) == 0)
            return true;
    }
    /* our own way to write: name.partPID-N */
    return name[0] == '.' || strstr(name, ".part") != NULL;
}

static bool look_inside(folder *at, double now_s) {
    bool fine = true;
    DIR *open = opendir(at->path);
    at->missing = open == NULL;
    if (open == NULL)
        return true;
    for (struct dirent *entry = readdir(open); fine && entry != NULL; entry = readdir(open)) {
        if (ignored(entry->d_name))
            continue;
        char *path = strcmp(at->path, ".") == 0 ? strdup(entry->d_name) : gw_path_join(at->path, entry->d_name);
        fine = path != NULL && note(at, path, now_s);
        free(path);
    }
    closedir(open);
    return fine;
}

static void forget_vanished(folder *at, double now_s) {
    for (size_t i = 0; i < at->count; i++) {
        struct stat status;
        folder_file *file = &at->files[i];
        if (file->there && stat(file->path, &status) != 0) {
            file->there = false;
            file->since_s = now_s;
            file->judged = !file->used; /* one that counted has to be left out of the verdict now */
        }
    }
}

bool gw_folder_look(folder *at, double now_s, gw_error *error) {
    forget_vanished(at, now_s);
    bool fine = look_inside(at, now_s);
    for (size_t i = 0; fine && i < at->extra.count; i++)
        fine = note(at, at->extra.items[i], now_s);
    at->looked = true;
    return fine || gw_error_memory(error);
}

folder_file *gw_folder_complete(const folder *of, double now_s, double steady_s) {
    folder_file *best = NULL;
    for (size_t i = 0; i < of->count; i++) {
        folder_file *at = &of->files[i];
        bool empty = at->there && at->size == 0;
        if (at->judged || empty || now_s - at->since_s < steady_s)
            continue;
        if (best == NULL || at->since_s < best->since_s ||
            (at->since_s == best->since_s && at->modified_ns < best->modified_ns))
            best = at;
    }
    return best;
}

bool gw_folder_waiting(const folder *of) {
    for (size_t i = 0; i < of->count; i++)
        if (!of->files[i].judged && (of->files[i].there || of->files[i].used))
            return true;
    return false;
}

folder_file *gw_folder_find(const folder *of, const char *path) {
    struct stat status;
    if (stat(path, &status) != 0)
        return NULL;
    return find_same(of, &status, path);
}
