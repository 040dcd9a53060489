/* Uses the library by itself: the level at the first channel of each capture named, with its uncertainty.
 *
 *     cc levels.c -Iinclude build/libgainwalk.a $(pkg-config --libs kissfft-float inih jansson nettle) -fopenmp
 * -lm */
#include <stdio.h>

#include "gainwalk/gainwalk.h"

/* Prints one line; false, with `error` filled, when the file is no waveform. */
static bool show(const char *path, gw_error *error) {
    gw_capture *capture = NULL;
    gw_readings *readings = NULL;
    bool fine = gw_capture_read(path, NULL, &capture, error) && gw_measure_run(capture, 0, NULL, &readings, error);
    if (fine) {
        const gw_reading *level = &readings->values[GW_LEVEL];
        char text[64];
        if (level->state == GW_READING_VALUE)
            printf("%s: %s, 95 %% within %.2f %%\n", path,
                   gw_quantity_print(level->value, level->u95, readings->source.unit, 6, text, sizeof text),
                   100 * level->u95 / level->value);
        else
            printf("%s: no level: %s\n", path, level->why);
    }
    gw_readings_free(readings);
    gw_capture_free(capture);
    return fine;
}

int main(int count, char **words) {
    int status = 0;
    for (int i = 1; i < count; i++) {
        gw_error error = {0};
        char text[1024];
        if (!show(words[i], &error)) {
            fprintf(stderr, "%s\n", gw_error_print(&error, text, sizeof text));
            status = 2;
        }
    }
    return status;
}
