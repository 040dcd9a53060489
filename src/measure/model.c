#include "measure/model.h"

#include "measure/beside.h"
#include "measure/certain.h"
#include "measure/colour.h"
#include "measure/demand.h"
#include "measure/hidden.h"
#include "measure/lonely.h"
#include "measure/noisy.h"
#include "measure/robust.h"
#include "measure/swing.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static bool start(gw_model *model, const gw_coarse *coarse, gw_error *error) {
    gw_fit *fit = &model->fit;
    if (coarse->signal > 0) {
        fit->base[GW_BASE_SIGNAL] = coarse->signal;
        fit->base_free[GW_BASE_SIGNAL] = true;
        model->tone = true;
        if (!gw_fit_add(fit, 1, 0, 0, error))
            return false;
        /* a weak or missing fundamental can't lead: the strongest line does */
        fit->base_free[GW_BASE_SIGNAL] = !coarse->repeats;
        if (coarse->order > 1 && !gw_fit_add(fit, coarse->order, 0, 0, error))
            return false;
    }
    if (coarse->second > 0) {
        fit->base[GW_BASE_SECOND] = coarse->second;
        fit->base_free[GW_BASE_SECOND] = true;
        model->two_tone = true;
        if (!gw_fit_add(fit, 0, 1, 0, error))
            return false;
    }
    return gw_fit_solve(fit, error);
}

/* The model without any signal. */
static bool start_over(gw_model *model, gw_error *error) {
    gw_fit *fit = &model->fit;
    fit->line_count = 0;
    fit->started = false;
    memset(fit->base, 0, sizeof fit->base);
    memset(fit->base_free, 0, sizeof fit->base_free);
    memset(fit->base_ridge, 0, sizeof fit->base_ridge);
    fit->has_drift = false;
    fit->drift = fit->drift_ridge = 0;
    model->mains_hz = 0;
    model->mains_signal = model->mains_hidden = model->mains_bend = model->hum_possible = false;
    model->slow = 0;
    memset(model->hum_power, 0, sizeof model->hum_power);
    memset(model->u_hum_power, 0, sizeof model->u_hum_power);
    model->tone = false;
    model->two_tone = false;
    model->stray = false;
    return gw_fit_solve(fit, error);
}

/* All lines of the signal. A period that was found as such is held until lines are there that can move it. */
static bool signal_grow(gw_model *model, gw_error *error) {
    gw_fit *fit = &model->fit;
    bool moved;
    if (!fit->base_free[GW_BASE_SIGNAL]) {
        if (!gw_lines_grow(model, error))
            return false;
        fit->base_free[GW_BASE_SIGNAL] = true;
        if (!gw_fit_solve(fit, error))
            return false;
    }
    return gw_lines_grow(model, error) && gw_octave_settle(model, &moved, error) &&
           (!moved || gw_lines_grow(model, error)) && gw_lonely_leave(model, &moved, error) &&
           (!moved || gw_octave_settle(model, &moved, error)) && gw_noisy_leave(model, error) &&
           gw_octave_settle(model, &moved, error) &&
           (!moved || (gw_lines_grow(model, error) && gw_noisy_leave(model, error)));
}

/* The mains beside a signal that is in the model with all its lines. */
static bool mains_see(gw_model *model, const gw_block *block, double mains_hz, gw_error *error) {
    gw_fit *fit = &model->fit;
    double signal_hz = fit->base[GW_BASE_SIGNAL] * block->rate_hz, duration = (double)block->count / block->rate_hz;
    if (!model->tone)
        return true;
    if (model->mains_hz > 0)
        return gw_mains_again(model, block, mains_hz, error);
    /* the pitch may have moved there */
    model->mains_signal = model->mains_signal || gw_mains_on(signal_hz, mains_hz, duration);
    return gw_mains_join(model, block, mains_hz, error);
}

