#include "measure/comb.h"

#include "base/lanes.h"

#include <math.h>
#include <string.h>

static const double two_pi = 6.283185307179586476925;

/* Cells that a sample is spread over; places within a cell where the window is tabulated; samples between two exact
 * phases; points a cell that the window's transform is summed over. */
enum { WIDTH = 8, PLACE_BITS = 8, PLACES = 1 << PLACE_BITS, BLOCK = 256, POINTS = 8, CELLS_MAX = 4 * GW_COMB_ORDERS };
enum { TURNS = 4, SPACE = CELLS_MAX + WIDTH, BEYOND_LEFT = 24 }; /* bits that are not looked at */

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
        for (int j = 0; j < WIDTH / 2; j++) {
            out->value[place][j] = window_at(j - (WIDTH / 2 - 1) - (double)place / PLACES);
            out->value[PLACES - place][WIDTH - 1 - j] = out->value[place][j]; /* it is even */
        }
    for (int place = 0; place < PLACES; place++)
        for (int j = 0; j < WIDTH; j++)
            out->slope[place][j] = out->value[place + 1][j] - out->value[place][j];
}

/* `phase` is the part of a turn in units of 2^-64: its first bits are the cell, the next the place in it, and what they
 * leave the way to the next place. */
static inline void spread(const windows *w, uint64_t phase, int cell_bits, double value, double *cells) {
    size_t cell = (size_t)(phase >> (64 - cell_bits));
    size_t row = (size_t)(phase >> (64 - PLACE_BITS - cell_bits)) % PLACES;
    double beyond = (double)(int64_t)(phase << (cell_bits + PLACE_BITS) >> BEYOND_LEFT) * 0x1p-40;
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

/* `size` is a power of two. `cells` has WIDTH more at the end; cell 0 stands at [WIDTH/2 - 1]. Neighbouring samples go
 * to spaces of their own, TURNS of them in turn: they fall on the same cells, and would wait for each other. */
GW_WIDE static void spread_all(const double *vector, size_t count, double frequency, size_t size, const windows *w,
                               double (*cells)[SPACE]) {
    const double middle = 0.5 * (double)(count - 1);
    const uint64_t step = phase_of(frequency);
    int cell_bits = 0;
    while ((size_t)1 << cell_bits < size)
        cell_bits++;
    for (size_t from = 0; from < count; from += BLOCK) {
        uint64_t phase = phase_of(frequency * ((double)from - middle));
        size_t to = count - from < BLOCK ? count : from + BLOCK;
        for (size_t i = from; i < to; i++, phase += step)
            spread(w, phase, cell_bits, vector[i], cells[i % TURNS]);
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

/* The index of each cell with its bits turned round, by which the butterflies below begin. */
static void turn_round(const double *cells, size_t size, double *re, double *im) {
    for (size_t i = 0, j = 0; i < size; i++) {
        re[j] = cells[i];
        im[j] = 0;
        size_t bit = size >> 1;
        for (; j & bit; bit >>= 1)
            j ^= bit;
        j |= bit;
    }
}

/* Σ cells[i]·e^{-i2πki/size} for all k, `size` a power of two (Cooley & Tukey 1965). In double precision, so that what
 * is told of each order is as good as the spreading. */
static void transform(const double *cells, size_t size, double *re, double *im) {
    double cosines[CELLS_MAX / 2] = {1}, sines[CELLS_MAX / 2] = {0};
    for (size_t k = 0; k < size / 2; k++) {
        double turn = two_pi * (double)k / (double)size;
        cosines[k] = cos(turn);
        sines[k] = sin(turn);
    }
    turn_round(cells, size, re, im);
    for (size_t half = 1; half < size; half *= 2)
        for (size_t from = 0; from < size; from += 2 * half)
            for (size_t k = 0, at = from; k < half; k++, at++) {
                size_t other = at + half, step = k * (size / (2 * half));
                double c = re[other] * cosines[step] + im[other] * sines[step],
                       s = im[other] * cosines[step] - re[other] * sines[step];
                re[other] = re[at] - c;
                im[other] = im[at] - s;
                re[at] += c;
                im[at] += s;
            }
}

void gw_comb_dot(const double *vector, size_t count, double frequency, size_t orders, double *cosines, double *sines) {
    double turns[TURNS][SPACE] = {{0}}, *cells = turns[0], points[GAIN_POINTS], re[CELLS_MAX], im[CELLS_MAX];
    windows w;
    size_t size = 64;
    while (size < 4 * orders && size < CELLS_MAX)
        size *= 2;
    windows_fill(&w);
    for (int k = 0; k < GAIN_POINTS; k++)
        points[k] = window_at((double)k / POINTS);
    spread_all(vector, count, frequency, size, &w, turns);
    for (size_t t = 1; t < TURNS; t++)
        for (size_t k = 0; k < size + WIDTH; k++)
            cells[k] += turns[t][k];
    for (size_t k = 0; k < WIDTH; k++) /* what was spread over the period's end */
        cells[k] += cells[size + k];
    transform(cells, size, re, im);
    for (size_t k = 1; k <= orders; k++) {
        double cycles = (double)k / (double)size, gain = window_gain(points, cycles);
        double c = cos(two_pi * cycles * (WIDTH / 2 - 1)), s = sin(two_pi * cycles * (WIDTH / 2 - 1));
        cosines[k] = (c * re[k] - s * im[k]) / gain;
        sines[k] = (-c * im[k] - s * re[k]) / gain;
    }
}
