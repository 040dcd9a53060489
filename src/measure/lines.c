/* Discrete lines beside the signal: mains, a second tone and its products, and whatever else stands above the floor. */
#include "measure/work.h"

#include "measure/tones.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { FOUND_MAX = 64 };

static void band_set(gw_work *work) {
    gw_band wanted = {.low_hz = work->options->band_low_hz, .high_hz = work->options->band_high_hz};
    if (wanted.low_hz <= 0)
        wanted.low_hz = 20;
    if (wanted.high_hz <= 0)
        wanted.high_hz = 20000;
    work->band = gw_noise_band(wanted, work->block->count, work->block->rate_hz);
    work->out->band_low_hz = work->band.band.low_hz;
    work->out->band_high_hz = work->band.band.high_hz;
}

/* A line on a multiple of the fundamental belongs to the signal, even where the fit did not take it in. */
static bool on_comb(const gw_work *work, double frequency_hz) {
    if (!work->model->tone || work->model->two_tone)
        return false;
    double fundamental = work->model->fit.base[GW_BASE_SIGNAL] * work->block->rate_hz;
    double order = round(frequency_hz / fundamental);
    double apart = work->block->rate_hz / (double)work->block->count;
    return order >= 1 && fabs(frequency_hz - order * fundamental) < apart;
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
        if (line->ridge > 0 || (!mains && !work->model->two_tone))
            continue;
        gw_tone tone = {.frequency_hz = gw_fit_frequency(fit, line) * work->block->rate_hz,
                        .rms = gw_work_line_rms(line),
                        .u95 = gw_work_line_noise(work, k) / sqrt(2),
                        .kind = mains                           ? GW_TONE_MAINS
                                : abs(first) + abs(second) == 1 ? GW_TONE_STIMULUS
                                                                : GW_TONE_PRODUCT,
                        .order = mains ? mains : abs(first) + abs(second)};
        if (tone.kind == GW_TONE_STIMULUS)
            tone.order = 0;
        tone_put(work, tone);
    }
}

static void found_lines(gw_work *work, const gw_line *found, size_t count) {
    for (size_t k = 0; k < count; k++) {
        double f = found[k].frequency_hz;
        if (f >= work->out->band_low_hz && f <= work->out->band_high_hz)
            work->tones_v = hypot(work->tones_v, found[k].rms);
        if (!on_comb(work, f))
            tone_put(work,
                     (gw_tone){.frequency_hz = f, .rms = found[k].rms, .u95 = found[k].u_rms, .kind = GW_TONE_OTHER});
    }
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
        gw_tone_search search = {.step = work->block->step};
        done =
            gw_tones_find(work->quiet, fit->marks, fit->count, work->block->rate_hz, &search, found, FOUND_MAX, &count);
    }
    if (done) {
        gw_tones_remove(work->quiet, fit->marks, fit->count, work->block->rate_hz, found, count);
        model_lines(work);
        found_lines(work, found, count);
    }
    free(found);
    return done || gw_error_memory(work->error);
}