static bool extend(gw_model *model, const gw_block *block, double mains_hz, gw_error *error) {
    gw_fit *fit = &model->fit;
    double duration = (double)block->count / block->rate_hz;
    double lowest = mains_hz > 0 ? mains_hz : 50;
    bool long_enough = duration * lowest >= GW_MAINS_CYCLES;
    double signal_hz = fit->base[GW_BASE_SIGNAL] * block->rate_hz;
    model->mains_signal = model->tone && gw_mains_on(signal_hz, mains_hz, duration);
    /* a slope first: the lines of the mains would lean on it */
    if (fit->solved && (long_enough || !model->tone) && !gw_drift_join(model, error))
        return false;
    if (long_enough && !gw_mains_join(model, block, mains_hz, error))
        return false;
    bool hiding = !long_enough && model->tone && !model->mains_signal;
    if (hiding && fit->solved && !gw_hidden_settle(model, block->rate_hz, mains_hz, true, error))
        return false;
    if (fit->base[GW_BASE_SIGNAL] > 0 && fit->solved && !signal_grow(model, error))
        return false;
    if (model->mains_hz > 0 && !gw_mains_leave(model, error))
        return false;
    if (long_enough &&
        (!mains_see(model, block, mains_hz, error) || (model->mains_hz > 0 && !gw_mains_leave(model, error))))
        return false;
    if (!hiding && fit->has_drift && fit->solved && !gw_drift_leave(model, error))
        return false;
    if (hiding)
        return !fit->solved || gw_hidden_settle(model, block->rate_hz, mains_hz, false, error);
    if (!long_enough && fit->solved && !gw_hum_hide(model, block->rate_hz, mains_hz, error))
        return false;
    return true;
}

/* ENTSO-E: 200 mHz of 50 Hz in normal operation. A line that stands out is known to a tenth of its width. */
static const double grid_strays = 0.005, line_known = 0.1;
/* A generator's dial. */
static const double dial_strays = 0.03;

/* Does the line stand where a stimulus is stated to be, and further from the mains than any grid strays? */
static bool is_stated(double frequency_hz, double stated_hz, double mains_hz, double duration_s) {
    const double nominal[2] = {mains_hz > 0 ? mains_hz : 50, mains_hz > 0 ? mains_hz : 60};
    double off = INFINITY;
    for (int k = 0; k < 2; k++)
        off = fmin(off, fmin(fabs(frequency_hz - nominal[k]), fabs(frequency_hz - 2 * nominal[k])));
    return off > grid_strays * frequency_hz + line_known / duration_s &&
           fabs(frequency_hz - stated_hz) < dial_strays * stated_hz;
}

/* Was something near twice the mains fed in, and the mains itself found; or a period of both, half as long again? */
static bool is_mains_below(const gw_model *model, const gw_block *block, const gw_stimulus *stimulus, double mains_hz) {
    double found = model->fit.base[GW_BASE_SIGNAL] * block->rate_hz, stated = stimulus->frequency_hz;
    double duration = (double)block->count / block->rate_hz;
    bool half = model->tone && stimulus->shape == GW_SHAPE_SINE && fabs(4 * found - stated) < dial_strays * stated;
    bool is = half || fabs(2 * found - stated) < dial_strays * stated;
    return is && gw_mains_on(half ? 2 * found : found, mains_hz, duration) && gw_mains_on(stated, mains_hz, duration);
}

/* Is the only line there the mains', although something else was fed in, or beside a DC that is the point of the
 * capture (a rail)? Then it is hum, not the signal. */
