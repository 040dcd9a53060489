#include "measure/model.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { LINES_MAX = 200, ROUNDS_MAX = 40, PRODUCT_ORDER_MAX = 5 };

/* Least cycles between two lines that the record can tell apart well. */
static const double least_apart = 1.2;
/* Cycles of the mains below which hum is not told from DC and drift. */
static const double mains_cycles = 2;

/* Drop of rss over the noise's variance that a line of this order must bring: chance gives more than 8 + 2 ln k once in
 * 55·k lines. */
static double demand(int order) {
    return 8 + 2 * log(order < 1 ? 1 : order);
}

static size_t lines_allowed(const gw_fit *fit) {
    size_t by_samples = fit->present / 6;
    return by_samples < LINES_MAX ? by_samples : LINES_MAX;
}

/* ---- lines by demand ----------------------------------------------------------------------------- */

typedef struct wish {
    int multiple[GW_BASES];
    int order; /* for the threshold */
    double drop;
} wish;

enum { WISHES_MAX = 256 };

typedef struct wishes {
    wish items[WISHES_MAX];
    size_t count;
} wishes;

static void wish_add(const gw_fit *fit, wishes *list, int signal, int second, int mains, int order) {
    gw_sinusoid line = {.multiple = {signal, second, mains}};
    double frequency = gw_fit_frequency(fit, &line);
    if (list->count == WISHES_MAX || frequency <= 0 || frequency * (double)fit->count < least_apart * 0.8 ||
        frequency > 0.5 - 0.5 / (double)fit->count || gw_fit_find(fit, signal, second, mains) < fit->line_count)
        return;
    list->items[list->count++] = (wish){.multiple = {signal, second, mains}, .order = order};
}

/* What every wish would bring now. Lines that the model already has in all but name bring nothing. */
static void wishes_weigh(const gw_fit *fit, wishes *list) {
    for (size_t k = 0; k < list->count; k++) {
        gw_sinusoid line = {0};
        memcpy(line.multiple, list->items[k].multiple, sizeof line.multiple);
        gw_candidate candidate = gw_fit_candidate(fit, gw_fit_frequency(fit, &line));
        list->items[k].drop = candidate.share < 0.02 ? 0 : candidate.drop;
    }
}

static size_t wishes_best(const wishes *list) {
    size_t best = 0;
    for (size_t k = 1; k < list->count; k++)
        if (list->items[k].drop > list->items[best].drop)
            best = k;
    return best;
}

/* Do all wishes together bring far more than noise would, though none alone does? (A narrow pulse: many equal lines.)
 */
static bool crowd(const gw_fit *fit, const wishes *list) {
    double sum = 0, count = (double)list->count;
    for (size_t k = 0; k < list->count; k++)
        sum += list->items[k].drop;
    double spare = (double)fit->present - (double)fit->unknowns - 2 * count;
    if (count < 4 || spare < 8 || sum >= fit->rss)
        return count >= 4 && sum >= fit->rss;
    double noise = (fit->rss - sum) / spare;
    return sum > noise * (2 * count + 8 * sqrt(count) + 20);
}

/* One round: adds the wishes that the record demands. The number added. */
static bool round_add(gw_fit *fit, wishes *list, bool one_by_one, size_t *added, gw_error *error) {
    *added = 0;
    wishes_weigh(fit, list);
    if (!list->count)
        return true;
    double noise = gw_fit_variance(fit);
    const wish *best = &list->items[wishes_best(list)];
    bool many = crowd(fit, list);
    if (!many && !(best->drop > demand(best->order) * noise))
        return true;
    double least = one_by_one ? best->drop : 0.1 * best->drop;
    for (size_t k = 0; k < list->count && fit->line_count < lines_allowed(fit); k++) {
        const wish *w = &list->items[k];
        if (w->drop < least || (!many && !(w->drop > demand(w->order) * noise)))
            continue;
        if (!gw_fit_add(fit, w->multiple[0], w->multiple[1], w->multiple[2], error))
            return false;
        ++*added;
        if (one_by_one)
            break;
    }
    return !*added || gw_fit_solve(fit, error);
}

static void wish_products(const gw_fit *fit, wishes *list) {
    for (int i = -PRODUCT_ORDER_MAX; i <= PRODUCT_ORDER_MAX; i++)
        for (int j = -PRODUCT_ORDER_MAX; j <= PRODUCT_ORDER_MAX; j++)
            if (abs(i) + abs(j) <= PRODUCT_ORDER_MAX)
                wish_add(fit, list, i, j, 0, abs(i) + abs(j));
}

