#include "measure/cutouts.h"

#include "gainwalk/capture.h"
#include "measure/sudden.h"

#include <math.h>
#include <stdlib.h>

static const double pi = 3.14159265358979323846;
/* Harmonics of a sine that is bent, of the power of the fundamental. */
static const double harmonics_of_sine = 0.1;
/* A sine that stays so near its model, re its peak, everywhere, is nowhere less than half there. */
static const double near_enough = 0.1;
/* Deviations; squared and doubled, of the sum of distances. */
static const double sigmas = 8;
/* Of the peak, squared: what eight samples of a quarter of it sum up to. */
static const double least_sum = 0.5;
/* RMS of the model within a cut, re its peak: nearer to zero nothing could be seen to be gone. */
static const double least_there = 0.15;
/* Of the model's power within a cut, left by the model times its gain. */
static const double left_in_cut = 0.125;
/* What is this near to another is the same cut: no more than this, nor than this share of a period. */
static const double joined_s = 0.5e-3, joined_period = 0.25;
/* Periods on either side that are looked at; of the signal there, what may be out of step. */
static const double periods_beside = 1.5, most_off = 0.3;
enum { LEAST_SAMPLES = 8, JOINED_SAMPLES = 4, FADE_SAMPLES = 32 };
/* Of the peak: an impulse as high may take the signal away for a few samples. In periods: what is further apart than
 * that, or than LEAST_SAMPLES, are two. */
static const double as_high = 0.25, apart_periods = 0.25;

typedef struct scan {
    const double *volts;
    double *there; /* the model's, without DC */
    const unsigned char *marks;
    double dc, peak, noise_v, period, joined;
    size_t n;
} scan;

typedef struct cut {
    size_t first, end;
} cut;

bool gw_cutouts_known(const gw_model *model) {
    double first = 0, others = 0;
    if (!model->tone || model->two_tone || !model->fit.solved)
        return false;
    for (size_t k = 0; k < model->fit.line_count; k++) {
        const gw_sinusoid *line = &model->fit.lines[k];
        double power = line->cosine * line->cosine + line->sine * line->sine;
        if (line->multiple[GW_BASE_SIGNAL] == 1 && line->multiple[GW_BASE_SECOND] == 0)
            first += power;
        else if (line->multiple[GW_BASE_SIGNAL] != 0)
            others += power;
    }
    return first > 0 && others < harmonics_of_sine * first;
}

bool gw_cutouts_seen(const gw_model *model) {
    if (!gw_cutouts_known(model))
        return false;
    size_t first = gw_fit_find(&model->fit, 1, 0, 0);
    double peak = hypot(model->fit.lines[first].cosine, model->fit.lines[first].sine);
    gw_extent off = gw_extent_of(model->fit.residual, NULL, model->fit.marks, model->fit.count);
    return fmax(off.high, -off.low) > near_enough * peak;
}

bool gw_cutouts_none(const gw_model *model) {
    return model->fit.present == model->fit.count && !gw_cutouts_seen(model);
}

static bool present(const scan *s, size_t i) {
    return !s->marks || s->marks[i] == GW_SAMPLE_PRESENT;
}

/* Values of the signal's lines. NULL when memory is out. */
static double *values_make(const gw_fit *fit) {
    double *values = calloc(fit->count ? fit->count : 1, sizeof *values);
    for (size_t k = 0; values && k < fit->line_count; k++)
        if (fit->lines[k].multiple[GW_BASE_SIGNAL])
            gw_sweep_add(values, fit->count, gw_fit_frequency(fit, &fit->lines[k]), fit->lines[k].cosine,
                         fit->lines[k].sine);
    return values;
}

/* By how much less the sample is away from nothing than from the model; squares. */
static double nearer(const scan *s, size_t i) {
    double there = s->there[i], square = there * there;
    return fmax(-square, fmin(square, square - 2 * (s->volts[i] - s->dc) * there));
}

