/* SHA-256 by nettle, and what else looks at files. */
#include "gainwalk/record.h"

#include <nettle/sha2.h>

#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

static void print_digest(const uint8_t *digest, char out[GW_SHA256_SIZE]) {
    static const char digits[] = "0123456789abcdef";
    for (size_t i = 0; i < SHA256_DIGEST_SIZE; i++) {
        out[2 * i] = digits[digest[i] >> 4];
        out[2 * i + 1] = digits[digest[i] & 15];
    }
    out[GW_SHA256_SIZE - 1] = '\0';
}

/* NULL after an error. */
static FILE *open_stream(const char *path, gw_error *error) {
    uintmax_t size = 0;
    int descriptor = gw_file_open(path, &size, error);
    FILE *file = descriptor >= 0 ? fdopen(descriptor, "rb") : NULL;
    if (file != NULL || descriptor < 0)
        return file;
    gw_error_set(error, path, 0, "cannot be opened: %s", strerror(errno));
    close(descriptor);
    return NULL;
}

bool gw_record_sha256(const char *path, char out[GW_SHA256_SIZE], gw_error *error) {
    FILE *file = open_stream(path, error);
    if (file == NULL)
        return false;
    struct sha256_ctx context;
    sha256_init(&context);
    uint8_t block[16384], digest[SHA256_DIGEST_SIZE];
    for (size_t got; (got = fread(block, 1, sizeof block, file)) > 0;)
        sha256_update(&context, got, block);
    bool failed = ferror(file) != 0;
    int reason = errno;
    fclose(file);
    if (failed)
        return gw_error_set(error, path, 0, "cannot be read: %s", strerror(reason));
    sha256_digest(&context, sizeof digest, digest);
    print_digest(digest, out);
    return true;
}

bool gw_record_recognise(const char *path) {
    gw_error unread = {0};
    FILE *file = open_stream(path, &unread);
    if (file == NULL)
        return false;
    int first;
    do
        first = fgetc(file);
    while (first == ' ' || first == '\t' || first == '\n' || first == '\r');
    fclose(file);
    return first == '{';
}
