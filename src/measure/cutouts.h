/* Where a sine that is known is gone for a while. Private to src/measure/. */
#ifndef GAINWALK_MEASURE_CUTOUTS_H
#define GAINWALK_MEASURE_CUTOUTS_H

#include "measure/events.h"
#include "measure/model.h"

/* Is it one sine, with harmonics of no more than a tenth of its power, whatever else there is? */
bool gw_cutouts_known(const gw_model *model);

/* Does such a fit leave, at any one sample, as much as a cut would? If not there is none. */
bool gw_cutouts_seen(const gw_model *model);

/* Is there none for certain: was the model fitted to every sample, and leaves nowhere so much? */
bool gw_cutouts_none(const gw_model *model);

/* Stretches in which less than half of the model's sine (with its harmonics) is there. `volts`, of as many samples as
 * the model was fitted to, may be without mains and drift; `marks` says which of them are present.
 *
 * Whether a sample shows the signal or none is decided by which of both it is nearer to: with x the sample less DC and
 * m the model's value, the sum of x'-squared distances (x - m)² - x² = m² - 2xm grows where the gain is under a half
 * and falls elsewhere, so a cut is where that sum rises without a break (Page 1954; the change points of largest
 * likelihood for Gaussian noise). One sample counts with m² at most, whatever an impulse makes of it. So cuts are found
 * that last a part of a period, and of signals with few samples a period.
 *
 * Told are those of 8 samples or more that leave of the sine's power there no more than an eighth unexplained (a signal
 * that only runs out of step is no cut), and stand 8 deviations above the noise. One that the signal
 * does not leave at once (sudden.h) is a fade. As many as there are half periods, or more, are the waveform's own; so
 * are four or more parts of half periods at one phase. At most `max` in order of time in `out`; `*count` is how many
 * there were. False when memory is out. */
bool gw_cutouts_find(const gw_model *model, const double *volts, const unsigned char *marks, double rate_hz,
                     gw_event *out, size_t max, size_t *count);

/* Are the stretches that `marks` leaves out (each with so many samples of margin on either side) but impulses, which
 * happened to meet the signal? So it is where none of them is longer than a period, and beside them impulses as high
 * stand, as many or more. The model was fitted beside them. */
bool gw_cutouts_are_impulses(const gw_model *model, const unsigned char *marks, double margin);

#endif
