#include "spectrum.h"

#include "base/lanes.h"
#include "gainwalk/capture.h"
#include "measure/shelf.h"
#include "measure/sums.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include <kiss_fftr.h>

_Static_assert(sizeof(kiss_fft_scalar) == 4, "the FFT library must be the single precision one");

static const double pi = 3.14159265358979323846;
enum { LENGTH_MAX = 1 << 24, SEGMENT_MAX = 1 << 16, SEGMENT_MIN = 64, SEGMENTS_WANTED = 8 };

/* ---- transforms ---------------------------------------------------------------------------------- */

struct gw_fft {
    size_t length;
    kiss_fftr_cfg forward, inverse; /* the inverse is made when it is first asked for */
    kiss_fft_scalar *values;        /* length */
    kiss_fft_cpx *lines;            /* length/2 + 1 */
};

gw_fft *gw_fft_new(size_t length) {
    if (length < 2 || length % 2 != 0 || length > LENGTH_MAX)
        return NULL;
    gw_fft *fft = calloc(1, sizeof *fft);
    if (!fft)
        return NULL;
    fft->length = length;
    fft->forward = kiss_fftr_alloc((int)length, 0, NULL, NULL);
    fft->values = calloc(length, sizeof *fft->values);
    fft->lines = calloc(length / 2 + 1, sizeof *fft->lines);
    if (fft->forward && fft->values && fft->lines)
        return fft;
    gw_fft_free(fft);
    return NULL;
}

void gw_fft_free(gw_fft *fft) {
    if (!fft)
        return;
    kiss_fftr_free(fft->forward);
    kiss_fftr_free(fft->inverse);
    free(fft->values);
    free(fft->lines);
    free(fft);
}

size_t gw_fft_length(const gw_fft *fft) {
    return fft->length;
}

GW_WIDE static double largest_magnitude(const double *values, size_t n) {
    double low = 0, high = 0;
    gw_lanes_extent(values, n, &low, &high);
    return -low > high ? -low : high;
}

GW_WIDE static void scaled_put(const double *values, size_t count, double scale, kiss_fft_scalar *scaled) {
    for (size_t i = 0; i < count; i++)
        scaled[i] = (kiss_fft_scalar)(values[i] / scale);
}

/* Transforms `count` values, zeros behind them; returns what the lines are to be multiplied by, 0 where all are zero.
 */
static double forward(gw_fft *fft, const double *values, size_t count) {
    double scale = largest_magnitude(values, count);
    if (scale <= 0 || !isfinite(scale))
        return 0;
    kiss_fft_scalar *scaled = fft->values;
    scaled_put(values, count, scale, scaled);
    for (size_t i = count; i < fft->length; i++)
        scaled[i] = 0;
    kiss_fftr(fft->forward, fft->values, fft->lines);
    return scale;
}

void gw_fft_forward(gw_fft *fft, const double *values, double *re, double *im) {
    double scale = forward(fft, values, fft->length);
    for (size_t k = 0; k < fft->length / 2 + 1; k++) {
        re[k] = scale > 0 ? scale * (double)fft->lines[k].r : 0;
        im[k] = scale > 0 ? scale * (double)fft->lines[k].i : 0;
    }
}

void gw_fft_magnitudes(gw_fft *fft, const double *values, size_t count, double *out) {
    double scale = forward(fft, values, count);
    for (size_t k = 0; k < fft->length / 2 + 1; k++) {
        double re = scale > 0 ? scale * (double)fft->lines[k].r : 0,
               im = scale > 0 ? scale * (double)fft->lines[k].i : 0;
        out[k] = sqrt(re * re + im * im);
    }
}

bool gw_fft_inverse(gw_fft *fft, const double *re, const double *im, double *values) {
    size_t bins = fft->length / 2 + 1;
    double scale = fmax(largest_magnitude(re, bins), largest_magnitude(im, bins));
    if (!fft->inverse)
        fft->inverse = kiss_fftr_alloc((int)fft->length, 1, NULL, NULL);
    if (!fft->inverse || scale <= 0 || !isfinite(scale)) {
        memset(values, 0, fft->length * sizeof *values);
        return fft->inverse != NULL;
    }
    for (size_t k = 0; k < bins; k++) {
        fft->lines[k].r = (kiss_fft_scalar)(re[k] / scale);
        fft->lines[k].i = (kiss_fft_scalar)(im[k] / scale);
    }
    kiss_fftri(fft->inverse, fft->lines, fft->values);
    for (size_t i = 0; i < fft->length; i++)
        values[i] = scale * (double)fft->values[i] / (double)fft->length;
    return true;
}

