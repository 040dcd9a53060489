#include "measure/comb.h"

#include "base/lanes.h"
#include "measure/shelf.h"
#include "measure/transform.h"

#include <math.h>
#include <stdlib.h>

static const double two_pi = 6.283185307179586476925;

/* Cells that a sample is spread over, those to the left of its own; places within a cell where the window is tabulated;
 * samples between two exact phases; points a cell that the window's transform is summed over. */
enum { WIDTH = 8, LEFT = WIDTH / 2 - 1, PLACE_BITS = 8, PLACES = 1 << PLACE_BITS, BLOCK = 256, POINTS = 8 };
enum { CELL_BITS = 10, CELLS = 1 << CELL_BITS, TURNS = 4, SPACE = CELLS + WIDTH };
enum { BEYOND_LEFT = 24 }; /* bits that are not looked at */
_Static_assert(CELLS >= 4 * GW_COMB_ORDERS, "four cells an order");

/* The window, `x` cells from its middle. */
static double window_at(double x) {
    double share = 2 * x / WIDTH;
    return share * share < 1 ? exp(2.3 * WIDTH * (sqrt(1 - share * share) - 1)) : 0;
}

/* Its values in the eight cells around a place, and how they change up to the next place. */
typedef struct windows {
    double value[PLACES + 1][WIDTH], slope[PLACES][WIDTH];
} windows;

struct gw_comb {
    windows window;
    uint16_t turned[CELLS];              /* each index with its bits turned round */
    double cosines[CELLS], sines[CELLS]; /* of each stage of the transform, one behind the other, from [its half] on */
    double gain_c[GW_COMB_ORDERS + 1], gain_s[GW_COMB_ORDERS + 1]; /* undo what the spreading does to each order */
};

static void windows_fill(windows *out) {
    for (int place = 0; place <= PLACES; place++)
        for (int j = 0; j < WIDTH / 2; j++) {
            out->value[place][j] = window_at(j - LEFT - (double)place / PLACES);
            out->value[PLACES - place][WIDTH - 1 - j] = out->value[place][j]; /* it is even */
        }
    for (int place = 0; place < PLACES; place++)
        for (int j = 0; j < WIDTH; j++)
            out->slope[place][j] = out->value[place + 1][j] - out->value[place][j];
}

/* `phase` is the part of a turn in units of 2^-64: its first bits are the cell, the next the place in it, and what they
 * leave the way to the next place. */
static inline void spread(const windows *w, uint64_t phase, double value, double *cells) {
    size_t cell = (size_t)(phase >> (64 - CELL_BITS));
    size_t row = (size_t)(phase >> (64 - PLACE_BITS - CELL_BITS)) % PLACES;
    double beyond = (double)(int64_t)(phase << (CELL_BITS + PLACE_BITS) >> BEYOND_LEFT) * 0x1p-40;
    const double *values = w->value[row], *slopes = w->slope[row];
    const gw_lanes scale = {value, value, value, value}, share = {beyond, beyond, beyond, beyond};
    double *to = cells + cell;
    *(gw_lanes *)to += scale * (GW_LANES_AT(values) + share * GW_LANES_AT(slopes));
    *(gw_lanes *)(to + 4) += scale * (GW_LANES_AT(values + 4) + share * GW_LANES_AT(slopes + 4));
}

/* A turn's part beyond whole ones, in units of 2^-64. */
static inline uint64_t phase_of(double turns) {
    return (uint64_t)((turns - floor(turns)) * 0x1p32) << 32 |
           (uint64_t)(fmod((turns - floor(turns)) * 0x1p32, 1) * 0x1p32);
}

/* `cells` has WIDTH more at the end; cell 0 stands at [LEFT]. Neighbouring samples go to spaces of their own,
 * TURNS of them in turn: they fall on the same cells, and would wait for each other. */
