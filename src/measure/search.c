/* The fundamental of a record of a few cycles: a search over all frequencies, by least squares with as many harmonics
 * as the record pays for (Schwarz 1978: n ln rss + unknowns·ln n). */
#include "base/lanes.h"
#include "measure/coarse.h"
#include "measure/sums.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { SEEDS = 16, POINTS_MAX = 256, ORDERS_MAX = 8, TREND = 2, TREND_MAX = 5 };
enum { COLUMNS_MAX = 1 + TREND_MAX + 2 * ORDERS_MAX };

static const double two_pi = 6.283185307179586476925;

/* What is left of the record's energy when the search has narrowed down as far as it goes. */
static const double least_rest = 1e-13;

typedef struct shrunk {
    double value[POINTS_MAX];
    double time[POINTS_MAX]; /* -0.5 … 0.5 of the record; 0 in the middle of even ones */
    size_t count;
    bool even;      /* no group of samples was missing: the times lie evenly */
    double total;   /* Σ (value − mean)² */
    double hum;     /* cycles of the mains in the record; 0 where it's too long for hum to look like a bend */
    double other;   /* the same of the other network, where none is stated; 0 otherwise */
    double unknown; /* what the converter's steps alone leave of it */
} shrunk;

/* Averages neighbours, so that at most POINTS_MAX are left; the mean is taken out. */
static void shrink(const gw_block *block, double mains_hz, shrunk *out) {
    size_t group = (block->count + POINTS_MAX - 1) / POINTS_MAX;
    out->count = 0;
    out->even = !block->marks;
    double mean = 0;
    for (size_t at = 0; at + group <= block->count; at += group) {
        double sum = 0, when = 0;
        size_t n = 0;
        for (size_t i = at; i < at + group; i++)
            if (!block->marks || !block->marks[i]) {
                sum += block->volts[i];
                when += (double)i;
                n++;
            }
        if (!n)
            continue;
        out->value[out->count] = sum / (double)n;
        out->time[out->count] = (when / (double)n - 0.5 * (double)(block->count - 1)) / (double)block->count;
        mean += out->value[out->count++];
    }
    mean /= fmax((double)out->count, 1);
    double middle = out->even && out->count ? 0.5 * (out->time[0] + out->time[out->count - 1]) : 0;
    double hum = (mains_hz > 0 ? mains_hz : 50) * (double)block->count / block->rate_hz;
    out->hum = hum < 2.5 ? hum : 0;
    out->other = mains_hz > 0 ? 0 : out->hum * 60 / 50;
    out->unknown = (double)out->count * block->step * block->step / 12;
    out->total = 0;
    for (size_t i = 0; i < out->count; i++) {
        out->value[i] -= mean;
        out->time[i] -= middle;
        out->total += out->value[i] * out->value[i];
    }
}

/* Orthonormal columns, and what of the values none of them explains yet. */
typedef struct part {
    double column[COLUMNS_MAX][POINTS_MAX];
    size_t columns, count; /* points */
    double left[POINTS_MAX];
} part;

/* Where the times lie evenly about 0, a record is its even part and its odd part, of half as many points each: pairs of
 * samples, added and subtracted, over √2. Constants and cosines are even, sines odd: they never meet. */
typedef struct basis {
    part parts[2];
    bool folded;
    double rss;
    double weight[POINTS_MAX]; /* √2 of pairs, 1 of what stands alone */
    double twice[POINTS_MAX];  /* 2 cos of the first order */
    double cosine[ORDERS_MAX + 1][POINTS_MAX], sine[ORDERS_MAX + 1][POINTS_MAX]; /* weighted */
    /* what lies under all frequencies, as it was asked for last */
    int trend; /* -1 not yet */
    double hum;
    size_t trend_columns[2];
    double trend_left[2][POINTS_MAX], trend_rss;
} basis;

static part *even_part(basis *b) {
    return &b->parts[0];
}

static part *odd_part(basis *b) {
    return &b->parts[b->folded];
}

