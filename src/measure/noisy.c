#include "measure/noisy.h"

#include "measure/certain.h"
#include "measure/demand.h"

#include <math.h>

/* Nearer to each other lines leave nothing between them to be seen. */
static const double least_cycles = 1.5;
/* From here on what lies beside a line is not what lies beside the next. */
static const double clear_cycles = 12;
/* Half-way places below the lowest lines that are asked, and how far over white noise their mean must be: of four
 * exponential variables it is so once in a thousand records. */
enum { PLACES = 4, ROUNDS_MAX = 4 };
static const double coloured_over = 3.3;
/* The mean of the lowest two re white noise, from which on the others are asked. */
static const double hint = 1.5;
/* Of a line, what the model does not imitate: less tells nothing of the noise. */
static const double seen_share = 0.1;

static int order_of(const gw_sinusoid *line) {
    return line->multiple[GW_BASE_SECOND] || line->multiple[GW_BASE_MAINS] ? 0 : line->multiple[GW_BASE_SIGNAL];
}

static bool is_coloured(const gw_fit *fit) {
    double sum = 0;
    for (int k = 0; k < PLACES; k++) {
        double frequency = (k + 0.5) * fit->base[GW_BASE_SIGNAL];
        gw_candidate candidate = gw_fit_candidate(fit, fmin(frequency, 0.25));
        sum += candidate.share > seen_share ? candidate.drop : 0;
        if (k == 1 && 0.5 * sum / 2 < hint * gw_fit_variance(fit))
            return false;
    }
    return 0.5 * sum / PLACES > coloured_over * gw_fit_variance(fit);
}

double gw_noise_at(const gw_fit *fit, int order) {
    double cycles = fit->base[GW_BASE_SIGNAL] * (double)fit->count, at = order * cycles;
    double beside = cycles < clear_cycles ? gw_noise_between(fit, at, cycles) : gw_noise_demanded(fit, at, cycles);
    return fmax(beside, gw_fit_variance(fit));
}

static bool stands_out(const gw_fit *fit, const gw_sinusoid *line) {
    double drop = 0.5 * (line->cosine * line->cosine + line->sine * line->sine) * (double)fit->present;
    return drop > gw_line_demand(order_of(line)) * gw_noise_at(fit, order_of(line));
}

/* Takes out those that don't, all by what is left beside them now; their number. */
static size_t noisy_remove(gw_fit *fit) {
    size_t list[GW_WISHES_MAX], count = 0;
    for (size_t k = 0; k < fit->line_count && count < GW_WISHES_MAX; k++)
        if (order_of(&fit->lines[k]) > 1 && !stands_out(fit, &fit->lines[k]))
            list[count++] = k;
    for (size_t k = count; k-- > 0;)
        gw_fit_remove(fit, list[k]);
    return count;
}

bool gw_noisy_leave(gw_model *model, gw_error *error) {
    gw_fit *fit = &model->fit;
    double cycles = fit->base[GW_BASE_SIGNAL] * (double)fit->count;
    if (model->two_tone || !fit->solved || fit->line_count < 3 || cycles < least_cycles || gw_fit_exact(fit) ||
        !is_coloured(fit))
        return true;
    /* what they held goes back to what is beside the others */
    for (int round = 0; round < ROUNDS_MAX && fit->solved && noisy_remove(fit) > 0; round++)
        if (!gw_fit_solve(fit, error))
            return false;
    return true;
}
