/* The mains comb, and the slope of DC. */
#include "measure/work.h"

#include <math.h>

/* Cycles a record that two lines must be apart. */
static const double line_width = 1.2;

static const char *hum_missing(const gw_work *work) {
    if (work->model->mains_signal && !(work->model->mains_hz > 0))
        return "the signal itself stands on the mains frequency";
    if (work->model->mains_short)
        return "the record is too short: hum needs two cycles of the mains";
    return NULL;
}

/* The mains that may be there: what is stated, or 50 and 60 Hz; how many. */
static int mains_possible(const gw_work *work, double out[2]) {
    out[0] = work->options->mains_hz > 0 ? work->options->mains_hz : 50;
    out[1] = 60;
    return work->options->mains_hz > 0 ? 1 : 2;
}

/* Does a line of the model stand where the mains or twice the mains may be, so that it may hold hum? */
static bool line_on_mains(const gw_work *work, double mains_hz) {
    const gw_fit *fit = &work->model->fit;
    for (size_t k = 0; k < fit->line_count; k++) {
        double cycles = gw_fit_frequency(fit, &fit->lines[k]) * (double)fit->count;
        for (int order = 1; order <= 2; order++)
            if (fabs(cycles - order * mains_hz * (double)fit->count / work->block->rate_hz) < line_width)
                return true;
    }
    return false;
}

/* Bound where no line of the mains stands out: what its first orders could hide in the noise. */
static double hum_bound(const gw_work *work, double mains_hz) {
    double power = 0;
    for (int order = 1; order <= 3; order++) {
        gw_candidate c = gw_fit_candidate(&work->model->fit, order * mains_hz / work->block->rate_hz);
        double variance = work->model->variance * 2 / (fmax(c.share, 0.05) * (double)work->model->fit.present);
        power += 0.5 * fmax(c.cosine * c.cosine + c.sine * c.sine, variance) + 2 * variance;
    }
    return sqrt(power + work->block->step * work->block->step / 12 / (double)work->model->fit.present);
}

static void hum_unseen(gw_work *work) {
    double mains[2], bound = 0;
    bool hidden = false;
    int count = mains_possible(work, mains);
    for (int k = 0; k < count; k++) {
        hidden = hidden || line_on_mains(work, mains[k]);
        bound = fmax(bound, hum_bound(work, mains[k]));
    }
    if (hidden)
        gw_work_none(work, GW_HUM, "a harmonic of the signal stands on the mains frequency");
    else if (work->model->variance > 0)
        gw_work_below(work, GW_HUM, bound, "no more than noise and resolution could hide");
    else
        gw_work_none(work, GW_HUM, "no hum in the record, nor a known resolution");
}

bool gw_work_hum(gw_work *work) {
    const gw_fit *fit = &work->model->fit;
    gw_clues *clues = &work->out->clues;
    const char *missing = hum_missing(work);
    if (missing) {
        gw_work_none(work, GW_HUM, missing);
        return true;
    }
    double power = 0, variance = 0, parts[3] = {0, 0, 0};
    for (size_t k = 0; k < fit->line_count; k++) {
        int order = fit->lines[k].multiple[GW_BASE_MAINS];
        if (!order)
            continue;
        double rms = gw_work_line_rms(&fit->lines[k]), u = gw_work_line_noise(work, k) / sqrt(2);
        power += rms * rms;
        variance += rms * rms * u * u;
        parts[order == 1 ? 0 : order == 2 ? 1 : 2] += rms * rms;
    }
    clues->mains_hz = work->model->mains_hz;
    clues->hum_mains_v = sqrt(parts[0]);
    clues->hum_twice_v = sqrt(parts[1]);
    clues->hum_rest_v = sqrt(parts[2]);
    if (power > 0)
        gw_work_value(work, GW_HUM, sqrt(power), hypot(sqrt(variance / power), work->u_code / sqrt(2)), true);
    else
        hum_unseen(work);
    return true;
}

/* Of pink noise, half a cycle over one. */
static const double slow_rise = 2;

/* The slope beside signal and mains. A record too short for hum shows hum's slope as well. */
bool gw_work_drift(gw_work *work) {
    double slope, variance, rate = work->block->rate_hz;
    gw_fit_slope(&work->model->fit, &slope, &variance);
    if (!(variance > 0) || work->model->mains_hidden || work->model->hum_possible) {
        gw_work_none(work, GW_DRIFT, "the record is too short to tell a drift from hum");
        return true;
    }
    const gw_model *model = work->model;
    /* noise that rises to low frequencies leans on the line by what it is around half a cycle of the record */
    double white = variance * fmax(model->variance, slow_rise * model->slow);
    double u =
        sqrt(model->fit.has_drift ? fmax(gw_model_variance(model, 1), variance * model->variance) : white) * rate;
    /* half a step from end to end */
    double steps = work->u_steps * rate / (double)work->block->count;
    /* the slope of a line through values that err by u on average is off by u times the root of 12, over its length */
    double edges =
        gw_edges_mean_uncertainty(&work->edges, work->block->count) * sqrt(12) * rate / (double)work->block->count;
    gw_work_value(work, GW_DRIFT, slope * rate, hypot(u, hypot(steps, edges)), true);
    return true;
}
