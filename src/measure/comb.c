#include "measure/comb.h"

#include "measure/lanes.h"
#include "measure/sweep.h"

#include <math.h>
#include <string.h>

static const double two_pi = 6.283185307179586476925;

/* Cells that a sample is spread over; places within a cell where the window is tabulated; samples between two exact
 * phases; points a cell that the window's transform is summed over. */
enum { WIDTH = 8, PLACES = 256, BLOCK = 256, POINTS = 8, CELLS_MAX = 4 * GW_COMB_ORDERS };

/* The window, `x` cells from its middle. */
static double window_at(double x) {
    double share = 2 * x / WIDTH;
    return share * share < 1 ? exp(2.3 * WIDTH * (sqrt(1 - share * share) - 1)) : 0;
}

/* Its values in the eight cells around a place, and how they change up to the next place. */
typedef struct windows {
    double value[PLACES + 1][WIDTH], slope[PLACES][WIDTH];
} windows;

static void windows_fill(windows *out) {
    for (int place = 0; place <= PLACES; place++)
        for (int j = 0; j < WIDTH; j++)
            out->value[place][j] = window_at(j - (WIDTH / 2 - 1) - (double)place / PLACES);
    for (int place = 0; place < PLACES; place++)
        for (int j = 0; j < WIDTH; j++)
            out->slope[place][j] = out->value[place + 1][j] - out->value[place][j];
}

static inline void spread(const windows *w, double at, double value, double *cells) {
    size_t cell = (size_t)at;
    double place = (at - (double)cell) * PLACES;
    size_t row = (size_t)place;
    double beyond = place - (double)row;
    const double *values = w->value[row], *slopes = w->slope[row];
    const gw_lanes scale = {value, value, value, value}, share = {beyond, beyond, beyond, beyond};
    double *to = cells + cell;
    *(gw_lanes *)to += scale * (GW_LANES_AT(values) + share * GW_LANES_AT(slopes));
    *(gw_lanes *)(to + 4) += scale * (GW_LANES_AT(values + 4) + share * GW_LANES_AT(slopes + 4));
}

/* `cells` has WIDTH more at the end; cell 0 stands at [WIDTH/2 - 1]. */
GW_WIDE static void spread_all(const double *vector, size_t count, double frequency, size_t size, const windows *w,
                               double *cells) {
    double middle = 0.5 * (double)(count - 1), all = (double)size, step = (frequency - floor(frequency)) * all;
    for (size_t from = 0; from < count; from += BLOCK) {
        double turn = frequency * ((double)from - middle), at = (turn - floor(turn)) * all;
        size_t to = count - from < BLOCK ? count : from + BLOCK;
        for (size_t i = from; i < to; i++) {
            at -= at >= all ? all : 0;
            spread(w, at, vector[i], cells);
            at += step;
        }
    }
}

/* What the window does to a frequency in cycles a cell: its transform, as a sum (the window ends in nothing). */
static double window_gain(double frequency) {
    double sum = 0.5;
    for (int k = 1; k < WIDTH / 2 * POINTS; k++)
        sum += window_at((double)k / POINTS) * cos(two_pi * frequency * k / POINTS);
    return 2 * sum / POINTS;
}

void gw_comb_dot(const double *vector, size_t count, double frequency, size_t orders, double *cosines, double *sines) {
    double cells[CELLS_MAX + WIDTH] = {0};
    windows w;
    size_t size = 64;
    while (size < 4 * orders && size < CELLS_MAX)
        size *= 2;
    windows_fill(&w);
    spread_all(vector, count, frequency, size, &w, cells);
    for (size_t k = 0; k < WIDTH; k++) /* what was spread over the period's end */
        cells[k] += cells[size + k];
    for (size_t k = 1; k <= orders; k++) {
        double cycles = (double)k / (double)size, c, s;
        gw_sweep_dot(cells, size, cycles, &c, &s);
        double turn = two_pi * cycles * (0.5 * (double)(size - 1) - (WIDTH / 2 - 1)), gain = window_gain(cycles);
        cosines[k] = (cos(turn) * c - sin(turn) * s) / gain;
        sines[k] = (sin(turn) * c + cos(turn) * s) / gain;
    }
}
