#include "measure/beside.h"

#include "measure/certain.h"
#include "measure/demand.h"

#include <math.h>
#include <stdlib.h>

/* Drop of rss that a line of the model makes: its coefficients on the inverse of their own covariance. INFINITY where
 * that can't be told. */
static double drop_of(const gw_fit *fit, const double *inverse, size_t line) {
    size_t at = gw_fit_line_at(fit, line), n = fit->unknowns;
    double a = fit->lines[line].cosine, b = fit->lines[line].sine;
    double aa = inverse[at * n + at], ab = inverse[(at + 1) * n + at], bb = inverse[(at + 1) * n + at + 1];
    double determinant = aa * bb - ab * ab;
    return determinant > 0 ? (bb * a * a - 2 * ab * a * b + aa * b * b) / determinant : INFINITY;
}

/* Variance that a sample of white noise would need to bring what noise brings where a line of the mains stands. In a
 * record with room between the lines that was looked at when they joined. In a shorter one noise of a limited band is
 * seen in what they leave, and may rise towards DC. */
static double noise_at(const gw_fit *fit, int order, double slow) {
    double cycles = fit->base[GW_BASE_MAINS] * (double)fit->count, white = gw_fit_variance(fit);
    if (cycles > gw_mains_clear || !(slow > white))
        return white;
    return fmax(slow, gw_noise_demanded(fit, order * cycles, cycles));
}

/* The line of the mains that brings least of what is demanded of it; line_count where each brings enough. */
static bool find_weakest(const gw_model *model, size_t *weakest, gw_error *error) {
    const gw_fit *fit = &model->fit;
    double *inverse = gw_fit_inverse(fit), slow = gw_noise_slow(fit), steps = gw_steps_drop(model), least = 1;
    *weakest = fit->line_count;
    if (!inverse)
        return gw_error_memory(error);
    for (size_t k = 0; k < fit->line_count; k++) {
        int order = fit->lines[k].multiple[GW_BASE_MAINS];
        double demanded = order ? (gw_line_demand(order) + gw_hum_more) * noise_at(fit, order, slow) + steps : 0;
        double ratio = demanded > 0 ? drop_of(fit, inverse, k) / demanded : INFINITY;
        if (ratio < least) {
            least = ratio;
            *weakest = k;
        }
    }
    free(inverse);
    return true;
}

/* Lines of the mains in the model; whether one stands at the mains or at twice that, without which there is no hum:
 * what stands on a higher multiple alone is something else. */
static size_t lines_of_mains(const gw_fit *fit, bool *low) {
    size_t lines = 0;
    *low = false;
    for (size_t k = 0; k < fit->line_count; k++) {
        int order = fit->lines[k].multiple[GW_BASE_MAINS];
        lines += order != 0;
        *low = *low || order == 1 || order == 2;
    }
    return lines;
}

static bool all_leave(gw_model *model, gw_error *error) {
    gw_fit *fit = &model->fit;
    for (size_t k = fit->line_count; k-- > 0;)
        if (fit->lines[k].multiple[GW_BASE_MAINS])
            gw_fit_remove(fit, k);
    gw_fit_base_remove(fit, GW_BASE_MAINS);
    model->mains_hz = 0;
    return gw_fit_solve(fit, error);
}

/* How many times the difference of two tones a line stands at; 0 where at none. Up to the sixth order; half a line of
 * the record near is on it. */
static int times_difference(const gw_fit *fit, const gw_sinusoid *line) {
    enum { TIMES_MAX = 3 };
    double difference = fabs(fit->base[GW_BASE_SECOND] - fit->base[GW_BASE_SIGNAL]);
    double frequency = line->multiple[GW_BASE_MAINS] * fit->base[GW_BASE_MAINS], times = round(frequency / difference);
    bool on = times >= 1 && times <= TIMES_MAX;
    return on && fabs(frequency - times * difference) * (double)fit->count < 0.5 ? (int)times : 0;
}

/* Two tones whose difference is 100 or 120 Hz, or another multiple of the mains: where all that is taken for the mains
 * stands on it, it is their products. */
static bool products_instead(gw_model *model, gw_error *error) {
    gw_fit *fit = &model->fit;
    int products[GW_MAINS_ORDERS], sign = fit->base[GW_BASE_SECOND] > fit->base[GW_BASE_SIGNAL] ? 1 : -1;
    size_t count = 0;
    for (size_t k = 0; k < fit->line_count; k++) {
        int times = fit->lines[k].multiple[GW_BASE_MAINS] ? times_difference(fit, &fit->lines[k]) : 0;
        if (fit->lines[k].multiple[GW_BASE_MAINS] && (!times || count == GW_MAINS_ORDERS))
            return true;
        if (times)
            products[count++] = sign * times;
    }
    if (count == 0 || !all_leave(model, error))
        return count == 0;
    for (size_t k = 0; k < count; k++)
        if (gw_fit_find(fit, -products[k], products[k], 0) == fit->line_count &&
            !gw_fit_add(fit, -products[k], products[k], 0, error))
            return false;
    return gw_fit_solve(fit, error);
}

bool gw_mains_leave(gw_model *model, gw_error *error) {
    gw_fit *fit = &model->fit;
    bool low;
    if (model->two_tone && !model->stray && fit->solved && !products_instead(model, error))
        return false;
    size_t lines = lines_of_mains(fit, &low);
    while (lines > 0 && fit->solved && !gw_fit_exact(fit)) {
        size_t weakest;
        if (!find_weakest(model, &weakest, error))
            return false;
        if (weakest == fit->line_count)
            break;
        gw_fit_remove(fit, weakest);
        lines--;
        if (lines == 0) {
            gw_fit_base_remove(fit, GW_BASE_MAINS);
            model->mains_hz = 0;
        }
        if (!gw_fit_solve(fit, error))
            return false;
    }
    return lines_of_mains(fit, &low) == 0 || low || all_leave(model, error);
}
