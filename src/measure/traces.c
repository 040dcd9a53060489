#include "traces.h"

#include "gainwalk/capture.h"
#include "spectrum.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { SPECTRUM_AT_LEAST = 8, SEGMENT_MAX = 1 << 18 };

static bool present(const unsigned char *marks, size_t i) {
    return !marks || marks[i] == GW_SAMPLE_PRESENT;
}

static bool take_columns(gw_arena *arena, size_t columns, bool both, gw_trace *out) {
    out->high = gw_arena_array(arena, columns, sizeof *out->high);
    out->low = both ? gw_arena_array(arena, columns, sizeof *out->low) : NULL;
    if (out->high && (out->low || !both)) {
        out->count = columns;
        return true;
    }
    *out = (gw_trace){0};
    return false;
}

/* First sample of column `c`; the product cannot overflow for any record that fits in memory: double holds it. */
static size_t first_of(size_t c, size_t columns, size_t n) {
    return (size_t)((double)c * (double)n / (double)columns);
}

bool gw_trace_waveform(const double *volts, const unsigned char *marks, size_t n, double rate_hz, double start_s,
                       size_t columns, gw_arena *arena, gw_trace *out) {
    *out = (gw_trace){0};
    columns = columns < n ? columns : n;
    if (columns == 0 || !(rate_hz > 0))
        return true;
    if (!take_columns(arena, columns, true, out))
        return false;
    out->start = start_s;
    out->end = start_s + (double)n / rate_hz;
    for (size_t c = 0; c < columns; c++) {
        double low = HUGE_VAL, high = -HUGE_VAL;
        for (size_t i = first_of(c, columns, n); i < first_of(c + 1, columns, n); i++)
            if (present(marks, i)) {
                low = volts[i] < low ? volts[i] : low;
                high = volts[i] > high ? volts[i] : high;
            }
        bool empty = low > high;
        out->low[c] = empty ? (c ? out->low[c - 1] : 0) : low;
        out->high[c] = empty ? (c ? out->high[c - 1] : 0) : high;
    }
    return true;
}

/* The highest of all lines that lie in the column from `low` to `high` bins; between lines, the nearer one. */
static void hold_peaks(const gw_spectrum *spectrum, gw_trace *out) {
    double ratio = pow(out->end / out->start, 1 / (double)out->count), high = out->start / spectrum->bin_hz;
    for (size_t c = 0; c < out->count; c++) {
        double low = high;
        high *= ratio;
        size_t first = (size_t)ceil(low - 1e-9), last = (size_t)fmin(ceil(high - 1e-9), (double)spectrum->bins);
        last = c + 1 == out->count ? spectrum->bins : last;
        double peak = 0;
        for (size_t k = first; k < last; k++)
            peak = spectrum->rms[k] > peak ? spectrum->rms[k] : peak;
        if (first >= last)
            peak = spectrum->rms[(size_t)fmin((low + high) / 2 + 0.5, (double)spectrum->bins - 1)];
        out->high[c] = fmax(out->high[c], peak);
    }
}

bool gw_trace_spectrum(gw_shelf *shelf, const double *volts, const unsigned char *marks, size_t n, double rate_hz,
                       size_t columns, gw_arena *arena, gw_trace *out) {
    *out = (gw_trace){0};
    if (n < SPECTRUM_AT_LEAST || columns == 0 || !(rate_hz > 0))
        return true;
    if (!take_columns(arena, columns, false, out))
        return false;
    size_t segment = n < SEGMENT_MAX ? n : SEGMENT_MAX;
    out->log_x = true;
    out->end = rate_hz / 2;
    size_t segments = (n + segment - 1) / segment; /* spread evenly, so that the end is seen too */
    bool made = true;
    for (size_t s = 0; made && s < segments; s++) {
        size_t start = segments > 1 ? (size_t)((double)s * (double)(n - segment) / (double)(segments - 1)) : 0;
        gw_arena *scratch = gw_arena_new();
        gw_spectrum spectrum = {0};
        made = scratch && gw_spectrum_amplitude_by(shelf, volts + start, marks ? marks + start : NULL, segment, rate_hz,
                                                   1, scratch, &spectrum);
        if (made) {
            out->start = spectrum.bin_hz;
            hold_peaks(&spectrum, out);
        }
        gw_arena_free(scratch);
    }
    if (!made)
        *out = (gw_trace){0};
    return made;
}
