/* Spectra of real records. The only file that knows the FFT library (KISS FFT, single precision: what a transform of
 * a record loses is about 137 dB below its largest line, so spectra serve for searching and for residuals).
 *
 * Sources: Welch 1967 = P. D. Welch, "The use of fast Fourier transform for the estimation of power spectra", IEEE
 * Trans. Audio Electroacoust. AU-15. Harris 1978 = F. J. Harris, "On the use of windows for harmonic analysis with the
 * discrete Fourier transform", Proc. IEEE 66.
 *
 * `marks`, here and in every header of this folder that takes it: one gw_capture mark a sample, NULL when all are
 * present; a sample that is not GW_SAMPLE_PRESENT is left out, whatever its value. Every function that returns bool
 * returns false when memory is out and for nothing else, unless it says so; its result is then zeroed. */
#ifndef GAINWALK_MEASURE_SPECTRUM_H
#define GAINWALK_MEASURE_SPECTRUM_H

#include "gainwalk/base.h"

/* Plans and windows kept for use again (measure/shelf.h); NULL: nothing is kept. */
typedef struct gw_shelf gw_shelf;

/* ---- transforms ---------------------------------------------------------------------------------- */

/* A plan of real transforms of one even length, with its own scratch space: reusable, but one thread at a time. */
typedef struct gw_fft gw_fft;

/* A plan for `length` values (even, 2 .. 2^24). NULL when memory is out or the length is not allowed. Fast for lengths
 * that gw_fft_length_above/below return, right for all. */
gw_fft *gw_fft_new(size_t length);
void gw_fft_free(gw_fft *fft);
size_t gw_fft_length(const gw_fft *fft);

/* X[k] = sum over i of values[i] exp(-j 2 pi k i / length), k = 0 .. length/2 (length/2 + 1 values each in `re` and
 * `im`). The values are scaled by their largest magnitude inside, so any size of volts is as exact as any other. */
void gw_fft_forward(gw_fft *fft, const double *values, double *re, double *im);

/* |X[k]| alone, of `count` values (at most the length) with zeros behind them. */
void gw_fft_magnitudes(gw_fft *fft, const double *values, size_t count, double *out);

/* values[i] = 1/length sum over all k, the conjugate half understood: undoes gw_fft_forward. False (and
 * zeros) when memory for the plan is out: it is made at the first call. */
bool gw_fft_inverse(gw_fft *fft, const double *re, const double *im, double *values);

/* The nearest even length of the form 2^a 3^b 5^c that is not below, not above `length` (at least 2). */
size_t gw_fft_length_above(size_t length);
size_t gw_fft_length_below(size_t length);

/* ---- window -------------------------------------------------------------------------------------- */

/* The Hann window (periodic form, Harris 1978): sin^2(pi i / length), i = 0 .. length - 1. Coherent gain 1/2,
 * equivalent noise bandwidth 1.5 bins, scalloping 1.42 dB. */
void gw_window_hann(double *out, size_t length);
#define GW_HANN_GAIN 0.5 /* mean of the window */
#define GW_HANN_ENBW 1.5 /* bins */
#define GW_HANN_LOBE 2.0 /* bins from the middle of the main lobe to its first zero */

/* ---- amplitude spectrum --------------------------------------------------------------------------- */

/* Lines `k * bin_hz`, k = 0 .. bins - 1. `rms[k]` is the RMS volts of a sine that stands in bin k (so a line half a bin
 * off reads 1.42 dB low); of a constant at k = 0. */
typedef struct gw_spectrum {
    size_t bins;
    double bin_hz;
    double *rms;
} gw_spectrum;

/* Hann-windowed amplitude spectrum of the whole record with its mean taken out. `pad` >= 1 is how many times longer
 * than the record the transform at least is (2 or 4 for a search that must not miss between bins); zeros are appended.
 * Missing samples count as the mean, the gain is corrected for them. n from 2; the transform is at most 2^24 long: of a
 * longer record its first part is taken. `rms` is in `arena`. An empty record (or one with nothing present) gives 0 in
 * every bin. */
bool gw_spectrum_amplitude(const double *volts, const unsigned char *marks, size_t n, double rate_hz, double pad,
                           gw_arena *arena, gw_spectrum *out);
/* The same, with plan and window from a shelf. */
bool gw_spectrum_amplitude_by(gw_shelf *shelf, const double *volts, const unsigned char *marks, size_t n,
                              double rate_hz, double pad, gw_arena *arena, gw_spectrum *out);

/* ---- power spectral density ----------------------------------------------------------------------- */

/* One-sided density, V^2/Hz, at k * bin_hz, k = 0 .. bins - 1. */
typedef struct gw_psd {
    size_t bins;
    double bin_hz;
    double *density;
    size_t samples;     /* of the record, those present */
    double duration_s;  /* samples / rate */
    size_t segment;     /* samples a segment */
    size_t segments;    /* how many were averaged */
    double freedom;     /* degrees of freedom of one bin: 2 / (variance / mean^2), Welch 1967 for the overlap used */
    double mean_square; /* V^2 of the record's present samples (the mean is not taken out) */
    double parseval;    /* what every bin was multiplied by, see below */
} gw_psd;

/* Welch's estimate (Welch 1967): Hann, segments that overlap by half (slightly more where the record's length asks for
 * it, so that its end is not dropped), averaged, nothing detrended: meant for residuals, whose mean is gone.
 * `segment` is the wanted samples a segment, 0 lets the length decide (about 8 segments, at most 2^16 samples, never
 * fewer than 64 where there are as many). A single segment weighs a short record's middle above its ends; therefore all
 * bins are scaled by `parseval` so that their integral is the record's mean square exactly. The first and the last bin
 * are half a bin wide, so half of them counts in the integral. (SciPy's welch gives density / parseval, its first and
 * last bin half of that.) Segments with over half their samples missing are left out. Fewer than 2 samples, or nothing
 * present, give bins = 0. */
bool gw_psd_welch(const double *volts, const unsigned char *marks, size_t n, double rate_hz, size_t segment,
                  gw_arena *arena, gw_psd *out);
/* The same, with plan and window from a shelf. */
bool gw_psd_welch_by(gw_shelf *shelf, const double *volts, const unsigned char *marks, size_t n, double rate_hz,
                     size_t segment, gw_arena *arena, gw_psd *out);

/* Prepares a shelf for both densities that a record of `n` samples is asked for: in the usual segments, in one. */
void gw_psd_prepare(gw_shelf *shelf, size_t n);

/* Variance of Welch's estimate over its squared mean for `segments` Hann segments of `segment` samples that start `hop`
 * samples apart: (1/K)[1 + 2 sum over j of (K - j)/K rho(j hop)^2] (Welch 1967). */
double gw_welch_variance(size_t segments, size_t segment, double hop);

#endif
