/* One line of JSON an input, in the order of the inputs whatever order they come in. */
#include "cli.h"

#include <stdlib.h>

bool gw_cli_lines_begin(line_queue *out, const arguments *given, gw_error *error) {
    *out = (line_queue){.given = given,
                        .waiting = calloc(given->count + 1, sizeof *out->waiting),
                        .ready = calloc(given->count + 1, sizeof *out->ready)};
    if (out->waiting != NULL && out->ready != NULL)
        return true;
    free(out->waiting);
    free(out->ready);
    return gw_error_memory(error);
}

void gw_cli_lines_put(line_queue *to, size_t index, gw_text *line) {
#pragma omp critical(lines)
    {
        to->waiting[index] = *line;
        to->ready[index] = true;
        for (; to->next < to->given->count && to->ready[to->next]; to->next++) {
            gw_text *first = &to->waiting[to->next];
            to->failed = to->failed || !gw_cli_print(first);
            gw_text_free(first);
        }
    }
    *line = (gw_text){0};
}

bool gw_cli_lines_end(line_queue *of) {
    for (size_t i = of->next; i < of->given->count; i++)
        gw_text_free(&of->waiting[i]);
    free(of->waiting);
    free(of->ready);
    return !of->failed;
}
