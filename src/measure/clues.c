/* What the shape and the course of the record show beside the readings: clipping, events, slow modulation, pictures. */
#include "measure/work.h"

#include "gainwalk/capture.h"
#include "measure/clicks.h"
#include "measure/cutouts.h"
#include "measure/flats.h"
#include "measure/gaps.h"
#include "measure/shape.h"
#include "measure/sweep.h"
#include "measure/traces.h"
#include "measure/wobble.h"

#include <math.h>
#include <stdlib.h>

enum { EVENTS_MAX = 64, COLUMNS = 720 };

static double signal_hz(const gw_work *work) {
    return work->model->tone && !work->model->two_tone ? work->model->fit.base[GW_BASE_SIGNAL] * work->block->rate_hz
                                                       : 0;
}

static bool sine_meant(const gw_work *work) {
    return work->options->stimulus.shape == GW_SHAPE_SINE || work->options->sine_expected ||
           work->out->signal == GW_SIGNAL_SINE;
}

static void flat_read(gw_work *work, gw_reading_key key, const gw_flat *flat) {
    if (work->model->cycles > 0 && work->model->cycles < 1.2)
        gw_work_none(work, key, "less than 1.2 cycles of the signal in the record");
    else
        /* every flat begins and ends within half a sample or so of where it seems to */
        gw_work_value(work, key, flat->share,
                      flat->clipped ? 0.5 * (1 + work->model->cycles) / (double)work->block->count : 0, false);
}

/* Where the signal stands still. */
static bool clipping_find(gw_work *work) {
    const gw_block *block = work->block;
    gw_clues *clues = &work->out->clues;
    gw_flats_input input = {.volts = block->volts,
                            .marks = block->marks,
                            .n = block->count,
                            .rate_hz = block->rate_hz,
                            .step = block->step,
                            .low_end = block->low_end,
                            .high_end = block->high_end,
                            .frequency_hz = signal_hz(work),
                            .noise_v = fmin(work->model->robust_v, work->noise_v),
                            .sine = sine_meant(work)};
    if (!gw_flats_find(&input, &clues->high, &clues->low))
        return gw_error_memory(work->error);
    flat_read(work, GW_CLIP_HIGH, &clues->high);
    flat_read(work, GW_CLIP_LOW, &clues->low);
    return true;
}

static size_t kept(size_t count) {
    return count < EVENTS_MAX ? count : EVENTS_MAX;
}

/* A step is looked for between means over a twentieth of the record (gw_events_steps). */
enum { STEP_WINDOWS = 20 };
static const double edge_times = 2;
/* Of the deviation of what a fit leaves: the height, on both sides, of a tone that it leaves where the level wavers. */
static const double left_times = 6, pi = 3.14159265358979323846;

/* Where edges are sampled that the fit can't follow, their average moves as the samples fall: steps under a hundredth
 * of the swing are theirs. Returns how many remain. */
static size_t drop_small_steps(const gw_work *work, gw_event *steps, size_t count) {
    double least = work->folded ? 0.01 * work->out->values[GW_PEAK_TO_PEAK].value : 0;
    /* the means on either side of a place hold whole periods but for a sample: an edge's height over their length */
    least = fmax(least, edge_times * work->edges.height_v * STEP_WINDOWS / (double)work->block->count);
    /* of a tone whose level changes they hold halves of periods that do not cancel: up to height / (pi periods) each */
    double periods = signal_hz(work) / work->block->rate_hz * (double)work->block->count / STEP_WINDOWS;
    if (periods >= 1)
        least = fmax(least, left_times * work->model->robust_v / (pi * periods));
    size_t left = 0;
    for (size_t k = 0; k < count; k++)
        if (fabs(steps[k].size_v) >= least)
            steps[left++] = steps[k];
    return left;
}

/* Of the power outside the dropouts, what a steady signal may leave unexplained: what has none, as programme, falls and
 * rises by itself. */
static const double left_of_steady = 0.15;