static bool is_hum_alone(const gw_model *model, const gw_block *block, const gw_stimulus *stimulus, double mains_hz) {
    const gw_fit *fit = &model->fit;
    double duration = (double)block->count / block->rate_hz;
    if (is_mains_below(model, block, stimulus, mains_hz))
        return true;
    if (!model->tone || model->two_tone || !gw_mains_on(fit->base[GW_BASE_SIGNAL] * block->rate_hz, mains_hz, duration))
        return false;
    if (stimulus->frequency_hz > 0)
        return !gw_mains_on(stimulus->frequency_hz, mains_hz, duration) &&
               !is_stated(fit->base[GW_BASE_SIGNAL] * block->rate_hz, stimulus->frequency_hz, mains_hz, duration);
    double ac = 0;
    for (size_t k = 0; k < fit->line_count; k++)
        ac = hypot(ac, hypot(fit->lines[k].cosine, fit->lines[k].sine));
    return stimulus->shape == GW_SHAPE_NONE || stimulus->shape == GW_SHAPE_NOISE || fabs(fit->dc) > 5 * ac;
}

/* Slow noise in a record of few cycles is "explained" by lines far larger than itself that cancel each other. */
static bool is_wild(const gw_fit *fit) {
    double power = 0;
    for (size_t k = 0; k < fit->line_count; k++)
        power += 0.5 * (fit->lines[k].cosine * fit->lines[k].cosine + fit->lines[k].sine * fit->lines[k].sine);
    return power > 4 * fit->total / (double)fit->present || !gw_dc_among_samples(fit);
}

/* Up to so many cycles that are stated, less than 1.2 that are found may be them. */
static const double stated_most = 1.5;
/* Fewer cycles look like a slope whatever they are, and must leave nothing. */
static const double slope_cycles = 0.4;

/* Less than a cycle may be a slope, or hum: if that explains the record, there is no signal in it. */
static bool slope_instead(gw_model *model, const gw_block *block, const gw_stimulus *stimulus, const gw_coarse *coarse,
                          double mains_hz, gw_error *error) {
    if (!start_over(model, error) || !extend(model, block, mains_hz, error))
        return false;
    double steps = block->step * block->step / 12;
    if (!model->fit.solved || gw_rest_white(&model->fit) || gw_fit_variance(&model->fit) < 2 * steps)
        return true;
    if (!start_over(model, error) || !start(model, coarse, error))
        return false;
    /* noise that rises to low frequencies swings as slowly, and one cycle of any shape is no period */
    bool stated = stimulus->frequency_hz > 0
                      ? stimulus->frequency_hz * (double)block->count < block->rate_hz * stated_most
                      : stimulus->shape == GW_SHAPE_PERIODIC;
    bool swing = model->fit.base[GW_BASE_SIGNAL] * (double)block->count > slope_cycles || gw_fit_exact(&model->fit);
    bool certain = model->fit.solved && gw_swing_explained(&model->fit) && (swing || gw_rest_white(&model->fit));
    if (stated || (certain && gw_tone_certain(model)))
        return true;
    return start_over(model, error) && extend(model, block, mains_hz, error);
}

/* A line this many times the fundamental is no harmonic of a sine that a stage bent. */
static const double overtone = 5;

/* Up to here the coarse search goes over frequencies, not lines. */
static const double few_cycles = 12;

/* Does nothing that is stated speak against two tones? */
static bool is_open(const gw_stimulus *stimulus) {
    return stimulus->frequency_hz == 0 && stimulus->shape != GW_SHAPE_PERIODIC && stimulus->shape != GW_SHAPE_NOISE &&
           stimulus->shape != GW_SHAPE_SWEEP;
}

/* May there be two tones that the search took for one? Not where it explains all. */
static bool may_be_pair(const gw_model *model, const gw_block *block, const gw_stimulus *stimulus) {
    const gw_fit *fit = &model->fit;
    return is_open(stimulus) && !model->two_tone && fit->solved &&
           fit->base[GW_BASE_SIGNAL] * (double)block->count < few_cycles && !gw_fit_exact(fit) && gw_pair_possible(fit);
}

