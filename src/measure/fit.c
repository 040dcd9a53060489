#include "measure/fit.h"

#include "measure/gram.h"
#include "measure/passes.h"
#include "measure/presence.h"
#include "measure/solve.h"
#include "measure/sweep.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { STEPS_MAX = 30, HALVINGS_MAX = 8 };

/* Residuals under this share of the signal are the arithmetic's own. */
static const double rounding = 1e-12;

/* What a step gains at least, in variances of a sample. */
static const double far_under = 1e-8;

/* A column whose part outside the others is under this share of itself can't be told from them. */
static const double least_pivot = 1e-11;

static bool present_at(const gw_fit *fit, size_t i) {
    return !fit->marks || fit->marks[i] == 0;
}

static bool runs_find(gw_fit *fit) {
    size_t capacity = 0;
    if (!fit->marks && fit->count > 0) {
        fit->present = fit->count;
        fit->total = gw_gram_dot(fit->values, fit->values, fit->count);
        if (!GW_GROW(fit->runs, fit->run_count, capacity))
            return false;
        fit->runs[fit->run_count++] = (gw_run){.start = 0, .length = fit->count};
        return true;
    }
    for (size_t i = 0; i < fit->count; i++) {
        if (!present_at(fit, i))
            continue;
        fit->present++;
        fit->total += fit->values[i] * fit->values[i];
        if (fit->run_count && fit->runs[fit->run_count - 1].start + fit->runs[fit->run_count - 1].length == i) {
            fit->runs[fit->run_count - 1].length++;
            continue;
        }
        if (!GW_GROW(fit->runs, fit->run_count, capacity))
            return false;
        fit->runs[fit->run_count++] = (gw_run){.start = i, .length = 1};
    }
    return true;
}

/* Records from this length on are asked after low frequencies at a lower rate. */
enum { SLOW_FROM = 4096 };

static bool slow_begin(gw_fit *fit) {
    if (fit->count < SLOW_FROM)
        return true;
    fit->slow = malloc(sizeof *fit->slow);
    return fit->slow && gw_slow_begin(fit->slow, fit->count);
}

static bool presence_begin(gw_fit *fit) {
    if (fit->run_count < GW_MANY_RUNS)
        return true;
    fit->presence = gw_presence_new();
    return fit->presence != NULL;
}

/* What lines are handed on by, for as many as there is room for now. */
static bool sweeps_grow(gw_fit *fit) {
    gw_sweeper_free(fit->sweeper);
    fit->sweeper = NULL;
    gw_sweep *sweeps = realloc(fit->sweeps, (2 * fit->line_capacity + 1) * sizeof *sweeps);
    if (!sweeps)
        return false;
    fit->sweeps = sweeps;
    fit->sweeper = gw_sweeper_room(fit->line_capacity, fit->count);
    return fit->sweeper != NULL;
}

bool gw_fit_begin(gw_fit *fit, const double *values, const unsigned char *marks, size_t count, gw_error *error) {
    *fit = (gw_fit){.values = values, .marks = marks, .count = count, .error = error};
    fit->residual = calloc(count ? count : 1, sizeof *fit->residual);
    if (!fit->residual || !runs_find(fit) || !slow_begin(fit) || !presence_begin(fit) || !sweeps_grow(fit)) {
        gw_fit_end(fit);
        return gw_error_memory(error);
    }
    return true;
}

void gw_fit_end(gw_fit *fit) {
    free(fit->lines);
    free(fit->sweeps);
    gw_sweeper_free(fit->sweeper);
    free(fit->residual);
    free(fit->factor);
    free(fit->special);
    free(fit->runs);
    if (fit->slow)
        gw_slow_end(fit->slow);
    free(fit->slow);
    gw_presence_free(fit->presence);
    *fit = (gw_fit){0};
}

bool gw_fit_add(gw_fit *fit, int signal, int second, int mains, gw_error *error) {
    size_t before = fit->line_capacity;
    if (!GW_GROW(fit->lines, fit->line_count, fit->line_capacity))
        return gw_error_memory(error);
    if ((fit->line_capacity != before || !fit->sweeper) && !sweeps_grow(fit))
        return gw_error_memory(error);
    fit->lines[fit->line_count++] = (gw_sinusoid){.multiple = {signal, second, mains}};
    fit->solved = false;
    return true;
}

void gw_fit_remove(gw_fit *fit, size_t line) {
    memmove(fit->lines + line, fit->lines + line + 1, (fit->line_count - line - 1) * sizeof *fit->lines);
    fit->line_count--;
    fit->solved = false;
}

void gw_fit_base_remove(gw_fit *fit, int base) {
    fit->base[base] = fit->base_ridge[base] = 0;
    fit->base_free[base] = false;
}