static void wish_harmonics(const gw_fit *fit, wishes *list) {
    for (int order = 2; order <= WISHES_MAX && order * fit->base[GW_BASE_SIGNAL] < 0.5; order++)
        wish_add(fit, list, order, 0, 0, order);
}

/* Adds harmonics (or intermodulation products) until no more are demanded. */
static bool lines_grow(gw_model *model, gw_error *error) {
    gw_fit *fit = &model->fit;
    double cycles = fit->base[GW_BASE_SIGNAL] * (double)fit->count;
    for (int round = 0; round < ROUNDS_MAX; round++) {
        wishes list = {.count = 0};
        if (model->two_tone)
            wish_products(fit, &list);
        else
            wish_harmonics(fit, &list);
        size_t added;
        bool one_by_one = cycles < 5 && fit->line_count < 4 && fit->base_free[GW_BASE_SIGNAL];
        if (!round_add(fit, &list, one_by_one, &added, error))
            return false;
        if (!added || !fit->solved)
            break;
    }
    return true;
}

/* ---- mains --------------------------------------------------------------------------------------- */

static bool near_mains(double frequency_hz, double mains_hz, double duration_s) {
    double order = round(frequency_hz / mains_hz);
    return order >= 1 && fabs(frequency_hz - order * mains_hz) < fmax(0.005 * frequency_hz, least_apart / duration_s) &&
           order <= 2;
}

/* Σ of drops of the mains' first orders at one of its frequencies. */
static double mains_weight(gw_fit *fit, double mains, wishes *list) {
    double sum = 0;
    fit->base[GW_BASE_MAINS] = mains;
    list->count = 0;
    for (int order = 1; order <= GW_MAINS_ORDERS; order++)
        wish_add(fit, list, 0, 0, order, order);
    wishes_weigh(fit, list);
    for (size_t k = 0; k < list->count; k++)
        sum += list->items[k].drop;
    return sum;
}

static bool mains_join(gw_model *model, double rate_hz, double mains_hz, gw_error *error) {
    gw_fit *fit = &model->fit;
    double candidates[2] = {mains_hz > 0 ? mains_hz : 50, mains_hz > 0 ? 0 : 60};
    wishes lists[2];
    double weight[2] = {0, 0};
    for (int k = 0; k < 2; k++)
        if (candidates[k] > 0)
            weight[k] = mains_weight(fit, candidates[k] / rate_hz, &lists[k]);
    int pick = weight[1] > weight[0];
    fit->base[GW_BASE_MAINS] = candidates[pick] / rate_hz;
    double noise = gw_fit_variance(fit), strongest = 0;
    size_t added = 0;
    for (size_t k = 0; k < lists[pick].count; k++) {
        const wish *w = &lists[pick].items[k];
        if (!(w->drop > (demand(w->order) + 2) * noise))
            continue;
        if (!gw_fit_add(fit, 0, 0, w->order, error))
            return false;
        added++;
        strongest = fmax(strongest, w->drop);
    }
    if (!added) {
        fit->base[GW_BASE_MAINS] = 0;
        return true;
    }
    model->mains_hz = candidates[pick];
    fit->base_free[GW_BASE_MAINS] =
        strongest > 50 * noise && fit->base[GW_BASE_MAINS] * (double)fit->count > 2 * mains_cycles;
    return gw_fit_solve(fit, error);
}

/* ---- what may hide -------------------------------------------------------------------------------- */

/* Mean square of a line's two coefficients, as the record suggests it: the variance of a zero-mean prior that its own
 * posterior repeats (empirical Bayes). 0 where there is nothing but noise. */
static double hidden_size(const gw_candidate *line, double noise) {
    double prior = line->cosine * line->cosine + line->sine * line->sine;
    for (int pass = 0; pass < 500 && prior > 0; pass++) {
        double ridge = noise / prior;
        double cc = line->cc + ridge, ss = line->ss + ridge, determinant = cc * ss - line->cs * line->cs;
        double a = (ss * line->c - line->cs * line->s) / determinant;
        double b = (cc * line->s - line->cs * line->c) / determinant;
        double next = 0.5 * (a * a + b * b + noise * (cc + ss) / determinant);
        if (fabs(next - prior) < 0.001 * prior)
            return next;
        prior = next;
    }
    return prior;
}

/* Noise alone must not bring a line in that costs DC its accuracy. */
static const double hum_demand = 24;
/* But from here on (noise alone: one record in five) what may hide joins the uncertainty. */
static const double hiding_demand = 3;

