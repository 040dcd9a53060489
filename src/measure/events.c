#include "events.h"

#include "envelope.h"
#include "gainwalk/capture.h"
#include "measure/sudden.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

const char gw_events_remark_gone[] = "the signal cuts out: level, hum and noise are those while it is there";

/* Common practice: a drop to half is heard as a cut-out; eight deviations are out of reach of any Gaussian noise. */
static const double dropout_ratio = 0.5, samples_at_least = 32;
static const double crackle_sigmas = 8, crackle_steps = 3, crackle_joined_s = 0.5e-3;
/* In a short record no more than this share of it is joined to one burst. */
static const double crackle_joined_share = 1.0 / 40;
/* What a fit leaves of a steep edge differs from period to period by where the samples fall: every second is a quarter
 * of the largest at least. Where edges are folded, now and then one falls midway between samples and leaves little:
 * then every fourth is half of the largest. */
static const double repeated_ratio = 0.25, folded_ratio = 0.5;
static const double step_sigmas = 8, step_steps = 1;

static bool present(const unsigned char *marks, size_t i) {
    return !marks || marks[i] == GW_SAMPLE_PRESENT;
}

static void keep_event(gw_event event, gw_event *out, size_t max, size_t *count) {
    if (*count < max)
        out[*count] = event;
    ++*count;
}

/* ---- dropouts --------------------------------------------------------------------------------------- */

/* Samples of a whole number of periods, enough for the noise not to fake a drop: the mean square of M samples of signal
 * and noise has a variance of (4 S^2 s^2 + 2 s^4)/M; six deviations stay within the way down to a quarter. Few
 * samples a period meet a narrow pulse or miss it: 32 at least. */
static size_t window_of(double period, double reference, double noise_v) {
    double level = reference * reference, noise = noise_v * noise_v, signal = fmax(level - noise, 0);
    double way = (1 - dropout_ratio * dropout_ratio) * level;
    double least = way > 0 ? 36 * (4 * signal * noise + 2 * noise * noise) / (way * way) : 0;
    double periods = fmax(ceil(fmax(least, samples_at_least) / period), 1);
    return (size_t)(periods * period + 0.5);
}

/* Upper quartile of the windows that have a value; 0 without any. */
static bool reference_of(const gw_envelope *envelope, double *reference) {
    double *kept = malloc((envelope->count + 1) * sizeof *kept);
    *reference = 0;
    if (!kept)
        return false;
    size_t count = 0;
    for (size_t k = 0; k < envelope->count; k++)
        if (envelope->rms[k] >= 0)
            kept[count++] = envelope->rms[k];
    if (count > 0)
        *reference = gw_rank_select(kept, count, count - 1 - count / 4);
    free(kept);
    return true;
}

/* A stretch of low windows first .. last, as time. Of a drop to nothing, three quarters of a window lie in it when the
 * window's RMS passes half; at the ends of the record it begins or ends there. */
static gw_event dropout_at(const gw_envelope *envelope, size_t first, size_t last, size_t n, double rate_hz) {
    double window = (double)envelope->window, hop = (double)envelope->hop;
    double start = first == 0 ? 0 : (double)first * hop + 0.25 * window - 0.5 * hop;
    double end = last + 1 == envelope->count ? (double)n : (double)last * hop + 0.75 * window + 0.5 * hop;
    return (gw_event){.kind = GW_EVENT_DROPOUT, .start_s = start / rate_hz, .length_s = (end - start) / rate_hz};
}

/* The least RMS of a window: noise is never more than what is left while the signal is gone. */
static double least_of(const gw_envelope *envelope) {
    double least = INFINITY;
    for (size_t k = 0; k < envelope->count; k++)
        least = envelope->rms[k] >= 0 ? fmin(least, envelope->rms[k]) : least;
    return least;
}

/* `noise`: standard deviation of one window's RMS. */
typedef struct levels {
    const gw_envelope *envelope;
    double noise;
} levels;

/* By how much windows beside each other differ from a straight line, in the middle; no more than `most`. A smooth
 * course leaves nothing, independent windows sqrt(6) deviations. False when memory is out. */
