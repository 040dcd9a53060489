#include "measure/beside.h"

#include "measure/certain.h"
#include "measure/demand.h"
#include "measure/hidden.h"
#include "measure/sums.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Noise alone must not bring a line in that costs DC its accuracy. */
static const double hum_demand = 24;
/* But from here on (noise alone: one record in five) what may hide joins the uncertainty. */
static const double hiding_demand = 3;
/* And from here on (noise alone: one in 400) all that it could be is weighed. */
static const double spread_least = 12;

/* What lies beside a line may be this many times what white noise would bring before it counts as coloured. */
static const double colour_least = 2.5;

enum { MAINS_PASSES = 3 };
/* Cycles a record that two lines must be apart. */
static const double told_apart = 1.2;
/* EN 50160: the mains keeps to 1 % during 99.5 % of the year; half as much again. */
static const double mains_strays = 0.015;
/* So many times the noise (rss), a line of the mains can lead the fit of their frequency. */
static const double clearly_there = 50;
/* Half a line's width. */
static const double place_cycles = 0.5;

/* ---- the converter's steps ----------------------------------------------------------------------- */

/* All terms of a rounding quantiser's Bessel series in line give 4.8 times their root mean square of step·0.111/√peak
 * (peak in steps); a record of few samples averages less. Without a signal to spread it all of the error, half a step,
 * can be in one line. Noise before the steps takes it away (Widrow & Kollar 2008). */
double gw_steps_peak(double step, double noise_v, double peak_v, size_t count) {
    if (!(step > 0))
        return 0;
    double ahead = fmax(noise_v * noise_v / (step * step) - 1.0 / 12, 0);
    double coherent = exp(-2 * 9.8696 * ahead);
    double apart = fmin((double)count, 10 * fmax(peak_v / step, 0.3));
    return step * coherent * fmin(0.7, 4.8 / sqrt(12) * sqrt(2 / apart));
}

double gw_steps_drop(const gw_model *model) {
    double peak = 0;
    for (size_t k = 0; k < model->fit.line_count; k++)
        peak = hypot(peak, hypot(model->fit.lines[k].cosine, model->fit.lines[k].sine));
    double line = gw_steps_peak(model->step, sqrt(gw_fit_variance(&model->fit)), peak, model->fit.count);
    return 0.5 * line * line * (double)model->fit.present;
}

/* ---- mains --------------------------------------------------------------------------------------- */

/* 1 on the mains, 2 on twice that; 0 elsewhere. */
static int mains_order(double frequency_hz, double mains_hz, double duration_s) {
    double order = round(frequency_hz / mains_hz);
    double tolerance = fmin(fmax(0.01 * frequency_hz, 0.8 / duration_s), 0.06 * frequency_hz);
    bool on = order >= 1 && order <= 2 && fabs(frequency_hz - order * mains_hz) < tolerance;
    return on ? (int)order : 0;
}

bool gw_mains_on(double frequency_hz, double mains_hz, double duration_s) {
    return mains_hz > 0 ? mains_order(frequency_hz, mains_hz, duration_s)
                        : mains_order(frequency_hz, 50, duration_s) || mains_order(frequency_hz, 60, duration_s);
}

/* Σ of drops of the mains' first orders at one of its frequencies. */
static double mains_weight(gw_fit *fit, double mains, gw_wishes *list) {
    double sum = 0;
    fit->base[GW_BASE_MAINS] = mains;
    list->count = 0;
    for (int order = 1; order <= GW_MAINS_ORDERS; order++)
        gw_wish_add(fit, list, 0, 0, order, order);
    gw_wishes_weigh(fit, list);
    for (size_t k = 0; k < list->count; k++)
        sum += list->items[k].drop;
    return sum;
}

/* Lies a line so near to one of the signal's that the record doesn't tell them apart? Then it is the signal's: a comb
 * of the mains shows elsewhere as well. Of two tones only the tones themselves count. */
bool gw_mains_near_signal(const gw_model *model, double cycles) {
    const gw_fit *fit = &model->fit;
    double base = fit->base[GW_BASE_SIGNAL] * (double)fit->count,
           second = fit->base[GW_BASE_SECOND] * (double)fit->count;
    if (!model->tone)
        return false;
    double order = model->two_tone ? 1 : fmax(round(cycles / base), 1);
    return fabs(cycles - order * base) < fmin(told_apart, 0.25 * base) ||
           (second > 0 && fabs(cycles - second) < told_apart);
}

