/* gainwalk pages: what the installation puts beside the program. Not for people, so not in the help. */
#include "cli.h"

#include <string.h>

typedef struct page {
    const char *name;
    void (*make)(gw_text *out);
} page;

static const page pages[] = {{"man", gw_cli_manual},
                             {"man-chain", gw_cli_manual_chain},
                             {"bash", gw_cli_completion_bash},
                             {"zsh", gw_cli_completion_zsh}};

static const page *find(const arguments *given) {
    for (size_t i = 0; given->count == 1 && i < sizeof pages / sizeof *pages; i++)
        if (strcmp(given->words[0], pages[i].name) == 0)
            return &pages[i];
    return NULL;
}

int gw_cli_pages(const arguments *given) {
    const page *wanted = find(given);
    const char *path = given->values[OPTION_OUTPUT];
    gw_text out = {0};
    gw_error error = {0};
    if (wanted == NULL) {
        gw_error_set(&error, NULL, 0, "not one of the pages man, man-chain, bash and zsh");
        return gw_cli_fail(&error);
    }
    wanted->make(&out);
    bool written = gw_cli_write(path != NULL ? path : "-", &out, given->values[OPTION_FORCE] != NULL);
    gw_text_free(&out);
    return written ? EXIT_IN_ORDER : EXIT_NOT_DONE;
}