static bool is_fast(size_t length) {
    static const size_t factors[] = {2, 3, 5};
    for (size_t i = 0; i < sizeof factors / sizeof *factors; i++)
        while (length % factors[i] == 0)
            length /= factors[i];
    return length == 1;
}

size_t gw_fft_length_above(size_t length) {
    size_t even = length < 2 ? 2 : length + length % 2;
    while (!is_fast(even))
        even += 2;
    return even;
}

size_t gw_fft_length_below(size_t length) {
    size_t even = length < 2 ? 2 : length - length % 2;
    while (!is_fast(even))
        even -= 2;
    return even;
}

/* ---- window -------------------------------------------------------------------------------------- */

/* Samples that are turned from one that is exact. */
enum { TURNED = 128 };

/* Squares of the sine of an angle, of which sine and cosine are given, and others of which they are as well. */
GW_WIDE static void hann_part(double sine, double cosine, const double *sines, const double *cosines, size_t count,
                              double *out) {
    for (size_t k = 0; k < count; k++) {
        double sum = sine * cosines[k] + cosine * sines[k];
        out[k] = sum * sum;
    }
}

void gw_window_hann(double *out, size_t length) {
    double sines[TURNED], cosines[TURNED], turn = pi / (double)length;
    size_t half = length > 0 ? length / 2 + 1 : 0;
    for (size_t k = 0; k < TURNED; k++) {
        sines[k] = sin(turn * (double)k);
        cosines[k] = cos(turn * (double)k);
    }
    for (size_t at = 0; at < half; at += TURNED)
        hann_part(sin(turn * (double)at), cos(turn * (double)at), sines, cosines,
                  half - at < TURNED ? half - at : TURNED, out + at);
    for (size_t i = half; i < length; i++)
        out[i] = out[length - i];
}

static bool present(const unsigned char *marks, size_t i) {
    return !marks || marks[i] == GW_SAMPLE_PRESENT;
}

/* ---- amplitude spectrum --------------------------------------------------------------------------- */

/* Takes the window-weighted mean of the present samples out, applies the window. Returns the sum of the window over the
 * samples present. */
static double window_record(gw_shelf *shelf, const double *volts, const unsigned char *marks, size_t n,
                            double *windowed) {
    gw_shelf_window(shelf, windowed, n);
    for (size_t i = 0; marks && i < n; i++)
        if (!present(marks, i))
            windowed[i] = 0;
    double sum = 0, weight = gw_gram_total(windowed, n);
    if (!marks)
        sum = gw_gram_dot(windowed, volts, n);
    else
        for (size_t i = 0; i < n; i++)
            sum += windowed[i] * (windowed[i] > 0 ? volts[i] : 0);
    double mean = weight > 0 ? sum / weight : 0;
    for (size_t i = 0; i < n; i++)
        windowed[i] *= windowed[i] > 0 ? volts[i] - mean : 0;
    return weight;
}

bool gw_spectrum_amplitude(const double *volts, const unsigned char *marks, size_t n, double rate_hz, double pad,
                           gw_arena *arena, gw_spectrum *out) {
    return gw_spectrum_amplitude_by(NULL, volts, marks, n, rate_hz, pad, arena, out);
}

bool gw_spectrum_amplitude_by(gw_shelf *shelf, const double *volts, const unsigned char *marks, size_t n,
                              double rate_hz, double pad, gw_arena *arena, gw_spectrum *out) {
    *out = (gw_spectrum){0};
    if (n < 2)
        return true;
    if (n > LENGTH_MAX)
        n = LENGTH_MAX;
    double wanted = fmin((double)n * fmax(pad, 1), LENGTH_MAX);
    size_t length = gw_fft_length_above((size_t)wanted);
    size_t bins = length / 2 + 1;
    gw_fft *fft = gw_shelf_plan(shelf, length);
    double *windowed = malloc(n * sizeof *windowed);
    double *rms = gw_arena_array(arena, bins, sizeof *rms);
    bool made = fft && windowed && rms;
    if (made) {
        double weight = window_record(shelf, volts, marks, n, windowed);
        gw_fft_magnitudes(fft, windowed, n, rms);
        double gain = weight > 0 ? sqrt(2) / weight : 0;
        for (size_t k = 0; k < bins; k++)
            rms[k] *= gain;
        rms[0] /= sqrt(2);
        rms[bins - 1] /= sqrt(2);
        *out = (gw_spectrum){.bins = bins, .bin_hz = rate_hz / (double)length, .rms = rms};
    }
    gw_shelf_return(shelf, fft);
    free(windowed);
    return made;
}

