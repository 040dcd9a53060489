/* What a solved fit says of terms that are not in it: one more sinusoid, a slope. */
#include "measure/fit.h"

#include "base/lanes.h"
#include "measure/gram.h"
#include "measure/solve.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

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

/* With what is left of a line's products with itself, `cc`, `cs`, `ss`, when all that the model can imitate is taken
 * out. */
static gw_candidate candidate_from(const gw_fit *fit, double cc, double cs, double ss, double c, double s) {
    gw_candidate out = {.cc = cc, .cs = cs, .ss = ss, .c = c, .s = s};
    double determinant = cc * ss - cs * cs, trace = cc + ss;
    double root = sqrt(fmax(0.25 * trace * trace - determinant, 0));
    out.share = fmax(0, (0.5 * trace - root) / (0.5 * (double)fit->present));
    if (out.share < 1e-6)
        return out;
    out.cosine = (ss * c - cs * s) / determinant;
    out.sine = (cc * s - cs * c) / determinant;
    out.drop = out.cosine * c + out.sine * s;
    return out;
}

gw_candidate gw_fit_candidate_of(const gw_fit *fit, double frequency, double c, double s) {
    double *cosines = fit->solved ? malloc(2 * fit->unknowns * sizeof *cosines) : NULL;
    if (!cosines) {
        if (fit->solved)
            gw_error_memory(fit->error);
        return (gw_candidate){0};
    }
    double *sines = cosines + fit->unknowns, own[4];
    gw_gram_against(fit, frequency, cosines, sines);
    gw_gram_pair(fit, frequency, frequency, own);
    gw_solve_forward(fit->factor, fit->unknowns, cosines);
    gw_solve_forward(fit->factor, fit->unknowns, sines);
    double cc = own[0], cs = own[1], ss = own[3];
    for (size_t k = 0; k < fit->unknowns; k++) {
        cc -= cosines[k] * cosines[k];
        cs -= cosines[k] * sines[k];
        ss -= sines[k] * sines[k];
    }
    free(cosines);
    return candidate_from(fit, cc, cs, ss, c, s);
}

/* ---- several harmonics at once ---------------------------------------------------------------------- */

/* Columns of several lines beside each other: the cosines first. */
typedef double beside[GW_SOLVED_AT_ONCE];
_Static_assert(GW_SOLVED_AT_ONCE == 2 * GW_AT_ONCE, "cosine and sine of each");

/* Own products of each line: with what the model imitates taken out, in the end. */
typedef struct owns {
    double cc[GW_AT_ONCE], cs[GW_AT_ONCE], ss[GW_AT_ONCE];
} owns;

GW_WIDE static void own_reduce(beside *columns, size_t unknowns, owns *own) {
    gw_lanes cc = GW_LANES_AT(own->cc), cs = GW_LANES_AT(own->cs), ss = GW_LANES_AT(own->ss);
    for (size_t k = 0; k < unknowns; k++) {
        const gw_lanes c = GW_LANES_AT(columns[k]), s = GW_LANES_AT(columns[k] + GW_AT_ONCE);
        cc -= c * c;
        cs -= c * s;
        ss -= s * s;
    }
    *(gw_lanes *)own->cc = cc;
    *(gw_lanes *)own->cs = cs;
    *(gw_lanes *)own->ss = ss;
}

/* Each line's products with itself and with the unknowns; `one` is room for a line's own. */
static void columns_fill(const gw_fit *fit, const gw_moments *known, size_t known_count, const int *orders,
                         size_t count, double *one, beside *columns, owns *own) {
    size_t unknowns = fit->unknowns;
    if (count < GW_AT_ONCE)
        memset(columns, 0, unknowns * sizeof *columns);
    for (size_t i = 0; i < count; i++) {
        double self[4];
        gw_gram_against_order(fit, known, known_count, orders[i], one, one + unknowns, self);
        own->cc[i] = self[0], own->cs[i] = self[1], own->ss[i] = self[3];
        for (size_t k = 0; k < unknowns; k++) {
            columns[k][i] = one[k];
            columns[k][GW_AT_ONCE + i] = one[unknowns + k];
        }
    }
}

/* Most models have no more unknowns. */
enum { FEW_UNKNOWNS = 32 };

bool gw_fit_candidates(const gw_fit *fit, const gw_moments *known, size_t known_count, const int *orders, size_t count,
                       const double *cosines, const double *sines, gw_candidate *out) {
    size_t unknowns = fit->unknowns;
    double few[FEW_UNKNOWNS * (GW_SOLVED_AT_ONCE + 2)], *room = few;
    owns own = {.cc = {0}};
    memset(out, 0, count * sizeof *out);
    if (unknowns > FEW_UNKNOWNS)
        room = malloc(unknowns * (GW_SOLVED_AT_ONCE + 2) * sizeof *room);
    if (!room)
        return gw_error_memory(fit->error);
    beside *columns = (beside *)room;
    columns_fill(fit, known, known_count, orders, count, room + unknowns * GW_SOLVED_AT_ONCE, columns, &own);
    gw_solve_forward_all(fit->factor, unknowns, columns);
    own_reduce(columns, unknowns, &own);
    for (size_t i = 0; i < count; i++)
        out[i] = candidate_from(fit, own.cc[i], own.cs[i], own.ss[i], cosines[i], sines[i]);
    if (room != few)
        free(room);
    return true;
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
        gw_moments_of(fit, gw_fit_frequency(fit, &fit->lines[k]), &sums);
        at[0] = sums.tc;
        at[1] = sums.ts;
    }
    for (size_t k = 0; k < fit->special_count; k++)
        products[fit->unknowns - fit->special_count + k] = fit->special_sums[k].lean;
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
