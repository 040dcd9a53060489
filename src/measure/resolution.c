/* What the converter's steps do to a sinusoid, and what kind of signal the record holds. */
#include "measure/resolution.h"

#include "gainwalk/capture.h"
#include "measure/sums.h"
#include "measure/work.h"

#include <math.h>
#include <stdlib.h>

static const double pi = 3.14159265358979323846;

/* Of `n` samples, those with errors of their own, where every `every`-th falls on nearly the same part of the waveform.
 */
static double apart_by(double every, double frequency, double peak_steps, double n) {
    double turns = every * frequency, slip = fabs(turns - round(turns)), repeats = n / every;
    double swept = 2 * pi * peak_steps * slip * repeats;
    return every * fmin(fmax(swept, 1), repeats);
}

/* A period of more samples than this is looked for only where it matters. */
static const double long_period = 4096;

/* How many samples have steps' errors of their own. Samples that fall on the same part of the waveform again, to within
 * a step, repeat their error: a tone that divides the sample rate, or a slow one sampled often. Nothing slips less than
 * the denominators of the convergents of the frequency's continued fraction, up to the next of them (best
 * approximations of the second kind: Khinchin 1964, section 6), so that the fewest are found at one of those. */
static double errors_apart(double frequency, double peak_steps, size_t count) {
    /* however long the record, the steps err alike in every cycle: the fundamental of a rounding quantiser's error has
     * a mean square of ζ(3)/π⁴ steps² over the peak in steps (from its Bessel series, averaged over offset and peak):
     * as 13.5 samples a step of peak; 10 for peaks that fare worse than the average */
    double cycle = 10 * fmax(peak_steps, 0.3), most = fmax(cycle, long_period);
    double n = (double)count, least = n, before = 0, every = 1, rest = frequency - floor(frequency);
    while (every < least && every <= most) { /* no fewer than `every` are apart */
        least = fmin(least, apart_by(every, frequency, peak_steps, n));
        double turns = rest > 0 ? floor(1 / rest) : n, next = turns * every + before;
        rest = rest > 0 ? 1 / rest - turns : 0;
        before = every;
        every = next;
    }
    return 1 / (1 / least + 1 / cycle);
}

/* The share of the steps' error that noise in front of them leaves coherent (Widrow & Kollar 2008: the first term of
 * the characteristic function of a Gaussian). */
static double coherent_share(double noise_v, double step) {
    double ahead = fmax(noise_v * noise_v - step * step / 12, 0);
    return exp(-2 * pi * pi * ahead / (step * step));
}

/* Of a record in which every sample is the same nobody knows the step: the value may be one step itself; more than a
 * tenth of a volt only where that is a fiftieth of it, two divisions of ten in 8 bits. */
static const double flat_step_v = 0.1, flat_step_share = 0.02;

static double flat_step(double value) {
    value = fabs(value);
    return value > 0 ? fmin(value, fmax(flat_step_share * value, flat_step_v)) : flat_step_v;
}

/* Where noise hardly reaches from one code to the next, the mean of a level's samples stands as far from the level as
 * the level's nearest threshold at most, and may stand there: whatever the samples' own variance, up to what two codes
 * make, since that says nothing of the noise before the converter. */
static double level_unknown(const gw_work *work) {
    double step = work->block->step, turns = (work->model->fit.dc - work->block->volts[0]) / step;
    return fabs(fabs(turns - round(turns)) - 0.5) * step;
}

/* Samples on flat tops have the error of their code in common. Tops are codes, or two neighbours that noise scatters
 * them over, with so large a share of all samples, and so many times what each code has on average. */
static const double top_least = 0.1, top_times = 8;
enum { CODES_MAX = 4096 };
/* Of the steps' error; less is averaged out by noise. */
static const double coherent_least = 1e-3;

/* How many samples have each code; `counts` has one place more than there are codes. */
static void codes_count(const gw_block *block, double low, size_t *counts) {
    for (size_t i = 0; i < block->count; i++)
        if (!block->marks || block->marks[i] == GW_SAMPLE_PRESENT)
            counts[(size_t)((block->volts[i] - low) / block->step + 0.5)]++;
}

/* Times the root of the sum of the squares of the tops' shares of the record: each has an error of its own. */
static bool tops_count(const gw_block *block, double present, double *u_level, gw_error *error) {
    double power = 0;
    gw_extent all = gw_extent_of(block->volts, NULL, block->marks, block->count);
    double codes = round((all.high - all.low) / block->step) + 1;
    size_t *counts = codes <= CODES_MAX ? calloc((size_t)codes + 1, sizeof *counts) : NULL;
    if (!counts) {
        *u_level = 0;
        return codes > CODES_MAX || gw_error_memory(error);
    }
    codes_count(block, all.low, counts);
    for (size_t k = 0; k < (size_t)codes; k++) {
        double share = (double)(counts[k] + counts[k + 1]) / present;
        if (share < fmax(top_least, top_times / codes))
            continue;
        power += share * share;
        k++;
    }
    free(counts);
    *u_level *= sqrt(power);
    return true;
}