/* The next stretch from `from` on over which the sum rises, and falls again behind it, by `least`. */
static bool next_rise(const scan *s, size_t from, double least, cut *out) {
    double sum = 0, highest = 0;
    size_t first = from, end = from;
    for (size_t i = from; i < s->n; i++) {
        if (!present(s, i))
            continue;
        if (sum <= 0) {
            sum = highest = 0;
            first = i;
        }
        sum += nearer(s, i);
        if (sum > highest) {
            highest = sum;
            end = i + 1;
        }
        if (highest > least && sum < highest - least)
            break;
    }
    *out = (cut){first, end};
    return highest > least;
}

/* Sums over the samples present. */
typedef struct sums {
    double count, there, along, volts, off, off_squares;
} sums;

static sums sums_of(const scan *s, size_t first, size_t end) {
    sums out = {0};
    for (size_t i = first; i < end; i++) {
        if (!present(s, i))
            continue;
        double x = s->volts[i] - s->dc;
        out.count++;
        out.there += s->there[i] * s->there[i];
        out.along += s->there[i] * x;
        out.volts += x * x;
        out.off += x - s->there[i];
        out.off_squares += (x - s->there[i]) * (x - s->there[i]);
    }
    return out;
}

static bool is_gone(const scan *s, cut c) {
    sums in = sums_of(s, c.first, c.end);
    if (in.count < LEAST_SAMPLES || in.there < least_there * least_there * s->peak * s->peak * in.count)
        return false;
    double left = in.volts - in.along * in.along / in.there, noise = 2 * in.count * s->noise_v * s->noise_v;
    /* a step of DC that comes and goes leaves the whole signal on another level */
    double shifted = in.off_squares - in.off * in.off / in.count;
    return left < shifted && fabs(in.along) < 0.5 * in.there && left < left_in_cut * in.there + noise;
}

/* Beside a cut the signal keeps step with the model: of what is there little is a quarter of a period off. One that
 * wavers in pitch does not, and passes zero where the model has its peak. */
static bool in_step(const scan *s, cut c) {
    size_t reach = (size_t)ceil(periods_beside * s->period);
    size_t from = c.first > reach + 1 ? c.first - reach : 1, to = c.end + reach + 1 < s->n ? c.end + reach : s->n - 1;
    double off = 0, across = 0, there = 0, along = 0;
    for (size_t i = from; i < to; i++) {
        if ((i >= c.first && i < c.end) || !present(s, i))
            continue;
        double x = s->volts[i] - s->dc, turned = s->there[i + 1] - s->there[i - 1];
        off += turned * x;
        across += turned * turned;
        along += s->there[i] * x;
        there += s->there[i] * s->there[i];
    }
    return along >= 0 && off * off <= most_off * most_off * across * there;
}

/* The model's gain over a stretch, in whatever phase; what that leaves there is noise. */
static gw_sudden_level gain_of(const void *signal, size_t from, size_t to) {
    const scan *s = signal;
    sums in = sums_of(s, from, to);
    double off = 0, across = 0;
    for (size_t i = from > 1 ? from : 1; i < to && i + 1 < s->n; i++) {
        if (!present(s, i))
            continue;
        double turned = s->there[i + 1] - s->there[i - 1];
        off += turned * (s->volts[i] - s->dc);
        across += turned * turned;
    }
    if (!(in.there > 0) || !(across > 0))
        return (gw_sudden_level){.value = -1};
    double straight = in.along * in.along / in.there, quarter = off * off / across;
    double left = fmax(in.volts - straight - quarter, 0);
    return (gw_sudden_level){.value = sqrt((straight + quarter) / in.there), .sigma = sqrt(left / in.count / in.there)};
}

/* The signal goes at once or, where it is not there to begin with, comes at once: else it swells, or dies away. */
static bool is_at_once(const scan *s, cut c) {
    size_t window = (size_t)ceil(fmax(s->period, FADE_SAMPLES));
    gw_sudden_signal signal = {.signal = s, .level = gain_of, .n = s->n, .window = window};
    signal.blur = signal.inner = window / 4;
    return gw_sudden(&signal, c.first, c.end);
}

