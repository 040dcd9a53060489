#include "measure/passes.h"

#include "base/lanes.h"

#include <string.h>

static const double two_pi = 6.283185307179586476925;

static size_t part_count(const gw_fit *fit, size_t at) {
    return fit->count - at < GW_SWEEP_PART ? fit->count - at : GW_SWEEP_PART;
}

/* Of a sample, from the middle of the record. */
static double time_of(const gw_fit *fit, size_t at) {
    return (double)at - 0.5 * (double)(fit->count - 1);
}

/* Zero where a sample is not there. */
static void blank_missing(const gw_fit *fit, size_t at, size_t count, double *part) {
    if (fit->present == fit->count)
        return;
    for (size_t i = 0; i < count; i++)
        if (fit->marks[at + i] != 0)
            part[i] = 0;
}

/* ---- the residual ------------------------------------------------------------------------------------- */

GW_WIDE static void slope_apart(const double *values, size_t count, double time, double dc, double drift,
                                double *residual) {
    for (size_t i = 0; i < count; i++)
        residual[i] = values[i] - dc - drift * ((double)(int64_t)i + time);
}

static void residual_part(const gw_fit *fit, size_t at, size_t count, double *to) {
    const double *from = fit->values + at;
    if (fit->has_drift) {
        slope_apart(from, count, time_of(fit, at), fit->dc, fit->drift, to);
        gw_sweeper_apart(fit->sweeper, fit->sweeps, to, 0, at, to);
    } else {
        gw_sweeper_apart(fit->sweeper, fit->sweeps, from, -fit->dc, at, to);
    }
    blank_missing(fit, at, count, to);
}

void gw_passes_residual(gw_fit *fit) {
    if (fit->slow)
        fit->slow->made = false;
    for (size_t k = 0; k < fit->line_count; k++) {
        const gw_sinusoid *line = &fit->lines[k];
        fit->sweeps[k] = (gw_sweep){gw_fit_frequency(fit, line), -line->cosine, -line->sine};
    }
    gw_sweeper_set(fit->sweeper, fit->sweeps, fit->line_count);
    fit->rss = 0;
    for (size_t at = 0; at < fit->count; at += GW_SWEEP_PART) {
        size_t count = part_count(fit, at);
        double *to = fit->residual + at;
        residual_part(fit, at, count, to);
        fit->rss += gw_gram_dot(to, to, count);
    }
}

/* ---- the columns -------------------------------------------------------------------------------------- */

/* ∂v/∂base = 2πt·Σ multiple·(b·cos − a·sin), still to be multiplied by the first of these. */
static void base_put(const gw_fit *fit, int base, size_t at, double *part) {
    gw_sweep *moved = fit->sweeps + fit->line_count;
    for (size_t k = 0; k < fit->line_count; k++) {
        const gw_sinusoid *line = &fit->lines[k];
        int m = line->multiple[base];
        moved[k] = (gw_sweep){.cosine = m * line->sine, .sine = -m * line->cosine};
    }
    gw_sweeper_put(fit->sweeper, moved, at, part);
}

static void special_part(gw_fit *fit, size_t special, size_t at, size_t count) {
    double *part = fit->special + special * GW_SWEEP_PART;
    bool drift = fit->special_of[special] == GW_SPECIAL_DRIFT;
    if (drift)
        for (size_t i = 0; i < count; i++)
            part[i] = 1;
    else
        base_put(fit, fit->special_of[special], at, part);
    blank_missing(fit, at, count, part);
    gw_gram_turn(part, fit->residual + at, count, time_of(fit, at), drift ? 1 : two_pi, &fit->special_sums[special]);
    for (size_t other = 0; other < special; other++)
        fit->special_with[special][other] += gw_gram_dot(part, fit->special + other * GW_SWEEP_PART, count);
}

void gw_passes_columns(gw_fit *fit) {
    fit->residual_total = 0;
    memset(fit->special_sums, 0, sizeof fit->special_sums);
    memset(fit->special_with, 0, sizeof fit->special_with);
    for (size_t k = 0; k < fit->line_count; k++)
        fit->sweeps[k].cosine = fit->sweeps[k].sine = 0;
    for (size_t at = 0; at < fit->count; at += GW_SWEEP_PART) {
        size_t count = part_count(fit, at);
        fit->residual_total += gw_gram_total(fit->residual + at, count);
        gw_sweeper_dot_part(fit->sweeper, fit->residual + at, at, fit->sweeps);
        for (size_t k = 0; k < fit->special_count; k++)
            special_part(fit, k, at, count);
    }
}