static bool noise_between(const gw_envelope *e, double most, double *noise) {
    size_t apart = e->window / e->hop, seen = 0;
    *noise = most;
    if (e->count < 5 * apart)
        return true;
    double *bends = malloc(e->count * sizeof *bends);
    if (!bends)
        return false;
    for (size_t k = apart; k + apart < e->count; k++)
        if (e->rms[k - apart] >= 0 && e->rms[k] >= 0 && e->rms[k + apart] >= 0)
            bends[seen++] = fabs(e->rms[k - apart] - 2 * e->rms[k] + e->rms[k + apart]);
    if (seen > 0)
        *noise = fmin(most, gw_median(bends, seen) / GW_GAUSS_QUARTILE / sqrt(6));
    free(bends);
    return true;
}

/* Mean RMS of windows; they overlap. */
static gw_sudden_level level_of(const void *signal, size_t from, size_t to) {
    const levels *l = signal;
    double sum = 0;
    size_t seen = 0;
    for (size_t k = from; k < to; k++)
        if (l->envelope->rms[k] >= 0) {
            sum += l->envelope->rms[k];
            seen++;
        }
    if (seen == 0)
        return (gw_sudden_level){.value = -1};
    double windows = 1 + (double)((to - from - 1) * l->envelope->hop) / (double)l->envelope->window;
    return (gw_sudden_level){.value = sum / (double)seen, .sigma = l->noise / sqrt(windows)};
}

/* The signal goes at once or, where it is not there to begin with, comes at once: a contact makes and breaks so. A
 * level that falls little by little, or a test signal's soft start, is no dropout. */
static bool is_at_once(const levels *l, size_t first, size_t last) {
    size_t window = l->envelope->window / l->envelope->hop; /* 4 or a little more */
    gw_sudden_signal signal = {l, level_of, .n = l->envelope->count, .window = window, .blur = window - 1, .inner = 1};
    return gw_sudden(&signal, first, last + 1);
}

static void collect_dropouts(const levels *l, double limit, size_t n, double rate_hz, gw_event *out, size_t max,
                             size_t *count) {
    const gw_envelope *envelope = l->envelope;
    size_t joined = envelope->window / (2 * envelope->hop) + 1;
    for (size_t k = 0; k < envelope->count; k++) {
        if (envelope->rms[k] < 0 || envelope->rms[k] > limit)
            continue;
        size_t last = k, above = 0; /* windows without a value end no stretch */
        for (size_t j = k + 1; j < envelope->count && above < joined; j++) {
            bool low = envelope->rms[j] >= 0 && envelope->rms[j] <= limit;
            last = low ? j : last;
            above = low ? 0 : above + (envelope->rms[j] >= 0);
        }
        if (is_at_once(l, k, last))
            keep_event(dropout_at(envelope, k, last, n, rate_hz), out, max, count);
        k = last + joined;
    }
}

bool gw_events_dropouts(const double *volts, const unsigned char *marks, size_t n, double rate_hz, double dc,
                        double frequency_hz, double noise_v, gw_event *out, size_t max, size_t *count) {
    *count = 0;
    double period = frequency_hz > 0 ? rate_hz / frequency_hz : 0, reference;
    if (!(period >= 4) || period * 3 > (double)n)
        return true;
    size_t window = (size_t)(period + 0.5);
    gw_envelope envelope;
    bool made = gw_envelope_make(volts, marks, n, dc, window, window / 4, &envelope);
    made = made && reference_of(&envelope, &reference);
    levels all = {.envelope = &envelope};
    if (made) {
        /* what a fit leaves of a signal with gaps is no noise, nor is the end of a note that dies away */
        double most = fmin(noise_v, least_of(&envelope)), windows = sqrt((double)window);
        made = noise_between(&envelope, most / windows, &all.noise);
        noise_v = all.noise * windows;
    }
    if (made && noise_v < 0.45 * reference) {
        size_t wide = window_of(period, reference, noise_v);
        if (wide > window) {
            free(envelope.rms);
            made = gw_envelope_make(volts, marks, n, dc, wide, wide / 4, &envelope);
            made = made && reference_of(&envelope, &reference);
        }
        all.noise = noise_v / sqrt((double)wide);
        if (made && wide * 3 <= n)
            collect_dropouts(&all, dropout_ratio * reference, n, rate_hz, out, max, count);
    }
    free(envelope.rms);
    return made;
}

/* ---- crackle ---------------------------------------------------------------------------------------- */

typedef struct residue {
    const double *values;
    const unsigned char *marks;
    size_t n;
    double period; /* samples; 0 none */
} residue;

