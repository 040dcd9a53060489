#include "tones.h"

#include "gainwalk/capture.h"
#include "robust.h"
#include "sine.h"
#include "solve.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double pi = 3.14159265358979323846;

/* ---- tones taken out ------------------------------------------------------------------------------- */

/* A rotating pair cos, sin, set anew every so often so that rounding can't build up. */
typedef struct rotor {
    double omega, middle, cosine, sine, step_cosine, step_sine;
} rotor;

static rotor rotor_start(double omega, size_t n) {
    return (rotor){.omega = omega, .middle = ((double)n - 1) / 2, .step_cosine = cos(omega), .step_sine = sin(omega)};
}

static void rotor_turn(rotor *r, size_t i) {
    if (i % 256 == 0) {
        double angle = r->omega * ((double)i - r->middle);
        r->cosine = cos(angle);
        r->sine = sin(angle);
        return;
    }
    double cosine = r->cosine * r->step_cosine - r->sine * r->step_sine;
    r->sine = r->sine * r->step_cosine + r->cosine * r->step_sine;
    r->cosine = cosine;
}

static bool present(const unsigned char *marks, size_t i) {
    return !marks || marks[i] == GW_SAMPLE_PRESENT;
}

void gw_tones_remove(double *residual, const unsigned char *marks, size_t n, double rate_hz, const gw_line *lines,
                     size_t count) {
    enum { ROUNDS = 3 };
    for (int round = 0; round < ROUNDS; round++)
        for (size_t i = 0; i < count; i++) {
            gw_sine what = {.omega = 2 * pi * lines[i].frequency_hz / rate_hz};
            gw_sine_step(residual, marks, n, &what, false);
            gw_sine_subtract(residual, marks, n, what);
        }
}

enum { COLUMNS = 4 };

static void columns_at(const rotor *r, size_t i, size_t n, double g[COLUMNS]) {
    double t = 2 * ((double)i - r->middle) / (double)n;
    g[0] = r->cosine;
    g[1] = r->sine;
    g[2] = t * r->cosine;
    g[3] = t * r->sine;
}

/* Least squares on a sine and a sine with a slope, taken out. */
static void slope_subtract(double *x, const unsigned char *marks, size_t n, double omega) {
    double m[COLUMNS * COLUMNS] = {0}, b[COLUMNS] = {0}, g[COLUMNS];
    rotor r = rotor_start(omega, n);
    for (size_t i = 0; i < n; i++) {
        rotor_turn(&r, i);
        if (!present(marks, i))
            continue;
        columns_at(&r, i, n, g);
        for (int p = 0; p < COLUMNS; p++) {
            b[p] += g[p] * x[i];
            for (int q = 0; q <= p; q++)
                m[p * COLUMNS + q] += g[p] * g[q];
        }
    }
    if (!gw_solve_factor(m, COLUMNS, 1e-9))
        return;
    gw_solve_back(m, COLUMNS, b);
    r = rotor_start(omega, n);
    for (size_t i = 0; i < n; i++) {
        rotor_turn(&r, i);
        columns_at(&r, i, n, g);
        if (present(marks, i))
            x[i] -= b[0] * g[0] + b[1] * g[1] + b[2] * g[2] + b[3] * g[3];
    }
}

void gw_tones_clear(double *residual, const unsigned char *marks, size_t n, double rate_hz,
                    const double *frequencies_hz, size_t count) {
    enum { ROUNDS = 4 };
    for (int round = 0; round < ROUNDS; round++)
        for (size_t k = 0; k < count; k++)
            slope_subtract(residual, marks, n, 2 * pi * frequencies_hz[k] / rate_hz);
}

double gw_tones_quantiser_bound(double step, double noise_rms) {
    if (!(step > 0))
        return 0;
    double before = fmax(noise_rms * noise_rms / (step * step) - 1.0 / 12, 0); /* the noise in front of the quantiser */
    return step / 2 * exp(-2 * pi * pi * before);
}