bool gw_steps_of(const gw_model *model, const gw_block *block, double noise_v, gw_steps *out, gw_error *error) {
    double step = block->step, peak = 0;
    *out = (gw_steps){0};
    if (!(step > 0))
        return true;
    for (size_t k = 0; k < model->fit.line_count; k++)
        peak = hypot(peak, sqrt(2) * gw_work_line_rms(&model->fit.lines[k]) / step);
    double apart = errors_apart(model->fit.base[GW_BASE_SIGNAL], peak, model->fit.count);
    double extra = 2 / apart - 2 / (double)model->fit.count;
    out->coherent = coherent_share(noise_v, step);
    out->u_steps = step / sqrt(12) * sqrt(2 / apart) * out->coherent;
    out->u_code = step / sqrt(12) * sqrt(fmax(extra, 0)) * out->coherent;
    /* the mean square of noise over two codes of a top is anything from half to twice its average over all offsets */
    double even = sqrt(fmax(noise_v * noise_v - step * step / 24, 0)), coherent = coherent_share(even, step);
    if (coherent < coherent_least)
        return true;
    out->u_level = step / sqrt(12) * coherent;
    return tops_count(block, (double)model->fit.present, &out->u_level, error);
}

/* Mean square of two codes, each half of the time, in steps. */
static const double two_codes = 0.25;

static void level_resolution(gw_work *work) {
    double step = work->block->step;
    work->coherent = coherent_share(work->noise_v, step);
    work->u_steps = work->u_code = step / sqrt(12) * work->coherent;
    if (work->noise_v * work->noise_v <= 1.05 * two_codes * step * step)
        work->u_level = level_unknown(work) / sqrt(3);
}

bool gw_work_resolution(gw_work *work) {
    double step = work->block->step;
    if (!(step > 0)) {
        if (!work->model->tone && work->noise_v == 0 && work->block->high_end <= 0)
            work->u_level = flat_step(work->model->fit.dc) / sqrt(12);
        return true;
    }
    if (!work->model->tone) {
        level_resolution(work);
        return true;
    }
    gw_steps steps;
    bool done = gw_steps_of(work->model, work->block, work->noise_v, &steps, work->error);
    work->coherent = steps.coherent;
    work->u_steps = steps.u_steps;
    work->u_code = steps.u_code;
    work->u_level = steps.u_level;
    return done;
}

/* Power of harmonics 2 and up over that of the fundamental. */
static double harmonic_share(const gw_model *model) {
    double first = 0, rest = 0;
    for (size_t k = 0; k < model->fit.line_count; k++) {
        double rms = gw_work_line_rms(&model->fit.lines[k]);
        int order = model->fit.lines[k].multiple[GW_BASE_SIGNAL];
        if (order == 1)
            first += rms * rms;
        else if (order > 1)
            rest += rms * rms;
    }
    return first > 0 ? rest / first : INFINITY;
}

static gw_signal without_tone(const gw_work *work) {
    double noise = work->noise_v, dc = fabs(work->model->fit.dc), step = work->block->step;
    double hum = 0;
    for (size_t k = 0; k < work->model->fit.line_count; k++)
        hum = hypot(hum, gw_work_line_rms(&work->model->fit.lines[k]));
    double ac = hypot(noise, hum);
    bool level = dc > 2 * step && dc > 10 * ac;
    if (ac <= step)
        return level ? GW_SIGNAL_DC : GW_SIGNAL_NONE;
    if (ac == 0)
        return dc > 0 ? GW_SIGNAL_DC : GW_SIGNAL_NONE;
    return level ? GW_SIGNAL_DC : GW_SIGNAL_NOISE;
}

bool gw_work_classify(gw_work *work) {
    const gw_model *model = work->model;
    if (!model->tone)
        work->out->signal = without_tone(work);
    else if (model->two_tone)
        work->out->signal = GW_SIGNAL_TWO_TONE;
    else if (harmonic_share(model) < 1.0 / 9 && work->options->stimulus.shape != GW_SHAPE_PERIODIC)
        work->out->signal = GW_SIGNAL_SINE;
    else
        work->out->signal = GW_SIGNAL_PERIODIC;
    return true;
}
