#include "measure/gaps.h"

#include "gainwalk/capture.h"
#include "measure/cutouts.h"
#include "measure/wobble.h"

#include <math.h>
#include <stdlib.h>

/* Of what is there outside, in RMS; more is a signal that sways, or stands on hum. */
static const double left_in_gaps = 0.35;
/* The least of the record, and of periods, that a fit can do with. */
static const double left_of_record = 0.3, periods_left = 2.5;
/* How exactly the ends of a gap are known. */
static const double periods_beside = 0.5;

/* A signal with gaps leaves at least this share of its power to the fit; else hum explains the sway. */
static const double left_of_fit = 0.02;

/* Where the fit leaves less than this share of what it holds, there are no gaps: nothing need be looked for. With gaps
 * it holds 0.09 of the power outside them at least (left_of_record, squared). */
static const double too_little_left = 0.09 * 0.02 / 2;

enum { GAPS_MAX = 64 };

unsigned char *gw_gaps_marks(const gw_block *block, const gw_event *gaps, size_t count, double margin_s) {
    unsigned char *marks = malloc(block->count);
    if (!marks)
        return NULL;
    for (size_t i = 0; i < block->count; i++)
        marks[i] = block->marks ? block->marks[i] : GW_SAMPLE_PRESENT;
    for (size_t k = 0; k < count; k++) {
        double from = (gaps[k].start_s - margin_s) * block->rate_hz;
        double to = (gaps[k].start_s + gaps[k].length_s + margin_s) * block->rate_hz;
        size_t first = (size_t)fmax(from, 0), end = (size_t)fmin(to, (double)block->count);
        for (size_t i = first; i < end; i++)
            marks[i] = GW_SAMPLE_MISSING;
    }
    return marks;
}

/* Sum of squares about `dc`, and how many samples. */
typedef struct power {
    double sum, count;
} power;

static power power_of(const gw_block *block, const unsigned char *marks, double dc) {
    power out = {0};
    for (size_t i = 0; i < block->count; i++)
        if (marks[i] == GW_SAMPLE_PRESENT) {
            out.sum += (block->volts[i] - dc) * (block->volts[i] - dc);
            out.count++;
        }
    return out;
}

/* Sum of squares in the gaps themselves, a quarter of each left out at either end. */
static power power_in(const gw_block *block, const gw_event *gaps, size_t count, double dc) {
    power out = {0};
    for (size_t k = 0; k < count; k++) {
        size_t first = (size_t)((gaps[k].start_s + 0.25 * gaps[k].length_s) * block->rate_hz);
        size_t end = (size_t)((gaps[k].start_s + 0.75 * gaps[k].length_s) * block->rate_hz);
        for (size_t i = first; i < end && i < block->count; i++)
            if (!block->marks || block->marks[i] == GW_SAMPLE_PRESENT) {
                out.sum += (block->volts[i] - dc) * (block->volts[i] - dc);
                out.count++;
            }
    }
    return out;
}

/* Is enough there outside to be fitted? */
static bool enough_left(const gw_block *block, double dc, const unsigned char *marks, double frequency_hz) {
    power there = power_of(block, marks, dc);
    double all = (double)block->count;
    return there.count > fmax(left_of_record * all, periods_left * block->rate_hz / frequency_hz);
}

static bool are_gaps(const gw_block *block, double dc, const unsigned char *marks, const gw_event *gaps, size_t count) {
    power there = power_of(block, marks, dc), gone = power_in(block, gaps, count, dc);
    return gone.count > 0 && gone.sum / gone.count < left_in_gaps * left_in_gaps * there.sum / there.count;
}

/* Sum of squares of the lines that were fitted. */
static double fitted_power(const gw_fit *fit) {
    double sum = 0;
    for (size_t k = 0; k < fit->line_count; k++)
        sum += 0.5 * (fit->lines[k].cosine * fit->lines[k].cosine + fit->lines[k].sine * fit->lines[k].sine);
    return sum * (double)fit->present;
}

