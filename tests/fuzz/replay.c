/* Runs a fuzz target on files, one after another: what fuzzing has kept, with any compiler. */
#include "fuzz.h"

static void run_file(const char *path) {
    char *bytes;
    size_t length;
    gw_error error = {0};
    MUST(gw_file_read(path, 1 << 20, &bytes, &length, &error));
    /* a block of its own length, so that reading behind it is seen where a tool looks */
    uint8_t *exact = malloc(length > 0 ? length : 1);
    MUST(exact != NULL);
    memcpy(exact, bytes, length);
    fprintf(stderr, "%s\n", path); /* the last one is who failed */
    LLVMFuzzerTestOneInput(exact, length);
    free(exact);
    free(bytes);
}

int main(int argc, char **argv) {
    for (int i = 1; i < argc; i++)
        run_file(argv[i]);
    printf("%d done\n", argc - 1);
    return 0;
}
