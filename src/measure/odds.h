/* What the record says of the terms that may lie under a signal: how large each may be, by Bayes' theorem over a grid
 * of hypotheses. Each term is there or not, with even odds; where it is, its size is normal about zero, of a deviation
 * of any order of magnitude that the record allows. Private to src/measure/. */
#ifndef GAINWALK_MEASURE_ODDS_H
#define GAINWALK_MEASURE_ODDS_H

#include "measure/terms.h"

enum { GW_KIND_DRIFT, GW_KIND_MAINS, GW_KIND_TWICE, GW_KINDS };

typedef struct gw_odds {
    double noise;                /* variance of a sample beside the terms */
    double drift, hum;           /* probability that there is some */
    double scale[GW_KINDS];      /* deviations of the likeliest: volts from end to end, volts; 0: not there */
    int network;                 /* of the likeliest hum: which of the two frequencies */
    double power[2], u_power[2]; /* of hum at the mains, at twice that: mean square, volts² */
    double spread[GW_TERMS_MAX * GW_TERMS_MAX]; /* mean products of the coefficients' distances from the model's */
} gw_odds;

/* `extent` is the record's from lowest to highest sample: no term is larger. `least_noise`: a variance that the noise
 * is not under. `keeps`: deviation of the mains' frequency, cycles a sample. */
void gw_odds_weigh(const gw_terms *terms, const gw_fit *fit, double extent, double least_noise, double keeps,
                   gw_odds *out);

#endif
