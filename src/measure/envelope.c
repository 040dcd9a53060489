#include "envelope.h"

#include "gainwalk/capture.h"

#include <math.h>
#include <stdlib.h>

/* Sum of squares and number of the samples present in one hop's stretch. */
static size_t sum_stretch(const double *volts, const unsigned char *marks, size_t from, size_t to, double dc,
                          double *sum) {
    size_t here = 0;
    *sum = 0;
    for (size_t i = from; i < to; i++) {
        if (marks && marks[i] != GW_SAMPLE_PRESENT)
            continue;
        *sum += (volts[i] - dc) * (volts[i] - dc);
        here++;
    }
    return here;
}

bool gw_envelope_make(const double *volts, const unsigned char *marks, size_t n, double dc, size_t window, size_t hop,
                      gw_envelope *out) {
    *out = (gw_envelope){.window = window, .hop = hop};
    if (window == 0 || hop == 0 || n < window)
        return true;
    out->count = 1 + (n - window) / hop;
    out->rms = malloc(out->count * sizeof *out->rms);
    if (!out->rms)
        return false;
    for (size_t k = 0; k < out->count; k++) {
        double sum;
        size_t here = sum_stretch(volts, marks, k * hop, k * hop + window, dc, &sum);
        out->rms[k] = here * 2 > window ? sqrt(sum / (double)here) : -1;
    }
    return true;
}