/* column -= along·other; Σ of it with the next, in the same pass. */
GW_WIDE static double take_and_dot(double *column, double along, const double *other, const double *next,
                                   size_t count) {
    const gw_lanes by = {along, along, along, along};
    gw_lanes sum = {0}, more = {0};
    size_t i = 0;
    for (; i + GW_LANES <= count; i += GW_LANES) {
        gw_lanes one = GW_LANES_AT(column + i) - by * GW_LANES_AT(other + i),
                 two = GW_LANES_AT(column + i + 4) - by * GW_LANES_AT(other + i + 4);
        *(gw_lanes *)(column + i) = one;
        *(gw_lanes *)(column + i + 4) = two;
        sum += one * GW_LANES_AT(next + i);
        more += two * GW_LANES_AT(next + i + 4);
    }
    double total = gw_lanes_sum(&sum, &more);
    for (; i < count; i++) {
        column[i] -= along * other[i];
        total += column[i] * next[i];
    }
    return total;
}

/* Takes one more column into the basis (modified Gram–Schmidt) and what it explains out of the rest. */
static void column_add(basis *b, part *p) {
    double *column = p->column[p->columns];
    double before = gw_gram_dot(column, column, p->count), norm = before;
    double along = p->columns ? gw_gram_dot(column, p->column[0], p->count) : 0;
    for (size_t k = 0; k < p->columns; k++) {
        bool last = k + 1 == p->columns;
        double next = take_and_dot(column, along, p->column[k], last ? column : p->column[k + 1], p->count);
        along = next;
        norm = last ? next : norm;
    }
    if (norm < 1e-9 * before || !(norm > 0))
        return;
    double scale = 1 / sqrt(norm);
    for (size_t i = 0; i < p->count; i++)
        column[i] *= scale;
    along = gw_gram_dot(column, p->left, p->count);
    for (size_t i = 0; i < p->count; i++)
        p->left[i] -= along * column[i];
    b->rss -= along * along;
    p->columns++;
}

/* What may lie under the signal besides DC: hum, of which the record shows a part of a cycle or two (and where more is
 * asked for, a slope and hum at twice the mains); a slope and a curve where it's too long for that. */
static double bend(const shrunk *data, int power, double time) {
    double turn = two_pi * data->hum * time;
    switch (data->hum > 0 ? power : -power) {
    case 1:
        return sin(turn);
    case 2:
        return cos(turn);
    case 4:
        return sin(2 * turn);
    case 5:
        return cos(2 * turn);
    case -2:
        return time * time;
    default:
        return time;
    }
}

/* The values dealt to the parts. */
static void values_deal(basis *b, const shrunk *data) {
    size_t n = data->count, half = n / 2;
    b->folded = data->even;
    b->parts[0].count = b->parts[1].count = data->even ? n - half : n;
    b->parts[0].columns = b->parts[1].columns = 0;
    b->rss = data->total;
    for (size_t i = 0; i < b->parts[0].count; i++) {
        double one = data->value[i], other = data->value[n - 1 - i];
        bool alone = !b->folded || i == half;
        b->weight[i] = alone ? 1 : sqrt(2);
        b->parts[0].left[i] = alone ? one : (one + other) / sqrt(2);
        b->parts[1].left[i] = alone ? 0 : (one - other) / sqrt(2);
    }
}

static void trend_make(basis *b, const shrunk *data, int trend) {
    values_deal(b, data);
    for (int power = 0; power <= trend; power++) {
        /* the odd ones: a sine, or a slope */
        part *p = power == 1 || power == 3 || power == 4 ? odd_part(b) : even_part(b);
        double *column = p->column[p->columns];
        for (size_t i = 0; i < p->count; i++)
            column[i] = b->weight[i] * (power == 0 ? 1 : bend(data, power, data->time[i]));
        column_add(b, p);
    }
    b->trend = trend;
    b->hum = data->hum;
    b->trend_rss = b->rss;
    for (int k = 0; k < 2; k++) {
        b->trend_columns[k] = b->parts[k].columns;
        memcpy(b->trend_left[k], b->parts[k].left, b->parts[k].count * sizeof *b->parts[k].left);
    }
}

static void basis_begin(basis *b, const shrunk *data, int trend) {
    if (b->trend != trend || b->hum != data->hum)
        trend_make(b, data, trend);
    b->rss = b->trend_rss;
    for (int k = 0; k < 2; k++) {
        b->parts[k].columns = b->trend_columns[k];
        memcpy(b->parts[k].left, b->trend_left[k], b->parts[k].count * sizeof *b->parts[k].left);
    }
}

