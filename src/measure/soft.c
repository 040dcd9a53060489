#include "measure/soft.h"

#include "gainwalk/capture.h"
#include "measure/envelope.h"
#include "measure/peaks.h"
#include "measure/robust.h"

#include <math.h>
#include <stdlib.h>

/* Of the level between: what counts as nothing, as all of it, as steady. */
static const double nothing = 0.2, all_of_it = 0.95, steady = 0.85;
/* So many windows from nothing to all, at least: what begins at once takes one, and half of one for the places that
 * windows begin at. Of that way, as much again until the rest is there as well. */
static const double windows_least = 1.75, rest_of_way = 0.5;
/* Share of the record that must be left, of the windows between that must be steady. */
static const double left_least = 0.3, steady_least = 0.9;
/* A long slope is no soft end (common practice: 5 to 100 ms). */
static const double longest_s = 0.25;
/* Of a signal that is not known: what beats more slowly is not steady. */
static const double unknown_s = 4e-3;
enum { SAMPLES_LEAST = 32, PERIODS_LEAST = 8, HOPS = 4 };

/* Windows from one end on: of the envelope as it stands, or backwards. */
typedef struct view {
    const gw_envelope *of;
    bool backwards;
} view;

static double at(const view *v, size_t k) {
    return v->of->rms[v->backwards ? v->of->count - 1 - k : k];
}

/* The first window, from this end on, in which all of the signal is; 0 where it is there from the end on. `*way`: from
 * the last with nothing to it, in windows. False where what is before is not a soft beginning out of nothing. */
static bool begins_at(const view *v, double level, size_t *first, size_t *way) {
    size_t quiet = 0, count = v->of->count;
    *first = *way = 0;
    while (*first < count && !(at(v, *first) >= all_of_it * level))
        ++*first;
    if (*first == 0)
        return true;
    while (quiet < *first && at(v, quiet) < nothing * level)
        quiet++;
    for (size_t k = quiet; k < *first; k++)
        if (at(v, k) < nothing * level)
            return false;
    *way = *first - quiet + 1;
    return *first < count && quiet > 0;
}

static bool is_soft(const gw_envelope *e, size_t way, double rate_hz) {
    return (double)way >= windows_least * HOPS && (double)(way * e->hop) < longest_s * rate_hz;
}

/* Is the signal steady in the windows `first` to `end`? */
static bool is_steady(const gw_envelope *e, double level, size_t first, size_t end) {
    size_t held = 0;
    for (size_t k = first; k < end; k++)
        held += e->rms[k] >= steady * level && e->rms[k] * steady <= level;
    return (double)held > steady_least * (double)(end - first);
}

/* The level that is there for most of the time that anything is. */
static bool level_of(const gw_envelope *e, double *level) {
    double *kept = malloc((e->count + 1) * sizeof *kept), highest = 0;
    size_t count = 0;
    *level = 0;
    if (!kept)
        return false;
    for (size_t k = 0; k < e->count; k++)
        highest = fmax(highest, e->rms[k]);
    for (size_t k = 0; k < e->count; k++)
        if (e->rms[k] > 0.5 * highest)
            kept[count++] = e->rms[k];
    if (count > 0)
        *level = gw_rank_select(kept, count, count / 2);
    free(kept);
    return true;
}

/* The samples `*from` to `*to` that the steady signal is in; false where both ends are not as they should be. */
static bool span_find(const gw_envelope *e, double level, double rate_hz, size_t n, size_t *from, size_t *to) {
    view forwards = {e, false}, backwards = {e, true};
    size_t first, last, way[2];
    if (!begins_at(&forwards, level, &first, &way[0]) || !begins_at(&backwards, level, &last, &way[1]))
        return false;
    bool soft[2] = {first > 0 && is_soft(e, way[0], rate_hz), last > 0 && is_soft(e, way[1], rate_hz)};
    if ((!soft[0] && !soft[1]) || first + last >= e->count || !is_steady(e, level, first, e->count - last))
        return false;
    size_t rest[2] = {(size_t)(rest_of_way * (double)way[0]) + 1, (size_t)(rest_of_way * (double)way[1]) + 1};
    *from = soft[0] ? (first + rest[0]) * e->hop : 0;
    size_t left_out = soft[1] ? (last + rest[1]) * e->hop : 0;
    *to = n > left_out ? n - left_out : 0;
    return *to > *from && (double)(*to - *from) > left_least * (double)n;
}

static bool marks_make(const gw_block *block, size_t from, size_t to, unsigned char **marks) {
    *marks = malloc(block->count);
    for (size_t i = 0; *marks && i < block->count; i++)
        (*marks)[i] = i < from || i >= to ? GW_SAMPLE_MISSING : block->marks ? block->marks[i] : GW_SAMPLE_PRESENT;
    return *marks != NULL;
}

/* Samples after which the waveform, or the beat of two tones, comes again; 0 without a tone. Silence can have hidden
 * that: the period of the strongest line, then. */
static bool again_of(const gw_block *block, const gw_model *model, double *again) {
    double often = gw_model_again(model);
    gw_peaks peaks;
    *again = often > 0 ? 1 / often : 0;
    if (model->tone)
        return true;
    if (!gw_peaks_find(block->shelf, block->volts, block->marks, block->count, block->rate_hz, &peaks))
        return false;
    if (peaks.count > 0 && peaks.items[0].cycles > 0)
        *again = (double)block->count / peaks.items[0].cycles;
    if (*again > 0) /* of several lines the sum comes to nothing now and then */
        *again *= fmax(ceil(unknown_s * block->rate_hz / *again), 1);
    return true;
}

/* Of the record's power about DC: what a window of nothing has less of, however much of the record is silent. */
static const double quiet_most = 0.15;

static bool is_quiet(const gw_block *block, const gw_fit *fit, size_t from, size_t window) {
    double sum = 0, all = fit->total / (double)fit->present - fit->dc * fit->dc;
    for (size_t i = from; i < from + window; i++)
        sum += (block->volts[i] - fit->dc) * (block->volts[i] - fit->dc);
    return sum < quiet_most * all * (double)window;
}

bool gw_soft_ends_find(const gw_block *block, const gw_model *model, unsigned char **marks) {
    double again, level;
    *marks = NULL;
    if (!again_of(block, model, &again))
        return false;
    if (!(again > 0) || again * PERIODS_LEAST > (double)block->count || gw_fit_exact(&model->fit))
        return true;
    size_t window = (size_t)(ceil(SAMPLES_LEAST / again) * again + 0.5), from, to;
    if (window > block->count / 2)
        return true;
    if (!is_quiet(block, &model->fit, 0, window) && !is_quiet(block, &model->fit, block->count - window, window))
        return true;
    gw_envelope envelope;
    bool done =
        gw_envelope_make(block->volts, block->marks, block->count, model->fit.dc, window, window / HOPS, &envelope);
    done = done && level_of(&envelope, &level);
    if (done && level > 0 && span_find(&envelope, level, block->rate_hz, block->count, &from, &to))
        done = marks_make(block, from, to, marks);
    free(envelope.rms);
    return done;
}
