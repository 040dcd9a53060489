#include "measure/swing.h"

#include "measure/gram.h"

#include <math.h>

bool gw_rest_white(const gw_fit *fit) {
    double sum = 0;
    for (size_t i = 1; i < fit->count; i++)
        sum += (fit->residual[i] - fit->residual[i - 1]) * (fit->residual[i] - fit->residual[i - 1]);
    return sum > fit->rss * (2 - 8 / sqrt((double)fit->present));
}

/* Slow noise leaves more of its power beside such a swing: of Brownian noise one record in hundreds leaves so little.
 */
static const double swing_leaves = 0.01;

/* Sum of squares of what the samples have but their mean. */
static double squares_of_ac(const gw_fit *fit) {
    double sum = gw_gram_total(fit->values, fit->count);
    for (size_t i = 0; fit->marks && i < fit->count; i++)
        sum -= fit->marks[i] ? fit->values[i] : 0;
    return fit->total - sum * sum / (double)fit->present;
}

bool gw_swing_explained(const gw_fit *fit) {
    return fit->rss < swing_leaves * squares_of_ac(fit);
}

/* Of so few cycles that nobody states, and where what they leave is this share of the record's power and rises to low
 * frequencies, they are as likely a swing of such noise: of Brownian noise one record in seventy has one. */
typedef struct swing {
    double cycles, left;
} swing;

static const swing swings[] = {{1.25, 0.0025}, {1.6, 0.03}, {2.2, 0.1}};

bool gw_swing_is(const gw_model *model, const gw_stimulus *stimulus) {
    const gw_fit *fit = &model->fit;
    double variance = gw_fit_variance(fit), cycles = fit->base[GW_BASE_SIGNAL] * (double)fit->count;
    double power = squares_of_ac(fit) / (double)fit->present;
    bool leaves_much = false;
    for (size_t k = 0; k < sizeof swings / sizeof *swings; k++)
        leaves_much = leaves_much || (cycles < swings[k].cycles && variance > swings[k].left * power);
    return leaves_much && stimulus->frequency_hz == 0 && !model->two_tone && !gw_fit_exact(fit) &&
           variance > 4 * model->step * model->step / 12 && !gw_rest_white(fit);
}
