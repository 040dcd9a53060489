/* The noise readings: the residual's spectrum in the band. */
#include "measure/work.h"

#include <math.h>
#include <stdlib.h>

/* Frequencies that the fit took out, for the correction of the noise. The caller frees. */
static double *fitted_list(const gw_work *work, size_t *count) {
    const gw_fit *fit = &work->model->fit;
    double *list = malloc((fit->line_count + 2 + fit->special_count) * sizeof *list);
    if (!list)
        return NULL;
    *count = 0;
    list[(*count)++] = 0;
    if (work->unbent) /* its two terms hold as much of the noise as one line of a cycle */
        list[(*count)++] = work->block->rate_hz / (double)fit->count;
    for (size_t k = 0; k < fit->line_count; k++)
        if (fit->lines[k].ridge == 0)
            list[(*count)++] = gw_fit_frequency(fit, &fit->lines[k]) * work->block->rate_hz;
    return list;
}

/* Noise that is told has so many times the mean square of the harmonics that may be among it. */
static const double beyond_times = 4;

/* Without the share of the steps (Sheppard's correction), which holds once the noise before them spans a few tenths of
 * one; a bound where it doesn't. */
static void noise_state(gw_work *work, gw_reading_key key, const gw_noise *noise) {
    double rms = noise->rms, steps = gw_work_steps_power(work, rms * rms);
    if (work->noise_v == 0 || rms * rms < 2 * steps) {
        double bound = rms > 0 ? rms * (1 + 2 * noise->relative) : work->block->step / sqrt(12);
        if (bound > 0)
            gw_work_below(work, key, bound, "no more than the capture's resolution makes");
        else
            gw_work_none(work, key, "no noise in the record, nor a known resolution");
        return;
    }
    /* spread over the band as the residual is */
    double beyond = work->model->variance > 0 ? work->beyond * fmin(rms * rms / work->model->variance, 1) : 0;
    if (rms * rms < beyond_times * beyond) {
        gw_work_below(work, key, rms * (1 + 2 * noise->relative), "harmonics that can't be fitted are in what is left");
        return;
    }
    double value = sqrt(rms * rms - steps);
    /* the record's noise has the steps' error in it, the signal's has not: u95 reaches from one to the other */
    double u = rms * rms / value * noise->relative + 0.5 * (rms - value) + 0.5 * (rms - sqrt(rms * rms - beyond));
    gw_work_value(work, key, value, u, true);
}

static void noise_none(gw_work *work, const char *why) {
    gw_work_none(work, GW_NOISE, why);
    gw_work_none(work, GW_NOISE_A, why);
    gw_work_none(work, GW_NOISE_DENSITY, why);
}

/* Of what the weighting lets through of white noise in the band as wanted, the record must show this share. */
static const double weighted_least = 0.5;

/* Why the record shows too little of the band for A-weighted noise; NULL where it shows enough. */
static const char *weighting_missing(const gw_work *work) {
    gw_band shown = work->band.band, wanted = gw_work_band_wanted(work);
    double all = gw_noise_bandwidth(wanted, GW_WEIGHT_A);
    if (gw_noise_bandwidth(shown, GW_WEIGHT_A) > weighted_least * all)
        return NULL;
    gw_band up = {.low_hz = shown.low_hz, .high_hz = wanted.high_hz};
    return gw_noise_bandwidth(up, GW_WEIGHT_A) > weighted_least * all ? "the sample rate is too low for A-weighting"
                                                                      : "the record is too short for A-weighting";
}

static bool density_read(gw_work *work, gw_fitted fitted) {
    gw_floor found;
    if (!gw_noise_density(&work->psd, work->band.band, fitted, &found))
        return gw_error_memory(work->error);
    double steps = work->block->step / sqrt(6 * work->block->rate_hz);
    double density = found.density, relative = found.relative;
    if (!found.valid || !(density > 0))
        gw_work_none(work, GW_NOISE_DENSITY,
                     found.valid ? "no noise in the record" : "too short a record for a spectrum");
    else if (density * density < 2 * steps * steps || work->out->values[GW_NOISE].state == GW_READING_BELOW)
        gw_work_below(work, GW_NOISE_DENSITY, density * (1 + 2 * relative),
                      "no more than the capture's resolution makes");
    else {
        double value = sqrt(density * density - steps * steps);
        gw_work_value(work, GW_NOISE_DENSITY, value, density * density / value * relative + 0.5 * (density - value),
                      true);
    }
    return true;
}

/* The uncertainty is taken from the same few bins as the value, low when that is low: so many times wider. With two
 * degrees of freedom chi-square asks for 3.4 times, with ten for 1.3. */
static double few_wider(const gw_noise *noise) {
    return 1 + 6 / fmax(noise->freedom, 2);
}

bool gw_work_noise(gw_work *work) {
    const gw_fit *fit = &work->model->fit;
    work->out->noise_floor_v = work->noise_v;
    if (!work->band.valid) {
        noise_none(work, "the record shows nothing of the band");
        return true;
    }
    if (!gw_psd_welch_by(work->block->shelf, work->quiet, fit->marks, fit->count, work->block->rate_hz, 0,
                         work->out->arena, &work->psd))
        return gw_error_memory(work->error);
    size_t count = 0;
    double *list = fitted_list(work, &count);
    if (!list)
        return gw_error_memory(work->error);
    gw_fitted fitted = {.frequencies_hz = list, .count = count};
    work->noise = gw_noise_rms(&work->psd, work->band.band, GW_WEIGHT_FLAT, fitted);
    gw_noise weighted = gw_noise_rms(&work->psd, work->band.band, GW_WEIGHT_A, fitted);
    work->noise.relative *= few_wider(&work->noise);
    weighted.relative *= few_wider(&weighted);
    bool done = true;
    if (!work->noise.valid || !weighted.valid) {
        noise_none(work, "too short a record for its noise");
    } else {
        noise_state(work, GW_NOISE, &work->noise);
        noise_state(work, GW_NOISE_A, &weighted);
        const char *missing = weighting_missing(work);
        if (missing)
            gw_work_none(work, GW_NOISE_A, missing);
        done = density_read(work, fitted);
    }
    free(list);
    return done;
}