static gw_event event_of(cut c, double rate_hz) {
    return (gw_event){.kind = GW_EVENT_DROPOUT,
                      .start_s = (double)c.first / rate_hz,
                      .length_s = (double)(c.end - c.first) / rate_hz};
}

static void collect(const scan *s, double rate_hz, gw_event *out, size_t max, size_t *count) {
    double least = fmax(2 * sigmas * sigmas * s->noise_v * s->noise_v, least_sum * s->peak * s->peak);
    cut open = {0}, next;
    size_t from = 0;
    for (bool found = true; found;) {
        found = next_rise(s, from, least, &next);
        from = next.end;
        if (found && (!is_gone(s, next) || !in_step(s, next)))
            continue;
        if (found && open.end > 0 && (double)(next.first - open.end) < s->joined) {
            open.end = next.end;
            continue;
        }
        if (open.end > 0 && is_at_once(s, open)) {
            if (*count < max)
                out[*count] = event_of(open, rate_hz);
            ++*count;
        }
        open = next;
    }
}

/* Of parts of a period at one phase, in one half or the other: a waveform that is bent, and its level sways. */
static const double same_phase = 0.95;
enum { SAME_PHASE_LEAST = 4 };

static bool are_at_one_phase(const gw_event *cuts, size_t count, double half_s) {
    double c = 0, s = 0;
    for (size_t k = 0; k < count; k++) {
        double turns = (cuts[k].start_s + 0.5 * cuts[k].length_s) / half_s;
        if (cuts[k].length_s >= half_s)
            return false;
        c += cos(2 * pi * turns);
        s += sin(2 * pi * turns);
    }
    return count >= SAME_PHASE_LEAST && hypot(c, s) > same_phase * (double)count;
}

bool gw_cutouts_find(const gw_model *model, const double *volts, const unsigned char *marks, double rate_hz,
                     gw_event *out, size_t max, size_t *count) {
    const gw_fit *fit = &model->fit;
    *count = 0;
    if (gw_cutouts_none(model))
        return true;
    scan s = {.volts = volts,
              .there = values_make(fit),
              .marks = marks,
              .dc = fit->dc,
              .noise_v = fmax(model->robust_v, model->step / sqrt(12)),
              .period = 1 / fit->base[GW_BASE_SIGNAL],
              .n = fit->count};
    s.joined = fmax(fmin(joined_s * rate_hz, joined_period * s.period), JOINED_SAMPLES);
    if (!s.there)
        return false;
    gw_extent extent = gw_extent_of(s.there, NULL, NULL, s.n);
    s.peak = fmax(extent.high, -extent.low);
    gw_extent off = gw_extent_of(volts, s.there, marks, s.n);
    if (fmax(off.high - s.dc, s.dc - off.low) > near_enough * s.peak)
        collect(&s, rate_hz, out, max, count);
    if ((double)*count > 2 + 0.5 * (double)s.n / s.period ||
        are_at_one_phase(out, *count < max ? *count : max, 0.5 * s.period / rate_hz))
        *count = 0;
    free(s.there);
    return true;
}

bool gw_cutouts_are_impulses(const gw_model *model, const unsigned char *marks, double margin) {
    const gw_fit *fit = &model->fit;
    if (!gw_cutouts_known(model))
        return false;
    const gw_sinusoid *first = &fit->lines[gw_fit_find(fit, 1, 0, 0)];
    double high = as_high * hypot(first->cosine, first->sine), period = 1 / fit->base[GW_BASE_SIGNAL];
    double longest = period + 2 * margin, apart = fmax(apart_periods * period, LEAST_SAMPLES);
    size_t cuts = 0, length = 0, impulses = 0, last = 0;
    for (size_t i = 0; i < fit->count; i++) {
        if (marks[i] != GW_SAMPLE_PRESENT) {
            cuts += length == 0;
            if ((double)++length > longest)
                return false;
            continue;
        }
        length = 0;
        if (fabs(fit->residual[i]) < high)
            continue;
        impulses += impulses == 0 || (double)(i - last) > apart;
        last = i;
    }
    return cuts > 0 && impulses >= cuts;
}
