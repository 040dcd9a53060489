/* Captures that are named after their points. */
#include "gainwalk/chain.h"

#include <dirent.h>
#include <errno.h>
#include <string.h>

/* Place of the extension that makes `file` a capture of the point `name`; -1 if it is none. */
static int match(const char *file, const char *name, size_t name_length) {
    if (strncmp(file, name, name_length) != 0 || file[name_length] != '.')
        return -1;
    for (int i = 0; gw_capture_extensions[i] != NULL; i++)
        if (gw_word_equal(file + name_length, gw_capture_extensions[i]))
            return i;
    return -1;
}

/* The best file of a folder for a point: by the order of extensions, then by name. */
static const char *find_file(const gw_strings *files, const char *name) {
    const char *best = NULL;
    int best_rank = -1;
    size_t length = strlen(name);
    for (size_t i = 0; i < files->count; i++) {
        int rank = match(files->items[i], name, length);
        if (rank < 0)
            continue;
        if (best == NULL || rank < best_rank || (rank == best_rank && strcmp(files->items[i], best) < 0)) {
            best = files->items[i];
            best_rank = rank;
        }
    }
    return best;
}

/* A folder that is not there holds nothing yet; one that cannot be looked into is an error. */
static bool list_folder(const char *folder, gw_strings *files, gw_error *error) {
    const char *path = folder[0] != '\0' ? folder : ".";
    DIR *open = opendir(path);
    if (open == NULL)
        return errno == ENOENT || errno == ENOTDIR ||
               gw_error_set(error, path, 0, "folder cannot be looked into: %s", strerror(errno));
    errno = 0;
    for (struct dirent *entry = readdir(open); entry != NULL; entry = readdir(open)) {
        if (!gw_strings_add(files, entry->d_name))
            break;
        errno = 0;
    }
    int reason = errno;
    closedir(open);
    if (files->failed)
        return gw_error_memory(error);
    return reason == 0 || gw_error_set(error, path, 0, "folder cannot be looked into: %s", strerror(reason));
}

static bool find_all(const gw_chain *chain, const gw_strings *files, gw_point *points, size_t count) {
    for (size_t i = 0; i < count; i++) {
        gw_point *point = &points[i];
        const char *file = point->capture == NULL ? find_file(files, point->name) : NULL;
        if (file == NULL)
            continue;
        size_t length = strlen(chain->folder);
        const char *slash = length > 0 && chain->folder[length - 1] != '/' ? "/" : "";
        point->capture = gw_arena_printf(chain->arena, "%s%s%s", chain->folder, slash, file);
        if (point->capture == NULL)
            return false;
    }
    return true;
}

bool gw_chain_find_captures(gw_chain *chain, gw_error *error) {
    gw_strings files = {0};
    if (!list_folder(chain->folder, &files, error)) {
        gw_strings_free(&files);
        return false;
    }
    bool good = find_all(chain, &files, chain->points, chain->point_count) &&
                find_all(chain, &files, chain->rails, chain->rail_count);
    gw_strings_free(&files);
    return good || gw_error_memory(error);
}