GW_WIDE static void spread_all(const double *vector, size_t count, double frequency, const windows *w,
                               double (*cells)[SPACE]) {
    const double middle = 0.5 * (double)(count - 1);
    const uint64_t step = phase_of(frequency);
    for (size_t from = 0; from < count; from += BLOCK) {
        uint64_t phase = phase_of(frequency * ((double)from - middle));
        size_t to = count - from < BLOCK ? count : from + BLOCK;
        for (size_t i = from; i < to; i++, phase += step)
            spread(w, phase, vector[i], cells[i % TURNS]);
    }
}

enum { GAIN_POINTS = WIDTH / 2 * POINTS };

/* What the window does to a frequency in cycles a cell: its transform, as a sum (the window ends in nothing) over its
 * values at the points; cosines by Chebyshev's recurrence. */
static double window_gain(const double *values, double frequency) {
    double one = cos(two_pi * frequency / POINTS), before = 1, here = one, sum = 0.5;
    for (int k = 1; k < GAIN_POINTS; k++) {
        sum += values[k] * here;
        double next = 2 * one * here - before;
        before = here;
        here = next;
    }
    return 2 * sum / POINTS;
}

static void gains_fill(gw_comb *out) {
    double points[GAIN_POINTS];
    for (int k = 0; k < GAIN_POINTS; k++)
        points[k] = window_at((double)k / POINTS);
    for (size_t k = 1; k <= GW_COMB_ORDERS; k++) {
        double cycles = (double)k / CELLS, gain = window_gain(points, cycles);
        out->gain_c[k] = cos(two_pi * cycles * LEFT) / gain;
        out->gain_s[k] = sin(two_pi * cycles * LEFT) / gain;
    }
}

static void comb_fill(gw_comb *out) {
    windows_fill(&out->window);
    gains_fill(out);
    for (size_t i = 0, turned = 0; i < CELLS; i++, turned = gw_turned_next(turned, CELLS))
        out->turned[i] = (uint16_t)turned;
    gw_twiddles_fill(out->cosines, out->sines, CELLS);
}

gw_comb *gw_comb_new(void) {
    gw_comb *out = malloc(sizeof *out);
    if (out)
        comb_fill(out);
    return out;
}

/* Σ cells[i]·e^{-i2πki/CELLS} for all k. In double precision, so that what is told of each order is as good as the
 * spreading. */
static void transform(const gw_comb *comb, const double *cells, double *re, double *im) {
    for (size_t i = 0; i < CELLS; i++) {
        re[i] = cells[comb->turned[i]];
        im[i] = 0;
    }
    gw_transform_run(comb->cosines, comb->sines, CELLS, re, im);
}

static void dot(const gw_comb *comb, const double *vector, size_t count, double frequency, size_t orders,
                double *cosines, double *sines) {
    double turns[TURNS][SPACE] = {{0}}, *cells = turns[0], re[CELLS], im[CELLS];
    spread_all(vector, count, frequency, &comb->window, turns);
    for (size_t t = 1; t < TURNS; t++)
        for (size_t k = 0; k < SPACE; k++)
            cells[k] += turns[t][k];
    for (size_t k = 0; k < WIDTH; k++) /* what was spread over the period's end */
        cells[k] += cells[CELLS + k];
    transform(comb, cells, re, im);
    for (size_t k = 1; k <= orders; k++) {
        cosines[k] = comb->gain_c[k] * re[k] - comb->gain_s[k] * im[k];
        sines[k] = -comb->gain_c[k] * im[k] - comb->gain_s[k] * re[k];
    }
}

void gw_comb_dot(gw_shelf *shelf, const double *vector, size_t count, double frequency, size_t orders, double *cosines,
                 double *sines) {
    const gw_comb *kept = gw_shelf_comb(shelf);
    if (kept) {
        dot(kept, vector, count, frequency, orders, cosines, sines);
        return;
    }
    gw_comb own;
    comb_fill(&own);
    dot(&own, vector, count, frequency, orders, cosines, sines);
}
