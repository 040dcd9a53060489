/* What a solved fit says of terms that are not in it: one more sinusoid, a slope. */
#include "measure/fit.h"

#include "measure/gram.h"
#include "measure/solve.h"

#include <math.h>
#include <stdlib.h>

/* The residual's products with cosine and sine. */
static void residual_dot(const gw_fit *fit, double frequency, double *cosine, double *sine) {
    if (!fit->slow || frequency > GW_SLOW_MOST) {
        gw_sweep_dot(fit->residual, fit->count, frequency, cosine, sine);
        return;
    }
    if (!fit->slow->made)
        gw_slow_make(fit->slow, fit->residual);
    gw_slow_dot(fit->slow, frequency, cosine, sine);
}

gw_candidate gw_fit_candidate(const gw_fit *fit, double frequency) {
    double c = 0, s = 0;
    if (fit->solved)
        residual_dot(fit, frequency, &c, &s);
    return gw_fit_candidate_of(fit, frequency, c, s);
}

/* `own` are the line's products with itself, `cosines` and `sines` those with the unknowns: overwritten. */
static gw_candidate candidate_from(const gw_fit *fit, const double own[4], double *cosines, double *sines, double c,
                                   double s) {
    gw_candidate out = {0};
    gw_solve_forward_two(fit->factor, fit->unknowns, cosines, sines);
    double cc = own[0], cs = own[1], ss = own[3];
    for (size_t k = 0; k < fit->unknowns; k++) {
        cc -= cosines[k] * cosines[k];
        cs -= cosines[k] * sines[k];
        ss -= sines[k] * sines[k];
    }
    double determinant = cc * ss - cs * cs, trace = cc + ss;
    double root = sqrt(fmax(0.25 * trace * trace - determinant, 0));
    out.share = fmax(0, (0.5 * trace - root) / (0.5 * (double)fit->present));
    out.cc = cc;
    out.cs = cs;
    out.ss = ss;
    out.c = c;
    out.s = s;
    if (out.share < 1e-6)
        return out;
    out.cosine = (ss * c - cs * s) / determinant;
    out.sine = (cc * s - cs * c) / determinant;
    out.drop = out.cosine * c + out.sine * s;
    return out;
}

/* Room for two columns of unknowns; most models have few. */
enum { FEW_UNKNOWNS = 32 };

typedef struct room {
    double few[2 * FEW_UNKNOWNS], *cosines, *sines;
} room;

/* False when memory is out, which the fit is told, and where there is no solution. */
static bool room_take(const gw_fit *fit, room *r) {
    if (!fit->solved)
        return false;
    r->cosines = fit->unknowns <= FEW_UNKNOWNS ? r->few : malloc(2 * fit->unknowns * sizeof *r->cosines);
    if (!r->cosines)
        return gw_error_memory(fit->error);
    r->sines = r->cosines + fit->unknowns;
    return true;
}

static void room_leave(room *r) {
    if (r->cosines != r->few)
        free(r->cosines);
}

gw_candidate gw_fit_candidate_of(const gw_fit *fit, double frequency, double c, double s) {
    room r;
    if (!room_take(fit, &r))
        return (gw_candidate){0};
    double own[4];
    gw_gram_against(fit, frequency, r.cosines, r.sines);
    gw_gram_pair(fit, frequency, frequency, own);
    gw_candidate out = candidate_from(fit, own, r.cosines, r.sines, c, s);
    room_leave(&r);
    return out;
}

gw_candidate gw_fit_candidate_order(const gw_fit *fit, const gw_moments *known, size_t known_count, int order, double c,
                                    double s) {
    room r;
    if (!room_take(fit, &r))
        return (gw_candidate){0};
    double own[4];
    gw_gram_against_order(fit, known, known_count, order, r.cosines, r.sines, own);
    gw_candidate out = candidate_from(fit, own, r.cosines, r.sines, c, s);
    room_leave(&r);
    return out;
}

/* Σ t over the present samples, t from mid-record: of a run of m samples m times its middle. */
static double times_total(const gw_fit *fit) {
    double sum = 0, middle = 0.5 * (double)(fit->count - 1);
    for (size_t k = 0; k < fit->run_count; k++) {
        double length = (double)fit->runs[k].length;
        sum += length * ((double)fit->runs[k].start + 0.5 * (length - 1) - middle);
    }
    return sum;
}

/* Σ t²: of a run of m samples m times its middle squared, and m(m² - 1)/12 about it. */
static double times_squared(const gw_fit *fit) {
    double sum = 0, middle = 0.5 * (double)(fit->count - 1);
    for (size_t k = 0; k < fit->run_count; k++) {
        double length = (double)fit->runs[k].length, centre = (double)fit->runs[k].start + 0.5 * (length - 1) - middle;
        sum += length * centre * centre + length * (length * length - 1) / 12;
    }
    return sum;
}

void gw_fit_drift_against(const gw_fit *fit, double *products, double *own) {
    *own = times_squared(fit);
    products[0] = times_total(fit);
    for (size_t k = 0; k < fit->line_count; k++) {
        double *at = products + gw_fit_line_at(fit, k);
        gw_moments sums;
        gw_gram_moments(fit, gw_fit_frequency(fit, &fit->lines[k]), &sums);
        at[0] = sums.tc;
        at[1] = sums.ts;
    }
    for (size_t k = 0; k < fit->special_count; k++)
        products[fit->unknowns - fit->special_count + k] = gw_gram_lean(fit->special + k * fit->count, fit->count);
}

void gw_fit_slope(const gw_fit *fit, double *slope, double *variance) {
    *slope = fit->drift;
    *variance = 0;
    double *leaning = calloc(fit->unknowns, sizeof *leaning);
    if (!leaning) {
        gw_error_memory(fit->error);
        return;
    }
    if (fit->has_drift) {
        leaning[1] = 1;
        gw_solve_back(fit->factor, fit->unknowns, leaning);
        *variance = leaning[1];
        free(leaning);
        return;
    }
    double own, along = gw_gram_lean(fit->residual, fit->count);
    gw_fit_drift_against(fit, leaning, &own);
    gw_solve_forward(fit->factor, fit->unknowns, leaning);
    double left = own;
    for (size_t k = 0; k < fit->unknowns; k++)
        left -= leaning[k] * leaning[k];
    free(leaning);
    if (left > 1e-6 * own) {
        *slope = along / left;
        *variance = 1 / left;
    }
}

void gw_fit_leaning(const gw_fit *fit, double frequency, double *by_cosine, double *by_sine) {
    gw_gram_against(fit, frequency, by_cosine, by_sine);
    gw_solve_back(fit->factor, fit->unknowns, by_cosine);
    gw_solve_back(fit->factor, fit->unknowns, by_sine);
}
