#include "measure/shelf.h"

#include <pthread.h>
#include <stdlib.h>
#include <string.h>

/* Of each so many, and so many values in all: captures of many lengths must not fill the memory. A plan for the longest
 * that a segment asks for, 2^19 values, takes 9 MB. */
enum { PLANS = 8, WINDOWS = 8, PLANNED_MAX = 3 << 18, WINDOWED_MAX = 1 << 18 };

typedef struct window {
    double *values;
    size_t length;
} window;

struct gw_shelf {
    gw_fft *plans[PLANS]; /* the last one put back first */
    window windows[WINDOWS];
    size_t oldest; /* of the windows */
    gw_comb *comb;
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
    free(shelf->comb);
    free(shelf);
}

/* ---- for several threads --------------------------------------------------------------------------- */

enum { SHELVES = 64 };

struct gw_measure_kept {
    pthread_mutex_t lock;
    gw_shelf *idle[SHELVES];
    size_t count;
};

gw_measure_kept *gw_measure_kept_new(void) {
    gw_measure_kept *kept = calloc(1, sizeof *kept);
    if (kept && pthread_mutex_init(&kept->lock, NULL) != 0) {
        free(kept);
        return NULL;
    }
    return kept;
}

void gw_measure_kept_free(gw_measure_kept *kept) {
    if (!kept)
        return;
    for (size_t k = 0; k < kept->count; k++)
        gw_shelf_free(kept->idle[k]);
    pthread_mutex_destroy(&kept->lock);
    free(kept);
}

gw_shelf *gw_kept_take(gw_measure_kept *kept) {
    gw_shelf *shelf = NULL;
    if (kept) {
        pthread_mutex_lock(&kept->lock);
        shelf = kept->count > 0 ? kept->idle[--kept->count] : NULL;
        pthread_mutex_unlock(&kept->lock);
    }
    return shelf ? shelf : gw_shelf_new();
}

void gw_kept_return(gw_measure_kept *kept, gw_shelf *shelf) {
    if (kept && shelf) {
        pthread_mutex_lock(&kept->lock);
        if (kept->count < SHELVES) {
            kept->idle[kept->count++] = shelf;
            shelf = NULL;
        }
        pthread_mutex_unlock(&kept->lock);
    }
    gw_shelf_free(shelf);
}

/* ---- plans ------------------------------------------------------------------------------------------ */

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
    for (size_t k = 0, values = 0; k < PLANS; k++) {
        values += shelf->plans[k] ? gw_fft_length(shelf->plans[k]) : 0;
        if (k > 0 && values > PLANNED_MAX) {
            gw_fft_free(shelf->plans[k]);
            shelf->plans[k] = NULL;
        }
    }
}

static const window *find_window(gw_shelf *shelf, size_t length) {
    for (size_t k = 0; k < WINDOWS; k++)
        if (shelf->windows[k].values && shelf->windows[k].length == length)
            return &shelf->windows[k];
    size_t values = length;
    for (size_t k = 0; k < WINDOWS; k++)
        values += shelf->windows[k].length;
    for (size_t k = 0; k < WINDOWS && values > WINDOWED_MAX; k++) {
        window *old = &shelf->windows[(shelf->oldest + k) % WINDOWS];
        values -= old->length;
        free(old->values);
        *old = (window){0};
    }
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

void gw_shelf_prepare(gw_shelf *shelf, size_t length) {
    gw_shelf_return(shelf, gw_shelf_plan(shelf, length));
    (void)find_window(shelf, length);
}

const gw_comb *gw_shelf_comb(gw_shelf *shelf) {
    if (shelf && !shelf->comb)
        shelf->comb = gw_comb_new();
    return shelf ? shelf->comb : NULL;
}