size_t gw_fit_find(const gw_fit *fit, int signal, int second, int mains) {
    size_t k = 0;
    while (k < fit->line_count &&
           (fit->lines[k].multiple[GW_BASE_SIGNAL] != signal || fit->lines[k].multiple[GW_BASE_SECOND] != second ||
            fit->lines[k].multiple[GW_BASE_MAINS] != mains))
        k++;
    return k;
}

double gw_fit_frequency(const gw_fit *fit, const gw_sinusoid *line) {
    double frequency = 0;
    for (int g = 0; g < GW_BASES; g++)
        frequency += line->multiple[g] * fit->base[g];
    return frequency;
}

size_t gw_fit_line_at(const gw_fit *fit, size_t line) {
    return (fit->has_drift ? 2u : 1u) + 2 * line;
}

size_t gw_fit_base_at(const gw_fit *fit, int base) {
    size_t at = gw_fit_line_at(fit, fit->line_count);
    for (int g = 0; g < base; g++)
        at += fit->base_free[g] ? 1 : 0;
    return at;
}

/* ---- one step ------------------------------------------------------------------------------------ */

/* What the fit makes small: rss and, where there are priors, what the coefficients cost. */
static double cost_of(const gw_fit *fit) {
    double cost = fit->rss;
    for (size_t k = 0; k < fit->line_count; k++) {
        const gw_sinusoid *line = &fit->lines[k];
        cost += line->ridge * (line->cosine * line->cosine + line->sine * line->sine);
    }
    for (int g = 0; g < GW_BASES; g++)
        cost += fit->base_ridge[g] * (fit->base[g] - fit->base_near[g]) * (fit->base[g] - fit->base_near[g]);
    return cost + fit->drift_ridge * fit->drift * fit->drift;
}

static bool room_make(gw_fit *fit, const bool base_free[GW_BASES], gw_error *error) {
    fit->special_count = 0;
    if (fit->has_drift)
        fit->special_of[fit->special_count++] = GW_SPECIAL_DRIFT;
    for (int g = 0; g < GW_BASES; g++) {
        fit->base_free[g] = base_free[g] && fit->base[g] > 0;
        if (fit->base_free[g])
            fit->special_of[fit->special_count++] = g;
    }
    fit->unknowns = 1 + 2 * fit->line_count + fit->special_count;
    if (fit->unknowns > 1u << 14)
        return gw_error_memory(error);
    free(fit->factor);
    fit->factor = malloc(fit->unknowns * fit->unknowns * sizeof *fit->factor);
    free(fit->special);
    fit->special = malloc((fit->special_count * GW_SWEEP_PART + 1) * sizeof *fit->special);
    return (fit->factor && fit->special) || gw_error_memory(error);
}

/* Jᵀ·residual, less the priors' pull. */
static void gradient(const gw_fit *fit, double *out) {
    out[0] = fit->residual_total;
    for (size_t k = 0; k < fit->line_count; k++) {
        const gw_sinusoid *line = &fit->lines[k];
        double *at = out + gw_fit_line_at(fit, k);
        at[0] = fit->sweeps[k].cosine - line->ridge * line->cosine;
        at[1] = fit->sweeps[k].sine - line->ridge * line->sine;
    }
    for (size_t k = 0; k < fit->special_count; k++) {
        int base = fit->special_of[k];
        if (base == GW_SPECIAL_DRIFT)
            out[1] = fit->special_sums[k].along - fit->drift_ridge * fit->drift;
        else
            out[fit->unknowns - fit->special_count + k] =
                fit->special_sums[k].along - fit->base_ridge[base] * (fit->base[base] - fit->base_near[base]);
    }
}

static void step_apply(gw_fit *fit, const double *step, double scale) {
    fit->dc += scale * step[0];
    if (fit->has_drift)
        fit->drift += scale * step[1];
    for (size_t k = 0; k < fit->line_count; k++) {
        fit->lines[k].cosine += scale * step[gw_fit_line_at(fit, k)];
        fit->lines[k].sine += scale * step[gw_fit_line_at(fit, k) + 1];
    }
    for (int g = 0; g < GW_BASES; g++)
        if (fit->base_free[g])
            fit->base[g] += scale * step[gw_fit_base_at(fit, g)];
}

/* No base may leave (0, 1/2), nor move by more than the width of a spectral line at once. */
static double step_limit(const gw_fit *fit, const double *step) {
    double scale = 1;
    for (int g = 0; g < GW_BASES; g++) {
        if (!fit->base_free[g])
            continue;
        double move = fabs(step[gw_fit_base_at(fit, g)]), most = 0.4 / (double)fit->count;
        most = fmin(most, 0.2 * fit->base[g]);
        if (move * scale > most)
            scale = most / move;
    }
    return scale;
}

/* Goes along `step`, halved until the residual shrinks. Returns the change that was predicted, 0 when none was found.
 */
