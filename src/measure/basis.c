#include "measure/basis.h"

#include "base/lanes.h"
#include "measure/sums.h"

#include <math.h>
#include <string.h>

enum { SEEDS = 16 };

static const double two_pi = 6.283185307179586476925;

void gw_points_make(const gw_block *block, double mains_hz, gw_points *out) {
    size_t group = (block->count + GW_POINTS_MAX - 1) / GW_POINTS_MAX;
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

static gw_part *even_part(gw_basis *b) {
    return &b->parts[0];
}

static gw_part *odd_part(gw_basis *b) {
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

GW_WIDE static void scale_by(double *column, double scale, size_t count) {
    for (size_t i = 0; i < count; i++)
        column[i] *= scale;
}

GW_WIDE static void take_from(double *restrict left, double along, const double *restrict column, size_t count) {
    for (size_t i = 0; i < count; i++)
        left[i] -= along * column[i];
}

/* Takes one more column into the basis (modified Gram–Schmidt) and what it explains out of the rest. */
static void column_add(gw_basis *b, gw_part *p) {
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
    scale_by(column, 1 / sqrt(norm), p->count);
    along = gw_gram_dot(column, p->left, p->count);
    take_from(p->left, along, column, p->count);
    b->rss -= along * along;
    p->columns++;
}

/* What may lie under the signal besides DC: hum, of which the record shows a part of a cycle or two (and where more is
 * asked for, a slope and hum at twice the mains); a slope and a curve where it's too long for that. */
static double bend(const gw_points *data, int power, double time) {
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
static void values_deal(gw_basis *b, const gw_points *data) {
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

static void trend_make(gw_basis *b, const gw_points *data, int trend) {
    values_deal(b, data);
    for (int power = 0; power <= trend; power++) {
        /* the odd ones: a sine, or a slope */
        gw_part *p = power == 1 || power == 3 || power == 4 ? odd_part(b) : even_part(b);
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

void gw_basis_begin(gw_basis *b, const gw_points *data, int trend) {
    if (b->trend != trend || b->hum != data->hum)
        trend_make(b, data, trend);
    b->rss = b->trend_rss;
    for (int k = 0; k < 2; k++) {
        b->parts[k].columns = b->trend_columns[k];
        memcpy(b->parts[k].left, b->trend_left[k], b->parts[k].count * sizeof *b->parts[k].left);
    }
}

/* Cosine and sine of the first order: a few exact, the rest by rotation where the times are even. */
void gw_basis_turn(gw_basis *b, const gw_points *data, double cycles) {
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

/* One more order from the two before it (Chebyshev's recurrence). */
GW_WIDE static void order_next(double *restrict out, const double *twice, const double *one_below,
                               const double *two_below, size_t count) {
    for (size_t i = 0; i < count; i++)
        out[i] = twice[i] * one_below[i] - two_below[i];
}

void gw_basis_harmonic(gw_basis *b, int order) {
    double *c = b->cosine[order], *s = b->sine[order];
    gw_part *even = even_part(b), *odd = odd_part(b);
    size_t count = even->count;
    if (order > 1) {
        order_next(c, b->twice, b->cosine[order - 1], b->cosine[order - 2], count);
        order_next(s, b->twice, b->sine[order - 1], b->sine[order - 2], count);
    }
    memcpy(even->column[even->columns], c, count * sizeof *c);
    column_add(b, even);
    memcpy(odd->column[odd->columns], s, count * sizeof *s);
    column_add(b, odd);
}

/* ---- a grid of sines -------------------------------------------------------------------------------- */

/* Sine and cosine of one frequency after the other, of evenly lying times: each turned on from the last. */
typedef struct turning {
    double cosine[GW_POINTS_MAX], sine[GW_POINTS_MAX]; /* weighted */
    double step_c[GW_POINTS_MAX], step_s[GW_POINTS_MAX];
    size_t count;
} turning;

static void turning_begin(turning *t, gw_basis *b, const gw_points *data, double cycles, double spacing) {
    t->count = even_part(b)->count;
    gw_basis_turn(b, data, spacing);
    for (size_t i = 0; i < t->count; i++) {
        t->step_c[i] = 0.5 * b->twice[i];
        t->step_s[i] = b->sine[1][i] / b->weight[i];
    }
    gw_basis_turn(b, data, cycles);
    memcpy(t->cosine, b->cosine[1], t->count * sizeof *t->cosine);
    memcpy(t->sine, b->sine[1], t->count * sizeof *t->sine);
}

GW_WIDE static void turning_next(turning *t) {
#pragma omp simd
    for (size_t i = 0; i < t->count; i++) {
        double c = t->cosine[i] * t->step_c[i] - t->sine[i] * t->step_s[i];
        t->sine[i] = t->sine[i] * t->step_c[i] + t->cosine[i] * t->step_s[i];
        t->cosine[i] = c;
    }
}

/* What one more column would explain of what is left, as column_add finds it. */
static double column_drop(const gw_part *p, const double *column) {
    double before = gw_gram_dot(column, column, p->count), norm = before,
           along = gw_gram_dot(column, p->left, p->count);
    for (size_t k = 0; k < p->columns; k++) {
        double shared = gw_gram_dot(column, p->column[k], p->count);
        norm -= shared * shared;
    }
    return norm < 1e-9 * before || !(norm > 0) ? 0 : along * along / norm;
}

double gw_basis_sine_best(gw_basis *b, const gw_points *data, int trend, double least, double most, double spacing,
                          double *rss) {
    turning t;
    double found = 0;
    *rss = INFINITY;
    gw_basis_begin(b, data, trend);
    turning_begin(&t, b, data, least, spacing);
    for (double cycles = least; cycles <= most && cycles < 0.45 * (double)data->count; cycles += spacing) {
        double left = b->rss - column_drop(even_part(b), t.cosine) - column_drop(odd_part(b), t.sine);
        if (left < *rss) {
            *rss = left;
            found = cycles;
        }
        turning_next(&t);
    }
    return found;
}

/* What is left of a value. */
double gw_basis_left(const gw_basis *b, size_t count, size_t i) {
    const double *even = b->parts[0].left, *odd = b->parts[1].left;
    if (!b->folded || 2 * i + 1 == count)
        return even[i];
    return i < count / 2 ? (even[i] + odd[i]) / sqrt(2) : (even[count - 1 - i] - odd[count - 1 - i]) / sqrt(2);
}
