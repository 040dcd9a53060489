#include "measure/living.h"

#include "measure/cutouts.h"
#include "measure/dead.h"
#include "measure/gaps.h"
#include "measure/peaks.h"
#include "measure/robust.h"

#include <math.h>
#include <stdlib.h>

/* What one steady signal leaves of its power beside the gaps: noise 17 dB below it. */
static const double left_beside = 0.02;
/* Harmonics of a sine that is bent, of the power of the fundamental. */
static const double harmonics_of_sine = 0.1;
/* Of a period: a drop to nothing for so long halves the RMS of some window of one period. */
static const double period_share = 0.75;
/* Of the record: a shorter gap leads no fit astray. */
static const double record_share = 1.0 / 64;
/* Fits of one sine, each beside the cuts that the one before showed. */
enum { TURNS = 3 };
/* Of a frequency: what differs by less is the same signal. */
static const double same_frequency = 0.05;
/* What they leave, re the sine: where another signal is as strong, both together are nothing now and then. */
static const double left_of_sine = 0.5;

/* Power of the signal's fundamental and of all other lines. */
static void powers(const gw_fit *fit, double *first, double *others) {
    *first = *others = 0;
    for (size_t k = 0; k < fit->line_count; k++) {
        const gw_sinusoid *line = &fit->lines[k];
        double power = 0.5 * (line->cosine * line->cosine + line->sine * line->sine);
        bool fundamental = line->multiple[GW_BASE_SIGNAL] == 1 && line->multiple[GW_BASE_SECOND] == 0;
        *(fundamental ? first : others) += power;
    }
}

/* Is it one sine that explains nearly all there is? */
static bool is_steady_sine(const gw_model *model) {
    double first, others;
    if (!model->tone || model->two_tone || !model->fit.solved)
        return false;
    powers(&model->fit, &first, &others);
    return others < harmonics_of_sine * first && model->variance < left_beside * first;
}

/* Is it a comb of periods that do repeat? Then pauses are its own. */
static bool is_steady_comb(const gw_model *model) {
    double first, others;
    powers(&model->fit, &first, &others);
    return model->tone && !model->two_tone && model->fit.solved && model->cycles >= 3 &&
           model->variance < left_beside * (first + others);
}

/* The longest part of the block without any of the stretches, and clear of their ends. */
static gw_block longest_between(const gw_block *block, const gw_event *dead, size_t count) {
    size_t from = 0, first = 0, length = 0;
    double clear_s = gw_dead_error_s(block);
    for (size_t k = 0; k <= count; k++) {
        size_t end = k < count ? (size_t)(fmax(dead[k].start_s - clear_s, 0) * block->rate_hz) : block->count;
        if (end > from && end - from > length) {
            first = from;
            length = end - from;
        }
        if (k < count)
            from = (size_t)ceil((dead[k].start_s + dead[k].length_s + clear_s) * block->rate_hz);
    }
    gw_block part = *block;
    part.volts += first;
    part.marks = block->marks ? block->marks + first : NULL;
    part.count = length;
    part.hint = NULL;
    return part;
}

/* A model of the longest part between the stretches in which hardly anything moves; without a tone where there are none
 * or the part is no steady sine. */
static bool between_dead(const gw_block *block, const gw_measure_options *options, gw_model *guide, gw_error *error) {
    gw_event dead[GW_DEAD_MAX];
    size_t count;
    double longest = 0;
    *guide = (gw_model){0};
    if (!gw_dead_stretches(block, dead, &count))
        return gw_error_memory(error);
    for (size_t k = 0; k < count; k++)
        longest = fmax(longest, dead[k].length_s * block->rate_hz);
    if (longest < record_share * (double)block->count)
        return true;
    gw_block part = longest_between(block, dead, count);
    if (!gw_model_build(&part, &options->stimulus, options->mains_hz, guide, error))
        return false;
    if (!(is_steady_sine(guide) && longest * guide->fit.base[GW_BASE_SIGNAL] > period_share))
        gw_model_end(guide);
    return true;
}