/* The frequency came loose from the mains: what it followed is something else. */
static bool mains_strayed(const gw_model *model, double rate_hz) {
    double frequency_hz = model->fit.base[GW_BASE_MAINS] * rate_hz;
    return fabs(frequency_hz - model->mains_hz) > mains_strays * model->mains_hz;
}

/* Lets the frequency follow where the lines can lead it. A record of few cycles hardly tells it: there it is held near
 * its nominal value, as networks keep it. */
static void mains_release(gw_fit *fit, double nominal, double strongest, double noise) {
    double cycles = fit->base[GW_BASE_MAINS] * (double)fit->count, keeps = gw_mains_keeps * nominal;
    fit->base_free[GW_BASE_MAINS] = strongest > clearly_there * noise;
    fit->base_near[GW_BASE_MAINS] = nominal;
    fit->base_ridge[GW_BASE_MAINS] = cycles > 2 * GW_MAINS_CYCLES ? 0 : gw_fit_variance(fit) / (keeps * keeps);
}

/* The model without the mains. */
static bool mains_part(gw_model *model, gw_error *error) {
    gw_fit *fit = &model->fit;
    for (size_t k = fit->line_count; k-- > 0;)
        if (fit->lines[k].multiple[GW_BASE_MAINS])
            gw_fit_remove(fit, k);
    gw_fit_base_remove(fit, GW_BASE_MAINS);
    fit->started = false;
    model->mains_hz = 0;
    return gw_fit_solve(fit, error);
}

/* Noise that a line of the mains is tested against. */
static double noise_beside_mains(const gw_fit *fit, int order, double white) {
    double cycles = fit->base[GW_BASE_MAINS] * (double)fit->count;
    if (cycles <= gw_mains_clear)
        return fmax(white, gw_noise_between(fit, order * cycles, cycles));
    double around = gw_noise_demanded(fit, order * cycles, cycles);
    return around > colour_least * white ? around : white;
}

/* Does a line of the mains bring so much that it stands out of noise of this variance? */
static bool hum_stands(int order, double drop, double noise, double steps) {
    return drop > (gw_line_demand(order) + gw_hum_more) * noise + steps;
}

static bool line_put(gw_fit *fit, const gw_wish *w, gw_error *error) {
    if (!gw_fit_add(fit, 0, 0, w->order, error))
        return false;
    fit->lines[fit->line_count - 1].cosine = w->cosine;
    fit->lines[fit->line_count - 1].sine = w->sine;
    return true;
}

/* Adds the lines that stand out of noise as it is beside them; their number. The strongest first hide the weaker, so
 * that another pass may find more. */
static bool mains_add(gw_model *model, const gw_wishes *list, double *strongest, size_t *added, gw_error *error) {
    gw_fit *fit = &model->fit;
    double noise = gw_fit_variance(fit), steps = gw_steps_drop(model);
    double cycles = fit->base[GW_BASE_MAINS] * (double)fit->count;
    *added = 0;
    for (size_t k = 0; k < list->count; k++) {
        const gw_wish *w = &list->items[k];
        double own = noise_beside_mains(fit, w->order, noise);
        if (gw_mains_near_signal(model, w->order * cycles) || !hum_stands(w->order, w->drop, own, steps))
            continue;
        if (!line_put(fit, w, error))
            return false;
        *strongest = fmax(*strongest, w->drop);
        ++*added;
    }
    return *added == 0 || gw_fit_solve(fit, error);
}

static const gw_wish *wish_of(const gw_wishes *list, int order) {
    for (size_t k = 0; k < list->count; k++)
        if (list->items[k].order == order)
            return &list->items[k];
    return NULL;
}

/* Of the residual (rss); of slow noise they take away less. */
static const double both_leave = 0.1;

/* Hum of both low orders, in a record of so few cycles that what one leaves beside it looks like noise to the other
 * until both are in the model; where neither stands out then they leave again. */