bool gw_tone_folds(const gw_line *line, double fundamental_hz, double rate_hz, double tolerance_hz, double strength) {
    enum { ORDERS = 20000 };
    if (!(fundamental_hz > 0) || !(rate_hz > 0) || !(line->rms > 0))
        return false;
    double highest = fmin(strength / line->rms, ORDERS);
    for (double k = ceil(rate_hz / 2 / fundamental_hz); k <= highest; k++)
        if (fabs(fabs(remainder(k * fundamental_hz, rate_hz)) - line->frequency_hz) < tolerance_hz)
            return true;
    return false;
}

/* ---- the search ------------------------------------------------------------------------------------- */

enum {
    SAMPLES_MIN = 64,
    FIRST_BIN = 4,     /* cycles in the record: below, drift and leakage rule */
    REFERENCE_MIN = 8, /* bins either side that a floor is taken from */
    REFERENCE_MAX = 64,
    GUARD = 3, /* bins either side that a line itself fills */
    NEAR = 10, /* bins either side that tell a line from a hump */
};

/* A tone under this share of the residual's RMS (-120 dB) could be the arithmetic's. */
static const double least_of_residual = 1e-6;

/* A threshold as it was asked for last: that of the next bin is mostly the same. */
typedef struct known {
    double effective, p, threshold;
} known;

/* What a periodogram of the residual shows. */
typedef struct search {
    double *work;             /* the residual, found lines taken out; n */
    double *power;            /* V^2/Hz, of `spectrum` */
    size_t bins, first, last; /* looked at: first .. last */
    double bin_hz, rate_hz, duration_s;
    gw_shelf *shelf;
    double false_alarm; /* of one bin */
    double bound_rms;   /* of the quantiser */
    size_t n;
    const unsigned char *marks;
    known wide, near;
    double scratch[2 * REFERENCE_MAX];
} search;

static size_t size_min(size_t one, size_t other) {
    return one < other ? one : other;
}

/* The bins that the floor around bin k is taken from: up to `reach` on either side, the guard left out, and neither the
 * first two nor the last. */
typedef struct beside {
    size_t low, low_count, high, high_count;
} beside;

static beside beside_of(const search *s, size_t k, size_t reach) {
    beside b = {.high = k + GUARD + 1};
    size_t low_end = k > GUARD ? k - GUARD : 0; /* one behind the last */
    b.low = k > GUARD + reach + 2 ? k - GUARD - reach : 2;
    b.low_count = low_end > b.low ? low_end - b.low : 0;
    size_t high_end = size_min(b.high + reach, s->bins - 1);
    b.high_count = high_end > b.high ? high_end - b.high : 0;
    return b;
}

/* A floor from K values, a median, is as good as so many averaged exponential ones: it has 0.48 of their weight
 * (variance 2.08/K against 1/K), the Hann window's correlation leaves 18/35 of that. */
static double effective_of(const beside *b) {
    return 0.48 * 18 / 35 * (double)(b->low_count + b->high_count);
}

/* Mean of the floor, from the median. */
static double floor_of(search *s, const beside *b) {
    memcpy(s->scratch, s->power + b->low, b->low_count * sizeof *s->scratch);
    memcpy(s->scratch + b->low_count, s->power + b->high, b->high_count * sizeof *s->scratch);
    size_t count = b->low_count + b->high_count;
    return count ? gw_median(s->scratch, count) / log(2) : 0;
}

/* Power over a floor known from K values that an exponential variable passes with probability p (Finn & Johnson 1968).
 */
static double threshold(known *last, double effective, double p) {
    if (effective != last->effective || p != last->p)
        *last = (known){effective, p, effective * (pow(p, -1 / effective) - 1)};
    return last->threshold;
}

/* Bins either side for the floor: fewer at low frequencies, where it may slope. */
static size_t reach_at(size_t k) {
    size_t reach = k / 4;
    return reach < REFERENCE_MIN ? REFERENCE_MIN : reach > REFERENCE_MAX ? REFERENCE_MAX : reach;
}