/* One sine at so many cycles a sample, and nothing else. */
static bool sine_alone(const gw_block *block, double frequency, gw_model *guide, gw_error *error) {
    *guide = (gw_model){.step = block->step, .tone = true};
    if (!gw_fit_begin(&guide->fit, block->volts, block->marks, block->count, error))
        return false;
    guide->fit.base[GW_BASE_SIGNAL] = frequency;
    guide->fit.base_free[GW_BASE_SIGNAL] = true;
    if (!gw_fit_add(&guide->fit, 1, 0, 0, error) || !gw_fit_solve(&guide->fit, error))
        return false;
    guide->tone = guide->fit.solved;
    return gw_robust_sigma(guide->fit.residual, block->marks, block->count, &guide->robust_v) || gw_error_memory(error);
}

/* Frequency of the strongest line of the record, cycles a sample; 0 where none stands out. */
static bool strongest_line(const gw_block *block, double *frequency, gw_error *error) {
    gw_peaks peaks;
    *frequency = 0;
    if (!gw_peaks_find(block->shelf, block->volts, block->marks, block->count, block->rate_hz, &peaks))
        return gw_error_memory(error);
    if (peaks.count)
        *frequency = peaks.items[0].cycles / (double)block->count;
    return true;
}

/* A sine beside its cuts: what is found gone is left out of the next fit. Without a tone where nothing is gone. */
static bool between_cuts(const gw_block *block, double frequency, gw_model *guide, gw_error *error) {
    gw_block part = *block;
    *guide = (gw_model){0};
    bool done = !(frequency > 0) || sine_alone(block, frequency, guide, error);
    for (int turn = 0; turn < TURNS && done && guide->tone; turn++) {
        unsigned char *marks;
        frequency = guide->fit.base[GW_BASE_SIGNAL];
        done = gw_gaps_find(block, guide, true, &marks, error);
        gw_model_end(guide);
        part.marks = marks;
        if (done && marks)
            done = sine_alone(&part, frequency, guide, error);
        guide->fit.marks = NULL; /* what is known now is the sine */
        free(marks);
    }
    double first = 0, others;
    if (done && guide->tone)
        powers(&guide->fit, &first, &others);
    guide->tone = guide->tone && guide->robust_v < left_of_sine * sqrt(first);
    return done;
}

/* Beside its gaps a signal is explained no worse than across them, or the fit went astray. */
static bool explains_more(const gw_fit *beside, const gw_fit *across) {
    return beside->rss * (double)across->present <= across->rss * (double)beside->present;
}

/* Where gaps led it astray a model leaves so much more of each sample: a comb of few, long periods takes gaps for its
 * own, but leaves what does not come again. */
static const double much_less = 0.8;

/* The model of what is left beside the gaps, by a frequency that is known or, where that explains nothing, by its own.
 */
static bool build_beside(const gw_block *living, const gw_measure_options *options, double known, bool only,
                         gw_model *beside, gw_error *error) {
    if (!gw_model_from(living, &options->stimulus, options->mains_hz, known, beside, error))
        return false;
    if (only || is_steady_sine(beside) || is_steady_comb(beside))
        return true;
    gw_model_end(beside);
    return gw_model_build(living, &options->stimulus, options->mains_hz, beside, error);
}

static bool fits_beside(const gw_model *beside, const gw_model *model, bool guided) {
    if (!beside->tone)
        return false;
    if (!guided)
        return explains_more(&beside->fit, &model->fit);
    return is_steady_sine(beside) || (is_steady_comb(beside) && beside->variance < much_less * model->variance);
}

/* What was fitted beside the gaps in place of `*model`, or the gaps are none. */
static void take_or_leave(const gw_block *block, gw_model *beside, bool fits, gw_model *model, gw_block *living,
                          unsigned char **marks) {
    if (fits) {
        gw_model_end(model);
        *model = *beside;
        return;
    }
    gw_model_end(beside);
    free(*marks);
    *marks = NULL;
    *living = *block;
}

/* Gaps by the frequency of `guide`, and the model beside them in place of `*model`. */
static bool beside_gaps(const gw_block *block, const gw_measure_options *options, const gw_model *guide,
                        gw_model *model, gw_block *living, unsigned char **marks, gw_error *error) {
    gw_model beside;
    bool guided = guide != model;
    if (!gw_gaps_find(block, guide, guided, marks, error))
        return false;
    if (!*marks)
        return true;
    living->marks = *marks;
    if (!build_beside(living, options, guide->fit.base[GW_BASE_SIGNAL], guided, &beside, error))
        return false;
    bool fits = fits_beside(&beside, model, guided) && !gw_gaps_are_impulses(&beside, *marks);
    take_or_leave(block, &beside, fits, model, living, marks);
    return true;
}

