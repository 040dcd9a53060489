/* Frequency weighting A in the frequency domain. */
#ifndef GAINWALK_MEASURE_WEIGHTING_H
#define GAINWALK_MEASURE_WEIGHTING_H

/* Amplitude ratio of frequency weighting A, 1 at 1 kHz; 0 at 0 Hz; even in `frequency_hz`. IEC 61672-1:2013, Annex E,
 * equation E.6, with the poles of E.4.1 and their exact values. (A bilinear-transformed filter would be 6 dB low at
 * 16 kHz and 48 kHz rate.) */
double gw_weighting_a(double frequency_hz);

#endif
