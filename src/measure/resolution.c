/* What the converter's steps do to a sinusoid, and what kind of signal the record holds. */
#include "measure/work.h"

#include <math.h>

enum { REPEAT_MAX = 4096 };

static const double pi = 3.14159265358979323846;

/* How many samples have steps' errors of their own. Samples that fall on the same part of the waveform again, to within
 * a step, repeat their error: a tone that divides the sample rate, or a slow one sampled often. */
static double errors_apart(double frequency, double peak_steps, size_t count) {
    double n = (double)count, least = n;
    for (size_t every = 1; every <= REPEAT_MAX && every < count; every++) {
        double turns = (double)every * frequency;
        double slip = fabs(turns - round(turns)), repeats = n / (double)every;
        double swept = 2 * pi * peak_steps * slip * repeats;
        double apart = (double)every * fmin(fmax(swept, 1), repeats);
        if (apart < least)
            least = apart;
    }
    /* and however long the record, the steps err alike in every cycle: the fundamental of a rounding quantiser's error
     * has a mean square of ζ(3)/π⁴ steps² over the peak in steps (from its Bessel series, averaged over offset and
     * peak): as 13.5 samples a step of peak; 10 for peaks that fare worse than the average */
    return 1 / (1 / least + 1 / (10 * fmax(peak_steps, 0.3)));
}

/* The share of the steps' error that noise in front of them leaves coherent (Widrow & Kollar 2008: the first term of
 * the characteristic function of a Gaussian). */
static double coherent_share(double noise_v, double step) {
    double ahead = fmax(noise_v * noise_v - step * step / 12, 0);
    return exp(-2 * pi * pi * ahead / (step * step));
}

bool gw_work_resolution(gw_work *work) {
    double step = work->block->step;
    if (!(step > 0))
        return true;
    const gw_model *model = work->model;
    work->coherent = coherent_share(work->noise_v, step);
    if (!model->tone) {
        work->u_steps = work->u_code = step / sqrt(12) * work->coherent;
        return true;
    }
    double peak = 0;
    for (size_t k = 0; k < model->fit.line_count; k++)
        peak = hypot(peak, sqrt(2) * gw_work_line_rms(&model->fit.lines[k]) / step);
    double apart = errors_apart(model->fit.base[GW_BASE_SIGNAL], peak, model->fit.count);
    double extra = 2 / apart - 2 / (double)model->fit.count;
    work->u_steps = step / sqrt(12) * sqrt(2 / apart) * work->coherent;
    work->u_code = step / sqrt(12) * sqrt(fmax(extra, 0)) * work->coherent;
    return true;
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
