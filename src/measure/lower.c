/* A fundamental that lies lower than was thought: what the comb leaves stands between its lines. */
#include "measure/beside.h"
#include "measure/demand.h"

enum { DIVISOR_MOST = 5, ORDERS_OF_OLD = 4, FEW_LINES = 2, MORE_LINES = 3, EASY_DIVISOR = 3 };

/* Of the residual (rss): what a line between the others holds at least, what all of them do, what may be left then. */
static const double line_least = 0.03, lines_hold = 0.8, left_most = 0.15;
static const double cycles_least = 3;

/* Is the residual, for the most part, lines at multiples of this part of the fundamental? Two of them fall there by
 * chance now and then, the more easily the nearer the multiples are. */
static bool lines_between(const gw_fit *fit, int divisor) {
    double base = fit->base[GW_BASE_SIGNAL] / divisor, sum = 0;
    int lines = 0;
    for (int order = 1; order <= ORDERS_OF_OLD * divisor && order * base < 0.5; order++) {
        if (order % divisor == 0)
            continue;
        double drop = gw_fit_candidate(fit, order * base).drop;
        sum += drop;
        lines += drop > line_least * fit->rss;
    }
    return lines >= (divisor <= EASY_DIVISOR ? FEW_LINES : MORE_LINES) && sum > lines_hold * fit->rss;
}

static void orders_times(gw_fit *fit, int divisor) {
    fit->base[GW_BASE_SIGNAL] /= divisor;
    for (size_t k = 0; k < fit->line_count; k++)
        fit->lines[k].multiple[GW_BASE_SIGNAL] *= divisor;
}

/* Takes the lines out again that have no place on the old comb. */
static bool take_back(gw_fit *fit, int divisor, double base, gw_error *error) {
    for (size_t k = fit->line_count; k-- > 0;) {
        if (fit->lines[k].multiple[GW_BASE_SIGNAL] % divisor)
            gw_fit_remove(fit, k);
        else
            fit->lines[k].multiple[GW_BASE_SIGNAL] /= divisor;
    }
    fit->base[GW_BASE_SIGNAL] = base;
    fit->started = false;
    return gw_fit_solve(fit, error);
}

bool gw_octave_lower(gw_model *model, const gw_stimulus *stimulus, gw_error *error) {
    gw_fit *fit = &model->fit;
    double base = fit->base[GW_BASE_SIGNAL];
    if (!model->tone || model->two_tone || model->stray || !fit->solved || stimulus->frequency_hz > 0 ||
        stimulus->shape == GW_SHAPE_SINE || gw_fit_exact(fit) || gw_leaves_white(fit))
        return true;
    for (int divisor = 2; divisor <= DIVISOR_MOST; divisor++) {
        if (base / divisor * (double)fit->count < cycles_least || !lines_between(fit, divisor))
            continue;
        double before = fit->rss;
        orders_times(fit, divisor);
        if (!gw_fit_add(fit, 1, 0, 0, error) || !gw_fit_solve(fit, error) || !gw_lines_grow(model, error))
            return false;
        return (fit->solved && fit->rss < left_most * before) || take_back(fit, divisor, base, error);
    }
    return true;
}
