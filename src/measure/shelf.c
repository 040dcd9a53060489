#include "measure/shelf.h"

#include <stdlib.h>
#include <string.h>

enum { PLANS = 8, WINDOWS = 8 };

typedef struct window {
    double *values;
    size_t length;
} window;

struct gw_shelf {
    gw_fft *plans[PLANS]; /* the last one put back first */
    window windows[WINDOWS];
    size_t oldest; /* of the windows */
};

gw_shelf *gw_shelf_new(void) {
    return calloc(1, sizeof(gw_shelf));
}

void gw_shelf_free(gw_shelf *shelf) {
    if (!shelf)
        return;
    for (size_t k = 0; k < PLANS; k++)
        gw_fft_free(shelf->plans[k]);
    for (size_t k = 0; k < WINDOWS; k++)
        free(shelf->windows[k].values);
    free(shelf);
}

gw_fft *gw_shelf_plan(gw_shelf *shelf, size_t length) {
    for (size_t k = 0; shelf && k < PLANS; k++)
        if (shelf->plans[k] && gw_fft_length(shelf->plans[k]) == length) {
            gw_fft *plan = shelf->plans[k];
            shelf->plans[k] = NULL;
            return plan;
        }
    return gw_fft_new(length);
}

void gw_shelf_return(gw_shelf *shelf, gw_fft *plan) {
    if (!shelf || !plan) {
        gw_fft_free(plan);
        return;
    }
    size_t place = 0;
    while (place + 1 < PLANS && shelf->plans[place])
        place++;
    gw_fft_free(shelf->plans[place]);
    memmove(shelf->plans + 1, shelf->plans, place * sizeof *shelf->plans);
    shelf->plans[0] = plan;
}

static const window *find_window(gw_shelf *shelf, size_t length) {
    for (size_t k = 0; k < WINDOWS; k++)
        if (shelf->windows[k].values && shelf->windows[k].length == length)
            return &shelf->windows[k];
    window *made = &shelf->windows[shelf->oldest];
    free(made->values);
    *made = (window){.values = malloc(length * sizeof *made->values), .length = length};
    if (!made->values)
        return NULL;
    gw_window_hann(made->values, length);
    shelf->oldest = (shelf->oldest + 1) % WINDOWS;
    return made;
}

void gw_shelf_window(gw_shelf *shelf, double *out, size_t length) {
    const window *made = shelf && length > 0 ? find_window(shelf, length) : NULL;
    if (made)
        memcpy(out, made->values, length * sizeof *out);
    else
        gw_window_hann(out, length);
}
