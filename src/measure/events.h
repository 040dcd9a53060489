/* What happens once or now and then: dropouts, crackle, steps of DC; and the slope of DC.
 * All times are seconds from the first sample. Thresholds are common practice unless a source is named; where a
 * probability of a false alarm is stated, Gaussian noise is what it is stated for. */
#ifndef GAINWALK_MEASURE_EVENTS_H
#define GAINWALK_MEASURE_EVENTS_H

#include "gainwalk/measure.h"
#include "robust.h"

/* Stretches where a steady periodic signal's envelope falls to half or less: RMS over one period (so nothing periodic
 * ripples in it) against its upper quartile over the record. `dc` is the model's; `frequency_hz` the lowest period
 * (fundamental, of two tones the common period). Not for programme and noise: they have no steady envelope. Needs three
 * periods, each of at least 4 samples; fewer give none. Dropouts under about 3/4 of a period (of 32 samples,
 * where a period has fewer; of more periods, where noise asks for it) show as crackle instead; those of a sine that is
 * known are gw_cutouts_find's. A level that falls little by little (sudden.h) is none.
 * At most `max` in order of time in `out`; `*count` is how many there were. `noise_v` (standard deviation of the
 * residual's robust part) joins the threshold: a signal that is not twice the noise has no dropouts. */
bool gw_events_dropouts(const double *volts, const unsigned char *marks, size_t n, double rate_hz, double dc,
                        double frequency_hz, double noise_v, gw_event *out, size_t max, size_t *count);

/* Impulses in a residual: beyond 8 of its robust standard deviations (median of magnitudes / 0.6745; Gaussian noise
 * reaches that once in 1e15 samples) and beyond 3 steps, not repeated at the same phase in half of the five periods
 * before and after (edges of a square wave that the fit cannot follow are no crackle; `frequency_hz` 0 where there is
 * no period). Samples within 0.5 ms and a fortieth of the record of each other (at least 4 samples) are one impulse.
 * `size_v` is its largest departure, with its sign. `sigma_v` is the residual's robust deviation, negative where that
 * is not known yet. */
bool gw_events_crackle(const double *residual, const unsigned char *marks, size_t n, double rate_hz, double sigma_v,
                       double step, double frequency_hz, gw_event *out, size_t max, size_t *count);

/* Steps of DC in a residual (signal, mains, drift out): the mean over a window behind a moment against the window
 * before it; 8 robust standard deviations of that difference and a step of the capture, and 5
 * standard deviations as the means of eighths of both windows scatter. The window is one period, or a
 * twentieth of the record. `size_v` is signed. */
bool gw_events_steps(const double *residual, const unsigned char *marks, size_t n, double rate_hz, double step,
                     double frequency_hz, gw_event *out, size_t max, size_t *count);

/* Straight line through a record by least squares: slope (V/s) and its standard uncertainty, for white noise. Where a
 * period is known, over whole periods (their means), so that the signal doesn't lean on the slope. False (no error)
 * with fewer than 3 points. */
bool gw_drift_slope(const double *volts, const unsigned char *marks, size_t n, double rate_hz, double frequency_hz,
                    double *slope, double *u_slope);

/* The remark on a capture whose dropouts are left out of its figures. */
extern const char gw_events_remark_gone[];

#endif
