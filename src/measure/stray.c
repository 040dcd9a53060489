#include "measure/beside.h"

#include "measure/bounds.h"
#include "measure/lonely.h"
#include "measure/peaks.h"

#include <math.h>

/* In more cycles than this a tone beside the signal pulls neither its frequency nor DC, and is found in what is left.
 */
static const double few_cycles = 12;
/* A weaker tone than this, re the fundamental, pulls too little to matter. */
static const double least_share = 0.05;
/* Of what the fundamental leaves, the tone holds all but this share (of rss); else it is one line among others. */
static const double left_of_rest = 0.35;
/* Harmonics of a bent sine don't stand alone above this order. */
static const double highest_order = 20;
/* Of two tones that nothing states, what the weaker has of the stronger at least, and both leave of the record's AC. */
static const double pair_share = 0.1, pair_leaves = 0.1;
/* Fewer cycles of the stronger can't be told from a slope or hum. */
static const double least_cycles = 1.5;
/* Two tones nearer than this, in cycles of the record, are not told apart. */
static const double least_apart = 1;
/* A line this near to a harmonic, in cycles of the record, is the harmonic. */
static const double harmonic_within = 0.15;

/* A tone that so much of the residual is (of rss) joins the model however small it is. */
static const double most_of_rest = 0.5;
/* Cycles of the record; slower things are steps and slopes of DC. */
static const double slowest_tone = 4;
/* Of a correlation of white noise; one record in thousands shows more. */
static const double white_deviations = 4;

static double rms_of(const gw_sinusoid *line) {
    return hypot(line->cosine, line->sine) / sqrt(2);
}

/* Of two tones that are stated one may well be a multiple of the other (250 Hz and 8 kHz are 1 to 32). */
static bool is_harmonic(const gw_fit *fit, const gw_stimulus *stimulus) {
    double signal = fit->base[GW_BASE_SIGNAL], order = round(fit->base[GW_BASE_SECOND] / signal);
    double apart = fabs(fit->base[GW_BASE_SECOND] - order * signal) * (double)fit->count;
    if (stimulus->shape == GW_SHAPE_TWO_TONE)
        return fabs(fit->base[GW_BASE_SECOND] - signal) * (double)fit->count < least_apart;
    return order <= highest_order && (order < 2 || apart < harmonic_within);
}

/* Takes the tone out again, and the fundamental back to where it was. */
static bool take_back(gw_model *model, double signal, bool was_free, gw_error *error) {
    gw_fit *fit = &model->fit;
    gw_fit_remove(fit, fit->line_count - 1);
    fit->base[GW_BASE_SIGNAL] = signal;
    fit->base_free[GW_BASE_SIGNAL] = was_free;
    fit->base[GW_BASE_SECOND] = 0;
    fit->base_free[GW_BASE_SECOND] = false;
    fit->started = false;
    return gw_fit_solve(fit, error);
}

/* A tone at `found` (cycles a sample) joins the fit; whether it went elsewhere, by more than a line. */
static bool tone_join(gw_fit *fit, double found, bool *strayed, gw_error *error) {
    fit->base[GW_BASE_SECOND] = found;
    fit->base_free[GW_BASE_SECOND] = true;
    fit->started = false;
    if (!gw_fit_add(fit, 0, 1, 0, error) || !gw_fit_solve(fit, error))
        return false;
    *strayed = fabs(fit->base[GW_BASE_SECOND] - found) * (double)fit->count > 1;
    return true;
}

/* Is so little left of a record without gaps that no line in it could be a stray tone? */
static bool none_stray(const gw_fit *fit) {
    return fit->present == fit->count && gw_line_most(fit->rss, fit->count) < least_share * rms_of(&fit->lines[0]);
}

bool gw_pair_possible(const gw_fit *fit) {
    return fit->line_count != 1 || !fit->base_free[GW_BASE_SIGNAL] || !none_stray(fit);
}

