/* What the record holds, as a fit: which harmonics, whether mains, a second tone, a drift. Private to src/measure/. */
#ifndef GAINWALK_MEASURE_MODEL_H
#define GAINWALK_MEASURE_MODEL_H

#include "measure/coarse.h"
#include "measure/fit.h"

enum { GW_MAINS_ORDERS = 10 };

/* Cycles of the mains below which hum is not told from DC and drift. */
#define GW_MAINS_CYCLES 2.0

typedef struct gw_model {
    gw_fit fit;
    bool tone;         /* a fundamental (multiple 1 of the signal's base) stands above the noise */
    bool two_tone;     /* and a second one */
    bool stray;        /* the second base is that of a tone that is no part of the signal */
    double cycles;     /* of the fundamental in the record; 0 without one */
    double mains_hz;   /* of the comb in the model; 0 none */
    bool mains_short;  /* the record is too short to tell hum from DC and drift */
    bool mains_hidden; /* and shows a slow bend that may be hum: it is in the model, held by a prior */
    bool hum_possible; /* or a slope that may as well be hum */
    /* what it may be, at the mains and at twice that: mean square, its standard uncertainty; volts² */
    double hum_power[2], u_hum_power[2];
    bool mains_bend;   /* or too short even for that: the bend only widens the uncertainties */
    bool mains_signal; /* the signal itself stands on the mains */
    double step;       /* of the converter; 0 unknown */
    double slow;       /* variance that white noise would need to bend as much; 0 where it is white */
    bool coloured;     /* the inverse is that of noise of the residual's colour */
    double variance;   /* of one sample's residual, corrected for the unknowns */
    double robust_v;   /* of the residual, robust: what a few wild samples don't move */
    double *inverse;   /* of the normal matrix, and what may hide in the residual added; unknowns² */
} gw_model;

/* Builds and solves the model of a block. Lines join only where the record demands them: a line's drop of the residual
 * must be beyond what noise would give (chi-square with two degrees of freedom; one false line in thirty records), so
 * that a plain sine is fitted with the four parameters of IEEE Std 1057 and reaches their bound. Finish with
 * gw_model_end. False when memory is out. */
bool gw_model_build(const gw_block *block, const gw_stimulus *stimulus, double mains_hz, gw_model *model,
                    gw_error *error);
void gw_model_end(gw_model *model);

/* The same with a known frequency of the signal (cycles a sample) instead of a search. */
bool gw_model_from(const gw_block *block, const gw_stimulus *stimulus, double mains_hz, double signal, gw_model *model,
                   gw_error *error);

/* What the next segment of the same capture may begin from, instead of a search: its model is taken where it leaves no
 * more than this one does; what a search would have found instead would show in the residual. */
gw_hint gw_model_hint(const gw_model *model);

/* How often the waveform comes again, or of two tones their beat, where that is slower: their envelope falls as low as
 * it likes within one. Cycles a sample; 0 without any tone. */
double gw_model_again(const gw_model *model);

/* Variance of an unknown by white noise of the residual's size. */
double gw_model_variance(const gw_model *model, size_t unknown);

/* The record's samples, `fit.count` of them, without the mains and without drift, which sway an envelope as a dropout
 * or a tremolo would. The caller frees; NULL when memory is out. */
double *gw_model_steady(const gw_model *model);

#endif