/* Order of the strongest line of the signal, where it is `overtone` times the fundamental; 1 otherwise. */
static int leading_order(const gw_fit *fit) {
    double first = 0, highest = 0;
    int order = 1;
    for (size_t k = 0; k < fit->line_count; k++) {
        const gw_sinusoid *line = &fit->lines[k];
        double size = hypot(line->cosine, line->sine);
        if (line->multiple[GW_BASE_SIGNAL] == 1 && line->multiple[GW_BASE_SECOND] == 0)
            first = size;
        if (line->multiple[GW_BASE_SIGNAL] < 2 || line->multiple[GW_BASE_SECOND] != 0 || size < highest)
            continue;
        highest = size;
        order = line->multiple[GW_BASE_SIGNAL];
    }
    return highest > overtone * first ? order : 1;
}

/* A sine is fed in, and a period of several of its cycles was found, as where a slow bend helped in a record of few
 * cycles: its strongest line is the sine, unless that is what is stated to be there. */
static bool sine_settle(gw_model *model, const gw_block *block, const gw_stimulus *stimulus, double mains_hz,
                        gw_error *error) {
    bool plain = stimulus->shape == GW_SHAPE_SINE && stimulus->frequency_hz == 0 && model->tone && !model->two_tone;
    int order = plain && model->fit.solved ? leading_order(&model->fit) : 1;
    if (order == 1)
        return true;
    gw_coarse coarse = {.signal = model->fit.base[GW_BASE_SIGNAL] * order, .order = 1};
    return start_over(model, error) && start(model, &coarse, error) && extend(model, block, mains_hz, error);
}

/* A tone that was taken for a harmonic, and what shows once it is none. */
static bool apart_settle(gw_model *model, const gw_block *block, const gw_stimulus *stimulus, double mains_hz,
                         gw_error *error) {
    bool moved;
    double lowest = mains_hz > 0 ? mains_hz : 50;
    if (!gw_stray_apart(model, is_open(stimulus), &moved, error))
        return false;
    if (!moved)
        return true;
    return gw_lines_grow(model, error) && ((double)block->count * lowest < GW_MAINS_CYCLES * block->rate_hz ||
                                           mains_see(model, block, mains_hz, error));
}

static bool holds(const gw_model *model, const gw_block *block, const gw_stimulus *stimulus, double mains_hz) {
    return model->fit.solved && !is_wild(&model->fit) && gw_tone_certain(model) && !gw_swing_is(model, stimulus) &&
           !is_hum_alone(model, block, stimulus, mains_hz);
}

static bool model_choose(gw_model *model, const gw_block *block, const gw_stimulus *stimulus, double mains_hz,
                         const gw_hint *hint, gw_error *error) {
    gw_coarse coarse = {.signal = hint ? hint->signal : 0, .order = 1};
    bool pair = false;
    if (!hint && !gw_coarse_find(block, stimulus, mains_hz, &coarse))
        return gw_error_memory(error);
    if (!start(model, &coarse, error))
        return false;
    if (may_be_pair(model, block, stimulus) && !gw_pair_find(model, block, stimulus->shape, &pair, error))
        return false;
    if (model->tone && model->fit.base[GW_BASE_SIGNAL] * (double)block->count < GW_LEAST_APART)
        return slope_instead(model, block, stimulus, &coarse, mains_hz, error);
    if (is_hum_alone(model, block, stimulus, mains_hz)) {
        /* what is stated may stand too near to a line of the mains to be one of its own in the spectrum */
        bool beside = is_mains_below(model, block, stimulus, mains_hz);
        coarse = (gw_coarse){.signal = beside ? stimulus->frequency_hz / block->rate_hz : 0, .order = 1};
        if (!start_over(model, error) || (beside && !start(model, &coarse, error)) ||
            !extend(model, block, mains_hz, error))
            return false;
        return !model->tone || holds(model, block, stimulus, mains_hz) ||
               (start_over(model, error) && extend(model, block, mains_hz, error));
    }
    if (model->tone && !pair && stimulus->shape == GW_SHAPE_SINE && !gw_stray_join(model, block, stimulus, error))
        return false;
    if (!extend(model, block, mains_hz, error) || !sine_settle(model, block, stimulus, mains_hz, error))
        return false;
    if (!pair && !gw_octave_lower(model, stimulus, error))
        return false;
    if (!pair && stimulus->shape != GW_SHAPE_PERIODIC && !apart_settle(model, block, stimulus, mains_hz, error))
        return false;
    if (!pair && stimulus->shape != GW_SHAPE_PERIODIC && !gw_stray_beside(model, block, stimulus, error))
        return false;
    if (!model->tone || holds(model, block, stimulus, mains_hz))
        return true;
    /* what lies between two tones of few cycles soon takes slow things for their products: the tones alone, then */
    if (pair && !gw_pair_find(model, block, stimulus->shape, &pair, error))
        return false;
    if (pair && model->two_tone && holds(model, block, stimulus, mains_hz))
        return true;
    return start_over(model, error) && extend(model, block, mains_hz, error);
}

