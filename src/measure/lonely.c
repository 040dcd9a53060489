#include "measure/lonely.h"

#include <math.h>
#include <stdlib.h>

/* Harmonics of a bent sine are many below this order, those of a waveform with edges are many everywhere. */
static const int lonely_above = 10;
enum { NEIGHBOURS = 8, COMPANY = 2, LONELY_MAX = 8 };

/* How far from its place a tone must be seen, in deviations of what the comb without it foretells; and of a cycle of
 * the record, however well both are known. */
static const double deviations = 5, least_off = 0.05;

static int order_of(const gw_fit *fit, size_t line) {
    const int *multiple = fit->lines[line].multiple;
    return multiple[GW_BASE_SECOND] || multiple[GW_BASE_MAINS] ? 0 : multiple[GW_BASE_SIGNAL];
}

bool gw_order_lonely(const gw_fit *fit, int order) {
    int near = 0;
    if (order <= lonely_above || fit->line_count > GW_RICH_COMB)
        return false;
    for (size_t k = 0; k < fit->line_count; k++) {
        int other = order_of(fit, k);
        near += other > 0 && other != order && abs(other - order) <= NEIGHBOURS;
    }
    return near <= COMPANY;
}

/* Orders of the lonely lines; more than LONELY_MAX are no stray tones. */
static size_t lonely_list(const gw_fit *fit, int *orders) {
    size_t count = 0;
    for (size_t k = 0; k < fit->line_count; k++)
        if (gw_order_lonely(fit, order_of(fit, k))) {
            if (count == LONELY_MAX)
                return 0;
            orders[count++] = order_of(fit, k);
        }
    return count;
}

static bool put_back(gw_fit *fit, const int *orders, const gw_sinusoid *lines, size_t count, gw_error *error) {
    for (size_t k = 0; k < count; k++) {
        if (!gw_fit_add(fit, orders[k], 0, 0, error))
            return false;
        fit->lines[fit->line_count - 1].cosine = lines[k].cosine;
        fit->lines[fit->line_count - 1].sine = lines[k].sine;
    }
    return true;
}

/* Where around the frequency `cycles` of the record a line stands, cycles away: a sinusoid's transform half a cycle to
 * either side, over a record of even weight, is as 1/(1/2 - d) to 1/(1/2 + d). Up to five cycles are looked at. */
static double line_off(const gw_fit *fit, double cycles) {
    double n = (double)fit->count, highest = 0, at = 0;
    for (int step = -10; step <= 10; step++) {
        gw_candidate c = gw_fit_candidate(fit, (cycles + 0.5 * step) / n);
        if (c.drop > highest) {
            highest = c.drop;
            at = 0.5 * step;
        }
    }
    gw_candidate low = gw_fit_candidate(fit, (cycles + at - 0.5) / n),
                 high = gw_fit_candidate(fit, (cycles + at + 0.5) / n);
    double left = sqrt(fmax(low.drop, 0)), right = sqrt(fmax(high.drop, 0));
    return left + right > 0 ? at + 0.5 * (right - left) / (right + left) : 0;
}

/* Standard deviation of the fundamental, cycles of the record, by the noise that would be left with the lines. */
static double base_known(const gw_fit *fit, double noise) {
    double *inverse = gw_fit_inverse(fit);
    if (!inverse)
        return INFINITY;
    size_t at = gw_fit_base_at(fit, GW_BASE_SIGNAL);
    double variance = inverse[at * fit->unknowns + at];
    free(inverse);
    return sqrt(fmax(variance, 0) * noise) * (double)fit->count;
}

bool gw_lonely_leave(gw_model *model, bool *left, gw_error *error) {
    gw_fit *fit = &model->fit;
    int orders[LONELY_MAX];
    gw_sinusoid lines[LONELY_MAX];
    size_t count = model->two_tone || !fit->base_free[GW_BASE_SIGNAL] || !fit->solved ? 0 : lonely_list(fit, orders);
    double noise = gw_fit_variance(fit), together = fit->base[GW_BASE_SIGNAL];
    *left = false;
    if (!count || count >= fit->line_count)
        return true;
    for (size_t k = 0; k < count; k++) {
        size_t line = gw_fit_find(fit, orders[k], 0, 0);
        lines[k] = fit->lines[line];
        gw_fit_remove(fit, line);
    }
    if (!gw_fit_solve(fit, error))
        return false;
    size_t back = 0;
    double known = fit->solved ? base_known(fit, noise) : INFINITY;
    for (size_t k = 0; k < count; k++) {
        double place = orders[k] * fit->base[GW_BASE_SIGNAL] * (double)fit->count;
        if (fabs(line_off(fit, place)) > least_off + deviations * orders[k] * known)
            continue;
        orders[back] = orders[k];
        lines[back++] = lines[k];
    }
    *left = back < count;
    if (!*left)
        fit->base[GW_BASE_SIGNAL] = together;
    return put_back(fit, orders, lines, back, error) && (back == 0 || gw_fit_solve(fit, error));
}
