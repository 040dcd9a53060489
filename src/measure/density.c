/* The floor's density: what most bins of a spectrum show. */
#include "measure/noise.h"
#include "measure/robust.h"

#include <math.h>
#include <stdlib.h>

static const double pi = 3.14159265358979323846;

/* A Hann window's transform reaches so many bins. */
enum { REACH = 3 };

/* Scatter of the levels over that of white noise's: beyond it a density is not flat. */
static const double coloured_over = 2;
/* Neighbours of a bin: so much of its frequency to either side. A density that falls as a power of the frequency keeps
 * its shape in the mean of their logarithms. */
static const double neighbourhood = 0.4;
/* Further from the median than this, in logarithms, a bin is far. */
static const double far_base = 1, far_deviations = 2.5;
/* Held against white, pink and Brownian noise, low-passed, high-passed, in a band, in steps. */
static const double seen_wider = 1.25, lift_unsure = 0.5;
/* Of a bin's noise; where the fit left less, its rest says little. */
static const double left_least = 0.25;
/* Neighbouring bins under a Hann window are correlated: of a sum of them the variance is so many times that of as many
 * that are not (see add_bar in noise.c). */
static const double correlated = 35.0 / 18;

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

/* Bins of a band, the lowest first; each array has room for one more than the spectrum has bins. */
typedef struct bins {
    double *left;   /* of every bin of the spectrum: the share of its noise that the fit left */
    double *places; /* in bins from 0 Hz */
    double *kept;   /* densities, what the fit took given back */
    double *levels; /* logarithms of what the density is there, about */
    double *room;
    size_t count;
    double mean_left; /* of `left`, over the band */
    double variance;  /* of a bin, relative */
} bins;

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

/* Where a comb of few cycles took much, the rest of one period is that of the next turned round, and pieces of the
 * record that are a period apart tell the same: of what is left the freedom is less again. Held against combs of 1.5 to
 * 3 cycles. */
static void bins_take(const gw_psd *psd, gw_band band, bins *b) {
    double left = 0;
    for (size_t k = 1; k + 1 < psd->bins; k++) {
        double f = (double)k * psd->bin_hz;
        if (f < band.low_hz || f > band.high_hz || b->left[k] < left_least)
            continue;
        b->places[b->count] = (double)k;
        b->kept[b->count++] = psd->density[k] / b->left[k];
        left += b->left[k];
    }
    b->mean_left = left / fmax((double)b->count, 1);
    b->variance = 2 / (psd->freedom * b->mean_left / (2 - b->mean_left));
}

/* ---- a density that is not flat ------------------------------------------------------------------------ */

/* Sums of the logarithms of the bins over their median. Of what is so far from it that it cannot pass it by chance only
 * the sign counts: a line in the noise lifts its neighbours little. */
static void sums_make(bins *b) {
    double *sums = b->room, most = far_base + far_deviations * sqrt(b->variance);
    for (size_t k = 0; k < b->count; k++)
        sums[k] = b->kept[k];
    double median = fmax(gw_median(sums, b->count), 1e-300);
    sums[0] = 0;
    for (size_t k = 0; k < b->count; k++)
        sums[k + 1] = sums[k] + fmax(fmin(log(fmax(b->kept[k] / median, 1e-300)), most), -most);
}

/* The level of each bin is the mean logarithm of its neighbours, as many on both sides; whether these scatter beyond
 * what those of white noise do. */
static bool levels_make(bins *b) {
    double *sums = b->room, scatter = 0, spread = 0, mean;
    sums_make(b);
    mean = sums[b->count] / (double)b->count;
    for (size_t k = 0; k < b->count; k++) {
        size_t reach = (size_t)(neighbourhood * b->places[k] + 0.5), end = k < b->count - 1 - k ? k : b->count - 1 - k;
        reach = reach < end ? reach : end;
        double over = 2 * (double)reach + 1;
        b->levels[k] = (sums[k + reach + 1] - sums[k - reach]) / over;
        spread += (b->levels[k] - mean) * (b->levels[k] - mean);
        scatter += correlated * b->variance / over;
    }
    return spread > coloured_over * coloured_over * scatter;
}

/* How many bins are expected below a level, the variance of that number, how many more are for each unit of level. */
typedef struct crowd {
    double below, variance, dense;
} crowd;

/* Of bins that scatter about their levels with the variance of their logarithms; Gaussian, which is near enough. */
static crowd crowd_at(const bins *b, double at) {
    crowd sum = {0};
    double deviation = sqrt(b->variance);
    for (size_t k = 0; k < b->count; k++) {
        double z = (at - b->levels[k]) / deviation, below = 0.5 * erfc(-z / sqrt(2));
        sum.below += below;
        sum.variance += below * (1 - below);
        sum.dense += exp(-z * z / 2) / (deviation * sqrt(2 * pi));
    }
    return sum;
}

/* Where half of them are expected below: Newton's steps, each no longer than a deviation. */
static crowd crowd_middle(const bins *b, double *at) {
    enum { STEPS = 8 };
    double longest = sqrt(b->variance);
    crowd c = crowd_at(b, *at);
    for (int step = 0; step < STEPS; step++) {
        double by = (c.below - 0.5 * (double)b->count) / fmax(c.dense, 1e-9);
        *at -= fmax(fmin(by, longest), -longest);
        c = crowd_at(b, *at);
    }
    return c;
}

/* Most bins lie far from the median and tell little of it: its variance is that of the number below it, over the square
 * of how many more there are with each step upwards (the delta method; of a flat density that is pi/2 times the
 * mean's). And where the density falls less and less, more bins pass the median from one side than from the other: so
 * much their median lies above the density's own. */
static double coloured_median(const bins *b, double *variance) {
    for (size_t k = 0; k < b->count; k++)
        b->room[k] = b->levels[k];
    double middle = gw_median(b->room, b->count), at = middle;
    crowd c = crowd_middle(b, &at);
    double lift = at - middle, unsure = lift_unsure * lift;
    *variance = seen_wider * correlated * c.variance / fmax(c.dense * c.dense, 1e-9) + unsure * unsure;
    return gw_median(b->kept, b->count) / exp(lift);
}

/* ---- the floor ----------------------------------------------------------------------------------------- */

static gw_floor floor_of(const gw_psd *psd, bins *b) {
    /* the median of many chi-square values has pi/2 times the variance of their mean (asymptotically, for a normal
     * distribution) */
    double variance = pi / 2 * correlated * b->variance / (double)b->count, median;
    if (levels_make(b))
        /* scaled to the record's mean square, the spectrum of noise that is mostly in a few bins has their luck
         * everywhere */
        median = coloured_median(b, &variance) / (psd->parseval > 0 ? psd->parseval : 1);
    else
        median = gw_median(b->kept, b->count);
    return (gw_floor){.valid = true,
                      .density = sqrt(median / gw_chi_square_median(psd->freedom * b->mean_left)),
                      .relative = sqrt(variance) / 2};
}

bool gw_noise_density(const gw_psd *psd, gw_band band, gw_fitted fitted, gw_floor *out) {
    enum { ARRAYS = 5, BINS_LEAST = 3 };
    size_t room = psd->bins + 1;
    double *all = calloc(ARRAYS * room, sizeof *all);
    bins b = {.left = all};
    *out = (gw_floor){0};
    if (!all)
        return false;
    b.places = all + room;
    b.kept = b.places + room;
    b.levels = b.kept + room;
    b.room = b.levels + room;
    shares_left(psd, fitted, b.left);
    bins_take(psd, band, &b);
    if (b.count >= BINS_LEAST)
        *out = floor_of(psd, &b);
    free(all);
    return true;
}
