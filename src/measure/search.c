/* The fundamental of a record of a few cycles: a search over all frequencies, by least squares with as many harmonics
 * as the record pays for (Schwarz 1978: n ln rss + unknowns·ln n). */
#include "measure/basis.h"

#include <math.h>
#include <stdlib.h>

/* What is left of the record's energy when the search has narrowed down as far as it goes. */
static const double least_rest = 1e-13;

typedef struct choice {
    double cycles, criterion;
    int trend, order; /* order of the strongest harmonic */
    bool repeats;
} choice;

static double criterion_of(const gw_points *data, double rss, double unknowns) {
    double n = (double)data->count;
    /* rounding, and the converter's steps, end what can be gained */
    return n * log(fmax(rss, 0) + data->unknown + least_rest * data->total) + unknowns * log(n);
}

/* The best number of harmonics at one frequency; `best` is replaced where it is beaten. */
static void frequency_try(const gw_points *data, gw_basis *b, double cycles, int trend, int orders, choice *best) {
    gw_basis_begin(b, data, trend);
    gw_basis_turn(b, data, cycles);
    double drop = 0;
    int strongest = 1;
    for (int order = 1; order <= orders && cycles * order < 0.45 * (double)data->count; order++) {
        double before = b->rss;
        gw_basis_harmonic(b, order);
        if (before - b->rss > drop) {
            drop = before - b->rss;
            strongest = order;
        }
        double criterion = criterion_of(data, b->rss, 2.0 * order + 2 + trend);
        if (criterion < best->criterion)
            *best = (choice){.cycles = cycles, .criterion = criterion, .trend = trend, .order = strongest};
    }
}

/* A sine's residual is smooth over a tenth of a cycle, that of its harmonics over a part of it. */
static void grid_try(const gw_points *data, gw_basis *b, double least, double most, int trend, int orders,
                     choice *best) {
    double spacing = orders == 1 ? 0.1 : 0.025;
    if (orders == 1 && data->even) {
        double rss, cycles = gw_basis_sine_best(b, data, trend, least, most, spacing, &rss);
        double criterion = cycles > 0 ? criterion_of(data, rss, 4.0 + trend) : INFINITY;
        if (criterion < best->criterion)
            *best = (choice){.cycles = cycles, .criterion = criterion, .trend = trend, .order = 1};
        return;
    }
    for (double cycles = least; cycles <= most; cycles += cycles < 6 || orders == 1 ? spacing : 2 * spacing)
        frequency_try(data, b, cycles, trend, orders, best);
}

/* The criterion at one frequency as something that is a parabola around its minimum: proportional to the residual. */
static double residual_at(const gw_points *data, gw_basis *b, double cycles, int orders, choice *best) {
    choice own = {.criterion = INFINITY};
    frequency_try(data, b, cycles, best->trend, orders, &own);
    if (own.criterion < best->criterion)
        *best = own;
    return exp(own.criterion / (double)data->count);
}

/* Moves a choice to the bottom of its valley, by parabolas of shrinking width. */
static void narrow(const gw_points *data, gw_basis *b, int orders, choice *best) {
    double width = orders == 1 ? 0.05 : 0.02;
    for (int pass = 0; pass < 8 && width > 1e-8; pass++) {
        double middle = best->cycles, before = best->criterion;
        double here = residual_at(data, b, middle, orders, best);
        double left = residual_at(data, b, middle - width, orders, best);
        double right = residual_at(data, b, middle + width, orders, best);
        double bend = left - 2 * here + right, shift = bend > 0 ? 0.5 * width * (left - right) / bend : 0;
        shift = fmin(fmax(shift, -width), width);
        residual_at(data, b, middle + shift, orders, best);
        if (pass > 1 && before - best->criterion < 0.01)
            break;
        width = fmin(0.3 * width, fmax(0.3 * fabs(shift), 0.01 * width));
    }
}

/* The grid is too coarse to compare a frequency with its multiples and parts: each is narrowed before. */
static void relatives_try(const gw_points *data, gw_basis *b, double least, double most, choice *best) {
    static const double ratios[] = {1, 2, 3, 4, 5, 6, 1.5, 0.5, 1.0 / 3, 0.25, 2.0 / 3, 0.2};
    double found = best->cycles;
    for (size_t k = 0; k < sizeof ratios / sizeof *ratios; k++) {
        double cycles = ratios[k] * found;
        if (cycles < least || cycles > most)
            continue;
        choice own = {.criterion = INFINITY, .trend = best->trend};
        frequency_try(data, b, cycles, best->trend, GW_POINT_ORDERS, &own);
        narrow(data, b, GW_POINT_ORDERS, &own);
        if (own.criterion < best->criterion)
            *best = own;
    }
}

/* Is nothing left but noise, or no more than the converter's steps? (von Neumann 1941: the mean square successive
 * difference of white noise is twice its mean square.) */