static bool mains_add_both(gw_model *model, const gw_wishes *list, double *strongest, size_t *added, gw_error *error) {
    gw_fit *fit = &model->fit;
    double noise = gw_fit_variance(fit), before = fit->rss, steps = gw_steps_drop(model);
    double cycles = fit->base[GW_BASE_MAINS] * (double)fit->count;
    const gw_wish *both[2] = {wish_of(list, 1), wish_of(list, 2)};
    *added = 0;
    for (int k = 0; k < 2; k++)
        if (!both[k] || gw_mains_near_signal(model, both[k]->order * cycles) ||
            !hum_stands(both[k]->order, both[k]->drop, noise, steps))
            return true;
    if (!line_put(fit, both[0], error) || !line_put(fit, both[1], error) || !gw_fit_solve(fit, error))
        return false;
    noise = gw_fit_variance(fit);
    for (size_t k = fit->line_count; k-- > 0;) {
        const gw_sinusoid *line = &fit->lines[k];
        int order = line->multiple[GW_BASE_MAINS];
        double drop = 0.5 * (line->cosine * line->cosine + line->sine * line->sine) * (double)fit->present;
        bool stays = order && hum_stands(order, drop, noise_beside_mains(fit, order, noise), steps);
        *strongest = stays ? fmax(*strongest, drop) : *strongest;
        *added += stays;
    }
    if (*added == 2 && fit->rss < both_leave * before)
        return true;
    *added = 0;
    gw_fit_remove(fit, gw_fit_find(fit, 0, 0, 2));
    gw_fit_remove(fit, gw_fit_find(fit, 0, 0, 1));
    return gw_fit_solve(fit, error);
}

/* Cycles a sample at which the mains are to be looked for: nominal, or in a record so long that a network astray is a
 * whole line off, where its first two orders stand high beyond doubt. Beyond half the rate there is none. */
static double mains_place(const gw_fit *fit, double nominal) {
    if (nominal >= 0.5)
        return nominal;
    double best = nominal, noise = gw_fit_variance(fit), highest = clearly_there * noise;
    int places = (int)ceil(mains_strays * nominal * (double)fit->count / place_cycles);
    for (int k = places > 1 ? -places : 0; places > 1 && k <= places; k++) {
        double at = nominal * (1 + mains_strays * k / places);
        double drop = gw_fit_candidate(fit, at).drop + gw_fit_candidate(fit, 2 * at).drop;
        if (drop > highest) {
            highest = drop;
            best = at;
        }
    }
    return best;
}

/* Passes of weighing and adding, at the frequency that the lines lead to; from `list` on where it has been weighed. */
static bool mains_grow(gw_model *model, gw_wishes *list, bool weighed, double nominal, double strongest, size_t *added,
                       gw_error *error) {
    gw_fit *fit = &model->fit;
    double noise = gw_fit_variance(fit);
    *added = 0;
    for (size_t here = 1, pass = 0; here > 0 && pass < MAINS_PASSES; pass++, *added += here) {
        if (pass > 0 || !weighed)
            mains_weight(fit, fit->base[GW_BASE_MAINS], list);
        if (!mains_add(model, list, &strongest, &here, error))
            return false;
        bool few = fit->base[GW_BASE_MAINS] * (double)fit->count <= gw_mains_clear;
        if (here == 0 && pass == 0 && few && !mains_add_both(model, list, &strongest, &here, error))
            return false;
        if (here == 0)
            continue;
        /* what a frequency beside the right one leaves would pass for higher orders, and miss those that are there */
        mains_release(fit, nominal, strongest, noise);
        if (!gw_fit_solve(fit, error))
            return false;
    }
    return true;
}

bool gw_mains_join(gw_model *model, const gw_block *block, double mains_hz, gw_error *error) {
    if (gw_fit_exact(&model->fit))
        return true;
    gw_fit *fit = &model->fit;
    double candidates[2] = {mains_hz > 0 ? mains_hz : 50, mains_hz > 0 ? 0 : 60}, places[2];
    gw_wishes lists[2];
    double weight[2] = {0, 0};
    double signal_hz = fit->base[GW_BASE_SIGNAL] * block->rate_hz, duration = (double)block->count / block->rate_hz;
    for (int k = 0; k < 2; k++) {
        /* beside a signal on the mains itself all of its multiples are the signal's */
        bool open = candidates[k] > 0 && !(model->tone && mains_order(signal_hz, candidates[k], duration) == 1);
        places[k] = open ? mains_place(fit, candidates[k] / block->rate_hz) : 0;
        weight[k] = places[k] > 0 ? mains_weight(fit, places[k], &lists[k]) : 0;
    }
    int pick = weight[1] > weight[0];
    size_t added = 0;
    fit->base[GW_BASE_MAINS] = places[pick];
    if (places[pick] > 0 && !mains_grow(model, &lists[pick], true, places[pick], 0, &added, error))
        return false;
    if (!added) {
        gw_fit_base_remove(fit, GW_BASE_MAINS);
        return true;
    }
    model->mains_hz = candidates[pick];
    return !mains_strayed(model, block->rate_hz) || mains_part(model, error);
}