/* The largest magnitude within `reach` samples of `at`; -1 where the record has none. */
static double largest_near(const residue *r, double at, size_t reach) {
    if (at < 0 || at > (double)r->n - 1)
        return -1;
    size_t middle = (size_t)(at + 0.5);
    size_t low = middle > reach ? middle - reach : 0, high = middle + reach < r->n ? middle + reach : r->n - 1;
    double largest = -1;
    for (size_t i = low; i <= high; i++)
        largest = present(r->marks, i) ? fmax(largest, fabs(r->values[i])) : largest;
    return largest;
}

/* Whether the same comes at the same phase of the periods around: then it is the waveform's. */
static bool repeats(const residue *r, size_t i) {
    enum { PERIODS = 5 };
    if (r->period < 4)
        return false;
    size_t reach = (size_t)fmax(3, r->period / 50);
    int there = 0, alike = 0, near_it = 0;
    for (int k = -PERIODS; k <= PERIODS; k++) {
        double other = k == 0 ? -1 : largest_near(r, (double)i + k * r->period, reach);
        there += other >= 0;
        alike += other >= repeated_ratio * fabs(r->values[i]);
        near_it += other >= folded_ratio * fabs(r->values[i]);
    }
    return there > 0 && (alike * 2 >= there || near_it * 4 >= there);
}

static double crackle_limit(const residue *r, double sigma, double step) {
    double limit = fmax(crackle_sigmas * sigma, crackle_steps * step);
    if (limit > 0)
        return limit;
    for (size_t i = 0; i < r->n; i++) /* a residual that is zero nearly everywhere: whatever else is there */
        limit = present(r->marks, i) ? fmax(limit, fabs(r->values[i])) : limit;
    return limit / 2;
}

bool gw_events_crackle(const double *residual, const unsigned char *marks, size_t n, double rate_hz, double sigma_v,
                       double step, double frequency_hz, gw_event *out, size_t max, size_t *count) {
    *count = 0;
    if (sigma_v < 0 && !gw_robust_sigma(residual, marks, n, &sigma_v))
        return false;
    residue r = {residual, marks, n, frequency_hz > 0 ? rate_hz / frequency_hz : 0};
    double limit = crackle_limit(&r, sigma_v, step),
           joined = fmax(4, fmin(crackle_joined_s * rate_hz, crackle_joined_share * (double)n));
    size_t first = 0, last = 0, peak = 0;
    bool open = false;
    for (size_t i = 0; i <= n; i++) {
        bool hit = i < n && present(marks, i) && limit > 0 && fabs(residual[i]) > limit && !repeats(&r, i);
        if (open && (i == n || (double)(i - last) > joined)) {
            gw_event event = {GW_EVENT_CRACKLE, (double)first / rate_hz, (double)(last - first + 1) / rate_hz,
                              residual[peak]};
            keep_event(event, out, max, count);
            open = false;
        }
        if (!hit)
            continue;
        first = open ? first : i;
        peak = open && fabs(residual[peak]) >= fabs(residual[i]) ? peak : i;
        last = i;
        open = true;
    }
    return true;
}

/* ---- steps of DC ------------------------------------------------------------------------------------- */

/* Running sums: values and numbers of the samples present before each index. */
typedef struct running {
    double *sum;
    size_t *here;
    size_t n;
} running;

static bool run_sums(const double *values, const unsigned char *marks, size_t n, running *out) {
    *out = (running){.sum = calloc(n + 1, sizeof *out->sum), .here = calloc(n + 1, sizeof *out->here), .n = n};
    if (!out->sum || !out->here)
        return false;
    for (size_t i = 0; i < n; i++) {
        bool counts = present(marks, i);
        out->sum[i + 1] = out->sum[i] + (counts ? values[i] : 0);
        out->here[i + 1] = out->here[i] + counts;
    }
    return true;
}

/* Mean of `window` samples from `at` on minus that of the window before; false where samples are wanting. */
static bool jump_at(const running *r, size_t at, size_t window, double *jump) {
    if (at < window || at + window > r->n)
        return false;
    size_t before = r->here[at] - r->here[at - window], behind = r->here[at + window] - r->here[at];
    if (before * 2 <= window || behind * 2 <= window)
        return false;
    *jump = (r->sum[at + window] - r->sum[at]) / (double)behind - (r->sum[at] - r->sum[at - window]) / (double)before;
    return true;
}

