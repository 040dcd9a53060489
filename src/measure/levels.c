/* DC, RMS values, frequency, pitch, level, drift: read off the model and its covariance. */
#include "measure/work.h"

#include <math.h>
#include <stdlib.h>

static const double pi = 3.14159265358979323846;

static const char *const no_period = "no periodic signal";

static bool is_signal_line(const gw_work *work, const gw_sinusoid *line) {
    return line->multiple[GW_BASE_SIGNAL] || (line->multiple[GW_BASE_SECOND] && !work->model->stray);
}

/* Does the line count in the level? Of two tones only the tones themselves, of a sine the fundamental. */
static bool in_level(const gw_work *work, const gw_sinusoid *line) {
    int first = line->multiple[GW_BASE_SIGNAL], second = line->multiple[GW_BASE_SECOND];
    switch (work->out->signal) {
    case GW_SIGNAL_SINE:
        return first == 1 && second == 0;
    case GW_SIGNAL_TWO_TONE:
        return (first == 1 && second == 0) || (first == 0 && second == 1);
    default:
        return is_signal_line(work, line);
    }
}

static bool any_line(const gw_work *work, const gw_sinusoid *line) {
    (void)work;
    (void)line;
    return true;
}

static double dc_uncertainty(const gw_work *work) {
    double codes = work->model->tone ? hypot(0.7 * work->u_code, work->u_level) : fmax(work->u_code, work->u_level);
    double edges = fmax(work->u_jumps_dc, gw_edges_mean_uncertainty(&work->edges, work->block->count));
    return hypot(sqrt(gw_model_variance(work->model, 0)), hypot(codes, edges));
}

static void dc_read(gw_work *work) {
    gw_work_value(work, GW_DC, work->model->fit.dc, dc_uncertainty(work), true);
}

/* Mean square of a DC that runs along the record, beside that of its mean, and its standard uncertainty. */
static double slope_power(const gw_work *work, double *u) {
    const gw_fit *fit = &work->model->fit;
    double slope, variance, n = (double)fit->count;
    *u = 0;
    if (!fit->has_drift || work->model->mains_hidden || work->model->hum_possible)
        return 0;
    gw_fit_slope(fit, &slope, &variance);
    *u = 2 * fabs(slope) * sqrt(variance * work->model->variance) * (n * n - 1) / 12;
    return slope * slope * (n * n - 1) / 12;
}

static void total_read(gw_work *work, double ac, double u_ac) {
    double dc = work->model->fit.dc, u_slope, running = slope_power(work, &u_slope);
    double total = hypot(hypot(ac, dc), sqrt(running));
    double u_power = hypot(0.5 * u_slope, hypot(ac * u_ac, dc * dc_uncertainty(work)));
    gw_work_value(work, GW_TOTAL_RMS, total, total > 0 ? u_power / total : hypot(u_ac, dc_uncertainty(work)), true);
}

/* Of the mean square of Gaussian noise, both in steps squared, by rounding. */
static double moment_error(double power) {
    return (1 / (pi * pi) + 4 * power) * exp(-2 * pi * pi * power);
}

/* What may be wrong with the RMS of Gaussian noise, wherever its mean stands between two codes: noise within a step may
 * be hidden, or next to none be made a step of (Widrow & Kollar 2008: the first term of the moments' error). */
static double steps_unknown(const gw_work *work, double rms) {
    const gw_block *block = work->block;
    double step = block->step, power = step > 0 ? rms * rms / (step * step) : INFINITY;
    if (!(power < 1))
        return 0;
    gw_extent all = gw_extent_of(block->volts, NULL, block->marks, block->count);
    double error = moment_error(fmax(power - moment_error(power), 0)) * step * step;
    bool two_codes = all.high - all.low < 1.5 * step;
    return fmax(sqrt(rms * rms + error) - rms, two_codes ? rms : 0);
}

static bool rms_read(gw_work *work) {
    double power, variance;
    if (!gw_work_power(work, any_line, &power, &variance))
        return false;
    const gw_fit *fit = &work->model->fit;
    double spare = (double)fit->present - (double)fit->unknowns, noise = work->model->variance;
    /* what the steps add is no part of the signal (Sheppard's correction) */
    double steps = work->block->step * work->block->step / 12;
    double ac = sqrt(power + fmax(noise - steps, 0));
    double u_power = sqrt(variance + (spare > 0 ? 2 * noise * noise / spare : noise * noise));
    double u_ac = ac > 0 ? 0.5 * hypot(u_power, work->u_jumps_power) / ac : 0;
    u_ac = hypot(u_ac, power > 0 ? hypot(0.7 * work->u_code, work->u_level) * sqrt(power) / ac : 0);
    if (!(power > 0))
        u_ac = hypot(u_ac, 0.5 * steps_unknown(work, ac));
    gw_work_value(work, GW_AC_RMS, ac, u_ac, true);
    total_read(work, ac, u_ac);
    return true;
}

