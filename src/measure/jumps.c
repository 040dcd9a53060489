/* What a waveform's jumps leave open: the samples show to within one interval where a jump stands, and where each
 * period is sampled alike no number of periods tells more. Seen the other way, harmonics from above half the rate fold
 * down onto those of the signal. */
#include "measure/work.h"

#include <math.h>

static const double pi = 3.14159265358979323846;
/* Cycles a sample beyond which a comb goes on up to half the rate, and so beyond it. */
static const double far_up = 0.3;
/* Two jumps half a period apart stand alike, and their errors add up: evenly spread, 95 % of it lies within
 * 0.95·√3 = 1.645 standard deviations; over that of two on their own, at a coverage factor of 2. */
static const double together = 1.645 / 2 * 1.41421356;
/* Folds that are summed; the next would bring a hundredth of the first's mean square. */
enum { FOLDS = 10 };

bool gw_work_reaches(const gw_work *work) {
    const gw_fit *fit = &work->model->fit;
    bool reaches = false;
    for (size_t k = 0; k < fit->line_count; k++) {
        const gw_sinusoid *line = &fit->lines[k];
        bool harmonic =
            line->multiple[GW_BASE_SIGNAL] >= 2 && !line->multiple[GW_BASE_SECOND] && !line->multiple[GW_BASE_MAINS];
        reaches = reaches || (harmonic && gw_fit_frequency(fit, line) > far_up);
    }
    return reaches;
}

/* Root mean square of a jump's place over that of one that may stand anywhere in the interval, 0..1, when so many
 * periods of so many samples each are averaged: the Fourier series of the place within the interval, each term with
 * what of it repeats from period to period. */
static double repeats(double samples, double periods) {
    double power = 0, whole = 0;
    for (int fold = 1; fold <= FOLDS; fold++) {
        double slip = fold * samples - round(fold * samples);
        double alike = fabs(slip) * periods > 1e-6 ? sin(pi * periods * slip) / (periods * sin(pi * slip)) : 1;
        power += alike * alike / (fold * fold);
        whole += 1.0 / (fold * fold);
    }
    return sqrt(power / whole);
}

/* The model's value at a sample less its DC, or its square. */
static double value_at(const gw_fit *fit, size_t i, bool squared) {
    double value = fit->values[i] - fit->residual[i] - fit->dc;
    return squared ? value * value : value;
}

/* Root of the sum of the squares of one period's jumps: steps from sample to sample beyond those either side, which a
 * slope and a bend don't make. Of a single jump it is its height. */
static double jumps_of(const gw_fit *fit, size_t period, bool squared) {
    double sum = 0;
    for (size_t i = 1; i < period && i + 2 < fit->count; i++) {
        if (fit->marks && (fit->marks[i - 1] || fit->marks[i] || fit->marks[i + 1] || fit->marks[i + 2]))
            continue;
        double before = value_at(fit, i, squared) - value_at(fit, i - 1, squared);
        double here = value_at(fit, i + 1, squared) - value_at(fit, i, squared);
        double after = value_at(fit, i + 2, squared) - value_at(fit, i + 1, squared);
        double beyond = here - 0.5 * (before + after);
        sum += beyond * beyond;
    }
    return together * sqrt(sum / 1.5); /* a jump counts with -1/2 in either neighbour */
}

/* Mean square of the harmonics above half the rate, if they go on as those below do: of jumps the order times the RMS
 * stays what it is, on the average. */
static double power_beyond(const gw_work *work) {
    const gw_fit *fit = &work->model->fit;
    double sum = 0, last = floor(0.5 / fit->base[GW_BASE_SIGNAL]), first = ceil(last / 2);
    for (size_t k = 0; k < fit->line_count; k++) {
        int order = fit->lines[k].multiple[GW_BASE_SIGNAL];
        if (order >= first)
            sum += pow(order * gw_work_line_rms(&fit->lines[k]), 2);
    }
    return sum / ((last - first + 1) * (last + 0.5)); /* Σ 1/n² from last + 1 on */
}

bool gw_work_jumps(gw_work *work) {
    const gw_fit *fit = &work->model->fit;
    if (work->out->signal != GW_SIGNAL_PERIODIC || !gw_work_reaches(work))
        return true;
    double samples = 1 / fit->base[GW_BASE_SIGNAL], periods = (double)fit->count / samples;
    size_t period = (size_t)ceil(samples) + 1;
    double share = repeats(samples, periods), height = jumps_of(fit, period, false);
    /* a mean over the period is wrong by height times place over samples, the place by 1/√12 of an interval */
    work->u_jumps_dc = share * height / (samples * sqrt(12));
    work->u_jumps_power = share * jumps_of(fit, period, true) / (samples * sqrt(12));
    /* as far as the residual holds them */
    work->beyond_power = (1 - share * share) * fmin(power_beyond(work), work->model->variance);
    work->u_jumps_power = hypot(work->u_jumps_power, work->beyond_power / 2);
    /* harmonics of a jump: height/(πn) peak, for n around a whole number of samples a period */
    work->u_jumps_line = share * height / together / (pi * samples);
    return true;
}