/* Cosine and sine of the first order: a few exact, the rest by rotation where the times are even. */
static void orders_fill(basis *b, const shrunk *data, double cycles) {
    double *c = b->cosine[1], *s = b->sine[1];
    size_t count = even_part(b)->count, exact = data->even && count > SEEDS ? SEEDS : count;
    for (size_t i = 0; i < exact; i++) {
        double turn = two_pi * cycles * data->time[i];
        c[i] = cos(turn);
        s[i] = sin(turn);
    }
    double step = exact < count ? two_pi * cycles * (data->time[SEEDS] - data->time[0]) : 0, rc = cos(step),
           rs = sin(step);
    for (size_t i = SEEDS; i < count && exact < count; i++) {
        c[i] = c[i - SEEDS] * rc - s[i - SEEDS] * rs;
        s[i] = s[i - SEEDS] * rc + c[i - SEEDS] * rs;
    }
    for (size_t i = 0; i < count; i++) {
        b->twice[i] = 2 * c[i];
        b->cosine[0][i] = b->weight[i];
        b->sine[0][i] = 0;
        c[i] *= b->weight[i];
        s[i] *= b->weight[i];
    }
}

/* One more order from the first and the two before it (Chebyshev's recurrence). */
static void harmonic_add(basis *b, int order) {
    double *restrict c = b->cosine[order], *restrict s = b->sine[order];
    part *even = even_part(b), *odd = odd_part(b);
    size_t count = even->count;
    for (size_t i = 0; i < count && order > 1; i++) {
        c[i] = b->twice[i] * b->cosine[order - 1][i] - b->cosine[order - 2][i];
        s[i] = b->twice[i] * b->sine[order - 1][i] - b->sine[order - 2][i];
    }
    memcpy(even->column[even->columns], c, count * sizeof *c);
    column_add(b, even);
    memcpy(odd->column[odd->columns], s, count * sizeof *s);
    column_add(b, odd);
}

typedef struct choice {
    double cycles, criterion;
    int trend, order; /* order of the strongest harmonic */
    bool repeats;
} choice;

static double criterion_of(const shrunk *data, double rss, double unknowns) {
    double n = (double)data->count;
    /* rounding, and the converter's steps, end what can be gained */
    return n * log(fmax(rss, 0) + data->unknown + least_rest * data->total) + unknowns * log(n);
}