static double step_take(gw_fit *fit, const double *step, double promise) {
    double before = cost_of(fit), scale = step_limit(fit, step);
    step_apply(fit, step, scale);
    gw_passes_residual(fit);
    for (int halving = 0; halving < HALVINGS_MAX; halving++) {
        /* rounding alone must not send it back */
        if (cost_of(fit) <= before * (1 + 1e-13) + 1e-300)
            return promise;
        step_apply(fit, step, -0.5 * scale);
        scale *= 0.5;
        gw_passes_residual(fit);
    }
    return 0;
}

/* What is so far under the noise that it is not gone after. */
static double least_gain(const gw_fit *fit) {
    double spare = (double)fit->present - (double)fit->unknowns;
    return far_under * fit->rss / fmax(spare, 1);
}

/* One Gauss–Newton step, where it is worth while. Returns the predicted drop of the cost; negative where the equations
 * are singular. */
static double step_make(gw_fit *fit, double *work) {
    gw_passes_columns(fit);
    gw_gram_fill(fit, fit->factor);
    if (!gw_solve_factor(fit->factor, fit->unknowns, least_pivot))
        return -1;
    double *step = work, *slope = work + fit->unknowns;
    gradient(fit, slope);
    memcpy(step, slope, fit->unknowns * sizeof *step);
    gw_solve_back(fit->factor, fit->unknowns, step);
    double promise = 0;
    for (size_t k = 0; k < fit->unknowns; k++)
        promise += step[k] * slope[k];
    /* of values whose squares are none or endless nothing is known: there it goes */
    bool known = promise > 0 && isfinite(promise);
    return known && promise <= least_gain(fit) ? promise : step_take(fit, step, promise);
}

/* From so many cycles a record on lines hardly lean on each other, and steps come to their end ever faster. */
static const double easy_cycles = 12;

static bool many_cycles(const gw_fit *fit) {
    for (int g = 0; g < GW_BASES; g++)
        if (fit->base_free[g] && fit->base[g] * (double)fit->count < easy_cycles)
            return false;
    return true;
}

/* Steps until what is left to gain is far under the noise, and under rounding. */
static bool steps_run(gw_fit *fit, const bool base_free[GW_BASES], int most, gw_error *error) {
    if (!room_make(fit, base_free, error))
        return false;
    double *work = malloc(2 * fit->unknowns * sizeof *work);
    if (!work)
        return gw_error_memory(error);
    fit->solved = false;
    bool many = many_cycles(fit);
    double before = 0;
    for (int k = 0; k < most; k++) {
        double promise = step_make(fit, work);
        if (promise < 0)
            break;
        fit->solved = true;
        double least = least_gain(fit);
        /* a step promises at most as much less than the one before as that did: the next one would promise too little
         */
        if (promise <= least || (many && promise < before && promise * (promise / before) <= least))
            break;
        before = promise;
    }
    free(work);
    return true;
}

/* One step comes there, another one past the rounding of the first. */
static bool linear_run(gw_fit *fit, int most, gw_error *error) {
    const bool held[GW_BASES] = {false};
    gw_passes_residual(fit);
    return steps_run(fit, held, most, error);
}

bool gw_fit_solve_linear(gw_fit *fit, gw_error *error) {
    return linear_run(fit, 2, error);
}

/* From scratch: everything linear first, then the free bases along. */
static bool solve_fresh(gw_fit *fit, const bool base_free[GW_BASES], bool any, gw_error *error) {
    if (!linear_run(fit, any ? 1 : 2, error))
        return false;
    memcpy(fit->base_free, base_free, GW_BASES * sizeof *base_free);
    return !any || !fit->solved || steps_run(fit, base_free, STEPS_MAX, error);
}

bool gw_fit_solve(gw_fit *fit, gw_error *error) {
    bool base_free[GW_BASES], any = false, done = true;
    memcpy(base_free, fit->base_free, sizeof base_free);
    for (int g = 0; g < GW_BASES; g++)
        any = any || base_free[g];
    bool fresh = !fit->started;
    if (!fresh) {
        gw_passes_residual(fit);
        done = steps_run(fit, base_free, STEPS_MAX, error);
        fresh = !fit->solved; /* a line whose coefficients are still zero can't move its base */
    }
    if (done && fresh)
        done = solve_fresh(fit, base_free, any, error);
    fit->started = done && fit->solved;
    return done;
}

/* ---- what may be asked of a solved fit ----------------------------------------------------------- */

double *gw_fit_inverse(const gw_fit *fit) {
    double *inverse = malloc(fit->unknowns * fit->unknowns * sizeof *inverse);
    if (inverse)
        gw_solve_inverse(fit->factor, fit->unknowns, inverse);
    return inverse;
}

bool gw_fit_exact(const gw_fit *fit) {
    return fit->rss <= rounding * rounding * fit->total;
}

double gw_fit_variance(const gw_fit *fit) {
    if (fit->present <= fit->unknowns)
        return 0;
    return fit->rss / (double)(fit->present - fit->unknowns);
}