static bool build(const gw_block *block, const gw_stimulus *stimulus, double mains_hz, const gw_hint *hint,
                  gw_model *model, gw_error *error) {
    *model = (gw_model){.step = block->step};
    if (!gw_fit_begin(&model->fit, block->volts, block->marks, block->count, error))
        return false;
    model->fit.shelf = block->shelf;
    bool done = model_choose(model, block, stimulus, mains_hz, hint, error);
    if (done && model->fit.solved) {
        model->variance = gw_fit_variance(&model->fit);
        /* what rounding leaves is nothing */
        if (gw_fit_exact(&model->fit))
            model->variance = 0;
        model->cycles = model->tone ? model->fit.base[GW_BASE_SIGNAL] * (double)block->count : 0;
        model->inverse = gw_fit_inverse(&model->fit);
        /* what may be hidden is weighed against the noise as it is, and makes the covariance anew */
        gw_colour colour = gw_colour_find(model);
        done = (model->inverse || gw_error_memory(error)) && gw_hidden_add(model, block->rate_hz, mains_hz, error) &&
               gw_colour_join(model, &colour, error);
    }
    if (done && !gw_robust_sigma(model->fit.residual, block->marks, block->count, &model->robust_v))
        done = gw_error_memory(error);
    if (!done)
        gw_model_end(model);
    return done;
}

/* Fewer cycles than this are searched each time. */
static const double hint_cycles = 24;
/* A line that would ask for another fundamental holds 1e-5 of the signal at least: where noise is under this share of
 * it, such a line makes the residual larger by more than what is allowed for. */
static const double hint_noise = 2e-4;
/* What is left of a segment may be so much larger than of the one before: the variance of 2^17 samples scatters by
 * 0.4 %. */
static const double hint_larger = 1.02;

/* Two tones have so much of a comb's power, and the weaker so much of the stronger (RMS). */
static const double pair_most = 0.9, pair_weaker = 0.1;
/* Are two lines of the comb nearly all there is of it, and neither the fundamental? */
static bool is_pair_on_comb(const gw_fit *fit) {
    double first = 0, second = 0, total = 0;
    for (size_t k = 0; k < fit->line_count; k++) {
        const gw_sinusoid *line = &fit->lines[k];
        double power = line->cosine * line->cosine + line->sine * line->sine;
        bool above = line->multiple[GW_BASE_SIGNAL] >= 2;
        total += line->multiple[GW_BASE_SIGNAL] ? power : 0;
        second = above ? fmax(second, fmin(first, power)) : second;
        first = above ? fmax(first, power) : first;
    }
    return first + second > pair_most * total && second > pair_weaker * pair_weaker * first;
}