/* ---- power spectral density ----------------------------------------------------------------------- */

/* Σ cos(αi + β) for i = 0 … count - 1. */
static double sum_of_cosines(double count, double alpha, double beta) {
    return cos(beta + alpha * (count - 1) / 2) * sin(count * alpha / 2) / sin(alpha / 2);
}

/* Correlation of two Hann windows of `segment` samples, `apart` samples apart: Σ sin²x sin²(x + φ/2) over Σ sin⁴x, with
 * sin²x = (1 - cos 2x)/2 multiplied out. */
static double hann_correlation(size_t segment, size_t apart) {
    if (segment < 3)
        return 0;
    double step = 2 * pi / (double)segment, phi = step * (double)apart, both = (double)(segment - apart);
    double sum = both * (1 + 0.5 * cos(phi)) - sum_of_cosines(both, step, 0) - sum_of_cosines(both, step, phi) +
                 0.5 * sum_of_cosines(both, 2 * step, phi);
    return sum / 4 / (0.375 * (double)segment);
}

double gw_welch_variance(size_t segments, size_t segment, double hop) {
    if (segments < 2)
        return 1;
    double count = (double)segments, sum = 1;
    for (size_t j = 1; j < segments && (double)j * hop < (double)segment; j++) {
        size_t apart = (size_t)((double)j * hop + 0.5);
        double correlation = apart < segment ? hann_correlation(segment, apart) : 0;
        sum += 2 * (count - (double)j) / count * correlation * correlation;
    }
    return sum / count;
}

/* Where the segments lie: evenly spread over the whole record. */
typedef struct layout {
    size_t segment, segments;
    double hop;
} layout;

static layout lay_out(size_t n, size_t wanted) {
    if (wanted == 0) {
        wanted = 2 * n / (SEGMENTS_WANTED + 1);
        wanted = wanted < SEGMENT_MIN ? SEGMENT_MIN : wanted > SEGMENT_MAX ? SEGMENT_MAX : wanted;
    }
    layout result = {.segments = 1};
    wanted = wanted > LENGTH_MAX ? LENGTH_MAX : wanted;
    result.segment = gw_fft_length_below(wanted > n ? n : wanted);
    size_t rest = n - result.segment, half = result.segment / 2;
    if (rest > 0 && half > 0) {
        result.segments = 1 + (rest + half - 1) / half;
        result.hop = (double)rest / (double)(result.segments - 1);
    }
    return result;
}

/* Working space of one estimate. */
typedef struct welch {
    gw_shelf *shelf;
    gw_fft *fft;
    double *window, *windowed, *sum; /* sum: bins */
    double weight;                   /* Σ window² */
    size_t used;
    bool any; /* in the sum */
} welch;

/* A segment under the window; what its missing samples leave of Σ window², 0 where they leave too little. */
static double window_marked(const welch *w, const double *volts, const unsigned char *marks, size_t segment) {
    double weight = 0;
    size_t missing = 0;
    for (size_t i = 0; i < segment; i++) {
        bool here = present(marks, i);
        missing += !here;
        w->windowed[i] = here ? w->window[i] * volts[i] : 0;
        weight += here ? w->window[i] * w->window[i] : 0;
    }
    return missing * 2 > segment ? 0 : weight;
}

GW_WIDE static void window_put(const double *window, const double *volts, size_t count, double *windowed) {
    for (size_t i = 0; i < count; i++)
        windowed[i] = window[i] * volts[i];
}

GW_WIDE static void powers_put(const kiss_fft_cpx *lines, size_t count, double unit, double *sum) {
    for (size_t k = 0; k < count; k++) {
        double re = (double)lines[k].r, im = (double)lines[k].i;
        sum[k] = (re * re + im * im) * unit;
    }
}

GW_WIDE static void powers_add(const kiss_fft_cpx *lines, size_t count, double unit, double *sum) {
    for (size_t k = 0; k < count; k++) {
        double re = (double)lines[k].r, im = (double)lines[k].i;
        sum[k] += (re * re + im * im) * unit;
    }
}

