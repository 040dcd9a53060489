/* One measurement under way: what goes in, the model, the readings that come out. Private to src/measure/.
 *
 * Uncertainties are standard (one sigma) unless named u95. A reading's u95 is 2·√(u_random² + u_scale²) (JCGM 100,
 * coverage factor 2). */
#ifndef GAINWALK_MEASURE_WORK_H
#define GAINWALK_MEASURE_WORK_H

#include "gainwalk/measure.h"
#include "measure/edges.h"
#include "measure/model.h"
#include "measure/noise.h"

typedef struct gw_work {
    const gw_block *block; /* what is measured: the signal while it is there */
    const gw_block *whole; /* with its dropouts */
    const gw_block *given; /* and with its soft ends */
    const gw_measure_options *options;
    const gw_model *model;
    gw_readings *out;
    gw_error *error;
    double accuracy;      /* ratio, either way */
    double noise_v;       /* standard deviation of the residual */
    double coherent;      /* share of the steps' error that repeats with the signal, 0..1; 0 without known steps */
    double u_steps;       /* standard uncertainty of a sinusoid's peak by the converter's steps */
    double u_code;        /* what of that the residual does not tell */
    double u_level;       /* of DC, where the steps' error does not average out: a flat record, flat tops */
    gw_edges edges;       /* of the waveform, between samples */
    double beyond;        /* mean square of the waveform's harmonics that the fit cannot hold */
    double u_jumps_dc;    /* standard uncertainty that a waveform's jumps leave to its mean */
    double u_jumps_power; /* to its mean square */
    double beyond_power;  /* mean square of harmonics from above half the rate that stand between the lines */
    double u_jumps_line;  /* to the RMS of its lower harmonics */
    double *quiet;        /* the residual without the tones found in it */
    bool quiet_all;       /* there were none, nor a bend: it is the residual */
    bool unbent;          /* a slow bend was taken out of it as well */
    bool folded;          /* among these are harmonics from above half the rate */
    double tones_v;       /* RMS of those of them in the band */
    double tones_u;       /* standard uncertainty of its square */
    double sway_v;        /* RMS of those in pairs about the fundamental, within a few hertz */
    gw_psd psd;           /* of the residual */
    gw_band_shown band;
    gw_noise noise; /* of the residual in the band, as found */
} gw_work;

/* A plain value. `u_scale` follows from the accuracy where `scaled` says that the instrument's gain is in it. */
void gw_work_value(gw_work *work, gw_reading_key key, double value, double u_random, bool scaled);
void gw_work_below(gw_work *work, gw_reading_key key, double bound, const char *why);
void gw_work_none(gw_work *work, gw_reading_key key, const char *why);

/* Adds a remark, once. */
bool gw_work_remark(gw_work *work, const char *remark);

/* Takes out of `quiet` a slow bend that may be a part of a cycle of hum, where there is no tone; `unbent` tells. */
void gw_work_unbend(gw_work *work);

/* The steps of readings.c, in this order. Each returns false when memory is out. */
bool gw_work_resolution(gw_work *work); /* u_code */
bool gw_work_beyond(gw_work *work);     /* edges, beyond */
bool gw_work_tones(gw_work *work);      /* tones, quiet */
bool gw_work_noise(gw_work *work);      /* psd, band, noise, noise_a, noise_density */
bool gw_work_classify(gw_work *work);   /* signal */
bool gw_work_jumps(gw_work *work);      /* u_jumps */
bool gw_work_levels(gw_work *work);     /* dc, rms, frequency, pitch, level, drift */
bool gw_work_extremes(gw_work *work);   /* peaks, crest */
bool gw_work_distortion(gw_work *work); /* harmonics, thd, thd_n, sinad, snr */
bool gw_work_products(gw_work *work);   /* intermodulation */
bool gw_work_drift(gw_work *work);      /* drift */
bool gw_work_hum(gw_work *work);        /* hum, tones */
bool gw_work_clues(gw_work *work);      /* clipping, events, clues, remarks */
bool gw_work_doubts(gw_work *work);     /* withheld readings, remarks */

/* Standard uncertainty of a line's peak by noise alone. */
double gw_work_line_noise(const gw_work *work, size_t line);

/* Sum of squares (RMS²) of the chosen lines, and its variance by noise: the gradient a, b of ½Σ(a² + b²) on the
 * covariance. False when memory is out. */
typedef bool gw_line_test(const gw_work *work, const gw_sinusoid *line);
bool gw_work_power(const gw_work *work, gw_line_test *chosen, double *power, double *variance);

/* Mean square of the steps' own error in the band where the residual's is `in_band`: spread evenly over the whole
 * bandwidth (Bennett 1948), but for the coherent share, which may all be there. */
double gw_work_steps_power(const gw_work *work, double in_band);

/* The band of noise and THD+N as asked for, whatever the record can show of it; hertz. */
gw_band gw_work_band_wanted(const gw_work *work);

/* Whether the signal's harmonics go on up to half the rate, and so beyond it, whence they fold down. */
bool gw_work_reaches(const gw_work *work);

/* RMS of a line of the model. */
double gw_work_line_rms(const gw_sinusoid *line);

#endif