/* Two tones near the ratio of small numbers look like two lines of one comb until both are fitted. */
static bool pair_settle(const gw_block *block, const gw_stimulus *stimulus, double mains_hz, gw_model *model,
                        gw_error *error) {
    gw_stimulus pair = *stimulus;
    gw_model two;
    pair.shape = GW_SHAPE_TWO_TONE;
    if (!is_open(stimulus) || !model->tone || model->two_tone || !model->fit.solved || gw_fit_exact(&model->fit) ||
        !is_pair_on_comb(&model->fit))
        return true;
    if (!build(block, &pair, mains_hz, NULL, &two, error))
        return false;
    bool apart = two.two_tone && gw_fit_better(&two.fit, model->fit.rss, (double)model->fit.unknowns);
    gw_model_end(apart ? model : &two);
    if (apart)
        *model = two;
    return true;
}

gw_hint gw_model_hint(const gw_model *model) {
    const gw_fit *fit = &model->fit;
    double power = 0;
    for (size_t k = 0; k < fit->line_count; k++)
        power += 0.5 * (fit->lines[k].cosine * fit->lines[k].cosine + fit->lines[k].sine * fit->lines[k].sine);
    bool plain = model->tone && !model->two_tone && !model->stray && !model->mains_signal && fit->solved &&
                 fit->base_free[GW_BASE_SIGNAL] && model->cycles >= hint_cycles;
    if (!plain || !(model->variance > 0) || model->variance > hint_noise * power)
        return (gw_hint){0};
    return (gw_hint){.signal = fit->base[GW_BASE_SIGNAL], .variance = model->variance};
}

bool gw_model_build(const gw_block *block, const gw_stimulus *stimulus, double mains_hz, gw_model *model,
                    gw_error *error) {
    bool hinted = block->hint && block->hint->signal > 0;
    if (!build(block, stimulus, mains_hz, hinted ? block->hint : NULL, model, error))
        return false;
    if (hinted && !(gw_model_hint(model).signal > 0 && model->variance <= hint_larger * block->hint->variance)) {
        gw_model_end(model);
        hinted = false;
        if (!build(block, stimulus, mains_hz, NULL, model, error))
            return false;
    }
    if (hinted || pair_settle(block, stimulus, mains_hz, model, error))
        return true;
    gw_model_end(model);
    return false;
}

bool gw_model_from(const gw_block *block, const gw_stimulus *stimulus, double mains_hz, double signal, gw_model *model,
                   gw_error *error) {
    gw_hint known = {.signal = signal};
    return build(block, stimulus, mains_hz, &known, model, error);
}

void gw_model_end(gw_model *model) {
    gw_fit_end(&model->fit);
    free(model->inverse);
    *model = (gw_model){0};
}

double gw_model_again(const gw_model *model) {
    double low = model->fit.base[GW_BASE_SIGNAL], beat = fabs(model->fit.base[GW_BASE_SECOND] - low);
    if (!model->tone)
        return 0;
    return model->two_tone && beat > 0 ? fmin(low, beat) : low;
}

double gw_model_variance(const gw_model *model, size_t unknown) {
    if (!model->inverse)
        return INFINITY; /* not solved: hardly a sample is there */
    double entry = model->inverse[unknown * model->fit.unknowns + unknown];
    return entry >= 0 ? model->variance * entry : INFINITY; /* below 0 by rounding: nothing determines it */
}

double *gw_model_steady(const gw_model *model) {
    const gw_fit *fit = &model->fit;
    double *clean = malloc(fit->count * sizeof *clean), slope = fit->has_drift ? fit->drift : 0;
    if (!clean)
        return NULL;
    for (size_t i = 0; i < fit->count; i++)
        clean[i] = fit->values[i] - slope * ((double)i - 0.5 * (double)(fit->count - 1));
    for (size_t k = 0; k < fit->line_count; k++)
        if (fit->lines[k].multiple[GW_BASE_MAINS])
            gw_sweep_add(clean, fit->count, gw_fit_frequency(fit, &fit->lines[k]), -fit->lines[k].cosine,
                         -fit->lines[k].sine);
    return clean;
}