/* Does the fit leave as much as gaps would have it leave? Without them hum explains the sway. */
static bool leaves_enough(const gw_block *block, const gw_model *model, const unsigned char *marks) {
    return model->fit.rss > left_of_fit * power_of(block, marks, model->fit.dc).sum;
}

/* Where the mains' sum with the signal is nothing for a while, nothing is gone. */
static bool cutouts_find(const gw_block *block, const gw_model *model, gw_event *gaps, size_t *count) {
    double *steady = gw_model_steady(model);
    bool done = steady && gw_cutouts_find(model, steady, block->marks, block->rate_hz, gaps, GAPS_MAX, count);
    free(steady);
    return done;
}

/* Cut-outs, or dropouts where they are not known; none where the level but sways. */
static bool stretches_find(const gw_block *block, const gw_model *model, bool known, gw_event *gaps, size_t *count) {
    double frequency = model->fit.base[GW_BASE_SIGNAL] * block->rate_hz;
    bool sways = false;
    bool done = known ? cutouts_find(block, model, gaps, count)
                      : gw_events_dropouts(block->volts, block->marks, block->count, block->rate_hz, model->fit.dc,
                                           frequency, model->robust_v, gaps, GAPS_MAX, count);
    if (done && *count > 0)
        done =
            gw_wobble_alone(block->volts, block->marks, block->count, block->rate_hz, model->fit.dc, frequency, &sways);
    *count = sways ? 0 : *count;
    return done;
}

/* Marks with the stretches missing; NULL where they are no gaps or too little is left beside them. `certain`: gaps they
 * are. False when memory is out. */
static bool marks_keep(const gw_block *block, double dc, double frequency_hz, const gw_event *gaps, size_t count,
                       bool certain, unsigned char **marks) {
    *marks = NULL;
    if (count == 0 || count > GAPS_MAX)
        return true;
    *marks = gw_gaps_marks(block, gaps, count, periods_beside / frequency_hz);
    if (!*marks)
        return false;
    if (!enough_left(block, dc, *marks, frequency_hz) || !(certain || are_gaps(block, dc, *marks, gaps, count))) {
        free(*marks);
        *marks = NULL;
    }
    return true;
}

bool gw_gaps_find(const gw_block *block, const gw_model *model, bool beside, unsigned char **marks, gw_error *error) {
    gw_event gaps[GAPS_MAX];
    double frequency = model->fit.base[GW_BASE_SIGNAL] * block->rate_hz;
    size_t count = 0;
    *marks = NULL;
    if (!model->tone || model->two_tone || !model->fit.solved || gw_fit_exact(&model->fit))
        return true;
    bool known = gw_cutouts_known(model) && model->fit.count == block->count;
    if (known && gw_cutouts_none(model))
        return true;
    if (!known && !beside && model->fit.rss < too_little_left * fitted_power(&model->fit))
        return true;
    if (!stretches_find(block, model, known, gaps, &count) ||
        !marks_keep(block, model->fit.dc, frequency, gaps, count, known, marks))
        return gw_error_memory(error);
    if (*marks && !known && !beside && !leaves_enough(block, model, *marks)) {
        free(*marks);
        *marks = NULL;
    }
    return true;
}

bool gw_gaps_of_period(const gw_block *block, double dc, double frequency_hz, unsigned char **marks, gw_error *error) {
    gw_event gaps[GAPS_MAX];
    size_t count;
    *marks = NULL;
    /* what noise there is the quietest window tells */
    if (!gw_events_dropouts(block->volts, block->marks, block->count, block->rate_hz, dc, frequency_hz, INFINITY, gaps,
                            GAPS_MAX, &count) ||
        !marks_keep(block, dc, frequency_hz, gaps, count, false, marks))
        return gw_error_memory(error);
    return true;
}

bool gw_gaps_are_impulses(const gw_model *beside, const unsigned char *marks) {
    return gw_cutouts_are_impulses(beside, marks, periods_beside / beside->fit.base[GW_BASE_SIGNAL]);
}
