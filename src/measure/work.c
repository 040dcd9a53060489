#include "measure/work.h"

#include "measure/certain.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

void gw_work_value(gw_work *work, gw_reading_key key, double value, double u_random, bool scaled) {
    gw_reading *reading = &work->out->values[key];
    double u_scale = scaled ? fabs(value) * work->accuracy / sqrt(3) : 0;
    if (key == GW_DC)
        u_scale = hypot(u_scale, work->options->zero_v / sqrt(3));
    /* of a signal that its few samples hardly determine, the inverse is rounding errors: no figure may rest on it */
    if (!isfinite(value) || !isfinite(u_random) || !isfinite(u_scale)) {
        gw_work_none(work, key, "too few samples to tell how sure it would be");
        return;
    }
    *reading = (gw_reading){.state = GW_READING_VALUE,
                            .value = value,
                            .u_random = u_random,
                            .u_scale = u_scale,
                            .u95 = 2 * hypot(u_random, u_scale)};
}

void gw_work_below(gw_work *work, gw_reading_key key, double bound, const char *why) {
    work->out->values[key] = (gw_reading){.state = GW_READING_BELOW, .value = bound, .why = why};
}

void gw_work_none(gw_work *work, gw_reading_key key, const char *why) {
    work->out->values[key] = (gw_reading){.state = GW_READING_NONE, .why = why};
}

bool gw_work_remark(gw_work *work, const char *remark) {
    const gw_strings *remarks = &work->out->remarks;
    for (size_t k = 0; k < remarks->count; k++)
        if (strcmp(remarks->items[k], remark) == 0)
            return true;
    return gw_strings_add(&work->out->remarks, remark) || gw_error_memory(work->error);
}

gw_band gw_work_band_wanted(const gw_work *work) {
    double low = work->options->band_low_hz, high = work->options->band_high_hz;
    return (gw_band){.low_hz = low > 0 ? low : 20, .high_hz = high > 0 ? high : 20000};
}

double gw_work_line_rms(const gw_sinusoid *line) {
    return sqrt(0.5 * (line->cosine * line->cosine + line->sine * line->sine));
}

double gw_work_line_noise(const gw_work *work, size_t line) {
    const gw_fit *fit = &work->model->fit;
    const gw_sinusoid *l = &fit->lines[line];
    size_t at = gw_fit_line_at(fit, line), n = fit->unknowns;
    const double *inverse = work->model->inverse;
    if (!inverse)
        return (double)INFINITY; /* not solved: nothing determines the line */
    double cc = inverse[at * n + at], cs = inverse[at * n + at + 1], ss = inverse[(at + 1) * n + at + 1];
    double power = l->cosine * l->cosine + l->sine * l->sine;
    double along = power > 0
                       ? (l->cosine * l->cosine * cc + 2 * l->cosine * l->sine * cs + l->sine * l->sine * ss) / power
                       : 0.5 * (cc + ss);
    /* hum stands where noise often rises: what lies around its lines counts there */
    double variance = work->model->variance, mains = fit->base[GW_BASE_MAINS] * (double)fit->count;
    if (l->multiple[GW_BASE_MAINS])
        variance = fmax(variance, gw_noise_around(fit, l->multiple[GW_BASE_MAINS] * mains, mains));
    return sqrt(fmax(along, 0) * variance);
}

double gw_work_steps_power(const gw_work *work, double in_band) {
    double steps = work->block->step * work->block->step / 12;
    double spread = work->model->variance > 0 ? fmin(in_band / work->model->variance, 1) : 1;
    return steps * fmax(spread, work->coherent);
}

bool gw_work_power(const gw_work *work, gw_line_test *chosen, double *power, double *variance) {
    const gw_fit *fit = &work->model->fit;
    double *slope = calloc(fit->unknowns, sizeof *slope);
    if (!slope)
        return gw_error_memory(work->error);
    *power = 0;
    bool hidden = work->model->hum_power[0] + work->model->hum_power[1] > 0;
    for (size_t k = 0; k < fit->line_count; k++) {
        const gw_sinusoid *line = &fit->lines[k];
        if ((hidden && line->ridge > 0) || !chosen(work, line))
            continue;
        *power += 0.5 * (line->cosine * line->cosine + line->sine * line->sine);
        slope[gw_fit_line_at(fit, k)] = line->cosine;
        slope[gw_fit_line_at(fit, k) + 1] = line->sine;
    }
    *variance = work->model->inverse ? 0 : -1;
    for (size_t i = 0; work->model->inverse && i < fit->unknowns; i++)
        for (size_t j = 0; slope[i] != 0 && j < fit->unknowns; j++)
            *variance += slope[i] * slope[j] * work->model->inverse[i * fit->unknowns + j];
    *variance = *variance >= 0 ? *variance * work->model->variance : INFINITY;
    for (int order = 1; order <= 2; order++) {
        const gw_sinusoid hum = {.multiple[GW_BASE_MAINS] = order};
        double u = chosen(work, &hum) ? work->model->u_hum_power[order - 1] : 0;
        *power += chosen(work, &hum) ? work->model->hum_power[order - 1] : 0;
        *variance += u * u;
    }
    free(slope);
    return true;
}
