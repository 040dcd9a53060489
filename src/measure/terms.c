#include "measure/terms.h"

#include "measure/gram.h"
#include "measure/solve.h"

#include <stdlib.h>
#include <string.h>

/* ---- the list ------------------------------------------------------------------------------------ */

static void term_add(gw_terms *terms, int part, int network, size_t place, double value) {
    terms->items[terms->count++] = (gw_term){.part = part, .network = network, .place = place, .value = value};
}

/* Cosine and sine of an order of one network. */
static void line_list(const gw_fit *fit, gw_terms *terms, int order, int network) {
    bool here = fit->base[GW_BASE_MAINS] > 0 && network == 0;
    size_t line = here ? gw_fit_find(fit, 0, 0, order) : fit->line_count;
    bool inside = line < fit->line_count;
    int part = order == 1 ? GW_PART_MAINS : GW_PART_TWICE;
    size_t at = inside ? gw_fit_line_at(fit, line) : GW_TERM_OUTSIDE;
    term_add(terms, part, network, at, inside ? fit->lines[line].cosine : 0);
    term_add(terms, part + 1, network, inside ? at + 1 : at, inside ? fit->lines[line].sine : 0);
}

static void terms_list(const gw_fit *fit, gw_terms *terms) {
    terms->count = 0;
    term_add(terms, GW_PART_DRIFT, 0, fit->has_drift ? 1 : GW_TERM_OUTSIDE, fit->has_drift ? fit->drift : 0);
    for (int network = 0; network < 2; network++)
        for (int order = 1; order <= (terms->twice ? 2 : 1) && terms->mains[network] > 0; order++)
            line_list(fit, terms, order, network);
    if (fit->base_free[GW_BASE_MAINS] && fit->base[GW_BASE_MAINS] > 0)
        term_add(terms, GW_PART_NETWORK, 0, gw_fit_base_at(fit, GW_BASE_MAINS),
                 fit->base[GW_BASE_MAINS] - fit->base_near[GW_BASE_MAINS]);
}

/* ---- the normal matrix of all -------------------------------------------------------------------- */

/* The fit's unknowns, and behind them the terms that are not among them. */
typedef struct whole {
    double *matrix; /* lower triangle, order² */
    size_t order;
    size_t at[GW_TERMS_MAX]; /* of each term */
} whole;

static double *entry(const whole *w, size_t row, size_t column) {
    return row > column ? &w->matrix[row * w->order + column] : &w->matrix[column * w->order + row];
}

static double ridge_of(const gw_fit *fit, const gw_term *term) {
    if (term->place == GW_TERM_OUTSIDE)
        return 0;
    if (term->part == GW_PART_DRIFT)
        return fit->drift_ridge;
    if (term->part == GW_PART_NETWORK)
        return fit->base_ridge[GW_BASE_MAINS];
    return fit->lines[gw_fit_find(fit, 0, 0, term->part < GW_PART_TWICE ? 1 : 2)].ridge;
}

static double frequency_of(const gw_terms *terms, const gw_term *term) {
    return terms->mains[term->network] * (term->part < GW_PART_TWICE ? 1 : 2);
}

/* Products of a line outside of the model with the model's columns, and with the terms outside before it. */
static void line_fill(const gw_fit *fit, const gw_terms *terms, size_t term, const whole *w) {
    double frequency = frequency_of(terms, &terms->items[term]), products[4];
    size_t row = w->at[term];
    double *cosines = w->matrix + row * w->order, *sines = cosines + w->order;
    gw_gram_against(fit, frequency, cosines, sines);
    for (size_t k = 0; k < term; k++) {
        const gw_term *other = &terms->items[k];
        if (other->place != GW_TERM_OUTSIDE || other->part == GW_PART_MAINS + 1 || other->part == GW_PART_TWICE + 1)
            continue;
        if (other->part == GW_PART_DRIFT) {
            gw_moments sums;
            gw_moments_of(fit, frequency, &sums);
            *entry(w, row, w->at[k]) = sums.tc;
            *entry(w, row + 1, w->at[k]) = sums.ts;
            continue;
        }
        gw_gram_pair(fit, frequency_of(terms, other), frequency, products);
        *entry(w, row, w->at[k]) = products[0];
        *entry(w, row + 1, w->at[k]) = products[1];
        *entry(w, row, w->at[k] + 1) = products[2];
        *entry(w, row + 1, w->at[k] + 1) = products[3];
    }
    gw_gram_pair(fit, frequency, frequency, products);
    *entry(w, row, row) = products[0];
    *entry(w, row + 1, row) = products[1];
    *entry(w, row + 1, row + 1) = products[3];
}

/* The model's own part, priors taken out. */
static bool model_fill(const gw_fit *fit, const gw_terms *terms, const whole *w) {
    size_t n = fit->unknowns;
    double *own = malloc(n * n * sizeof *own);
    if (!own)
        return false;
    gw_gram_fill(fit, own);
    for (size_t i = 0; i < n; i++)
        memcpy(w->matrix + i * w->order, own + i * n, (i + 1) * sizeof *own);
    for (size_t k = 0; k < terms->count; k++)
        if (terms->items[k].place != GW_TERM_OUTSIDE)
            *entry(w, w->at[k], w->at[k]) -= ridge_of(fit, &terms->items[k]);
    free(own);
    return true;
}