bool gw_stray_join(gw_model *model, const gw_block *block, const gw_stimulus *stimulus, gw_error *error) {
    gw_fit *fit = &model->fit;
    bool was_free = fit->base_free[GW_BASE_SIGNAL];
    double before = fit->rss, signal = fit->base[GW_BASE_SIGNAL], cycles = signal * (double)fit->count;
    gw_peaks peaks;
    if (!fit->solved || fit->line_count != 1 || cycles > few_cycles || gw_fit_exact(fit) || none_stray(fit))
        return true;
    if (!gw_peaks_find(block->shelf, fit->residual, fit->marks, fit->count, block->rate_hz, &peaks))
        return gw_error_memory(error);
    if (!peaks.count || peaks.items[0].rms < least_share * rms_of(&fit->lines[0]))
        return true;
    double found = peaks.items[0].cycles / (double)fit->count;
    bool strayed;
    /* beside a strong tone the guess of the fundamental may be a good part of a cycle off: what is stated is nearer */
    if (stimulus->frequency_hz > 0)
        fit->base[GW_BASE_SIGNAL] = stimulus->frequency_hz / block->rate_hz;
    fit->base_free[GW_BASE_SIGNAL] = true;
    if (!tone_join(fit, found, &strayed, error))
        return false;
    strayed = strayed || fabs(fit->base[GW_BASE_SIGNAL] / signal - 1) > 0.2;
    model->stray = fit->solved && !strayed && !is_harmonic(fit, stimulus) && fit->rss < left_of_rest * before;
    return model->stray || take_back(model, signal, was_free, error);
}

/* Does what is left look like white noise? A tone shows in the products of neighbours, or of next ones but one where
 * its period is four samples. */
bool gw_leaves_white(const gw_fit *fit) {
    double one = 0, two = 0, most = white_deviations * fit->rss / sqrt((double)fit->present);
    for (size_t i = 2; i < fit->count; i++) {
        one += fit->residual[i] * fit->residual[i - 1];
        two += fit->residual[i] * fit->residual[i - 2];
    }
    return fabs(one) < most && fabs(two) < most;
}

/* RMS that a tone which most of the residual is has at least, and which the steps could not make. */
static double beside_least(const gw_model *model) {
    const gw_fit *fit = &model->fit;
    return sqrt(fmax(most_of_rest * fit->rss / (double)fit->present, model->step * model->step / 12));
}

bool gw_stray_beside(gw_model *model, const gw_block *block, const gw_stimulus *stimulus, gw_error *error) {
    gw_fit *fit = &model->fit;
    bool was_free = fit->base_free[GW_BASE_SIGNAL];
    if (!model->tone || model->two_tone || model->stray || fit->line_count > GW_RICH_COMB || !fit->solved ||
        gw_fit_exact(fit) || gw_leaves_white(fit))
        return true;
    double before = fit->rss, signal = fit->base[GW_BASE_SIGNAL], least = beside_least(model);
    if (fit->present == fit->count && gw_line_most_of(block->shelf, fit->residual, fit->count) < least)
        return true;
    gw_peaks peaks;
    if (!gw_peaks_find(block->shelf, fit->residual, fit->marks, fit->count, block->rate_hz, &peaks))
        return gw_error_memory(error);
    if (!peaks.count || peaks.items[0].cycles < slowest_tone || peaks.items[0].rms < least)
        return true;
    double found = peaks.items[0].cycles / (double)fit->count;
    bool strayed;
    if (!tone_join(fit, found, &strayed, error))
        return false;
    strayed = strayed || fabs(fit->base[GW_BASE_SIGNAL] - signal) * (double)fit->count > 0.5;
    model->stray = fit->solved && !strayed && !is_harmonic(fit, stimulus) && fit->rss < (1 - most_of_rest) * before;
    return model->stray || take_back(model, signal, was_free, error);
}

/* The strongest harmonic of the comb; line_count where there is none. */
static size_t strongest_harmonic(const gw_fit *fit) {
    size_t best = fit->line_count;
    for (size_t k = 0; k < fit->line_count; k++)
        if (fit->lines[k].multiple[GW_BASE_SIGNAL] > 1 &&
            (best == fit->line_count || rms_of(&fit->lines[k]) > rms_of(&fit->lines[best])))
            best = k;
    return best;
}

/* The better of two models leaves so much less at most (of rss), and by so much less in the criterion of Schwarz 1978,
 * n ln rss + unknowns ln n. */
static const double better_leaves = 0.7, better_certain = 30;

bool gw_fit_better(const gw_fit *fit, double rss, double unknowns) {
    double n = (double)fit->present, more = (double)fit->unknowns - unknowns;
    return fit->solved && fit->rss < better_leaves * rss && n * log(rss / fit->rss) - more * log(n) > better_certain;
}

/* Could a line that leaves its harmonic gain what is asked for? It does what another one beside it does together with
 * it; half as much is asked for. So near, in cycles of the record, that other is the first one's slope, and nothing
 * else that the base, which a strong tone of a high order has taken along, could not do. */
static const double beside_cycles = 0.1;