/* Standard uncertainty of the fundamental by noise, by the steps and by what the file says of its rate; hertz. */
static double frequency_uncertainty(const gw_work *work) {
    const gw_fit *fit = &work->model->fit;
    double u = sqrt(gw_model_variance(work->model, gw_fit_base_at(fit, GW_BASE_SIGNAL)));
    /* a phase error of δ rad at either end, δ = step error over peak, turns the whole record */
    double peak = 0;
    for (size_t k = 0; k < fit->line_count; k++)
        peak = hypot(peak, sqrt(2) * fit->lines[k].multiple[GW_BASE_SIGNAL] * gw_work_line_rms(&fit->lines[k]));
    double u_code = peak > 0 ? work->u_code / peak * sqrt(6.0) / (6.283185307 * (double)fit->count) : 0;
    /* in a record of two cycles or so the steps' error at the few crests is all of one kind, and frequency leans on it:
     * held against simulated captures of 20 and 200 codes without noise */
    double cycles = fit->base[GW_BASE_SIGNAL] * (double)fit->count;
    double samples = 1 / fit->base[GW_BASE_SIGNAL];
    double edges = gw_edges_period_uncertainty(&work->edges, cycles, samples) / (samples * samples);
    return hypot(u, hypot(u_code * hypot(1, 2 / cycles), edges)) * work->block->rate_hz;
}

static const char *const note_names[] = {"C", "C♯", "D", "E♭", "E", "F", "F♯", "G", "A♭", "A", "B♭", "B"};

/* Cents from the nearest note of equal temperament, A4 = 440 Hz (ISO 16:1975), and the note's name. */
static bool pitch_read(gw_work *work, double frequency, double u_frequency) {
    double semitones = 69 + 12 * log2(frequency / 440);
    double nearest = round(semitones);
    double cents_a_hz = 1200 / (log(2) * frequency);
    gw_work_value(work, GW_PITCH, 100 * (semitones - nearest), cents_a_hz * u_frequency, false);
    int note = (int)nearest;
    int octave = (int)floor(nearest / 12) - 1;
    work->out->note = gw_arena_printf(work->out->arena, "%s%d", note_names[((note % 12) + 12) % 12], octave);
    return work->out->note || gw_error_memory(work->error);
}

static bool frequency_read(gw_work *work) {
    if (!work->model->tone) {
        gw_work_none(work, GW_FREQUENCY, no_period);
        gw_work_none(work, GW_PITCH, no_period);
        return true;
    }
    double frequency = work->model->fit.base[GW_BASE_SIGNAL] * work->block->rate_hz;
    double u = frequency_uncertainty(work);
    gw_work_value(work, GW_FREQUENCY, frequency, u, false);
    if (work->out->signal == GW_SIGNAL_TWO_TONE) {
        gw_work_none(work, GW_PITCH, "two tones");
        return true;
    }
    return pitch_read(work, frequency, u);
}

static void level_copy(gw_work *work) {
    work->out->values[GW_LEVEL_DBV] = work->out->values[GW_LEVEL];
    work->out->values[GW_LEVEL_DBU] = work->out->values[GW_LEVEL];
}

/* Of noise what lies in the band, lines that stand out of it too: those of a tone that wavers in pitch, or dies away,
 * hold nearly all there is. */
static void level_of_noise(gw_work *work) {
    const gw_noise *noise = &work->noise;
    double level = hypot(noise->rms, work->tones_v);
    double u_power = hypot(2 * noise->rms * noise->rms * noise->relative, work->tones_u);
    gw_work_value(work, GW_LEVEL, level, level > 0 ? 0.5 * u_power / level : 0, true);
}

/* Without a tone: of noise what is there; of silence no more than that. */
static void level_without_tone(gw_work *work) {
    const gw_noise *noise = &work->noise;
    double resolution = work->block->step / sqrt(12);
    if (work->out->signal == GW_SIGNAL_NOISE && noise->valid)
        level_of_noise(work);
    else if ((noise->valid && noise->rms > 0) || resolution > 0)
        gw_work_below(work, GW_LEVEL, hypot(noise->rms * (1 + 2 * noise->relative), 2 * resolution),
                      "no signal above noise and resolution");
    else if (work->model->variance > 0)
        gw_work_below(work, GW_LEVEL, 2 * work->noise_v, "no signal above the noise");
    else
        gw_work_none(work, GW_LEVEL, "no signal");
}

static bool level_read(gw_work *work) {
    if (!work->model->tone) {
        level_without_tone(work);
        level_copy(work);
        return true;
    }
    double power, variance;
    if (!gw_work_power(work, in_level, &power, &variance))
        return false;
    double level = sqrt(power + work->beyond_power);
    double u = level > 0 ? 0.5 * hypot(sqrt(variance), work->u_jumps_power) / level : 0;
    u = hypot(u, hypot(work->u_code, 2 * work->u_level) / sqrt(2));
    /* the harmonics of edges between samples go on above half the rate: all that the fit left may be theirs */
    if (work->edges.count > 0 && work->out->signal == GW_SIGNAL_PERIODIC)
        u += 0.5 * fmax(sqrt(power + work->model->variance) - level, 0);
    /* of a sine that wavers the level is that of its steady part: u95 reaches to the RMS of all of it */
    if (work->out->signal == GW_SIGNAL_SINE)
        u += 0.5 * (hypot(level, work->sway_v) - level);
    gw_work_value(work, GW_LEVEL, level, u, true);
    level_copy(work);
    return true;
}

bool gw_work_levels(gw_work *work) {
    dc_read(work);
    return rms_read(work) && frequency_read(work) && level_read(work);
}
