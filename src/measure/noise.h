/* Noise of a residual, from its power spectral density.
 *
 * Sources: Welch 1967 (see spectrum.h); B&P = Bendat & Piersol, "Random Data", equivalent degrees of freedom of a sum
 * of spectral estimates; IEC 61672-1 for the weighting. */
#ifndef GAINWALK_MEASURE_NOISE_H
#define GAINWALK_MEASURE_NOISE_H

#include "spectrum.h"

typedef struct gw_band {
    double low_hz, high_hz;
} gw_band;

/* What the record can show of `wanted`: not below one cycle of the record's duration, not above half the rate. */
typedef struct gw_band_shown {
    gw_band band;  /* as far as it can be shown; high <= low where nothing can be */
    bool valid;    /* something is left of it */
    bool low_cut;  /* the record is too short for the band's lower end */
    bool high_cut; /* the rate is too low for the band's upper end */
} gw_band_shown;
gw_band_shown gw_noise_band(gw_band wanted, size_t n, double rate_hz);

/* Unknowns that a fit took out of the record: every frequency fitted (a sine and a cosine each; 0 Hz is one unknown).
 * They took a part of the noise with them, that is given back: one real unknown is 1/(2T) of bandwidth. */
typedef struct gw_fitted {
    const double *frequencies_hz;
    size_t count;
} gw_fitted;

typedef struct gw_noise {
    bool valid;      /* false: nothing of the band is in the spectrum, or the fit left too little of it */
    double rms;      /* volts */
    double freedom;  /* equivalent degrees of freedom of rms^2 (Satterthwaite's over the bins; at most 2 B T) */
    double relative; /* standard uncertainty of rms over rms: 1/sqrt(2 freedom) */
} gw_noise;

typedef enum gw_noise_weighting { GW_WEIGHT_FLAT, GW_WEIGHT_A } gw_noise_weighting;

/* RMS between two frequencies: integral of density times weight^2, bins taken as bars (bin_hz wide, half a bar at 0 and
 * at half the rate) and cut at the band's edges. Silence gives rms 0, relative 0. */
gw_noise gw_noise_rms(const gw_psd *psd, gw_band band, gw_noise_weighting weighting, gw_fitted fitted);

/* Integral of weight^2 over a band, hertz: of white noise's power, so much as goes through. */
double gw_noise_bandwidth(gw_band band, gw_noise_weighting weighting);

/* The floor's amplitude density. */
typedef struct gw_floor {
    bool valid;      /* at least 3 bins lie in the band */
    double density;  /* V/sqrt(Hz) */
    double relative; /* standard uncertainty of it over it */
} gw_floor;

/* Square root of the median of the bins in the band, divided by the median over the mean of chi-square with the bin's
 * degrees of freedom, so that a few lines in it don't count. Of noise that is not white the bins' median lies beside
 * that of the density, where each bin scatters: that is taken out. What the fit took out of every bin is given back.
 * The half-covered bins at 0 and at half the rate are left out. False when memory is out. */
bool gw_noise_density(const gw_psd *psd, gw_band band, gw_fitted fitted, gw_floor *out);

/* Median over mean of chi-square with `freedom` degrees of freedom (at least 2; exact to 2e-3 at 2, 1e-5 from 6 on):
 * Choi 1994. */
double gw_chi_square_median(double freedom);

#endif