bool gw_mains_again(gw_model *model, const gw_block *block, double mains_hz, gw_error *error) {
    gw_fit *fit = &model->fit;
    if (gw_fit_exact(fit))
        return true;
    if (!fit->base_free[GW_BASE_MAINS])
        return mains_part(model, error) && gw_mains_join(model, block, mains_hz, error);
    gw_wishes list;
    size_t added;
    double strongest = 0;
    for (size_t k = 0; k < fit->line_count; k++)
        if (fit->lines[k].multiple[GW_BASE_MAINS])
            strongest = fmax(
                strongest, 0.5 * (double)fit->present *
                               (fit->lines[k].cosine * fit->lines[k].cosine + fit->lines[k].sine * fit->lines[k].sine));
    return mains_grow(model, &list, false, model->mains_hz / block->rate_hz, strongest, &added, error) &&
           (!mains_strayed(model, block->rate_hz) || mains_part(model, error));
}

/* ---- noise that is not white ----------------------------------------------------------------------- */

/* Noise of a limited band, sampled many times faster than it moves, brings every slow line and DC itself more than its
 * samples' variance says: as much as the frequencies around bring. Below this ratio the few of them scatter anyway. */
static const double coloured = 4;

double gw_noise_slow(const gw_fit *fit) {
    static const double cycles[] = {2.5, 3.5, 4.5, 5.5, 7, 9, 11, 14};
    double white = gw_fit_variance(fit), sum = 0, count = 0;
    for (size_t k = 0; k < sizeof cycles / sizeof *cycles; k++) {
        gw_candidate candidate = gw_fit_candidate(fit, cycles[k] / (double)fit->count);
        if (candidate.share < 0.1)
            continue;
        sum += candidate.drop;
        count++;
    }
    double slow = count >= 4 ? 0.5 * sum / count : 0;
    return slow > coloured * white ? slow : white;
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

/* In a smaller part of a mains cycle than this, a bend says nothing of the size of a hum: noise bends likewise. */
static const double hidden_cycles = 0.08;

bool gw_dc_among_samples(const gw_fit *fit) {
    gw_extent all = gw_extent_of(fit->values, NULL, fit->marks, fit->count);
    return fit->dc >= all.low && fit->dc <= all.high;
}

/* Takes the hum out of the model again; what it could be goes into the covariance instead. */
static bool hum_beside(gw_model *model, gw_error *error) {
    gw_fit *fit = &model->fit;
    gw_fit_remove(fit, fit->line_count - 1);
    fit->base[GW_BASE_MAINS] = 0;
    model->mains_hidden = false;
    model->mains_hz = 0;
    model->mains_bend = true;
    return gw_fit_solve(fit, error);
}

/* Takes a line of the mains that was tried out again: noise of a limited band bends likewise. */
static bool hum_refuse(gw_model *model, double slow, gw_error *error) {
    gw_fit *fit = &model->fit;
    gw_fit_remove(fit, fit->line_count - 1);
    fit->base[GW_BASE_MAINS] = 0;
    model->slow = slow;
    return gw_fit_solve(fit, error);
}

bool gw_hum_hide(gw_model *model, double rate_hz, double mains_hz, gw_error *error) {
    gw_fit *fit = &model->fit;
    double mains = (mains_hz > 0 ? mains_hz : 50) / rate_hz;
    model->mains_short = true;
    gw_candidate candidate = gw_fit_candidate(fit, mains);
    double noise = gw_fit_variance(fit);
    if (!(candidate.drop > hum_demand * noise) || noise <= 0 || gw_fit_exact(fit))
        return true;
    if (mains * (double)fit->count < hidden_cycles) {
        model->mains_bend = true;
        return true;
    }
    /* the noise without it */
    noise = fmax(fit->rss - candidate.drop, 0) / fmax((double)fit->present - (double)fit->unknowns - 2, 1);
    fit->base[GW_BASE_MAINS] = mains;
    fit->base_free[GW_BASE_MAINS] = false;
    if (!gw_fit_add(fit, 0, 0, 1, error) || !gw_fit_solve(fit, error))
        return false;
    double slow = fit->solved ? gw_noise_slow(fit) : 0;
    if (slow > coloured * noise && candidate.drop < coloured * hum_demand * slow)
        return hum_refuse(model, slow, error);
    double size = hidden_size(&candidate, noise);
    fit->lines[fit->line_count - 1].ridge = size > 0 ? noise / size : 0;
    model->mains_hidden = true;
    model->mains_hz = mains * rate_hz;
    if (!gw_fit_solve(fit, error))
        return false;
    return gw_dc_among_samples(fit) || hum_beside(model, error);
}

/* Adds to the covariance what a line that may be in the residual does to every unknown. */
static bool hiding_grow(gw_model *model, double frequency, double most, gw_error *error) {
    gw_fit *fit = &model->fit;
    gw_candidate candidate = gw_fit_candidate(fit, frequency);
    double noise = fmax(model->slow, model->variance);
    if (!(candidate.drop > hiding_demand * noise) || candidate.drop > most * noise)
        return true;
    /* a harmonic that the others imitate is none that anybody would miss */
    if (most < hum_demand && candidate.share < 0.1)
        return true;
    return gw_hidden_line(model, frequency, hidden_size(&candidate, noise) / model->variance, error);
}

bool gw_mains_twice_hidden(const gw_model *model) {
    const gw_fit *fit = &model->fit;
    return model->mains_signal && model->mains_hz > 0 && gw_fit_find(fit, 0, 0, 2) == fit->line_count &&
           gw_mains_near_signal(model, 2 * fit->base[GW_BASE_MAINS] * (double)fit->count);
}

/* Rectifiers hum at twice the mains, and what is seen at the mains and its further multiples tells how strongly: as
 * much as all of that may be in a signal that stands there. */
static bool twice_grow(gw_model *model, gw_error *error) {
    const gw_fit *fit = &model->fit;
    double power = 0;
    if (!gw_mains_twice_hidden(model))
        return true;
    for (size_t k = 0; k < fit->line_count; k++)
        if (fit->lines[k].multiple[GW_BASE_MAINS])
            power += 0.5 * (fit->lines[k].cosine * fit->lines[k].cosine + fit->lines[k].sine * fit->lines[k].sine);
    return gw_hidden_line(model, 2 * fit->base[GW_BASE_MAINS], power / model->variance, error);
}

enum { HIDING_ORDERS = 5 };
/* From here on harmonics lean too little on each other to matter. */
static const double leaning_cycles = 8;

/* Does the record show a slope or hum, or may it? Below, noise alone shows as much once in a few records. */
static bool may_be_spread(const gw_model *model, double rate_hz, double mains_hz) {
    return model->fit.has_drift || model->mains_hidden || gw_hidden_shown(model, rate_hz, mains_hz) > spread_least;
}

bool gw_hidden_add(gw_model *model, double rate_hz, double mains_hz, gw_error *error) {
    gw_fit *fit = &model->fit;
    bool done = true;
    if (!(model->variance > 0))
        return true;
    if (!model->tone && !model->coloured)
        model->inverse[0] *= fmax(1, gw_noise_slow(fit) / model->variance);
    if (model->tone && model->mains_short && may_be_spread(model, rate_hz, mains_hz))
        done = gw_hidden_spread(model, rate_hz, mains_hz, error);
    else if (model->mains_short && !model->mains_hidden)
        done = hiding_grow(model, (mains_hz > 0 ? mains_hz : 50) / rate_hz, model->mains_bend ? INFINITY : hum_demand,
                           error);
    done = done && twice_grow(model, error);
    for (int order = 2; order <= HIDING_ORDERS && done && model->tone && model->cycles < leaning_cycles; order++)
        if (gw_fit_find(fit, order, 0, 0) == fit->line_count && order * fit->base[GW_BASE_SIGNAL] < 0.49)
            done = hiding_grow(model, order * fit->base[GW_BASE_SIGNAL], gw_line_demand(order), error);
    return done;
}

bool gw_drift_join(gw_model *model, gw_error *error) {
    gw_fit *fit = &model->fit;
    double slope, variance;
    gw_fit_slope(fit, &slope, &variance);
    if (gw_fit_exact(fit) || !(variance > 0) || slope * slope < hum_demand * variance * gw_fit_variance(fit))
        return true;
    fit->has_drift = true;
    return gw_fit_solve(fit, error);
}

bool gw_drift_leave(gw_model *model, gw_error *error) {
    gw_fit *fit = &model->fit;
    double slope, variance;
    gw_fit_slope(fit, &slope, &variance);
    if (slope * slope >= hum_demand * variance * gw_fit_variance(fit))
        return true;
    fit->has_drift = false;
    fit->drift = 0;
    return gw_fit_solve(fit, error);
}
