/* Captures that are named after their points. */
#include "gainwalk/chain.h"

#include <dirent.h>
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

static bool list_folder(const char *folder, gw_strings *files) {
    DIR *open = opendir(folder[0] != '\0' ? folder : ".");
    if (open == NULL)
        return true;
    bool good = true;
    for (struct dirent *entry = readdir(open); good && entry != NULL; entry = readdir(open))
        good = gw_strings_add(files, entry->d_name);
    closedir(open);
    return good;
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
    bool good = list_folder(chain->folder, &files) && find_all(chain, &files, chain->points, chain->point_count) &&
                find_all(chain, &files, chain->rails, chain->rail_count);
    gw_strings_free(&files);
    return good || gw_error_memory(error);
}
