/* Cross-spectra of two channels, averaged over segments in one pass and bounded memory. */
#ifndef GAINWALK_MEASURE_CROSSING_H
#define GAINWALK_MEASURE_CROSSING_H

#include "gainwalk/measure.h"

/* Sums over Hann segments that overlap by half: |X|^2, |Y|^2, conj(X) Y at each bin. */
typedef struct gw_crossing {
    size_t bins, segment, segments;
    int64_t lag;     /* samples by which the second channel's segments lie later than the first's */
    double averages; /* independent ones that they are worth (Welch 1967) */
    double filled;   /* as many of them as the input's power is spread over */
    double *from, *to, *re, *im;
} gw_crossing;

/* Reads both channels. Segments with a sample missing in either are left out; about 8 of them where the record is
 * short, none longer than 2^15 samples; of very long records at most 2000, evenly spread. Where the output comes later,
 * windows that lie as much later see the same of both, and take nothing from what follows (Carter 1987); `lag` is less
 * than a quarter of a segment. Finish with gw_crossing_free. */
bool gw_crossing_make(const gw_capture *capture, size_t from, size_t to, int64_t lag, gw_crossing *out,
                      gw_error *error);
void gw_crossing_free(gw_crossing *crossing);

/* Gain, phase, delay, polarity and coherence of any programme.
 *
 * - Gain: square root of the output's power that follows the input, |Sxy|^2/Sxx less what chance adds, over the input's
 *   power; all bins but the lowest two and the highest two: there the window lets in what lies beyond half the rate,
 *   which a delay by parts of a sample turns the other way, and less of it follows.
 *
 * - Delay: where the cross-correlation, its spectrum whitened by coherence (SCOT; Carter, Nuttall & Cable 1973), peaks,
 *   then the straight phase that fits best.
 *
 * - Polarity: the sign of that peak where the phase at 0 Hz agrees to an eighth of a turn, else 0.
 *
 * - Phase: of the power-weighted mean of the transfer function, the delay left in.
 *
 * `valid` is false where nothing follows beyond chance; `coherence` is given all the same. */
bool gw_crossing_pair(const gw_crossing *crossing, double rate_hz, gw_pair *out, gw_error *error);

#endif
