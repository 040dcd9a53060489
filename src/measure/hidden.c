#include "measure/hidden.h"

#include "measure/beside.h"
#include "measure/odds.h"
#include "measure/sums.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Drop of rss over the noise from which on a term joins: from noise alone never, as it would cost DC its accuracy. */
static const double shown_least = 40;
/* Coloured noise may be so many times what is seen of it. */
static const double coloured = 4;
/* Odds of hum from here on are told. */
static const double may_be_hum = 0.05;
/* Of what the tone leaves, the share that the terms must not leave while its harmonics are still to come. */
static const double fresh_left = 0.5;
/* In a smaller part of a mains cycle than this, hum is a slope and a bend, and its size anybody's guess: it is not put
 * in the model. */
static const double hidden_cycles = 0.08;
/* Of a line, what the signal's unknowns can't imitate, at least. */
static const double least_share = 1e-8;
/* From here on the frequency of the mains matters, and is fitted along. */
static const double network_cycles = 0.1;

/* So many cycles of a tone are no slow noise's swing. */
static const double few_cycles = 1.8;

enum { ROUNDS = 3 };
static const double two_pi = 6.28318530717958647692;

static double extent_of(const gw_fit *fit) {
    gw_extent all = gw_extent_of(fit->values, NULL, fit->marks, fit->count);
    return all.high - all.low;
}

/* The two frequencies that the mains may have, that of the model first; cycles a sample. */
static void networks(const gw_fit *fit, double rate_hz, double mains_hz, double out[2]) {
    out[0] = (mains_hz > 0 ? mains_hz : 50) / rate_hz;
    out[1] = mains_hz > 0 ? 0 : 60 / rate_hz;
    double here = fit->base_free[GW_BASE_MAINS] ? fit->base_near[GW_BASE_MAINS] : fit->base[GW_BASE_MAINS];
    if (here > 0 && out[1] > 0 && fabs(here - out[1]) < fabs(here - out[0])) {
        double other = out[0];
        out[0] = out[1];
        out[1] = other;
    }
    if (here > 0)
        out[0] = fit->base[GW_BASE_MAINS];
}

/* Drop of rss by a line; what the signal imitates down to rounding errors does not count. */
static double drop_of(const gw_candidate *line, double ridge) {
    double cc = line->cc + ridge, ss = line->ss + ridge, determinant = cc * ss - line->cs * line->cs;
    double sum = ss * line->c * line->c - 2 * line->cs * line->c * line->s + cc * line->s * line->s;
    return determinant > 0 ? sum / determinant : 0;
}

double gw_hidden_shown(const gw_model *model, double rate_hz, double mains_hz) {
    const gw_fit *fit = &model->fit;
    double mains = (mains_hz > 0 ? mains_hz : 50) / rate_hz, slope, variance, noise = gw_fit_variance(fit);
    if (!(noise > 0) || gw_fit_exact(fit))
        return 0;
    gw_fit_slope(fit, &slope, &variance);
    double drop = variance > 0 && !fit->has_drift ? slope * slope / variance : 0;
    for (int order = 1; order <= 2; order++) {
        gw_candidate line = gw_fit_candidate(fit, order * mains);
        drop = fmax(drop, drop_of(&line, least_share * (double)fit->present));
    }
    return drop / noise;
}

static bool terms_of(const gw_model *model, double rate_hz, double mains_hz, gw_terms *terms, gw_error *error) {
    const gw_fit *fit = &model->fit;
    networks(fit, rate_hz, mains_hz, terms->mains);
    terms->twice = !gw_mains_near_signal(model, 2 * terms->mains[0] * (double)fit->count);
    return gw_terms_make(fit, terms, error);
}

static double keeps_of(const gw_terms *terms) {
    return gw_mains_keeps * terms->mains[0];
}

/* ---- the model's terms --------------------------------------------------------------------------- */

static void drift_set(gw_fit *fit, double scale, double noise) {
    double slope = scale / (double)fit->count;
    fit->has_drift = scale > 0;
    fit->drift_ridge = scale > 0 ? noise / (slope * slope) : 0;
    fit->drift = scale > 0 ? fit->drift : 0;
}