static bool whole_make(const gw_fit *fit, const gw_terms *terms, whole *out) {
    out->order = fit->unknowns;
    for (size_t k = 0; k < terms->count; k++)
        out->at[k] = terms->items[k].place == GW_TERM_OUTSIDE ? out->order++ : terms->items[k].place;
    out->matrix = calloc(out->order * out->order, sizeof *out->matrix);
    if (!out->matrix || !model_fill(fit, terms, out))
        return false;
    for (size_t k = 0; k < terms->count; k++) {
        const gw_term *term = &terms->items[k];
        if (term->place != GW_TERM_OUTSIDE)
            continue;
        if (term->part == GW_PART_DRIFT)
            gw_fit_drift_against(fit, out->matrix + out->at[k] * out->order, entry(out, out->at[k], out->at[k]));
        else if (term->part == GW_PART_MAINS || term->part == GW_PART_TWICE)
            line_fill(fit, terms, k, out);
    }
    return true;
}

/* ---- the terms' part of it ----------------------------------------------------------------------- */

/* Products of the residual with the terms' columns. At the solution those of the model's are what its priors pull. */
static void residual_dots(const gw_fit *fit, const gw_terms *terms, double *out) {
    for (size_t k = 0; k < terms->count; k++) {
        const gw_term *term = &terms->items[k];
        if (term->place != GW_TERM_OUTSIDE)
            out[k] = ridge_of(fit, term) * term->value;
        else if (term->part == GW_PART_DRIFT)
            out[k] = gw_gram_lean(fit->residual, fit->count);
        else if (term->part == GW_PART_MAINS || term->part == GW_PART_TWICE)
            gw_sweep_dot(fit->residual, fit->count, frequency_of(terms, term), &out[k], &out[k + 1]);
    }
}

/* The unknowns that are no terms, their own inverse, and how they lean on the terms. */
static bool others_make(const gw_fit *fit, const whole *w, gw_terms *out) {
    size_t n = 0, m = out->others, count = out->count;
    for (size_t i = 0; i < fit->unknowns; i++) {
        bool term = false;
        for (size_t k = 0; k < count; k++)
            term = term || out->items[k].place == i;
        if (!term)
            out->places[n++] = i;
    }
    double *factor = malloc((m + 1) * m * sizeof *factor);
    if (!factor)
        return false;
    double *column = factor + m * m;
    for (size_t i = 0; i < m; i++)
        for (size_t j = 0; j <= i; j++)
            factor[i * m + j] = *entry(w, out->places[i], out->places[j]);
    if (!gw_solve_factor(factor, m, 1e-13)) {
        free(factor);
        out->count = 0;
        return true;
    }
    gw_solve_inverse(factor, m, out->inverse);
    for (size_t k = 0; k < count; k++) {
        for (size_t i = 0; i < m; i++)
            column[i] = *entry(w, out->places[i], w->at[k]);
        gw_solve_back(factor, m, column);
        for (size_t i = 0; i < m; i++)
            out->lean[i * count + k] = column[i];
    }
    free(factor);
    return true;
}

static void reduce(const gw_fit *fit, const whole *w, gw_terms *out) {
    size_t count = out->count;
    double dots[GW_TERMS_MAX] = {0};
    residual_dots(fit, out, dots);
    out->rest = fit->rss;
    for (size_t k = 0; k < count; k++) {
        out->along[k] = dots[k];
        for (size_t j = 0; j < count; j++) {
            double sum = *entry(w, w->at[k], w->at[j]);
            for (size_t i = 0; i < out->others; i++)
                sum -= *entry(w, out->places[i], w->at[k]) * out->lean[i * count + j];
            out->normal[k * count + j] = sum;
            out->along[k] += sum * out->items[j].value;
        }
    }
    /* about zero instead of about the model's own coefficients */
    for (size_t k = 0; k < count; k++)
        out->rest += (out->along[k] + dots[k]) * out->items[k].value;
}

bool gw_terms_make(const gw_fit *fit, gw_terms *out, gw_error *error) {
    whole w = {0};
    terms_list(fit, out);
    size_t inside = 0;
    for (size_t k = 0; k < out->count; k++)
        inside += out->items[k].place != GW_TERM_OUTSIDE;
    out->others = fit->unknowns - inside;
    out->places = malloc(out->others * sizeof *out->places);
    out->inverse = malloc(out->others * out->others * sizeof *out->inverse);
    out->lean = malloc((out->others * out->count + 1) * sizeof *out->lean);
    bool done = out->places && out->inverse && out->lean && whole_make(fit, out, &w) && others_make(fit, &w, out);
    if (done && out->count > 0)
        reduce(fit, &w, out);
    free(w.matrix);
    if (done)
        return true;
    gw_terms_end(out);
    return gw_error_memory(error);
}

void gw_terms_end(gw_terms *terms) {
    free(terms->places);
    free(terms->inverse);
    free(terms->lean);
    terms->places = NULL;
    terms->inverse = terms->lean = NULL;
    terms->count = 0;
}