/* A slow bend in the residual, in a record of less than two cycles of the mains, may be hum, and hum leans on DC. The
 * two phases of the mains' sine then join the model, held by a prior of the size that the record itself suggests: DC
 * follows as far as the bend tells, and its covariance grows by what remains hidden. */
static bool hum_hide(gw_model *model, double rate_hz, double mains_hz, gw_error *error) {
    gw_fit *fit = &model->fit;
    double mains = (mains_hz > 0 ? mains_hz : 50) / rate_hz;
    model->mains_short = true;
    gw_candidate candidate = gw_fit_candidate(fit, mains);
    double noise = gw_fit_variance(fit);
    if (!(candidate.drop > hum_demand * noise) || noise <= 0)
        return true;
    /* the noise without it */
    noise = fmax(fit->rss - candidate.drop, 0) / fmax((double)fit->present - (double)fit->unknowns - 2, 1);
    double size = hidden_size(&candidate, noise);
    fit->base[GW_BASE_MAINS] = mains;
    fit->base_free[GW_BASE_MAINS] = false;
    if (!gw_fit_add(fit, 0, 0, 1, error))
        return false;
    fit->lines[fit->line_count - 1].ridge = size > 0 ? noise / size : 0;
    model->mains_hidden = true;
    model->mains_hz = mains * rate_hz;
    return gw_fit_solve(fit, error);
}

/* Adds to the covariance what a line that may be in the residual does to every unknown. */
static bool hiding_grow(gw_model *model, double frequency, double most, gw_error *error) {
    gw_fit *fit = &model->fit;
    gw_candidate candidate = gw_fit_candidate(fit, frequency);
    if (!(candidate.drop > hiding_demand * model->variance) || candidate.drop > most * model->variance)
        return true;
    /* a harmonic that the others imitate is none that anybody would miss */
    if (most < hum_demand && candidate.share < 0.1)
        return true;
    double share = hidden_size(&candidate, model->variance) / model->variance;
    double *by_cosine = malloc(2 * fit->unknowns * sizeof *by_cosine);
    if (!by_cosine)
        return gw_error_memory(error);
    double *by_sine = by_cosine + fit->unknowns;
    gw_fit_leaning(fit, frequency, by_cosine, by_sine);
    for (size_t i = 0; i < fit->unknowns; i++)
        for (size_t j = 0; j < fit->unknowns; j++)
            model->inverse[i * fit->unknowns + j] += share * (by_cosine[i] * by_cosine[j] + by_sine[i] * by_sine[j]);
    free(by_cosine);
    return true;
}

enum { HIDING_ORDERS = 5 };
/* From here on harmonics lean too little on each other to matter. */
static const double leaning_cycles = 8;

static bool hidden_add(gw_model *model, double rate_hz, double mains_hz, gw_error *error) {
    gw_fit *fit = &model->fit;
    bool done = true;
    if (!(model->variance > 0))
        return true;
    if (model->mains_short && !model->mains_hidden)
        done = hiding_grow(model, (mains_hz > 0 ? mains_hz : 50) / rate_hz, hum_demand, error);
    for (int order = 2; order <= HIDING_ORDERS && done && model->tone && model->cycles < leaning_cycles; order++)
        if (gw_fit_find(fit, order, 0, 0) == fit->line_count && order * fit->base[GW_BASE_SIGNAL] < 0.49)
            done = hiding_grow(model, order * fit->base[GW_BASE_SIGNAL], demand(order), error);
    return done;
}

/* ---- octaves ------------------------------------------------------------------------------------- */

static int common_divisor(int one, int other) {
    while (other) {
        int rest = one % other;
        one = other;
        other = rest;
    }
    return one;
}

/* Highest whole number that all lines of the comb are multiples of. A fundamental that was only put there to lead
 * counts where it stands above the noise. */
static int orders_divisor(const gw_fit *fit) {
    double noise = gw_fit_variance(fit);
    int divisor = 0;
    for (size_t k = 0; k < fit->line_count; k++) {
        const gw_sinusoid *line = &fit->lines[k];
        double drop = 0.5 * (line->cosine * line->cosine + line->sine * line->sine) * (double)fit->present;
        if (line->multiple[GW_BASE_SIGNAL] && drop > demand(line->multiple[GW_BASE_SIGNAL]) * noise)
            divisor = common_divisor(divisor, line->multiple[GW_BASE_SIGNAL]);
    }
    return divisor;
}

