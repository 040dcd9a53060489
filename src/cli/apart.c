/* Outputs that would replace what the job reads, or each other: refused even with --force, which is for earlier
 * outputs. */
#include "cli.h"

#include <stdlib.h>
#include <string.h>

static const option_id outputs[] = {OPTION_OUTPUT, OPTION_CSV, OPTION_HTML, OPTION_SAVE};
enum { OUTPUTS = sizeof outputs / sizeof *outputs, REPORTS = OUTPUTS - 1 };

/* The path of an output that is a file; NULL. */
static const char *output_of(const arguments *given, size_t index) {
    const char *path = given->values[outputs[index]];
    return path != NULL && !gw_cli_is_standard(path) ? path : NULL;
}

bool gw_cli_are_one(const char *one, const char *other) {
    file_stamp a = gw_cli_stamp(one), b = gw_cli_stamp(other);
    return a.inode != 0 && a.device == b.device && a.inode == b.inode;
}

/* Whether what is not there yet would be made in the same place. */
static bool would_be_one(const char *one, const char *other) {
    char *folder = gw_path_folder(one), *beside = gw_path_folder(other);
    bool same = folder != NULL && beside != NULL && strcmp(gw_path_name(one), gw_path_name(other)) == 0 &&
                gw_cli_are_one(*folder != '\0' ? folder : ".", *beside != '\0' ? beside : ".");
    free(folder);
    free(beside);
    return same;
}

/* Whether `read` is none of the first `count` outputs. */
static bool is_none_of(const arguments *given, size_t count, const char *read, gw_error *error) {
    for (size_t i = 0; read != NULL && i < count; i++) {
        const char *path = output_of(given, i);
        if (path != NULL && gw_cli_are_one(path, read))
            return gw_error_set(error, path, 0, "is read by this very command, not overwritten by '--%s'",
                                gw_cli_options[outputs[i]].name);
    }
    return true;
}

bool gw_cli_outputs_apart(const arguments *given, gw_error *error) {
    for (size_t i = 0; i < OUTPUTS; i++)
        for (size_t k = i + 1; k < OUTPUTS; k++) {
            const char *one = output_of(given, i), *other = output_of(given, k);
            if (one != NULL && other != NULL && (gw_cli_are_one(one, other) || would_be_one(one, other)))
                return gw_error_set(error, other, 0, "is named by '--%s' and by '--%s'",
                                    gw_cli_options[outputs[i]].name, gw_cli_options[outputs[k]].name);
        }
    for (size_t i = 0; i < given->count; i++)
        if (!is_none_of(given, OUTPUTS, given->words[i], error))
            return false;
    return is_none_of(given, OUTPUTS, given->values[OPTION_LIST], error);
}

/* A record's own writer sees to the captures that it was made from. */
bool gw_cli_captures_apart(const arguments *given, const gw_walk *const *walks, size_t count, gw_error *error) {
    for (size_t i = 0; i < count; i++)
        for (size_t k = 0; k < walks[i]->point_count + walks[i]->rail_count; k++) {
            size_t points = walks[i]->point_count;
            const gw_walk_point *at = k < points ? &walks[i]->points[k] : &walks[i]->rails[k - points];
            if (at->readings != NULL && !is_none_of(given, REPORTS, at->readings->source.file, error))
                return false;
        }
    return true;
}