static bool line_set(gw_fit *fit, int order, double scale, double noise, gw_error *error) {
    size_t line = gw_fit_find(fit, 0, 0, order);
    if (!(scale > 0)) {
        if (line < fit->line_count)
            gw_fit_remove(fit, line);
        return true;
    }
    if (line == fit->line_count && !gw_fit_add(fit, 0, 0, order, error))
        return false;
    fit->lines[line].ridge = noise / (scale * scale);
    return true;
}

/* Brings the model to the likeliest hypothesis. */
static bool terms_set(gw_model *model, const gw_terms *terms, const gw_odds *odds, gw_error *error) {
    gw_fit *fit = &model->fit;
    double mains = terms->mains[odds->network], cycles = mains * (double)fit->count, keeps = keeps_of(terms);
    bool hum = cycles > hidden_cycles;
    /* hum that is not put in is a slope all the same, of this from end to end; under a cycle or two of a tone, though,
     * a slope makes one of any slow noise */
    bool under_few = fit->base[GW_BASE_SIGNAL] * (double)fit->count < few_cycles;
    double sloping =
        hum || under_few ? 0 : two_pi * cycles * hypot(odds->scale[GW_KIND_MAINS], 2 * odds->scale[GW_KIND_TWICE]);
    drift_set(fit, hypot(odds->scale[GW_KIND_DRIFT], sloping), odds->noise);
    if (!line_set(fit, 1, hum ? odds->scale[GW_KIND_MAINS] : 0, odds->noise, error) ||
        !line_set(fit, 2, hum ? odds->scale[GW_KIND_TWICE] : 0, odds->noise, error))
        return false;
    model->mains_hidden = gw_fit_find(fit, 0, 0, 1) < fit->line_count || gw_fit_find(fit, 0, 0, 2) < fit->line_count;
    if (!model->mains_hidden)
        gw_fit_base_remove(fit, GW_BASE_MAINS);
    else if (odds->network == 1 || !(fit->base[GW_BASE_MAINS] > 0)) {
        fit->base[GW_BASE_MAINS] = fit->base_near[GW_BASE_MAINS] = mains;
        fit->base_free[GW_BASE_MAINS] = cycles > network_cycles;
    }
    fit->base_ridge[GW_BASE_MAINS] = model->mains_hidden ? odds->noise / (keeps * keeps) : 0;
    return gw_fit_solve(fit, error);
}

/* The model without hum; what that may be goes into the covariance alone. */
static bool hum_part(gw_model *model, gw_error *error) {
    gw_fit *fit = &model->fit;
    for (int order = 1; order <= 2; order++)
        if (!line_set(fit, order, 0, 0, error))
            return false;
    gw_fit_base_remove(fit, GW_BASE_MAINS);
    model->mains_hidden = false;
    return gw_fit_solve(fit, error);
}

/* Is the model of the likeliest hypothesis already? */
static bool settled(const gw_odds *odds, const gw_odds *before) {
    for (int kind = 0; kind < GW_KINDS; kind++)
        if (odds->scale[kind] != before->scale[kind])
            return false;
    return odds->network == 0;
}

/* The noise that a term must stand out of: where it is coloured the few frequencies that were looked at tell it to
 * within a factor. */
static double slow_noise(const gw_fit *fit) {
    double white = gw_fit_variance(fit), slow = gw_noise_slow(fit);
    return slow > white ? coloured * slow : white;
}

/* Where the settling has come to. */
typedef struct course {
    gw_odds odds; /* what the model was brought to last */
    double least; /* variance that the noise has, as seen with the terms in the model */
    bool fresh, done;
} course;

/* One round: weighs the terms and brings the model to them. */
static bool round_settle(gw_model *model, double rate_hz, double mains_hz, course *c, gw_error *error) {
    gw_fit *fit = &model->fit;
    gw_terms terms;
    gw_odds odds = {0};
    if (fit->has_drift || model->mains_hidden)
        c->least = slow_noise(fit);
    if (!terms_of(model, rate_hz, mains_hz, &terms, error))
        return false;
    if (terms.count > 0)
        gw_odds_weigh(&terms, fit, extent_of(fit), c->least, keeps_of(&terms), &odds);
    c->done =
        terms.count == 0 || settled(&odds, &c->odds) || (c->fresh && odds.noise > fresh_left * gw_fit_variance(fit));
    bool held = c->done || terms_set(model, &terms, &odds, error);
    c->odds = odds;
    c->fresh = false;
    gw_terms_end(&terms);
    return held;
}