/* Adds one segment's periodogram, normalised by the window over its present samples. */
static void add_segment(welch *w, const double *volts, const unsigned char *marks, size_t segment) {
    double weight = w->weight;
    if (marks)
        weight = window_marked(w, volts, marks, segment);
    else
        window_put(w->window, volts, segment, w->windowed);
    if (weight <= 0)
        return;
    double scale = forward(w->fft, w->windowed, segment), unit = scale * scale / weight;
    /* the first is put, not added: memory that was not touched yet is not read, only to be copied when it is written */
    if (scale > 0)
        (w->any ? powers_add : powers_put)(w->fft->lines, segment / 2 + 1, unit, w->sum);
    w->any = w->any || scale > 0;
    w->used++;
}

static double mean_square(const double *volts, const unsigned char *marks, size_t n, size_t *samples) {
    double sum = 0;
    *samples = n;
    if (!marks)
        return gw_gram_dot(volts, volts, n) / (double)n;
    *samples = 0;
    for (size_t i = 0; i < n; i++) {
        if (!present(marks, i))
            continue;
        sum += volts[i] * volts[i];
        ++*samples;
    }
    return *samples ? sum / (double)*samples : 0;
}

/* Makes densities of the summed periodograms; scales their integral to the mean square. */
static void scale_density(const welch *w, double rate_hz, gw_psd *psd) {
    double power = 0;
    for (size_t k = 0; k < psd->bins; k++) {
        psd->density[k] = 2 * w->sum[k] / ((double)w->used * rate_hz);
        power += psd->density[k] * psd->bin_hz * (k == 0 || k == psd->bins - 1 ? 0.5 : 1);
    }
    psd->parseval = power > 0 ? psd->mean_square / power : 1;
    for (size_t k = 0; k < psd->bins; k++)
        psd->density[k] *= psd->parseval;
}

static void fill_psd(welch *w, const double *volts, const unsigned char *marks, size_t n, double rate_hz, layout plan,
                     gw_psd *out) {
    gw_psd psd = {.segment = plan.segment, .density = w->sum};
    gw_shelf_window(w->shelf, w->window, plan.segment);
    w->weight = gw_gram_dot(w->window, w->window, plan.segment);
    for (size_t s = 0; s < plan.segments; s++) {
        size_t start = (size_t)((double)s * plan.hop + 0.5);
        add_segment(w, volts + start, marks ? marks + start : NULL, plan.segment);
    }
    if (w->used == 0)
        return;
    psd.bins = plan.segment / 2 + 1;
    psd.bin_hz = rate_hz / (double)plan.segment;
    psd.mean_square = mean_square(volts, marks, n, &psd.samples);
    psd.duration_s = (double)psd.samples / rate_hz;
    psd.segments = w->used;
    psd.freedom = 2 / gw_welch_variance(w->used, plan.segment, plan.hop);
    scale_density(w, rate_hz, &psd);
    *out = psd;
}

bool gw_psd_welch(const double *volts, const unsigned char *marks, size_t n, double rate_hz, size_t segment,
                  gw_arena *arena, gw_psd *out) {
    return gw_psd_welch_by(NULL, volts, marks, n, rate_hz, segment, arena, out);
}

bool gw_psd_welch_by(gw_shelf *shelf, const double *volts, const unsigned char *marks, size_t n, double rate_hz,
                     size_t segment, gw_arena *arena, gw_psd *out) {
    *out = (gw_psd){0};
    if (n < 2 || !(rate_hz > 0))
        return true;
    layout plan = lay_out(n, segment);
    size_t bins = plan.segment / 2 + 1;
    welch w = {.shelf = shelf,
               .fft = gw_shelf_plan(shelf, plan.segment),
               .window = malloc(plan.segment * sizeof(double)),
               .windowed = malloc(plan.segment * sizeof(double)),
               .sum = gw_arena_array(arena, bins, sizeof(double))};
    bool made = w.fft && w.window && w.windowed && w.sum;
    if (made)
        fill_psd(&w, volts, marks, n, rate_hz, plan, out);
    gw_shelf_return(shelf, w.fft);
    free(w.window);
    free(w.windowed);
    return made;
}

void gw_psd_prepare(gw_shelf *shelf, size_t n) {
    gw_shelf_prepare(shelf, lay_out(n, 0).segment);
    gw_shelf_prepare(shelf, lay_out(n, n).segment);
}