static bool nothing_left(const gw_points *data, const gw_basis *b) {
    if (b->rss < 2.5 * data->unknown + 10 * least_rest * data->total)
        return true;
    double sum = 0, n = (double)data->count, before = gw_basis_left(b, data->count, 0);
    for (size_t i = 1; i < data->count; i++) {
        double here = gw_basis_left(b, data->count, i);
        sum += (here - before) * (here - before);
        before = here;
    }
    return sum / b->rss > 2 - 6 / sqrt(n);
}

/* A sine, with or without a bend under it: taken where it explains all. */
static bool sine_try(const gw_points *data, gw_basis *b, double least, double most, int trend, choice *best) {
    choice sine = {.criterion = INFINITY, .trend = trend};
    grid_try(data, b, least, most, trend, 1, &sine);
    if (!(sine.cycles > 0))
        return false;
    narrow(data, b, 1, &sine);
    if (sine.criterion < best->criterion)
        *best = sine;
    choice again = {.criterion = INFINITY};
    frequency_try(data, b, sine.cycles, trend, 1, &again);
    return nothing_left(data, b) && best->cycles > 0;
}

/* Is the choice all there is? */
static bool explains(const gw_points *data, gw_basis *b, const choice *c) {
    choice again = {.criterion = INFINITY};
    frequency_try(data, b, c->cycles, c->trend, GW_POINT_ORDERS, &again);
    return nothing_left(data, b);
}

/* Harmonics on the frequency of the best sine, its parts and multiples; the whole grid where that is not all. */
static bool harmonics_try(const gw_points *data, gw_basis *b, double least, double most, choice *best) {
    for (int trend = 0; trend <= GW_TREND; trend += GW_TREND) {
        choice own = *best;
        own.trend = trend;
        relatives_try(data, b, least, most, &own);
        if (own.criterion < best->criterion)
            *best = own;
        if (explains(data, b, best))
            return true;
    }
    for (int trend = 0; trend <= GW_TREND; trend += GW_TREND)
        grid_try(data, b, least, most, trend, GW_POINT_ORDERS, best);
    relatives_try(data, b, least, most, best);
    return explains(data, b, best);
}

/* Share of what a sine and hum leave that a slope and hum at twice the mains must not leave. */
static const double slow_left = 0.75;

/* A sine above a slope and hum of two orders, where these show; of either network where none is stated. */
static bool slow_try(gw_points *data, gw_basis *b, double least, double most, choice *best) {
    choice own = {.criterion = INFINITY};
    double hum = data->hum;
    if (!(hum > 0) || !(best->cycles > 0))
        return false;
    frequency_try(data, b, best->cycles, GW_TREND, 1, &own);
    double before = b->rss;
    frequency_try(data, b, best->cycles, GW_TREND_MAX, 1, &own);
    if (!(b->rss < slow_left * before))
        return false;
    bool done = sine_try(data, b, least, most, GW_TREND_MAX, best);
    if (done || data->other == 0)
        return done;
    data->hum = data->other;
    done = sine_try(data, b, least, most, GW_TREND_MAX, best);
    data->hum = hum;
    return done;
}

/* A sine, if that explains all; else harmonics, with and without a bend; else whatever repeats. */
static bool search(const gw_block *block, gw_points *data, gw_basis *b, double least, double most, choice *out) {
    *out = (choice){.criterion = criterion_of(data, data->total, 1)};
    for (int trend = 0; trend <= GW_TREND; trend += GW_TREND)
        if (sine_try(data, b, least, most, trend, out))
            return true;
    if (slow_try(data, b, least, most, out))
        return true;
    /* a comb under little more than one cycle is a complete basis, and would explain anything */
    least = fmax(least, 1.2);
    if (out->cycles > 0 && harmonics_try(data, b, least, most, out))
        return true;
    /* more harmonics than were tried: a waveform with edges */
    double cycles;
    if (!gw_search_period(block, least, most, &cycles))
        return false;
    if (cycles > 0) {
        *out = (choice){.criterion = INFINITY};
        frequency_try(data, b, cycles, 0, GW_POINT_ORDERS, out);
        out->repeats = true;
    }
    return true;
}

bool gw_search_few(const gw_block *block, double mains_hz, double least, double most, gw_coarse *out) {
    *out = (gw_coarse){0};
    gw_points *data = malloc(sizeof *data);
    gw_basis *b = malloc(sizeof *b);
    bool done = data && b;
    if (done) {
        b->trend = -1;
        gw_points_make(block, mains_hz, data);
        if (data->count >= 8 && data->total > 0) {
            choice best = {0};
            done = search(block, data, b, least, most, &best);
            out->signal = best.cycles / (double)block->count;
            out->order = best.order;
            out->repeats = best.repeats;
        }
    }
    free(data);
    free(b);
    return done;
}