static bool steady_beside(const gw_work *work, const gw_event *dropouts, size_t count, bool *steady) {
    const gw_fit *fit = &work->model->fit;
    double left = 0, all = 0;
    unsigned char *marks =
        gw_gaps_marks(work->block, dropouts, count, 1 / (fit->base[GW_BASE_SIGNAL] * work->block->rate_hz));
    for (size_t i = 0; marks && i < fit->count; i++) {
        double value = marks[i] == GW_SAMPLE_PRESENT ? fit->values[i] - fit->dc : 0;
        left += marks[i] == GW_SAMPLE_PRESENT ? fit->residual[i] * fit->residual[i] : 0;
        all += value * value;
    }
    *steady = marks && left < left_of_steady * all;
    free(marks);
    return marks != NULL;
}

/* Dropouts of a steady signal; none where its level but sways. */
static bool dropouts_find(const gw_work *work, const double *steady, double again_hz, gw_event *out, size_t *count) {
    const gw_block *b = work->whole;
    const gw_model *model = work->model;
    bool is_steady = true, sways = false, known = work->out->signal == GW_SIGNAL_SINE && gw_cutouts_known(model);
    bool done = known ? gw_cutouts_find(model, steady, b->marks, b->rate_hz, out, EVENTS_MAX, count)
                      : gw_events_dropouts(steady, b->marks, b->count, b->rate_hz, model->fit.dc, again_hz,
                                           model->robust_v, out, EVENTS_MAX, count);
    if (done && *count > 0)
        done = gw_wobble_alone(steady, b->marks, b->count, b->rate_hz, model->fit.dc, again_hz, &sways);
    if (done && *count > 0 && !known)
        done = steady_beside(work, out, kept(*count), &is_steady);
    *count = is_steady && !sways ? *count : 0;
    return done;
}

/* Waveforms of so many harmonics have edges; of more periods than this they are known by coming again. */
enum { EDGED_LINES = 10, EDGED_PERIODS = 12 };

/* What of the impulses is no crackle; more than there is room for are judged by those that there is room for. */
static bool clicks_find(const gw_work *work, const double *edges, const unsigned char *marks, double sigma_v,
                        double frequency_hz, gw_event *out, size_t *count) {
    const gw_block *b = work->block;
    const gw_fit *fit = &work->model->fit;
    gw_clicks_of of = {.residual = edges,
                       .volts = fit->values,
                       .marks = marks,
                       .n = b->count,
                       .rate_hz = b->rate_hz,
                       .dc = fit->dc,
                       .edges = work->model->cycles < EDGED_PERIODS && fit->line_count >= EDGED_LINES,
                       .notes = work->out->signal == GW_SIGNAL_NOISE};
    bool done =
        gw_events_crackle(edges, marks, b->count, b->rate_hz, sigma_v, b->step, frequency_hz, out, EVENTS_MAX, count);
    size_t found = kept(*count), left = done ? gw_clicks_keep(&of, out, found, &done) : 0;
    *count = *count > found && left > found / 2 ? *count : left;
    return done;
}

/* Marks with the dropouts left out; of those that are impulses none is left. NULL when memory is out. */
static unsigned char *marks_beside(const gw_work *work, const gw_event *dropouts, size_t *count, double margin_s) {
    unsigned char *marks = gw_gaps_marks(work->block, dropouts, *count, margin_s);
    if (!marks || *count == 0 || !gw_cutouts_are_impulses(work->model, marks, margin_s * work->block->rate_hz))
        return marks;
    free(marks);
    *count = 0;
    return gw_gaps_marks(work->block, NULL, 0, 0);
}

/* Dropouts need a steady signal, crackle and steps the residual. Harmonics folded down are a part of the waveform's
 * edges: with some of them taken out, the rest of an edge looks like an impulse. */