bool gw_hidden_settle(gw_model *model, double rate_hz, double mains_hz, bool fresh, gw_error *error) {
    gw_fit *fit = &model->fit;
    course c = {.fresh = fresh};
    bool inside = fit->has_drift || model->mains_hidden;
    model->mains_short = true;
    if (!inside && !(gw_hidden_shown(model, rate_hz, mains_hz) > shown_least))
        return true;
    for (int round = 0; round < ROUNDS && !c.done && fit->solved && !gw_fit_exact(fit); round++)
        if (!round_settle(model, rate_hz, mains_hz, &c, error))
            return false;
    model->mains_hz = model->mains_hidden ? fit->base[GW_BASE_MAINS] * rate_hz : 0;
    if (!fit->has_drift && !model->mains_hidden && c.least > gw_fit_variance(fit))
        model->slow = c.least / coloured;
    return gw_dc_among_samples(fit) || !model->mains_hidden || hum_part(model, error);
}

/* ---- the covariance ------------------------------------------------------------------------------ */

bool gw_hidden_line(gw_model *model, double frequency, double share, gw_error *error) {
    const gw_fit *fit = &model->fit;
    size_t n = fit->unknowns;
    double *by_cosine = malloc(2 * n * sizeof *by_cosine);
    if (!by_cosine)
        return gw_error_memory(error);
    double *by_sine = by_cosine + n;
    gw_fit_leaning(fit, frequency, by_cosine, by_sine);
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j < n; j++)
            model->inverse[i * n + j] += share * (by_cosine[i] * by_cosine[j] + by_sine[i] * by_sine[j]);
    free(by_cosine);
    return true;
}

/* How much every unknown of the fit moves with each term. */
static void moves_fill(const gw_terms *t, double *moves) {
    for (size_t i = 0; i < t->others; i++)
        for (size_t k = 0; k < t->count; k++)
            moves[t->places[i] * t->count + k] = -t->lean[i * t->count + k];
    for (size_t j = 0; j < t->count; j++)
        for (size_t k = 0; k < t->count && t->items[j].place != GW_TERM_OUTSIDE; k++)
            moves[t->items[j].place * t->count + k] = t->items[j].part == t->items[k].part;
}

static void spread_put(gw_model *model, const gw_terms *t, const gw_odds *odds, const double *moves) {
    size_t n = model->fit.unknowns;
    memset(model->inverse, 0, n * n * sizeof *model->inverse);
    for (size_t i = 0; i < t->others; i++)
        for (size_t j = 0; j < t->others; j++)
            model->inverse[t->places[i] * n + t->places[j]] = t->inverse[i * t->others + j];
    for (size_t i = 0; i < n; i++)
        for (size_t k = 0; k < t->count; k++) {
            double row = 0;
            for (size_t l = 0; l < t->count; l++)
                row += moves[i * t->count + l] * odds->spread[l * t->count + k];
            for (size_t j = 0; j < n; j++)
                model->inverse[i * n + j] += row * moves[j * t->count + k] / model->variance;
        }
}

bool gw_hidden_spread(gw_model *model, double rate_hz, double mains_hz, gw_error *error) {
    gw_fit *fit = &model->fit;
    gw_terms terms;
    if (!terms_of(model, rate_hz, mains_hz, &terms, error))
        return false;
    double *moves = calloc(fit->unknowns * (terms.count + 1), sizeof *moves);
    if (moves && terms.count > 0) {
        gw_odds odds;
        gw_odds_weigh(&terms, fit, extent_of(fit), fmax(model->slow, model->variance), keeps_of(&terms), &odds);
        moves_fill(&terms, moves);
        spread_put(model, &terms, &odds, moves);
        model->hum_possible = odds.hum > may_be_hum;
        memcpy(model->hum_power, odds.power, sizeof odds.power);
        memcpy(model->u_hum_power, odds.u_power, sizeof odds.u_power);
    }
    gw_terms_end(&terms);
    bool done = moves != NULL || gw_error_memory(error);
    free(moves);
    return done;
}
