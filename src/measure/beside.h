/* What is in the record beside the signal: mains, a slope, and what may hide in a record too short to tell. Private to
 * src/measure/. */
#ifndef GAINWALK_MEASURE_BESIDE_H
#define GAINWALK_MEASURE_BESIDE_H

#include "measure/model.h"

/* Does the frequency stand on the mains or twice that, as far as the record can tell? `mains_hz` 0: 50 or 60. */
bool gw_mains_on(double frequency_hz, double mains_hz, double duration_s);

/* Lies a frequency so near to a line of the signal's that the record doesn't tell them apart? Cycles a record. */
bool gw_mains_near_signal(const gw_model *model, double cycles);

/* Is hum in the model, but none at twice the mains because the signal stands there? */
bool gw_mains_twice_hidden(const gw_model *model);

/* ENTSO-E: 200 mHz of 50 Hz in normal operation; as a standard deviation, for smaller networks as well. */
static const double gw_mains_keeps = 0.004;

/* The comb of the mains, 50 or 60 Hz, whichever brings more, with those of its lines that the record demands and the
 * converter's steps could not make. All functions below return false only when memory is out. */
bool gw_mains_join(gw_model *model, const gw_block *block, double mains_hz, gw_error *error);

/* The same once the signal's own lines have joined a model that has lines of the mains: those that could not be seen
 * for them. */
bool gw_mains_again(gw_model *model, const gw_block *block, double mains_hz, gw_error *error);

/* What a line of the mains must bring beyond what is demanded of a harmonic: ten orders of two frequencies are tried,
 * and hum that is none must not be shown. */
static const double gw_hum_more = 10;

/* Cycles of the mains from which on there is room between its lines to see what noise brings there. */
static const double gw_mains_clear = 4.5;

/* Takes lines of the mains out again that no longer bring this once the signal's own lines have joined: what these put
 * beside themselves in a short record had passed for hum. */
bool gw_mains_leave(gw_model *model, gw_error *error);

/* Takes a slope in where it stands out of the noise beyond doubt; out again where it was a part of what joined later.
 */
bool gw_drift_join(gw_model *model, gw_error *error);
bool gw_drift_leave(gw_model *model, gw_error *error);

/* In a record of few cycles a strong tone that is no harmonic (a stage that oscillates) pulls the fundamental, DC and
 * all else: it joins as a base of its own. To be asked while the model holds nothing but the fundamental. */
bool gw_stray_join(gw_model *model, const gw_block *block, const gw_stimulus *stimulus, gw_error *error);

/* Does what a fit leaves look like white noise? A tone shows in the products of neighbours, or of next ones but one
 * where its period is four samples. */
bool gw_leaves_white(const gw_fit *fit);

/* Where nothing is stated and what is left stands between the lines of the comb, the fundamental is a part of what was
 * thought. */
bool gw_octave_lower(gw_model *model, const gw_stimulus *stimulus, gw_error *error);

/* Once all else is in the model, a tone of any size that most of the residual is joins likewise: fitted together,
 * neither pulls the other. */
bool gw_stray_beside(gw_model *model, const gw_block *block, const gw_stimulus *stimulus, gw_error *error);

/* Does a solved fit explain its samples far better than another model of so many unknowns that left `rss` of them? */
bool gw_fit_better(const gw_fit *fit, double rss, double unknowns);

/* Where the comb leaves what is not noise, its strongest harmonic, below a fundamental that is stronger, may be a tone
 * that only stands near that place: freed, it leaves far less. It then is no part of the signal or, of a stimulus that
 * is `open`, where it is a tenth of the fundamental and the only other line, one of two tones. */
bool gw_stray_apart(gw_model *model, bool open, bool *moved, gw_error *error);

/* No frequency is stated and the record holds few cycles: where the strongest line of the spectrum and one more, which
 * is no harmonic unless two tones are `stated`, are all there is, `*model` becomes that of these two (the old one is
 * ended): two tones, or a sine with a stray tone where the second has less than a tenth of the first. A search for a
 * comb would make one of them. */
bool gw_pair_find(gw_model *model, const gw_block *block, gw_shape stated, bool *found, gw_error *error);

/* Can gw_pair_find find two? Not where one line leaves less than a second of them would. */
bool gw_pair_possible(const gw_fit *fit);

/* A slow bend in the residual, in a record of less than two cycles of the mains, may be hum, and hum leans on DC. The
 * two phases of the mains' sine then join the model, held by a prior of the size that the record itself suggests: DC
 * follows as far as the bend tells, and its covariance grows by what remains hidden. */
bool gw_hum_hide(gw_model *model, double rate_hz, double mains_hz, gw_error *error);

/* Variance that a sample of white noise would need to bring slow lines what this residual brings them: that of its
 * samples where it is white, more where its band ends far below half the rate. */
double gw_noise_slow(const gw_fit *fit);

/* Adds to the covariance what lines that may be in the residual, but do not stand out of it, do to every unknown. */
bool gw_hidden_add(gw_model *model, double rate_hz, double mains_hz, gw_error *error);

/* Drop of rss that a line makes which the converter's steps could put there, at their worst. */
double gw_steps_drop(const gw_model *model);

/* Peak of a sinusoid that the converter's steps could make, at their worst. `peak_v` is the signal's, 0 without one. */
double gw_steps_peak(double step, double noise_v, double peak_v, size_t count);

/* Whether DC lies within the samples: outside of them, lines beside it have pushed it there. */
bool gw_dc_among_samples(const gw_fit *fit);

#endif
