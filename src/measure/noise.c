#include "noise.h"

#include "weighting.h"

#include <math.h>
#include <stdlib.h>

gw_band_shown gw_noise_band(gw_band wanted, size_t n, double rate_hz) {
    gw_band_shown shown = {.band = wanted};
    if (n == 0 || !(rate_hz > 0))
        return (gw_band_shown){0};
    double lowest = rate_hz / (double)n, highest = rate_hz / 2;
    if (shown.band.low_hz < lowest) {
        shown.band.low_hz = lowest;
        shown.low_cut = true;
    }
    if (shown.band.high_hz > highest) {
        shown.band.high_hz = highest;
        shown.high_cut = true;
    }
    shown.valid = shown.band.high_hz > shown.band.low_hz;
    return shown;
}

/* ---- RMS in a band -------------------------------------------------------------------------------- */

static double weight_square(gw_noise_weighting weighting, double frequency_hz) {
    if (weighting == GW_WEIGHT_FLAT)
        return 1;
    double ratio = gw_weighting_a(frequency_hz);
    return ratio * ratio;
}

/* The bar of bin k, as far as it lies within the band: its edges, its middle. */
typedef struct bar {
    double width_hz, middle_hz;
} bar;

static bar bar_in_band(const gw_psd *psd, size_t k, gw_band band) {
    double low = k == 0 ? 0 : ((double)k - 0.5) * psd->bin_hz;
    double high = k == psd->bins - 1 ? (double)k * psd->bin_hz : ((double)k + 0.5) * psd->bin_hz;
    low = low > band.low_hz ? low : band.low_hz; /* fmax is a call: it knows of NaN */
    high = high < band.high_hz ? high : band.high_hz;
    return high > low ? (bar){.width_hz = high - low, .middle_hz = (low + high) / 2} : (bar){0};
}

/* Integral of weight^2 over a bar by Simpson's rule: a bar may be wider than the weighting's bends. */
static double weight_of_bar(bar b, gw_noise_weighting weighting) {
    if (b.width_hz <= 0)
        return 0;
    if (weighting == GW_WEIGHT_FLAT)
        return b.width_hz;
    /* the error goes with the fourth power of a part over the frequency: 1e-9 of the whole either way */
    int parts = b.middle_hz > 64 * b.width_hz ? 2 : 8;
    double sum = 0, low = b.middle_hz - b.width_hz / 2;
    for (int i = 0; i <= parts; i++) {
        double simpson = i == 0 || i == parts ? 1 : i % 2 ? 4 : 2;
        sum += simpson * weight_square(weighting, low + b.width_hz * i / parts);
    }
    return sum * b.width_hz / (3 * parts);
}

double gw_noise_bandwidth(gw_band band, gw_noise_weighting weighting) {
    const double wider = 1.1, lowest_hz = 1;
    double sum = 0, low = fmax(band.low_hz, lowest_hz);
    while (low < band.high_hz) {
        double high = fmin(low * wider, band.high_hz);
        sum += weight_of_bar((bar){.width_hz = high - low, .middle_hz = (low + high) / 2}, weighting);
        low = high;
    }
    return sum;
}

/* A sum of spectral estimates and what its variance is made of. Neighbouring bins under a Hann window are correlated:
 * the squared correlations of periodograms one and two bins apart are (2/3)^2 and (1/6)^2 (Harris 1978, the transform
 * of the window's square). */
typedef struct sums {
    double power;   /* V^2 */
    double squares; /* sum of bars^2 */
    double one_apart, two_apart;
    double last, before_last;
    double weight; /* integral of weight^2 df, Hz */
} sums;

static void add_bar(sums *s, double part, double weight) {
    s->power += part;
    s->squares += part * part;
    s->one_apart += part * s->last;
    s->two_apart += part * s->before_last;
    s->before_last = s->last;
    s->last = part;
    s->weight += weight;
}

/* Relative variance of a sum by Welch's averaging. */
static double variance_welch(const sums *s, const gw_psd *psd) {
    if (s->power <= 0)
        return 0;
    double correlated = s->squares + 2 * (4.0 / 9) * s->one_apart + 2 * (1.0 / 36) * s->two_apart;
    return 2 / psd->freedom * correlated / (s->power * s->power);
}

/* Relative variance that a record of this length allows: 1/(B T) for flat noise in a band B (B&P, chi-square with
 * 2 B T degrees of freedom). */
static double variance_best(const sums *s, const gw_psd *psd) {
    if (s->power <= 0)
        return 0;
    return s->squares / (psd->bin_hz * psd->duration_s) / (s->power * s->power);
}

/* Relative variance of their power from which on bins are few. */
static const double few_bins = 0.01;

/* The estimate is mean square x in / (in + out), both from the same spectrum. With f the share that is `in`, its
 * relative error is in's unavoidable one plus (1 - f) times what windowing adds to in and to out. */