static bool events_find(gw_work *work, const double *steady) {
    const gw_block *b = work->block;
    const double *residual = work->model->fit.residual, *edges = work->folded ? residual : work->quiet;
    gw_event *events = gw_arena_array(work->out->arena, (size_t)3 * EVENTS_MAX, sizeof *events);
    double frequency = work->model->tone ? work->model->fit.base[GW_BASE_SIGNAL] * b->rate_hz : 0;
    double again = gw_model_again(work->model) * b->rate_hz, periods = again / b->rate_hz * (double)b->count;
    size_t dropouts = 0, impulses = 0, leaps = 0;
    bool done = events != NULL;
    if (done && again > 0)
        done = dropouts_find(work, steady, again, events, &dropouts);
    size_t at = kept(dropouts);
    unsigned char *marks = done ? marks_beside(work, events, &at, frequency > 0 ? 1 / frequency : 0) : NULL;
    dropouts = at > 0 ? dropouts : 0;
    bool known = (work->quiet_all || work->folded) && at == 0 && b->marks == work->whole->marks;
    done =
        marks && clicks_find(work, edges, marks, known ? work->model->robust_v : -1, frequency, events + at, &impulses);
    at += kept(impulses);
    done = done &&
           gw_events_steps(edges, marks, b->count, b->rate_hz, b->step, frequency, events + at, EVENTS_MAX, &leaps);
    free(marks);
    if (!done)
        return gw_error_memory(work->error);
    leaps = drop_small_steps(work, events + at, kept(leaps));
    work->out->events = events;
    work->out->event_count = at + kept(leaps);
    work->out->clues.crackle_count = (double)impulses;
    work->out->clues.step_count = (double)leaps;
    if (again > 0 && work->model->cycles >= 3 && periods >= 3)
        gw_work_value(work, GW_DROPOUTS, (double)dropouts, 0, false);
    else
        gw_work_none(work, GW_DROPOUTS,
                     !(again > 0)               ? "no steady signal"
                     : work->model->cycles >= 3 ? "fewer than three beats of the two tones in the record"
                                                : "fewer than three cycles in the record");
    return true;
}

/* Slow modulation shows in the envelope once the mains are out. */
static bool wobble_read(gw_work *work, const double *steady) {
    const gw_fit *fit = &work->model->fit;
    double frequency = signal_hz(work);
    if (!(frequency > 0) || work->out->values[GW_DROPOUTS].value > 0)
        return true; /* a cut-out modulates too */
    gw_wobble wobble;
    if (!gw_wobble_find(steady, fit->marks, fit->count, work->block->rate_hz, work->block->step, fit->dc, frequency,
                        &wobble))
        return gw_error_memory(work->error);
    if (wobble.found) {
        work->out->clues.wobble_hz = wobble.frequency_hz;
        work->out->clues.wobble_depth = wobble.depth;
    }
    return true;
}

static void shape_read(gw_work *work) {
    if (!(signal_hz(work) > 0) || !sine_meant(work))
        return;
    gw_shape_clues shape = gw_shape_at_zero(work->out->harmonics, work->out->harmonic_count, work->block->step);
    bool clipped = work->out->clues.high.clipped || work->out->clues.low.clipped;
    work->out->clues.crossover = shape.crossover && !clipped;
    work->out->clues.slew_limited = shape.slew_limited && !clipped;
}

static bool pictures(gw_work *work) {
    const gw_block *b = work->block;
    if (b->part || work->options->figures_only)
        return true;
    return (gw_trace_waveform(b->volts, b->marks, b->count, b->rate_hz, work->out->source.start_s, COLUMNS,
                              work->out->arena, &work->out->waveform) &&
            gw_trace_spectrum(b->shelf, b->volts, b->marks, b->count, b->rate_hz, COLUMNS, work->out->arena,
                              &work->out->spectrum)) ||
           gw_error_memory(work->error);
}

bool gw_work_clues(gw_work *work) {
    gw_clues *clues = &work->out->clues;
    clues->cycles = work->model->cycles;
    double swing = work->out->values[GW_PEAK_TO_PEAK].value;
    clues->codes = work->block->step > 0 ? swing / work->block->step + 1 : 0;
    double *steady = gw_model_steady(work->model);
    if (!steady)
        return gw_error_memory(work->error);
    bool done = clipping_find(work) && events_find(work, steady) && wobble_read(work, steady) && pictures(work);
    free(steady);
    if (!done)
        return false;
    shape_read(work);
    return true;
}
