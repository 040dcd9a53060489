/* The floor's density: what most bins of a spectrum show. */
#include "measure/noise.h"
#include "measure/robust.h"

#include <math.h>
#include <stdlib.h>

static const double pi = 3.14159265358979323846;

enum { NEIGHBOURS_LEAST = 9, NEIGHBOURS_MOST = 61, BLOCKS = 24, BLOCKS_LEAST = 8, REACH = 3 };

/* Median over deviation: white noise scatters the medians of neighbours by no more than so many times what it should.
 */
static const double coloured_over = 1.5;
/* Held against noise that falls as one over the frequency, and as one over its square. */
static const double seen_wider = 1.5, lifted = 1.5;
/* Of a bin's noise; where the fit left less, its rest says little. */
static const double left_least = 0.25;

/* K. P. Choi, "On the medians of gamma distributions and an equation of Ramanujan", Proc. Amer. Math. Soc. 121 (1994):
 * the median of gamma with shape a is a - 1/3 + 8/(405 a) + 184/(25515 a^2) + 2248/(3444525 a^3) - ... */
double gw_chi_square_median(double freedom) {
    double a = freedom / 2;
    double median = a - 1.0 / 3 + (8.0 / 405 + (184.0 / 25515 + 2248.0 / 3444525 / a) / a) / a;
    return median / a;
}

/* Power of a Hann window's transform `x` bins from its middle, as a density over bins: its integral is 1 (the mean of
 * the window's square is 3/8). */
static double hann_power(double x) {
    double sinc = fabs(x) < 1e-9 ? 1 : sin(pi * x) / (pi * x);
    double amplitude = fabs(x * x - 1) < 1e-9 ? 0.25 : 0.5 * sinc / (1 - x * x);
    return amplitude * amplitude / (3.0 / 8);
}

/* The share of each bin's noise that the fit left: a line of it is 1/T of bandwidth, seen through the window. */
static void shares_left(const gw_psd *psd, gw_fitted fitted, double *left) {
    double bins_taken = 1 / (psd->bin_hz * psd->duration_s);
    for (size_t k = 0; k < psd->bins; k++)
        left[k] = 1;
    for (size_t i = 0; i < fitted.count; i++) {
        double place = fitted.frequencies_hz[i] / psd->bin_hz;
        for (double k = fmax(ceil(place) - REACH, 0); k <= floor(place) + REACH && k < (double)psd->bins; k++)
            left[(size_t)k] -= bins_taken * hann_power(k - place);
    }
}

/* Bins of the band, what the fit took given back; their number, and the mean of the shares left. */
static size_t bins_take(const gw_psd *psd, gw_band band, const double *left, double *kept, double *mean_left) {
    size_t count = 0;
    *mean_left = 0;
    for (size_t k = 1; k + 1 < psd->bins; k++) {
        double f = (double)k * psd->bin_hz;
        if (f < band.low_hz || f > band.high_hz || left[k] < left_least)
            continue;
        kept[count++] = psd->density[k] / left[k];
        *mean_left += left[k];
    }
    *mean_left /= fmax((double)count, 1);
    return count;
}

/* Relative variance of the median of `count` bins. The median of many chi-square values has pi/2 times the variance of
 * their mean (asymptotically, for a normal distribution); the Hann window makes 35/18 of that (see add_bar). Where a
 * comb of few cycles took much, the rest of one period is that of the next turned round, and pieces of the record that
 * are a period apart tell the same: of what is left the freedom is less again. Held against combs of 1.5 to 3 cycles.
 */
static double median_variance(const gw_psd *psd, double count, double left) {
    return pi / 2 * 35 / 18 * 2 / (psd->freedom * left / (2 - left)) / count;
}

/* How many neighbours make a block: few enough that the density is much the same in all of them. */
static size_t neighbours_of(size_t count) {
    size_t wide = count / BLOCKS | 1;
    return wide < NEIGHBOURS_LEAST ? NEIGHBOURS_LEAST : wide > NEIGHBOURS_MOST ? NEIGHBOURS_MOST : wide;
}

/* Medians of neighbours, to the front of `kept`; their number. */
static size_t blocks_make(double *kept, size_t count, size_t neighbours) {
    size_t blocks = count / neighbours;
    for (size_t b = 0; b < blocks; b++)
        kept[b] = gw_median(kept + b * neighbours, neighbours); /* that place is not needed any more */
    return blocks;
}

/* The median of medians of neighbours and its relative variance, which is that of the blocks that lie near it; false
 * where they scatter no more than those of white noise. */
static bool coloured_median(double *blocks, size_t count, double block_variance, double *median, double *variance) {
    double *away = blocks + count, deviation = sqrt(block_variance); /* of the bins they were made of, there is room */
    if (count < BLOCKS_LEAST)
        return false;
    *median = gw_median(blocks, count);
    if (!(*median > 0))
        return false;
    for (size_t b = 0; b < count; b++)
        away[b] = fabs(blocks[b] / *median - 1);
    double near = (double)gw_count_below(away, count, deviation);
    double scatter = gw_median(away, count) / GW_GAUSS_QUARTILE;
    if (scatter < coloured_over * deviation)
        return false;
    /* of Gaussian values 68.3 % lie within a deviation */
    *variance = pi / 2 * block_variance / fmin(fmax(near / 0.683, 1), (double)count);
    /* which blocks lie near is seen through their scatter; and of a density that falls less and less more of them pass
     * the median from below than from above, which lifts it by about their variance */
    *variance = seen_wider * *variance + lifted * lifted * block_variance * block_variance;
    return true;
}

static void density_set(double freedom, double median, double variance, gw_floor *out) {
    *out = (gw_floor){
        .valid = true, .density = sqrt(median / gw_chi_square_median(freedom)), .relative = sqrt(variance) / 2};
}

bool gw_noise_density(const gw_psd *psd, gw_band band, gw_fitted fitted, gw_floor *out) {
    *out = (gw_floor){0};
    double *left = malloc((3 * psd->bins + 1) * sizeof *left), mean_left, median, variance;
    if (!left)
        return false;
    double *kept = left + psd->bins, *blocks = kept + psd->bins;
    shares_left(psd, fitted, left);
    size_t count = bins_take(psd, band, left, kept, &mean_left);
    for (size_t k = 0; k < count; k++)
        blocks[k] = kept[k];
    double freedom = psd->freedom * mean_left;
    size_t neighbours = neighbours_of(count), block_count = blocks_make(blocks, count, neighbours);
    /* scaled to the record's mean square, the spectrum of noise that is mostly in a few bins has their luck everywhere
     */
    double scale = psd->parseval > 0 ? psd->parseval : 1;
    if (coloured_median(blocks, block_count, median_variance(psd, (double)neighbours, mean_left), &median, &variance))
        density_set(freedom, median / scale, variance, out);
    else if (count >= 3)
        density_set(freedom, gw_median(kept, count), median_variance(psd, (double)count, mean_left), out);
    free(left);
    return true;
}
