/* A scratch folder for tests that write captures. */
#ifndef GAINWALK_TESTS_SCRATCH_H
#define GAINWALK_TESTS_SCRATCH_H

#include "assert_close.h"

#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static char scratch_folder[] = "/tmp/gainwalk-capture-XXXXXX";

/* Valid until the next call. */
static inline const char *path_in(const char *name) {
    static char path[512];
    snprintf(path, sizeof path, "%s/%s", scratch_folder, name);
    return path;
}

static inline const char *write_file(const char *name, const void *bytes, size_t length) {
    const char *path = path_in(name);
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    assert_int_equal(fwrite(bytes, 1, length, file), length);
    assert_int_equal(fclose(file), 0);
    return path;
}

static inline int make_folder(void **state) {
    (void)state;
    return mkdtemp(scratch_folder) == NULL;
}

static inline int remove_folder(void **state) {
    (void)state;
    DIR *open = opendir(scratch_folder);
    for (struct dirent *entry = open != NULL ? readdir(open) : NULL; entry != NULL; entry = readdir(open))
        if (strcmp(entry->d_name, ".") != 0 && strcmp(entry->d_name, "..") != 0)
            unlink(path_in(entry->d_name));
    if (open != NULL)
        closedir(open);
    return rmdir(scratch_folder);
}

#endif