static bool leaving_pays(const gw_fit *fit, double place) {
    double least = 0.5 * (1 - better_leaves) * fit->rss, apart = beside_cycles / (double)fit->count;
    return gw_fit_candidate(fit, place - apart).drop > least || gw_fit_candidate(fit, place + apart).drop > least;
}

bool gw_stray_apart(gw_model *model, bool open, bool *moved, gw_error *error) {
    gw_fit *fit = &model->fit;
    *moved = false;
    if (!model->tone || model->two_tone || model->stray || fit->line_count > GW_RICH_COMB || !fit->solved ||
        !fit->base_free[GW_BASE_SIGNAL] || gw_fit_exact(fit) || gw_leaves_white(fit))
        return true;
    size_t line = strongest_harmonic(fit), first = gw_fit_find(fit, 1, 0, 0);
    if (line == fit->line_count || first == fit->line_count || rms_of(&fit->lines[line]) > rms_of(&fit->lines[first]))
        return true;
    double before = fit->rss, unknowns = (double)fit->unknowns, signal = fit->base[GW_BASE_SIGNAL];
    gw_sinusoid harmonic = fit->lines[line];
    double place = harmonic.multiple[GW_BASE_SIGNAL] * signal;
    if (!leaving_pays(fit, place))
        return true;
    gw_fit_remove(fit, line);
    bool strayed;
    if (!tone_join(fit, place, &strayed, error))
        return false;
    *moved = !strayed && gw_fit_better(fit, before, unknowns) &&
             fabs(fit->base[GW_BASE_SIGNAL] - signal) * (double)fit->count < 0.5;
    if (*moved) {
        const gw_sinusoid *tone = &fit->lines[fit->line_count - 1];
        model->two_tone = open && fit->line_count == 2 && rms_of(tone) >= pair_share * rms_of(&fit->lines[0]);
        model->stray = !model->two_tone;
        return true;
    }
    if (!take_back(model, signal, true, error))
        return false;
    return gw_fit_add(fit, harmonic.multiple[GW_BASE_SIGNAL], 0, 0, error) && gw_fit_solve(fit, error);
}

/* Nothing but the strongest line of the spectrum, as a fundamental; `*ac` is the record's sum of squares about DC. */
static bool strongest_alone(gw_model *model, const gw_block *block, double *ac, bool *there, gw_error *error) {
    gw_fit *fit = &model->fit;
    gw_peaks peaks;
    *there = false;
    if (!gw_fit_solve(fit, error))
        return false;
    *ac = fit->rss;
    if (!gw_peaks_find(block->shelf, block->volts, block->marks, block->count, block->rate_hz, &peaks))
        return gw_error_memory(error);
    if (!peaks.count || peaks.items[0].cycles < least_cycles || peaks.items[0].cycles > few_cycles)
        return true;
    fit->base[GW_BASE_SIGNAL] = peaks.items[0].cycles / (double)fit->count;
    fit->base_free[GW_BASE_SIGNAL] = true;
    model->tone = *there = true;
    return gw_fit_add(fit, 1, 0, 0, error) && gw_fit_solve(fit, error);
}

/* Of two tones the lower is the signal's base. */
static bool lower_first(gw_fit *fit, gw_error *error) {
    double signal = fit->base[GW_BASE_SIGNAL];
    if (signal <= fit->base[GW_BASE_SECOND])
        return true;
    fit->base[GW_BASE_SIGNAL] = fit->base[GW_BASE_SECOND];
    fit->base[GW_BASE_SECOND] = signal;
    fit->started = false;
    return gw_fit_solve(fit, error);
}

bool gw_pair_find(gw_model *model, const gw_block *block, gw_shape stated, bool *found, gw_error *error) {
    const gw_stimulus shape = {.shape = stated};
    gw_model pair = {.step = block->step};
    double ac = 0;
    *found = false;
    if (!gw_fit_begin(&pair.fit, block->volts, block->marks, block->count, error))
        return false;
    pair.fit.shelf = block->shelf;
    bool there, done = strongest_alone(&pair, block, &ac, &there, error) &&
                       (!there || gw_stray_join(&pair, block, &shape, error));
    if (done && pair.stray && pair.fit.rss < pair_leaves * ac) {
        *found = true;
        pair.two_tone = rms_of(&pair.fit.lines[1]) >= pair_share * rms_of(&pair.fit.lines[0]);
        pair.stray = !pair.two_tone;
        gw_model_end(model);
        *model = pair;
        return !pair.two_tone || lower_first(&model->fit, error);
    }
    gw_model_end(&pair);
    return done;
}
