/* Discrete tones above the floor of a residual.
 *
 * Sources: detection with a local floor at a stated probability of a false alarm: Finn & Johnson 1968 (threshold of
 * K averaged neighbours, (1 + t/K)^-K). Widrow & Kollar 2008,
 * "Quantization Noise": a quantiser's own lines die out with the noise in front of it as exp(-2 pi^2 sigma^2/step^2).
 */
#ifndef GAINWALK_MEASURE_TONES_H
#define GAINWALK_MEASURE_TONES_H

#include "spectrum.h"

typedef struct gw_line {
    double frequency_hz;
    double rms;        /* volts, the floor's share taken out */
    double u_rms;      /* standard uncertainty, volts, by the floor around it */
    double u_hz;       /* standard uncertainty of the frequency (Rife & Boorstyn 1974) */
    double over_floor; /* power over the local floor in one Hann bin (a ratio) */
} gw_line;

typedef struct gw_tone_search {
    double low_hz,
        high_hz;        /* where to look; 0, 0: all of it. What is under 4 cycles of the record is never looked at */
    double false_alarm; /* probability that a whole record of noise shows any tone; 0: 1e-4 */
    double step;        /* of the capture, 0 unknown: a tone under the lines that quantising makes is none */
    gw_shelf *shelf;    /* NULL: none */
} gw_tone_search;

/* Tones in a residual (harmonics, mains already out), strongest first, at most `max` of them in `out`; the number is
 * `*count`. Frequencies are refined to the least-squares optimum. Noise gives none (with the stated probability), nor
 * does a hump of narrow-band noise. Fewer than 64 samples give none. */
bool gw_tones_find(const double *residual, const unsigned char *marks, size_t n, double rate_hz,
                   const gw_tone_search *search, gw_line *out, size_t max, size_t *count);

/* Subtracts lines from the residual in place, each by least squares at its frequency (repeated until neighbours
 * settle). Missing samples stay as they are. */
void gw_tones_remove(double *residual, const unsigned char *marks, size_t n, double rate_hz, const gw_line *lines,
                     size_t count);

/* Takes out what stands at the frequencies, each with a slope in time (which a frequency or a level a little off
 * leaves), over and over, so that neighbours settle. */
void gw_tones_clear(double *residual, const unsigned char *marks, size_t n, double rate_hz,
                    const double *frequencies_hz, size_t count);

/* Whether a line can be a harmonic of the fundamental that lies above half the rate and was folded down by sampling:
 * some order falls within `tolerance_hz` of it, and the line is no stronger than that order may be. No shape's
 * harmonics fall more slowly than 1/k (a step's do; Fourier series): `strength` is the RMS of the k-th times k, at
 * most. 0 where the signal has no harmonics near half the rate: then nothing folds. */
bool gw_tone_folds(const gw_line *line, double fundamental_hz, double rate_hz, double tolerance_hz, double strength);

/* RMS under which a line may be the quantiser's own: half a step without noise (its error is never larger, and a sine
 * with few samples a period can put all of it into one line), less with it. `noise_rms` is the floor's standard
 * deviation in the whole bandwidth, quantising included. 0 for step 0. */
double gw_tones_quantiser_bound(double step, double noise_rms);

#endif