/* Steady signals need no second look; of what is fed in as noise, a sweep or nothing, no sine is expected. */
static bool may_be_astray(const gw_model *model, const gw_stimulus *stimulus) {
    bool sine = stimulus->shape == GW_SHAPE_SINE || stimulus->shape == GW_SHAPE_UNKNOWN;
    return sine && model->fit.solved && !gw_fit_exact(&model->fit) && !is_steady_sine(model) && !is_steady_comb(model);
}

/* Where the strongest line, or the sine that the model holds, has cuts: the model beside them. */
static bool beside_cuts(const gw_block *block, const gw_measure_options *options, bool astray, gw_model *model,
                        gw_block *living, unsigned char **marks, gw_error *error) {
    gw_model guide = {0};
    double frequency = astray ? 0 : model->fit.base[GW_BASE_SIGNAL];
    bool done = (!astray || strongest_line(block, &frequency, error)) &&
                between_cuts(block, frequency, &guide, error) &&
                (!guide.tone || beside_gaps(block, options, &guide, model, living, marks, error));
    gw_model_end(&guide);
    return done;
}

/* Is the model one of the frequency already, or of one a little beside it? */
static bool is_of(const gw_model *model, double frequency) {
    double base = model->tone ? model->fit.base[GW_BASE_SIGNAL] : 0;
    return fabs(base - frequency) < same_frequency * frequency;
}

/* A signal of many lines whose gaps led its model astray: its strongest line is its fundamental, and there are
 * stretches of some of its periods in which nothing is left. */
static bool beside_pauses(const gw_block *block, const gw_measure_options *options, gw_model *model, gw_block *living,
                          unsigned char **marks, gw_error *error) {
    gw_model sine, beside;
    double frequency;
    if (!strongest_line(block, &frequency, error))
        return false;
    if (!(frequency > 0) || is_of(model, frequency))
        return true;
    bool done = sine_alone(block, frequency, &sine, error);
    frequency = sine.fit.base[GW_BASE_SIGNAL];
    if (done && sine.tone)
        done = gw_gaps_of_period(block, sine.fit.dc, frequency * block->rate_hz, marks, error);
    gw_model_end(&sine);
    if (!done || !*marks)
        return done;
    living->marks = *marks;
    if (!gw_model_from(living, &options->stimulus, options->mains_hz, frequency, &beside, error))
        return false;
    bool fits = is_of(&beside, frequency) && fits_beside(&beside, model, true);
    take_or_leave(block, &beside, fits, model, living, marks);
    return true;
}

/* What holds no tone, or a comb of few periods, may be a signal of many lines with gaps. */
static bool may_have_pauses(const gw_model *model, const gw_stimulus *stimulus) {
    bool periodic =
        stimulus->shape == GW_SHAPE_PERIODIC || stimulus->shape == GW_SHAPE_SINE || stimulus->shape == GW_SHAPE_UNKNOWN;
    return periodic && model->fit.solved && !gw_fit_exact(&model->fit) && !model->two_tone && !is_steady_sine(model);
}

bool gw_living_find(const gw_block *block, const gw_measure_options *options, gw_model *model, gw_block *living,
                    unsigned char **marks, gw_error *error) {
    bool astray = may_be_astray(model, &options->stimulus);
    *living = *block;
    *marks = NULL;
    if (astray || gw_cutouts_seen(model)) {
        bool done = beside_cuts(block, options, astray, model, living, marks, error);
        if (!done || *marks)
            return done;
    }
    if (astray) {
        gw_model guide;
        bool done = between_dead(block, options, &guide, error);
        if (done && guide.tone)
            done = beside_gaps(block, options, &guide, model, living, marks, error);
        gw_model_end(&guide);
        if (!done || *marks)
            return done;
    }
    if (may_have_pauses(model, &options->stimulus)) {
        bool done = beside_pauses(block, options, model, living, marks, error);
        if (!done || *marks)
            return done;
    }
    return beside_gaps(block, options, model, model, living, marks, error);
}