/* Whether bin k stands over its floor, wide and near; `*over` is by how much. */
static bool stands_out(search *s, size_t k, double *floor, double *over) {
    beside wide = beside_of(s, k, reach_at(k)), near = beside_of(s, k, NEAR);
    double least = threshold(&s->wide, effective_of(&wide), s->false_alarm);
    /* most bins don't, and half of the values beside them say so without being put in order */
    size_t count = wide.low_count + wide.high_count;
    double limit = s->power[k] * log(2) / least * (1 + 1e-12);
    if (count && gw_count_below(s->power + wide.low, wide.low_count, limit) +
                         gw_count_below(s->power + wide.high, wide.high_count, limit) <
                     count / 2)
        return false;
    *floor = floor_of(s, &wide);
    *over = *floor > 0 ? s->power[k] / *floor : s->power[k] > 0 ? HUGE_VAL : 0;
    return *over > least && s->power[k] > floor_of(s, &near) * threshold(&s->near, effective_of(&near), 3e-4);
}

static bool is_peak(const search *s, size_t k) {
    return s->power[k] >= s->power[k - 1] && s->power[k] >= s->power[k + 1];
}

/* Whether what is left at bin k may be a stronger line's leavings: wandering, or drifting in level. */
static bool in_shadow(const search *s, size_t k, double floor, const gw_line *found, size_t count) {
    for (size_t i = 0; i < count; i++) {
        double apart = fabs((double)k * s->bin_hz - found[i].frequency_hz) / s->bin_hz;
        double strength = found[i].over_floor * floor;
        if (apart < 2 || (apart < 16 && s->power[k] < 0.1 * strength / apart))
            return true;
    }
    return false;
}

/* RMS of a line that stands in bin k with this power. */
static double rms_of_bin(const search *s, double power) {
    return sqrt(power * s->bin_hz * GW_HANN_ENBW);
}

/* The strongest line not yet found: its bin, or 0. */
static size_t strongest(search *s, const gw_line *found, size_t count, double *floor, double *over) {
    size_t best = 0;
    for (size_t k = s->first; k <= s->last; k++) {
        double here_floor, here_over;
        if (!is_peak(s, k) || (best && s->power[k] <= s->power[best]) || rms_of_bin(s, s->power[k]) < s->bound_rms)
            continue;
        if (!stands_out(s, k, &here_floor, &here_over) || in_shadow(s, k, here_floor, found, count))
            continue;
        best = k;
        *floor = here_floor;
        *over = here_over;
    }
    return best;
}

/* Offset of a line from bin k, in bins, by the higher neighbour under a Hann window (Grandke 1983). */
static double offset_of(const search *s, size_t k) {
    double left = sqrt(s->power[k - 1]), middle = sqrt(s->power[k]), right = sqrt(s->power[k + 1]);
    double ratio = fmax(left, right) / middle;
    double offset = (2 * ratio - 1) / (ratio + 1);
    return right >= left ? offset : -offset;
}

static gw_line measure_line(search *s, size_t k, double floor, double over) {
    double hz = ((double)k + offset_of(s, k)) * s->bin_hz;
    double reach = 2 * pi * s->bin_hz / s->rate_hz;
    gw_sine what = gw_sine_fit(s->work, s->marks, s->n, 2 * pi * hz / s->rate_hz, reach);
    gw_sine_subtract(s->work, s->marks, s->n, what);
    double square = (what.c * what.c + what.s * what.s) / 2;
    double of_floor = floor / s->duration_s; /* V^2 that the floor puts into two fitted unknowns */
    double variance = floor * s->rate_hz / 2;
    gw_line line = {.frequency_hz = what.omega * s->rate_hz / (2 * pi), .over_floor = over};
    line.rms = sqrt(fmax(square - of_floor, 0));
    line.u_rms = sqrt(of_floor / 2);
    if (square > 0)
        line.u_hz = s->rate_hz / (2 * pi) * sqrt(12 * variance / (square * pow((double)s->n, 3)));
    return line;
}

