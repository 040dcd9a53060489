/* Test signals: what the files of the generator share. */
#ifndef GAINWALK_MEASURE_GENERATOR_H
#define GAINWALK_MEASURE_GENERATOR_H

#include "gainwalk/measure.h"

enum { GW_GENERATOR_BLOCK = 512, GW_PINK_SECTIONS = 32, GW_PINK_TAPS = 65 };

/* Share of the sample rate up to which harmonics are made: what the filter behind a converter passes (common practice:
 * 20 kHz at 44.1 kHz). */
#define GW_GENERATOR_TOP 0.4535

/* Noise whose spectral density falls as 1/f: see generator_noise.c. */
typedef struct gw_pink {
    size_t sections;
    double pole[GW_PINK_SECTIONS], zero[GW_PINK_SECTIONS];
    double before[GW_PINK_SECTIONS];
    double taps[GW_PINK_TAPS];
    double line[2 * GW_PINK_TAPS]; /* kept twice, so that the last GW_PINK_TAPS values stand in one piece */
    size_t at;
} gw_pink;

struct gw_generator {
    gw_test_signal signal;
    uint64_t next;
    double scale; /* from what the shape makes to the wanted level */
    int harmonics;
    gw_pink pink;
};

/* ---- generator_shapes.c: signals that are known at every instant, unscaled ---- */
void gw_generator_sine(gw_generator *of, double *values, size_t count);
void gw_generator_series(gw_generator *of, double *values, size_t count);
void gw_generator_pair(gw_generator *of, double *values, size_t count);
void gw_generator_sweep(gw_generator *of, double *values, size_t count);
void gw_generator_steps(gw_generator *of, double *values, size_t count);
void gw_generator_silence(gw_generator *of, double *values, size_t count);
/* Their RMS and their highest value. */
void gw_generator_sine_size(gw_generator *of, double *rms, double *peak);
void gw_generator_series_size(gw_generator *of, double *rms, double *peak);
void gw_generator_pair_size(gw_generator *of, double *rms, double *peak);
void gw_generator_silence_size(gw_generator *of, double *rms, double *peak);

/* ---- generator_noise.c ---- */
void gw_generator_pink(gw_generator *of, double *values, size_t count);
void gw_generator_white(gw_generator *of, double *values, size_t count);
/* By generating the whole once. */
void gw_generator_noise_size(gw_generator *of, double *rms, double *peak);

/* Fills with the signal's shape, and takes `next` along. */
void gw_generator_fill(gw_generator *of, double *values, size_t count);

#endif
