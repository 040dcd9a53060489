#include "measure/bounds.h"

#include "measure/shelf.h"
#include "measure/sums.h"

#include <math.h>
#include <stdlib.h>

/* What the parabola of gw_peaks_find adds to a bin at most: its neighbours count as a fifth of it at least, and the top
 * lies half a bin away at most, so exp(ln 5 / 8). */
static const double parabola = 1.2229;

static const double pi = 3.14159265358979323846;

/* A line is √2·|Σ w·v·e^{-iωt}| / Σw of the Hann window w; by Cauchy and Schwarz no more than √(2·Σw²·Σv²) / Σw, and
 * Σw = n/2, Σw² = 3n/8. */
double gw_line_most(double squares, size_t count) {
    return parabola * sqrt(3 * squares / (double)count);
}

/* ---- by products with itself ----------------------------------------------------------------------- */

/* Sums over so many neighbouring samples at most are looked at; frequencies up to half the rate that they are asked
 * for. A polynomial in cosines up to order d, asked at N places of a turn, exceeds the largest by 1 / cos(πd/N) at most
 * (Ehlich & Zeller 1964). */
enum { SPAN = 24, PLACES = 128 };
static const size_t circle = (size_t)2 * PLACES; /* places of a whole turn */

/* `values` under the window, their mean (as the window weighs it) taken out. NULL when memory is out. */
static double *windowed_make(gw_shelf *shelf, const double *values, size_t count) {
    double *out = malloc(count * sizeof *out);
    if (!out)
        return NULL;
    gw_shelf_window(shelf, out, count);
    double mean = gw_gram_dot(out, values, count) / gw_gram_total(out, count);
    for (size_t i = 0; i < count; i++)
        out[i] *= values[i] - mean;
    return out;
}

/* The largest of Σ products[l]·cos(ωl) over all ω. */
static double largest_sum(const double products[SPAN]) {
    double cosines[2 * PLACES], largest = 0;
    for (size_t k = 0; k < circle; k++)
        cosines[k] = cos(pi * (double)k / PLACES);
    for (size_t k = 0; k <= PLACES; k++) {
        double sum = 0;
        for (size_t l = 0; l < SPAN; l++)
            sum += products[l] * cosines[k * l % circle];
        largest = sum > largest ? sum : largest;
    }
    return largest / cos(pi * (SPAN - 1) / (2 * PLACES));
}

/* With Y = Σ y·e^{-iωt}, and V the same sum over each stretch of m neighbours (those that reach over an end too, n + m
 * - 1 in all), every sample stands in m of them: m·Y = ΣV. So m²·|Y|² ≤ (n + m - 1)·Σ|V|² (Cauchy & Schwarz), and Σ|V|²
 * = Σ over lags l of (m - |l|)·cos(ωl)·Σ y(t)·y(t + l). */
double gw_line_most_of(gw_shelf *shelf, const double *values, size_t count) {
    if (count / 2 < SPAN)
        return INFINITY;
    double *y = windowed_make(shelf, values, count), products[SPAN], n = (double)count;
    if (!y)
        return INFINITY;
    for (size_t l = 0; l < SPAN; l++)
        products[l] = (l ? 2 : 1) * (double)(SPAN - l) * gw_gram_dot(y, y + l, count - l);
    free(y);
    double square = (n + SPAN - 1) / (SPAN * SPAN) * largest_sum(products);
    return parabola * sqrt(8 * square) / n;
}

/* ---- below a frequency ----------------------------------------------------------------------------- */

enum { GROUPS = 256 };

/* Means of neighbours, about the first sample, so that GROUPS at most are left; returns their number. `*squares` is Σ
 * (v - the mean of its group)². */
static size_t means_of(const gw_block *block, double *means, double *squares) {
    size_t size = (block->count + GROUPS - 1) / GROUPS, count = block->count / size;
    double first = block->volts[0], mean = 0;
    *squares = 0;
    for (size_t k = 0; k < count; k++) {
        const double *volts = block->volts + k * size;
        double sum = 0;
        for (size_t i = 0; i < size; i++)
            sum += volts[i] - first;
        mean = means[k] = sum / (double)size;
        for (size_t i = 0; i < size; i++)
            *squares += (volts[i] - first - mean) * (volts[i] - first - mean);
    }
    for (size_t i = count * size; i < block->count; i++)
        *squares += (block->volts[i] - first - mean) * (block->volts[i] - first - mean);
    return count;
}

/* The record is its groups' means and what lies beside them; what no line from `cycles` on exceeds is the sum of what
 * those of either do. A line between two bins stands 1.42 dB higher than they show (Harris 1978): twice as much as all
 * of them together it never is. */
bool gw_line_below(const gw_block *block, double cycles) {
    double means[GROUPS], beside, lowest = 0, above = 0;
    if (block->marks || (double)block->count < 8 * cycles)
        return false;
    size_t count = means_of(block, means, &beside);
    gw_arena *arena = gw_arena_new();
    gw_spectrum spectrum;
    bool made = arena && (double)count > 4 * cycles &&
                gw_spectrum_amplitude_by(block->shelf, means, NULL, count, (double)count, 1, arena, &spectrum);
    for (size_t k = 1; made && k < spectrum.bins; k++) {
        double at = (double)k * spectrum.bin_hz, square = spectrum.rms[k] * spectrum.rms[k];
        if (at <= cycles - GW_HANN_LOBE)
            lowest = fmax(lowest, square);
        above += at >= cycles - 0.5 ? square : 0;
    }
    gw_arena_free(arena);
    return made && sqrt(lowest) > 2 * (gw_line_most(beside, block->count) + sqrt(above));
}
