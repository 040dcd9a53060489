/* Standard input where a file is named `-`. */
#include "cli.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { BLOCK = 1 << 16 };

bool gw_cli_is_standard(const char *word) {
    return strcmp(word, "-") == 0;
}

/* Copies standard input to an open file. */
static bool copy_input(int to, gw_error *error) {
    char block[BLOCK];
    size_t got = 0;
    while ((got = fread(block, 1, sizeof block, stdin)) > 0)
        for (size_t done = 0; done < got;) {
            ssize_t written = write(to, block + done, got - done);
            if (written < 0 && errno == EINTR)
                continue;
            if (written <= 0)
                return gw_error_set(error, "-", 0, "standard input cannot be kept: %s", strerror(errno));
            done += (size_t)written;
        }
    return ferror(stdin) == 0 || gw_error_set(error, "-", 0, "standard input cannot be read: %s", strerror(errno));
}

bool gw_cli_keep_input(char *path, size_t size, gw_error *error) {
    const char *folder = getenv("TMPDIR");
    int length = snprintf(path, size, "%s/gainwalk-XXXXXX", folder != NULL && *folder != '\0' ? folder : "/tmp");
    if (length < 0 || (size_t)length >= size)
        return gw_error_set(error, "-", 0, "the name of the folder for temporary files is too long");
    int descriptor = mkstemp(path);
    if (descriptor < 0)
        return gw_error_set(error, "-", 0, "standard input cannot be kept: %s", strerror(errno));
    bool kept = copy_input(descriptor, error);
    if (close(descriptor) != 0 && kept)
        kept = gw_error_set(error, "-", 0, "standard input cannot be kept: %s", strerror(errno));
    if (!kept)
        unlink(path);
    return kept;
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