/* The moment of the largest jump within `reach` of `at`. */
static size_t largest_jump(const running *r, size_t at, size_t reach, size_t window, double *jump) {
    size_t best = at, low = at > reach ? at - reach : 0, high = at + reach < r->n ? at + reach : r->n;
    *jump = 0;
    for (size_t i = low; i <= high; i++) {
        double here;
        if (jump_at(r, i, window, &here) && fabs(here) > fabs(*jump)) {
            *jump = here;
            best = i;
        }
    }
    return best;
}

/* A step has its whole height in a quarter of the window already; a slow wander has a quarter of it, an impulse four
 * times as much. */
static bool is_sharp(const running *r, size_t at, size_t window, double jump) {
    double narrow;
    if (window < 8 || !jump_at(r, at, window / 4, &narrow))
        return false;
    return narrow / jump > 0.6 && narrow / jump < 1.5;
}

/* Of the jump's deviation, as the means of parts of both windows scatter. */
static const double step_scatters = 5;
enum { STEP_PARTS = 8 };

/* Mean square of the parts' means about their mean, in the window from `from` on; false where samples are wanting. */
static bool scatter_of(const running *r, size_t from, size_t window, double *scatter) {
    double means[STEP_PARTS], mean = 0;
    *scatter = 0;
    for (size_t k = 0; k < STEP_PARTS; k++) {
        size_t first = from + window * k / STEP_PARTS, end = from + window * (k + 1) / STEP_PARTS;
        if (r->here[end] == r->here[first])
            return false;
        means[k] = (r->sum[end] - r->sum[first]) / (double)(r->here[end] - r->here[first]);
        mean += means[k] / STEP_PARTS;
    }
    for (size_t k = 0; k < STEP_PARTS; k++)
        *scatter += (means[k] - mean) * (means[k] - mean) / (STEP_PARTS - 1);
    return true;
}

/* Does the jump stand out of what the windows themselves do? Noise that is loud for a while jumps more there. */
static bool stands_out(const running *r, size_t at, size_t window, double jump) {
    double before, behind;
    if (!scatter_of(r, at - window, window, &before) || !scatter_of(r, at, window, &behind))
        return true;
    return fabs(jump) > step_scatters * sqrt((before + behind) / STEP_PARTS);
}

static bool collect_steps(const running *r, size_t window, double rate_hz, double step, gw_event *out, size_t max,
                          size_t *count) {
    size_t hop = window / 8 ? window / 8 : 1, places = r->n / hop + 1;
    double *jumps = malloc(places * sizeof *jumps), jump, sigma;
    if (!jumps)
        return false;
    size_t kept = 0;
    for (size_t i = 0; i <= r->n; i += hop)
        if (jump_at(r, i, window, &jump))
            jumps[kept++] = jump;
    /* a drift fitted over a step leaves every other jump with a slope's share: what is usual is no step */
    double usual = gw_median(jumps, kept);
    for (size_t k = 0; k < kept; k++)
        jumps[k] = fabs(jumps[k] - usual);
    sigma = gw_median(jumps, kept) / GW_GAUSS_QUARTILE;
    free(jumps);
    double limit = fmax(step_sigmas * sigma, step_steps * step);
    for (size_t i = 0; i <= r->n; i += hop) {
        if (!jump_at(r, i, window, &jump) || !(fabs(jump - usual) > limit))
            continue;
        size_t at = largest_jump(r, i, window, window, &jump);
        if (is_sharp(r, at, window, jump) && stands_out(r, at, window, jump))
            keep_event((gw_event){GW_EVENT_STEP, (double)at / rate_hz, 0, jump - usual}, out, max, count);
        i = at + window;
    }
    return true;
}

bool gw_events_steps(const double *residual, const unsigned char *marks, size_t n, double rate_hz, double step,
                     double frequency_hz, gw_event *out, size_t max, size_t *count) {
    *count = 0;
    double period = frequency_hz > 0 ? rate_hz / frequency_hz : 0;
    size_t window = n / 20;
    if (period >= 8 && period * 6 <= (double)n)
        window = (size_t)(fmax(floor((double)window / period), 1) * period + 0.5);
    if (window < 8)
        return true;
    running r;
    bool made = run_sums(residual, marks, n, &r);
    made = made && collect_steps(&r, window, rate_hz, step, out, max, count);
    free(r.sum);
    free(r.here);
    return made;
}
