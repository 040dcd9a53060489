/* Discrete lines beside the signal: mains, a second tone and its products, and whatever else stands above the floor. */
#include "measure/work.h"

#include "measure/lonely.h"
#include "measure/tones.h"

#include <limits.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { FOUND_MAX = 64 };

/* Slow modulation is looked for up to 20 Hz; its second order as well. */
static const double sidebands_hz = 40;

static void band_set(gw_work *work) {
    work->band = gw_noise_band(gw_work_band_wanted(work), work->block->count, work->block->rate_hz);
    work->out->band_low_hz = work->band.band.low_hz;
    work->out->band_high_hz = work->band.band.high_hz;
}

/* Of what the fit leaves, what the tones in it do not explain. */
static double quiet_share(const gw_work *work) {
    double sum = 0;
    for (size_t i = 0; i < work->model->fit.count; i++)
        sum += work->quiet[i] * work->quiet[i];
    return fmin(sum / work->model->fit.rss, 1);
}

/* How many deviations a line of a high order that stands alone may be away from the comb. */
static const double lonely_deviations = 5;

/* A line on a multiple of the fundamental belongs to the signal, even where the fit did not take it in. Of a high order
 * and alone it must stand there as exactly as both are known. */
static bool on_comb(const gw_work *work, const gw_line *line) {
    const gw_fit *fit = &work->model->fit;
    if (!work->model->tone || work->model->two_tone)
        return false;
    double rate = work->block->rate_hz, fundamental = fit->base[GW_BASE_SIGNAL] * rate;
    double order = round(line->frequency_hz / fundamental), apart = rate / (double)work->block->count;
    double known = sqrt(gw_model_variance(work->model, gw_fit_base_at(fit, GW_BASE_SIGNAL)) * quiet_share(work)) * rate;
    if (order < INT_MAX && gw_order_lonely(fit, (int)order))
        apart = fmin(apart, lonely_deviations * hypot(line->u_hz, order * known));
    return order >= 1 && fabs(line->frequency_hz - order * fundamental) < apart;
}

/* RMS times order of the model's harmonics, at most, doubled for what the last ones scatter; 0 where they end well
 * below half the rate, for then none lies above it either. */
static double harmonics_strength(const gw_work *work) {
    const gw_fit *fit = &work->model->fit;
    double strength = 0;
    if (!gw_work_reaches(work))
        return 0;
    for (size_t k = 0; k < fit->line_count; k++) {
        int order = fit->lines[k].multiple[GW_BASE_SIGNAL];
        if (order < 2 || fit->lines[k].multiple[GW_BASE_SECOND] || fit->lines[k].multiple[GW_BASE_MAINS])
            continue;
        strength = fmax(strength, 2 * order * gw_work_line_rms(&fit->lines[k]));
    }
    return strength;
}

/* A harmonic from above half the rate; a line's width is allowed for, as for the others. */
static bool folds(gw_work *work, const gw_line *line) {
    if (!work->model->tone || work->model->two_tone)
        return false;
    double rate = work->block->rate_hz, fundamental = work->model->fit.base[GW_BASE_SIGNAL] * rate;
    bool folded = gw_tone_folds(line, fundamental, rate, rate / (double)work->block->count, harmonics_strength(work));
    work->folded = work->folded || folded;
    return folded;
}

/* One of a pair of lines either side of a harmonic: the signal's level wanders. */
static bool is_sideband(const gw_work *work, const gw_line *found, size_t count, size_t at) {
    if (!work->model->tone || work->model->two_tone)
        return false;
    double fundamental = work->model->fit.base[GW_BASE_SIGNAL] * work->block->rate_hz;
    double middle = fundamental * round(found[at].frequency_hz / fundamental);
    double apart = work->block->rate_hz / (double)work->block->count, other = 2 * middle - found[at].frequency_hz;
    if (fabs(found[at].frequency_hz - middle) > sidebands_hz)
        return false;
    for (size_t k = 0; k < count; k++)
        if (k != at && fabs(found[k].frequency_hz - other) < apart && found[k].rms > 0.3 * found[at].rms &&
            found[k].rms < 3 * found[at].rms)
            return true;
    return false;
}

static void tone_put(gw_work *work, gw_tone tone) {
    tone.u95 = 2 * hypot(tone.u95, tone.rms * work->accuracy / sqrt(3));
    work->out->tones[work->out->tone_count++] = tone;
}

/* The lines of the model that are no harmonics. */
static void model_lines(gw_work *work) {
    const gw_fit *fit = &work->model->fit;
    for (size_t k = 0; k < fit->line_count; k++) {
        const gw_sinusoid *line = &fit->lines[k];
        int first = line->multiple[GW_BASE_SIGNAL], second = line->multiple[GW_BASE_SECOND];
        int mains = line->multiple[GW_BASE_MAINS];
        bool stray = work->model->stray && second;
        if (line->ridge > 0 || (!mains && !work->model->two_tone && !stray))
            continue;
        double frequency_hz = gw_fit_frequency(fit, line) * work->block->rate_hz;
        if (stray && folds(work, &(gw_line){.frequency_hz = frequency_hz, .rms = gw_work_line_rms(line)}))
            continue;
        gw_tone tone = {.frequency_hz = frequency_hz,
                        .rms = gw_work_line_rms(line),
                        .u95 = gw_work_line_noise(work, k) / sqrt(2),
                        .kind = mains                           ? GW_TONE_MAINS
                                : stray                         ? GW_TONE_OTHER
                                : abs(first) + abs(second) == 1 ? GW_TONE_STIMULUS
                                                                : GW_TONE_PRODUCT,
                        .order = mains ? mains : abs(first) + abs(second)};
        if (tone.kind == GW_TONE_STIMULUS || tone.kind == GW_TONE_OTHER)
            tone.order = 0;
        tone_put(work, tone);
    }
}