/* When no odd line came up, the fundamental is an octave (or more) higher than was thought. */
static bool octave_settle(gw_model *model, gw_error *error) {
    gw_fit *fit = &model->fit;
    int divisor = model->two_tone ? 1 : orders_divisor(fit);
    if (divisor < 2)
        return true;
    fit->base[GW_BASE_SIGNAL] *= divisor;
    for (size_t k = fit->line_count; k-- > 0;) {
        int *order = &fit->lines[k].multiple[GW_BASE_SIGNAL];
        if (*order % divisor)
            gw_fit_remove(fit, k);
        else
            *order /= divisor;
    }
    return gw_fit_solve(fit, error);
}

/* ---- the whole ----------------------------------------------------------------------------------- */

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
    memset(fit->base, 0, sizeof fit->base);
    memset(fit->base_free, 0, sizeof fit->base_free);
    model->tone = false;
    model->two_tone = false;
    return gw_fit_solve(fit, error);
}

/* All lines of the signal. A period that was found as such is held until lines are there that can move it. */
static bool signal_grow(gw_model *model, gw_error *error) {
    gw_fit *fit = &model->fit;
    if (!fit->base_free[GW_BASE_SIGNAL]) {
        if (!lines_grow(model, error))
            return false;
        fit->base_free[GW_BASE_SIGNAL] = true;
        if (!gw_fit_solve(fit, error))
            return false;
    }
    return lines_grow(model, error) && octave_settle(model, error) && lines_grow(model, error);
}

static bool extend(gw_model *model, const gw_block *block, double mains_hz, gw_error *error) {
    gw_fit *fit = &model->fit;
    double duration = (double)block->count / block->rate_hz;
    double lowest = mains_hz > 0 ? mains_hz : 50;
    bool long_enough = duration * lowest >= mains_cycles;
    double signal_hz = fit->base[GW_BASE_SIGNAL] * block->rate_hz;
    model->mains_signal = model->tone && (near_mains(signal_hz, mains_hz > 0 ? mains_hz : 50, duration) ||
                                          (mains_hz <= 0 && near_mains(signal_hz, 60, duration)));
    if (long_enough && !model->mains_signal && !mains_join(model, block->rate_hz, mains_hz, error))
        return false;
    if (fit->base[GW_BASE_SIGNAL] > 0 && fit->solved && !signal_grow(model, error))
        return false;
    if (long_enough && !model->mains_signal && !(model->mains_hz > 0) && model->tone &&
        !mains_join(model, block->rate_hz, mains_hz, error))
        return false;
    if (!long_enough && fit->solved && !hum_hide(model, block->rate_hz, mains_hz, error))
        return false;
    return true;
}

/* Is the fundamental (or, where it is weak, its comb) more than noise would show at the best of all frequencies? */
static bool tone_certain(const gw_model *model) {
    const gw_fit *fit = &model->fit;
    double noise = gw_fit_variance(fit), power = 0;
    for (size_t k = 0; k < fit->line_count; k++)
        if (fit->lines[k].multiple[GW_BASE_SIGNAL] || fit->lines[k].multiple[GW_BASE_SECOND])
            power = fmax(power, fit->lines[k].cosine * fit->lines[k].cosine + fit->lines[k].sine * fit->lines[k].sine);
    double drop = 0.5 * power * (double)fit->present;
    return drop > noise * 2 * (log((double)fit->present) + 5);
}

bool gw_model_build(const gw_block *block, const gw_stimulus *stimulus, double mains_hz, gw_model *model,
                    gw_error *error) {
    *model = (gw_model){0};
    gw_coarse coarse;
    if (!gw_coarse_find(block, stimulus, mains_hz, &coarse))
        return gw_error_memory(error);
    if (!gw_fit_begin(&model->fit, block->volts, block->marks, block->count, error))
        return false;
    bool done = start(model, &coarse, error) && extend(model, block, mains_hz, error);
    if (done && model->tone && (!model->fit.solved || !tone_certain(model)))
        done = start_over(model, error) && extend(model, block, mains_hz, error);
    if (done && model->fit.solved) {
        model->variance = gw_fit_variance(&model->fit);
        model->cycles = model->tone ? model->fit.base[GW_BASE_SIGNAL] * (double)block->count : 0;
        model->inverse = gw_fit_inverse(&model->fit);
        done = model->inverse || gw_error_memory(error);
    }
    if (done && model->fit.solved)
        done = hidden_add(model, block->rate_hz, mains_hz, error);
    if (!done)
        gw_model_end(model);
    return done;
}

void gw_model_end(gw_model *model) {
    gw_fit_end(&model->fit);
    free(model->inverse);
    *model = (gw_model){0};
}

double gw_model_variance(const gw_model *model, size_t unknown) {
    return model->variance * model->inverse[unknown * model->fit.unknowns + unknown];
}