static double variance_of_share(const sums *in, const sums *out, const gw_psd *psd) {
    double best_in = variance_best(in, psd), best_out = variance_best(out, psd);
    double added_in = fmax(variance_welch(in, psd) - best_in, 0);
    double all_out = variance_welch(out, psd);
    /* of few bins at the lowest frequencies the segments see other parts than the record's mean square has */
    double few = 0.5 * all_out / (1 + few_bins / fmax(all_out, 1e-12));
    double added_out = fmax(all_out - best_out, few);
    double rest = 1 - in->power / (in->power + out->power);
    return best_in + rest * rest * (added_in + added_out);
}

/* Bandwidth, weighted, that the fitted unknowns took out of the band. */
static double fitted_weight(gw_fitted fitted, gw_band band, double duration_s, gw_noise_weighting weighting) {
    double lost = 0;
    for (size_t i = 0; i < fitted.count; i++) {
        double f = fitted.frequencies_hz[i];
        if (f < band.low_hz || f > band.high_hz)
            continue;
        lost += weight_square(weighting, f) * (f > 0 ? 1 : 0.5) / duration_s;
    }
    return lost;
}

/* Of what the two lowest bars have beyond their share of an even density: what the taking out of each segment's mean
 * does to them, where the density rises to low frequencies. Held against such noise. */
static const double lowest_unsure = 0.2;

/* Bins above the two lowest, and further up, whose means tell how steeply the density falls; places in bins. */
enum { NEAR_FIRST = 2, NEAR_LAST = 4, FAR_FIRST = 8, FAR_LAST = 16, LOWEST_BARS = 2 };
/* No noise of circuits rises more steeply to low frequencies than its square. */
static const double steepest = 2;
/* Of the RMS, what is taken to have been missed by chance at most: where the density goes on to rise is not known, and
 * noise that a circuit adds is to be told as such. */
static const double missed_most = 0.25;

static double mean_density(const gw_psd *psd, int first, int last) {
    double sum = 0;
    for (int k = first; k <= last; k++)
        sum += psd->density[k];
    return sum / (last - first + 1);
}

/* The mean density of the lowest bars, from `low_hz` on, if it goes on to rise as it does above them. These hold a
 * swing or two of the slowest noise: by chance far less than such noise has. */
static double density_below(const gw_psd *psd, double low_hz) {
    if (psd->bins <= FAR_LAST + 1)
        return 0;
    double near = mean_density(psd, NEAR_FIRST, NEAR_LAST), far = mean_density(psd, FAR_FIRST, FAR_LAST);
    double from = low_hz / psd->bin_hz, to = LOWEST_BARS - 0.5, middle = sqrt(NEAR_FIRST * NEAR_LAST);
    if (!(far > 0) || !(near > far) || !(from > 0) || from >= to)
        return 0;
    double slope = fmin(log(near / far) / log(sqrt(FAR_FIRST * FAR_LAST) / middle), steepest), up = 1 - slope;
    double mean = fabs(up) < 1e-6 ? log(to / from) : (pow(to, up) - pow(from, up)) / up;
    return near * pow(middle, slope) * mean / (to - from);
}

gw_noise gw_noise_rms(const gw_psd *psd, gw_band band, gw_noise_weighting weighting, gw_fitted fitted) {
    sums in = {0}, out = {0};
    double lowest = 0, lowest_weight = 0;
    for (size_t k = 0; k < psd->bins; k++) {
        bar whole = bar_in_band(psd, k, (gw_band){0, HUGE_VAL});
        bar inside = bar_in_band(psd, k, band);
        double weight = weight_of_bar(inside, weighting);
        add_bar(&in, psd->density[k] * weight, weight);
        add_bar(&out, psd->density[k] * (whole.width_hz - inside.width_hz), 0);
        lowest += k < LOWEST_BARS ? psd->density[k] * weight : 0;
        lowest_weight += k < LOWEST_BARS ? weight : 0;
    }
    double lost = in.weight > 0 ? fitted_weight(fitted, band, psd->duration_s, weighting) : 0;
    enum { LEFT_AT_LEAST = 5 }; /* per cent of the band: below, its noise is anyone's guess */
    if (in.weight <= 0 || (in.weight - lost) * 100 < LEFT_AT_LEAST * in.weight)
        return (gw_noise){0};
    double left = (in.weight - lost) / in.weight;
    /* as a share of the record's mean square, or by itself where what lies outside of the band makes that worse */
    double of_share = variance_of_share(&in, &out, psd),
           alone = fmax(variance_welch(&in, psd), variance_best(&in, psd));
    double power = of_share <= alone || !(psd->parseval > 0) ? in.power : in.power / psd->parseval;
    gw_noise noise = {.valid = true, .rms = sqrt(power / left)};
    double rise = in.power > 0 ? fmax(lowest / in.power - lowest_weight / in.weight, 0) : 0;
    double missed = in.power > 0 ? fmax(density_below(psd, band.low_hz) * lowest_weight - lowest, 0) / in.power : 0;
    double more = fmin(sqrt(1 + missed) - 1, missed_most);
    double variance = fmin(of_share, alone) / left + pow(lowest_unsure * rise, 2) + more * more;
    if (in.power > 0 && variance > 0) {
        noise.freedom = 2 / variance;
        noise.relative = sqrt(variance) / 2;
    }
    return noise;
}