/* Of two tones, a product of second or third order; half a line of the record near is on it. Its order; 0 otherwise. */
static int product_order(const gw_work *work, double frequency_hz) {
    static const int products[][2] = {{-1, 1}, {1, 1}, {2, -1}, {-1, 2}, {2, 1}, {1, 2}};
    const double *base = work->model->fit.base;
    double near = 0.5 * work->block->rate_hz / (double)work->block->count;
    for (size_t k = 0; work->model->two_tone && !work->model->stray && k < sizeof products / sizeof *products; k++) {
        double at = fabs(products[k][0] * base[GW_BASE_SIGNAL] + products[k][1] * base[GW_BASE_SECOND]);
        if (fabs(at * work->block->rate_hz - frequency_hz) < near)
            return abs(products[k][0]) + abs(products[k][1]);
    }
    return 0;
}

static void found_lines(gw_work *work, const gw_line *found, size_t count) {
    double fundamental_hz = work->model->fit.base[GW_BASE_SIGNAL] * work->block->rate_hz;
    for (size_t k = 0; k < count; k++) {
        double f = found[k].frequency_hz;
        bool pair = is_sideband(work, found, count, k);
        if (pair && fabs(f - fundamental_hz) < 0.5 * fundamental_hz)
            work->sway_v = hypot(work->sway_v, found[k].rms);
        if (f >= work->out->band_low_hz && f <= work->out->band_high_hz) {
            work->tones_v = hypot(work->tones_v, found[k].rms);
            work->tones_u = hypot(work->tones_u, 2 * found[k].rms * found[k].u_rms);
        }
        if (!on_comb(work, &found[k]) && !folds(work, &found[k]) && !pair)
            tone_put(work, (gw_tone){.frequency_hz = f,
                                     .rms = found[k].rms,
                                     .u95 = found[k].u_rms,
                                     .kind = product_order(work, f) ? GW_TONE_PRODUCT : GW_TONE_OTHER,
                                     .order = product_order(work, f)});
    }
}

/* A tone moves a line of the signal's in the fit by its own level over pi times the lines between them (the transform
 * of the record's ends), and is moved as much itself. Up to so many lines, and down to this share of the noise; a line
 * that is not so much stronger than the tone may be a part of it. */
enum { MOVED_MAX = 48 };
static const double moved_lines = 300, moved_share = 0.05, moved_stronger = 10;

static double quiet_rms(const gw_work *work) {
    double sum = 0;
    for (size_t i = 0; i < work->model->fit.count; i++)
        sum += work->quiet[i] * work->quiet[i];
    return sqrt(sum / (double)work->model->fit.count);
}

static void moved_add(double *moved, size_t *count, double frequency_hz) {
    for (size_t k = 0; k < *count; k++)
        if (moved[k] == frequency_hz)
            return;
    if (*count < MOVED_MAX)
        moved[(*count)++] = frequency_hz;
}

/* What tones and lines of the signal's near each other have left in place of each other is no noise. */
static void settle_near(gw_work *work, const gw_line *found, size_t count) {
    const gw_fit *fit = &work->model->fit;
    double moved[MOVED_MAX], rate = work->block->rate_hz, noise = quiet_rms(work);
    size_t all = 0;
    for (size_t k = 0; k < count && noise > 0; k++) {
        double lines = fmin(found[k].rms / (3.1416 * moved_share * noise), moved_lines);
        for (size_t j = 0; j < fit->line_count; j++) {
            double f = gw_fit_frequency(fit, &fit->lines[j]) * rate;
            if (fabs(f - found[k].frequency_hz) * (double)fit->count > lines * rate ||
                gw_work_line_rms(&fit->lines[j]) < moved_stronger * found[k].rms)
                continue;
            moved_add(moved, &all, f);
            moved_add(moved, &all, found[k].frequency_hz);
        }
    }
    gw_tones_clear(work->quiet, fit->marks, fit->count, rate, moved, all);
}

bool gw_work_tones(gw_work *work) {
    const gw_fit *fit = &work->model->fit;
    band_set(work);
    work->quiet = calloc(fit->count, sizeof *work->quiet);
    gw_line *found = malloc(FOUND_MAX * sizeof *found);
    work->out->tones = gw_arena_array(work->out->arena, fit->line_count + FOUND_MAX, sizeof *work->out->tones);
    size_t count = 0;
    bool done = work->quiet && found && work->out->tones;
    if (done && work->model->variance > 0) {
        memcpy(work->quiet, fit->residual, fit->count * sizeof *work->quiet);
        gw_work_unbend(work);
        gw_tone_search search = {.step = work->block->step, .shelf = work->block->shelf};
        done =
            gw_tones_find(work->quiet, fit->marks, fit->count, work->block->rate_hz, &search, found, FOUND_MAX, &count);
    }
    if (done) {
        work->quiet_all = count == 0 && !work->unbent && work->model->variance > 0;
        gw_tones_remove(work->quiet, fit->marks, fit->count, work->block->rate_hz, found, count);
        settle_near(work, found, count);
        model_lines(work);
        found_lines(work, found, count);
    }
    free(found);
    return done || gw_error_memory(work->error);
}
