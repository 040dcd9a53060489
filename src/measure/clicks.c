#include "measure/clicks.h"

#include "gainwalk/capture.h"
#include "measure/robust.h"

#include <math.h>

static const double stands_out = 6, around_s = 0.02, of_edge = 0.5, far_higher = 4;
/* Samples on either side: of what the residual is like, at least; left out beside the impulse; of the level there. */
enum { AROUND_LEAST = 128, CLEAR = 4, LEVEL = 4, LEVEL_CLEAR = 2, BESIDE = 16 };

typedef struct place {
    size_t first, end;
} place;

static place place_of(const gw_clicks_of *of, const gw_event *event) {
    size_t first = (size_t)fmax(event->start_s * of->rate_hz + 0.5, 0);
    size_t end = first + (size_t)(event->length_s * of->rate_hz + 0.5);
    return (place){first < of->n ? first : of->n, end < of->n ? end : of->n};
}

/* Robust deviation of the residual over `length` samples from `from` on, or before it; over fewer where the record does
 * not reach so far, and 0 where those are too few. */
static bool deviation(const gw_clicks_of *of, size_t from, size_t length, bool before, double *sigma) {
    size_t room = before         ? from
                  : from < of->n ? of->n - from
                                 : 0,
           least = length < AROUND_LEAST ? length : AROUND_LEAST;
    *sigma = 0;
    if (room < least)
        return true;
    length = length < room ? length : room;
    from = before ? from - length : from;
    return gw_robust_sigma(of->residual + from, of->marks ? of->marks + from : NULL, length, sigma);
}

static bool is_alike_around(const gw_clicks_of *of, place p, double size, bool *done) {
    size_t length = of->n / 4;
    double before = 0, behind = 0, around = fmax(around_s * of->rate_hz, AROUND_LEAST);
    if (around < (double)length)
        length = (size_t)around;
    *done = deviation(of, p.first > CLEAR ? p.first - CLEAR : 0, length, true, &before) &&
            deviation(of, p.end + CLEAR, length, false, &behind);
    return fabs(size) < stands_out * fmax(before, behind);
}

/* Mean of LEVEL samples about the middle `at`. */
static double level_at(const double *volts, double at) {
    double sum = 0;
    for (size_t i = 0, from = (size_t)(at - LEVEL / 2.0); i < LEVEL; i++)
        sum += volts[from + i];
    return sum / LEVEL;
}

/* By how much the level behind is another than before, beyond what it slopes on either side. */
static bool is_edge(const gw_clicks_of *of, place p, double size) {
    double beside = LEVEL_CLEAR + LEVEL / 2.0, before = (double)p.first - beside, behind = (double)p.end + beside;
    double apart = behind - before, middle = (before + behind) / 2;
    if (!of->edges || middle < 1.5 * apart + LEVEL || middle + 1.5 * apart + LEVEL > (double)of->n)
        return false;
    double low = level_at(of->volts, before), high = level_at(of->volts, behind);
    double slopes = (low - level_at(of->volts, before - apart) + level_at(of->volts, behind + apart) - high) / 2;
    return fabs(high - low - slopes) > of_edge * fabs(size);
}

/* Is there, within a few samples, a jump far higher than the impulse? What a fit leaves swings beside it. */
static bool is_beside_edge(const gw_clicks_of *of, place p, double size) {
    size_t from = p.first > BESIDE ? p.first - BESIDE : 0, to = p.end + BESIDE < of->n ? p.end + BESIDE : of->n;
    for (size_t i = from; of->edges && i + 2 < to; i++)
        if (fabs(of->volts[i + 2] - of->volts[i]) > far_higher * fabs(size))
            return true;
    return false;
}

/* Samples of a note, at least; RMS behind it re that at its end, at least; its mean re its RMS, at most. */
enum { NOTE_LEAST = 64 };
static const double goes_on = 0.6, about_nothing = 0.3;

static double rms_of(const gw_clicks_of *of, size_t from, size_t to, double *mean) {
    double sum = 0, squares = 0, count = 0;
    for (size_t i = from; i < to; i++) {
        if (of->marks && of->marks[i] != GW_SAMPLE_PRESENT)
            continue;
        sum += of->residual[i];
        squares += of->residual[i] * of->residual[i];
        count++;
    }
    *mean = count > 0 ? sum / count : 0;
    return count > 0 ? sqrt(squares / count) : 0;
}

static bool is_note(const gw_clicks_of *of, place p) {
    double mean, ignored;
    if (!of->notes || p.end < p.first + NOTE_LEAST)
        return false;
    size_t quarter = (p.end - p.first) / 4, behind = p.end + quarter < of->n ? p.end + quarter : of->n;
    double all = rms_of(of, p.first, p.end, &mean), last = rms_of(of, p.end - quarter, p.end, &ignored);
    return rms_of(of, p.end, behind, &ignored) > goes_on * last && fabs(mean) < about_nothing * all;
}

/* ---- soft ends ------------------------------------------------------------------------------------- */

/* Share of a record at either end in which a test signal swells and dies down; samples that are looked at, at least; of
 * the residual there, what less of the model explains. */
static const double soft_end = 0.1, explained_least = 0.35;
enum { SOFT_LEAST = 32 };

typedef struct likeness {
    double model, residual, products; /* sums of squares and of products */
} likeness;

static likeness likeness_of(const gw_clicks_of *of, size_t from, size_t to) {
    likeness sums = {0};
    for (size_t i = from; i < to; i++) {
        if (of->marks && of->marks[i] != GW_SAMPLE_PRESENT)
            continue;
        double residual = of->residual[i], model = of->volts[i] - residual - of->dc;
        sums.model += model * model;
        sums.residual += residual * residual;
        sums.products += model * residual;
    }
    return sums;
}

/* Lacks the wave there a part of itself, and as large a part from there to the record's end `outer`? */
static bool is_soft(const gw_clicks_of *of, place p, size_t outer) {
    likeness here = likeness_of(of, p.first, p.end);
    likeness beyond = outer <= p.first ? likeness_of(of, outer, p.first) : likeness_of(of, p.end, outer);
    double lacks = -here.products / here.model,
           explained = here.products * here.products / (here.model * here.residual);
    size_t between = outer <= p.first ? p.first - outer : outer - p.end;
    bool outward = between < SOFT_LEAST || beyond.residual * here.model >= here.residual * beyond.model;
    return lacks > 0 && lacks < 1.2 && explained > explained_least && outward;
}

static bool is_soft_end(const gw_clicks_of *of, place p) {
    if (p.end < p.first + SOFT_LEAST) {
        p.first = p.first > SOFT_LEAST / 2 ? p.first - SOFT_LEAST / 2 : 0;
        p.end = p.end + SOFT_LEAST / 2 < of->n ? p.end + SOFT_LEAST / 2 : of->n;
    }
    return ((double)p.end < soft_end * (double)of->n && is_soft(of, p, 0)) ||
           ((double)p.first > (1 - soft_end) * (double)of->n && is_soft(of, p, of->n));
}

size_t gw_clicks_keep(const gw_clicks_of *of, gw_event *events, size_t count, bool *done) {
    size_t kept = 0;
    for (size_t k = 0; k < count && *done; k++) {
        place p = place_of(of, &events[k]);
        double size = events[k].size_v;
        if (!is_soft_end(of, p) && !is_note(of, p) && !is_alike_around(of, p, size, done) && !is_edge(of, p, size) &&
            !is_beside_edge(of, p, size))
            events[kept++] = events[k];
    }
    return kept;
}