/* The best number of harmonics at one frequency; `best` is replaced where it is beaten. */
static void frequency_try(const shrunk *data, basis *b, double cycles, int trend, int orders, choice *best) {
    basis_begin(b, data, trend);
    orders_fill(b, data, cycles);
    double drop = 0;
    int strongest = 1;
    for (int order = 1; order <= orders && cycles * order < 0.45 * (double)data->count; order++) {
        double before = b->rss;
        harmonic_add(b, order);
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
static void grid_try(const shrunk *data, basis *b, double least, double most, int trend, int orders, choice *best) {
    double spacing = orders == 1 ? 0.1 : 0.025;
    for (double cycles = least; cycles <= most; cycles += cycles < 6 || orders == 1 ? spacing : 2 * spacing)
        frequency_try(data, b, cycles, trend, orders, best);
}

/* The criterion at one frequency as something that is a parabola around its minimum: proportional to the residual. */
static double residual_at(const shrunk *data, basis *b, double cycles, int orders, choice *best) {
    choice own = {.criterion = INFINITY};
    frequency_try(data, b, cycles, best->trend, orders, &own);
    if (own.criterion < best->criterion)
        *best = own;
    return exp(own.criterion / (double)data->count);
}

/* Moves a choice to the bottom of its valley, by parabolas of shrinking width. */
static void narrow(const shrunk *data, basis *b, int orders, choice *best) {
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
static void relatives_try(const shrunk *data, basis *b, double least, double most, choice *best) {
    static const double ratios[] = {1, 2, 3, 4, 5, 6, 1.5, 0.5, 1.0 / 3, 0.25, 2.0 / 3, 0.2};
    double found = best->cycles;
    for (size_t k = 0; k < sizeof ratios / sizeof *ratios; k++) {
        double cycles = ratios[k] * found;
        if (cycles < least || cycles > most)
            continue;
        choice own = {.criterion = INFINITY, .trend = best->trend};
        frequency_try(data, b, cycles, best->trend, ORDERS_MAX, &own);
        narrow(data, b, ORDERS_MAX, &own);
        if (own.criterion < best->criterion)
            *best = own;
    }
}

/* What is left of a value. */
static double left_at(const basis *b, size_t count, size_t i) {
    const double *even = b->parts[0].left, *odd = b->parts[1].left;
    if (!b->folded || 2 * i + 1 == count)
        return even[i];
    return i < count / 2 ? (even[i] + odd[i]) / sqrt(2) : (even[count - 1 - i] - odd[count - 1 - i]) / sqrt(2);
}

/* Is nothing left but noise, or no more than the converter's steps? (von Neumann 1941: the mean square successive
 * difference of white noise is twice its mean square.) */
static bool nothing_left(const shrunk *data, const basis *b) {
    if (b->rss < 2.5 * data->unknown + 10 * least_rest * data->total)
        return true;
    double sum = 0, n = (double)data->count, before = left_at(b, data->count, 0);
    for (size_t i = 1; i < data->count; i++) {
        double here = left_at(b, data->count, i);
        sum += (here - before) * (here - before);
        before = here;
    }
    return sum / b->rss > 2 - 6 / sqrt(n);
}

/* A sine, with or without a bend under it: taken where it explains all. */
static bool sine_try(const shrunk *data, basis *b, double least, double most, int trend, choice *best) {
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
static bool explains(const shrunk *data, basis *b, const choice *c) {
    choice again = {.criterion = INFINITY};
    frequency_try(data, b, c->cycles, c->trend, ORDERS_MAX, &again);
    return nothing_left(data, b);
}

/* Harmonics on the frequency of the best sine, its parts and multiples; the whole grid where that is not all. */
static bool harmonics_try(const shrunk *data, basis *b, double least, double most, choice *best) {
    for (int trend = 0; trend <= TREND; trend += TREND) {
        choice own = *best;
        own.trend = trend;
        relatives_try(data, b, least, most, &own);
        if (own.criterion < best->criterion)
            *best = own;
        if (explains(data, b, best))
            return true;
    }
    for (int trend = 0; trend <= TREND; trend += TREND)
        grid_try(data, b, least, most, trend, ORDERS_MAX, best);
    relatives_try(data, b, least, most, best);
    return explains(data, b, best);
}

/* Share of what a sine and hum leave that a slope and hum at twice the mains must not leave. */
static const double slow_left = 0.75;

/* A sine above a slope and hum of two orders, where these show; of either network where none is stated. */
static bool slow_try(shrunk *data, basis *b, double least, double most, choice *best) {
    choice own = {.criterion = INFINITY};
    double hum = data->hum;
    if (!(hum > 0) || !(best->cycles > 0))
        return false;
    frequency_try(data, b, best->cycles, TREND, 1, &own);
    double before = b->rss;
    frequency_try(data, b, best->cycles, TREND_MAX, 1, &own);
    if (!(b->rss < slow_left * before))
        return false;
    bool done = sine_try(data, b, least, most, TREND_MAX, best);
    if (done || data->other == 0)
        return done;
    data->hum = data->other;
    done = sine_try(data, b, least, most, TREND_MAX, best);
    data->hum = hum;
    return done;
}

/* A sine, if that explains all; else harmonics, with and without a bend; else whatever repeats. */
static bool search(const gw_block *block, shrunk *data, basis *b, double least, double most, choice *out) {
    *out = (choice){.criterion = criterion_of(data, data->total, 1)};
    for (int trend = 0; trend <= TREND; trend += TREND)
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
        frequency_try(data, b, cycles, 0, ORDERS_MAX, out);
        out->repeats = true;
    }
    return true;
}

bool gw_search_few(const gw_block *block, double mains_hz, double least, double most, gw_coarse *out) {
    *out = (gw_coarse){0};
    shrunk *data = malloc(sizeof *data);
    basis *b = malloc(sizeof *b);
    bool done = data && b;
    if (done) {
        b->trend = -1;
        shrink(block, mains_hz, data);
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
