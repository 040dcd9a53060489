/* Slopes and hum under the signal of a record shorter than two cycles of the mains. Private to src/measure/. */
#ifndef GAINWALK_MEASURE_HIDDEN_H
#define GAINWALK_MEASURE_HIDDEN_H

#include "measure/model.h"

/* Brings a slope, and lines of the mains held by priors, into the model of a tone, takes them out, or resizes their
 * priors, as the record asks for. `fresh`: the tone's own lines are still to come; then only where the terms explain
 * most of what the tone leaves. All functions return false only when memory is out. */
bool gw_hidden_settle(gw_model *model, double rate_hz, double mains_hz, bool fresh, gw_error *error);

/* Puts into the model's covariance what a slope and hum may be, all that the record can't tell apart in proportion to
 * how likely each is. */
bool gw_hidden_spread(gw_model *model, double rate_hz, double mains_hz, gw_error *error);

/* Drop of rss, over the noise, of the term that brings most: a slope, hum at the mains, at twice the mains. */
double gw_hidden_shown(const gw_model *model, double rate_hz, double mains_hz);

/* Adds to the model's inverse what a line that is not in the model, at `frequency` cycles a sample, does to every
 * unknown. `share` is the variance of each of its two coefficients over the model's. False when memory is out. */
bool gw_hidden_line(gw_model *model, double frequency, double share, gw_error *error);

#endif