/* Periodogram of what is left, V^2/Hz: one Hann segment as long as the record. */
static bool look(search *s) {
    gw_arena *arena = gw_arena_new();
    gw_psd psd = {0};
    bool made = arena && gw_psd_welch_by(s->shelf, s->work, s->marks, s->n, s->rate_hz, s->n, arena, &psd);
    if (made && psd.bins > 0) /* none: marks leave no segment free, and no power anywhere */
        memcpy(s->power, psd.density, size_min(s->bins, psd.bins) * sizeof *s->power);
    gw_arena_free(arena);
    return made;
}

/* Standard deviation of the floor in the whole bandwidth, lines not counted. */
static bool floor_rms(const search *s, double *rms) {
    double *copy = malloc(s->bins * sizeof *copy);
    if (!copy)
        return false;
    memcpy(copy, s->power, s->bins * sizeof *copy);
    *rms = sqrt(gw_median(copy, s->bins) / log(2) * s->rate_hz / 2);
    free(copy);
    return true;
}

static double residual_rms(const search *s) {
    double sum = 0, here = 0;
    for (size_t i = 0; i < s->n; i++) {
        sum += present(s->marks, i) ? s->work[i] * s->work[i] : 0;
        here += present(s->marks, i);
    }
    return here > 0 ? sqrt(sum / here) : 0;
}

static void set_limits(search *s, const gw_tone_search *wanted) {
    double top = (double)(s->bins - 2);
    double low = ceil(wanted->low_hz / s->bin_hz), high = wanted->high_hz > 0 ? wanted->high_hz / s->bin_hz : top;
    s->first = (size_t)fmin(fmax(low, FIRST_BIN), top);
    s->last = (size_t)fmin(fmax(high, 0), top);
    double cells = fmax((double)s->last - (double)s->first + 1, 1);
    s->false_alarm = (wanted->false_alarm > 0 ? wanted->false_alarm : 1e-4) / cells;
}

static bool run_search(search *s, const gw_tone_search *wanted, gw_line *out, size_t max, size_t *count) {
    double floor = 0, over = 0, noise = 0;
    if (!look(s) || !floor_rms(s, &noise))
        return false;
    set_limits(s, wanted);
    s->bound_rms = fmax(gw_tones_quantiser_bound(wanted->step, noise), least_of_residual * residual_rms(s));
    while (*count < max) {
        size_t k = strongest(s, out, *count, &floor, &over);
        if (k == 0)
            break;
        out[*count] = measure_line(s, k, floor, over);
        ++*count;
        if (!look(s))
            return false;
    }
    return true;
}

bool gw_tones_find(const double *residual, const unsigned char *marks, size_t n, double rate_hz,
                   const gw_tone_search *wanted, gw_line *out, size_t max, size_t *count) {
    *count = 0;
    if (n < SAMPLES_MIN || !(rate_hz > 0))
        return true;
    search *s = calloc(1, sizeof *s);
    if (!s)
        return false;
    size_t length = gw_fft_length_below(n); /* as gw_psd_welch cuts its segment */
    s->n = n;
    s->shelf = wanted->shelf;
    s->marks = marks;
    s->rate_hz = rate_hz;
    s->bins = length / 2 + 1;
    s->bin_hz = rate_hz / (double)length;
    s->duration_s = (double)n / rate_hz;
    s->work = malloc(n * sizeof *s->work);
    s->power = calloc(s->bins, sizeof *s->power);
    bool made = s->work && s->power;
    if (made) {
        memcpy(s->work, residual, n * sizeof *s->work);
        made = run_search(s, wanted, out, max, count);
    }
    free(s->work);
    free(s->power);
    free(s);
    return made;
}
