#include "measure/odds.h"

#include "measure/solve.h"

#include <math.h>
#include <string.h>

enum { STEPS = 6 };

/* Before the record is looked at: hum is the rule where something slow shows, of both orders, a slope the exception. */
static const double hum_present = 0.5, one_alone = 0.1, drift_present = 0.05;
/* What is likelier than this, readings must allow for. */
static const double may_be = 0.03;
/* JCGM 100, G.6.4: 95 % by four degrees of freedom, 2.78, over the 2 that every u95 is made with. Up to this part of a
 * cycle of the mains. */
static const double student_4 = 2.78 / 2, whole_shown = 0.5;
/* A hypothesis so much less likely (natural logarithm) than the likeliest adds nothing. */
static const double negligible = 14;

typedef struct grid {
    const gw_terms *terms;
    size_t samples;
    double noise, keeps;
    double size[STEPS + 1]; /* 0, then rising */
} grid;

/* One hypothesis: deviations of the terms, 0 where one is not there. */
typedef struct hypothesis {
    int network;
    size_t step[GW_KINDS];
    size_t active[GW_TERMS_MAX], count;
    double deviation[GW_TERMS_MAX]; /* of the active ones */
    double factor[GW_TERMS_MAX * GW_TERMS_MAX], along[GW_TERMS_MAX];
    double evidence; /* natural logarithm, but for a constant */
} hypothesis;

static int kind_of(int part) {
    return part < GW_PART_MAINS ? GW_KIND_DRIFT : part < GW_PART_TWICE ? GW_KIND_MAINS : GW_KIND_TWICE;
}

static bool is_hum(const hypothesis *h) {
    return h->step[GW_KIND_MAINS] > 0 || h->step[GW_KIND_TWICE] > 0;
}

static double deviation_of(const grid *g, const hypothesis *h, const gw_term *term) {
    if (term->part == GW_PART_DRIFT)
        return g->size[h->step[GW_KIND_DRIFT]] / (double)g->samples;
    if (term->network != h->network)
        return 0;
    if (term->part == GW_PART_NETWORK)
        return is_hum(h) ? g->keeps : 0;
    return g->size[h->step[kind_of(term->part)]];
}

/* The posterior's normal equations in units of the deviations, factored. */
static bool posterior(const grid *g, hypothesis *h) {
    const gw_terms *t = g->terms;
    h->count = 0;
    for (size_t k = 0; k < t->count; k++) {
        double deviation = deviation_of(g, h, &t->items[k]);
        if (deviation > 0) {
            h->deviation[h->count] = deviation;
            h->active[h->count++] = k;
        }
    }
    for (size_t i = 0; i < h->count; i++) {
        h->along[i] = t->along[h->active[i]] * h->deviation[i] / g->noise;
        for (size_t j = 0; j <= i; j++)
            h->factor[i * h->count + j] = (i == j) + t->normal[h->active[i] * t->count + h->active[j]] *
                                                         h->deviation[i] * h->deviation[j] / g->noise;
    }
    if (!gw_solve_factor(h->factor, h->count, 0))
        return false;
    gw_solve_forward(h->factor, h->count, h->along);
    h->evidence = 0;
    for (size_t i = 0; i < h->count; i++)
        h->evidence += 0.5 * h->along[i] * h->along[i] - log(h->factor[i * h->count + i]);
    return true;
}

static double prior_of(const grid *g, const hypothesis *h) {
    bool mains = h->step[GW_KIND_MAINS] > 0, twice = h->step[GW_KIND_TWICE] > 0;
    double chance = h->step[GW_KIND_DRIFT] > 0 ? drift_present / STEPS : 1 - drift_present;
    if (!mains && !twice)
        return log(chance * (1 - hum_present));
    chance *= hum_present / (g->terms->mains[1] > 0 ? 2 : 1);
    return log(chance * (mains && twice ? (1 - 2 * one_alone) / STEPS / STEPS : one_alone / STEPS));
}

/* The coefficients of one hypothesis. */
typedef struct belief {
    double mean[GW_TERMS_MAX], covariance[GW_TERMS_MAX * GW_TERMS_MAX]; /* of the active ones */
} belief;

static void believe(const hypothesis *h, belief *out) {
    size_t n = h->count;
    gw_solve_inverse(h->factor, n, out->covariance);
    /* the second half of the substitution that `along` is half-way through: mean = L⁻ᵀ·along */
    for (size_t i = n; i-- > 0;) {
        out->mean[i] = h->along[i];
        for (size_t j = i + 1; j < n; j++)
            out->mean[i] -= h->factor[j * n + i] * out->mean[j];
        out->mean[i] /= h->factor[i * n + i];
    }
    for (size_t i = 0; i < n; i++) {
        out->mean[i] *= h->deviation[i];
        for (size_t j = 0; j < n; j++)
            out->covariance[i * n + j] *= h->deviation[i] * h->deviation[j];
    }
}

/* Mean products of the distances that the coefficients have from the model's, added with a weight. */
static void spread_add(const gw_terms *t, const hypothesis *h, const belief *b, double weight, double *spread) {
    double off[GW_TERMS_MAX] = {0};
    for (size_t k = 0; k < t->count; k++)
        off[k] = -t->items[k].value;
    for (size_t i = 0; i < h->count; i++)
        off[h->active[i]] += b->mean[i];
    for (size_t i = 0; i < t->count; i++)
        for (size_t j = 0; j < t->count; j++)
            spread[i * t->count + j] += weight * off[i] * off[j];
    for (size_t i = 0; i < h->count; i++)
        for (size_t j = 0; j < h->count; j++)
            spread[h->active[i] * t->count + h->active[j]] += weight * b->covariance[i * h->count + j];
}

static bool of_order(const gw_terms *t, const hypothesis *h, size_t i, int order) {
    int part = t->items[h->active[i]].part;
    return part != GW_PART_DRIFT && part != GW_PART_NETWORK && (part < GW_PART_TWICE) == (order == 0);
}

/* Mean of an order's mean square ½(a² + b²) and of its square, a and b normal. */
static void power_of(const gw_terms *t, const hypothesis *h, const belief *b, int order, double *mean, double *square) {
    double variance = 0;
    *mean = 0;
    for (size_t i = 0; i < h->count; i++) {
        if (!of_order(t, h, i, order))
            continue;
        *mean += 0.5 * (b->mean[i] * b->mean[i] + b->covariance[i * h->count + i]);
        for (size_t j = 0; j < h->count; j++) {
            double both = b->covariance[i * h->count + j];
            variance += of_order(t, h, j, order) ? b->mean[i] * both * b->mean[j] + 0.5 * both * both : 0;
        }
    }
    *square = variance + *mean * *mean;
}

/* Variance of the noise beside all terms of one network, each as large as it likes. */
static double noise_beside(grid *g, int network, double unknowns) {
    double noise = g->terms->rest / (double)g->samples;
    for (int pass = 0; pass < 3; pass++) {
        hypothesis h = {.network = network, .step = {STEPS, STEPS, STEPS}};
        g->noise = noise > 0 ? noise : 1;
        if (!posterior(g, &h))
            break;
        double left = g->terms->rest;
        for (size_t k = 0; k < h.count; k++)
            left -= h.along[k] * h.along[k] * g->noise;
        noise =
            fmax(left, 1e-3 * noise * (double)g->samples) / fmax((double)g->samples - unknowns - (double)h.count, 1);
    }
    return noise;
}

/* Sizes from what could hardly be seen to the record's own extent. */
static void sizes_set(grid *g, double extent) {
    double least = 0.3 * sqrt(2 * g->noise / (double)g->samples);
    double shown = 0.1 * sqrt(fmax(g->terms->rest / (double)g->samples - g->noise, 0));
    least = fmin(fmax(least, shown), extent);
    double ratio = pow(extent / least, 1.0 / (STEPS - 1));
    for (int k = 1; k <= STEPS; k++)
        g->size[k] = least * pow(ratio, k - 1);
}

/* Which terms there are: slope, hum at the mains, at twice that, and of which network. */
enum { WITH_DRIFT = 1, WITH_MAINS = 2, WITH_TWICE = 4, OTHER_NETWORK = 8, WAYS = 16 };

/* What the hypotheses of one way say together. */
typedef struct way {
    double weight, power[2], square[2];
    double likeliest, scale[GW_KINDS]; /* weight and sizes of the likeliest one */
    double spread[GW_TERMS_MAX * GW_TERMS_MAX];
} way;

typedef struct sums {
    double best; /* evidence that all weights are relative to */
    way ways[WAYS];
} sums;

static int way_of(const hypothesis *h) {
    return (h->step[GW_KIND_DRIFT] > 0 ? WITH_DRIFT : 0) + (h->step[GW_KIND_MAINS] > 0 ? WITH_MAINS : 0) +
           (h->step[GW_KIND_TWICE] > 0 ? WITH_TWICE : 0) + (h->network > 0 ? OTHER_NETWORK : 0);
}

static void way_scale(way *w, double by) {
    w->weight *= by;
    w->likeliest *= by;
    for (int order = 0; order < 2; order++) {
        w->power[order] *= by;
        w->square[order] *= by;
    }
    for (size_t k = 0; k < sizeof w->spread / sizeof *w->spread; k++)
        w->spread[k] *= by;
}

static void hypothesis_take(const grid *g, hypothesis *h, sums *s) {
    if (!posterior(g, h))
        return;
    double evidence = h->evidence + prior_of(g, h), mean, square;
    if (evidence < s->best - negligible)
        return;
    if (evidence > s->best) { /* what the ones before have added counts less */
        for (int k = 0; k < WAYS; k++)
            way_scale(&s->ways[k], exp(s->best - evidence));
        s->best = evidence;
    }
    double weight = exp(evidence - s->best);
    way *w = &s->ways[way_of(h)];
    if (weight > w->likeliest) {
        w->likeliest = weight;
        for (int kind = 0; kind < GW_KINDS; kind++)
            w->scale[kind] = g->size[h->step[kind]];
    }
    belief b;
    believe(h, &b);
    spread_add(g->terms, h, &b, weight, w->spread);
    w->weight += weight;
    for (int order = 0; order < 2; order++) {
        power_of(g->terms, h, &b, order, &mean, &square);
        w->power[order] += weight * mean;
        w->square[order] += weight * square;
    }
}

/* Mean square of what DC moves by, the way's own weight not in it. */
static double dc_moved(const gw_terms *t, const way *w) {
    double sum = 0;
    for (size_t i = 0; i < t->count; i++)
        for (size_t j = 0; j < t->count; j++)
            sum += t->lean[i] * w->spread[i * t->count + j] * t->lean[j];
    return sum / w->weight;
}

/* Of the ways that may well be, the one that moves DC most: what a reading must allow for. */
static const way *widest(const gw_terms *t, const sums *s, double all) {
    const way *found = NULL;
    for (int k = 0; k < WAYS; k++)
        if (s->ways[k].weight > may_be * all && (!found || dc_moved(t, &s->ways[k]) > dc_moved(t, found)))
            found = &s->ways[k];
    return found;
}

static void conclude(const gw_terms *t, const sums *s, double cycles, gw_odds *out) {
    double all = 0;
    int likeliest = 0;
    for (int k = 0; k < WAYS; k++) {
        all += s->ways[k].weight;
        likeliest = s->ways[k].weight > s->ways[likeliest].weight ? k : likeliest;
    }
    if (!(all > 0))
        return;
    memcpy(out->scale, s->ways[likeliest].scale, sizeof out->scale);
    out->network = (likeliest & OTHER_NETWORK) != 0;
    double square[2] = {0, 0};
    for (int k = 0; k < WAYS; k++) {
        const way *w = &s->ways[k];
        out->drift += k & WITH_DRIFT ? w->weight / all : 0;
        out->hum += k & (WITH_MAINS | WITH_TWICE) ? w->weight / all : 0;
        for (int order = 0; order < 2; order++) {
            out->power[order] += w->power[order] / all;
            square[order] += w->square[order] / all;
        }
    }
    const way *wide = widest(t, s, all);
    /* of hum that shows no more than a slope and a bend, four numbers tell the size: Student's factor */
    double more = wide->power[0] + wide->power[1] > 0 && cycles < whole_shown ? student_4 : 1;
    for (int order = 0; order < 2; order++)
        out->u_power[order] = more * sqrt(fmax(square[order] - out->power[order] * out->power[order], 0));
    for (size_t k = 0; k < sizeof out->spread / sizeof *out->spread; k++)
        out->spread[k] = more * more * wide->spread[k] / wide->weight;
}

/* Every hypothesis of the grid. */
static void hypotheses_take(const grid *g, sums *s) {
    size_t twice = g->terms->twice ? STEPS : 0;
    int networks = g->terms->mains[1] > 0 ? 2 : 1;
    hypothesis h;
    for (h.network = 0; h.network < networks; h.network++)
        for (h.step[GW_KIND_MAINS] = 0; h.step[GW_KIND_MAINS] <= STEPS; h.step[GW_KIND_MAINS]++)
            for (h.step[GW_KIND_TWICE] = 0; h.step[GW_KIND_TWICE] <= twice; h.step[GW_KIND_TWICE]++)
                for (h.step[GW_KIND_DRIFT] = 0; h.step[GW_KIND_DRIFT] <= STEPS; h.step[GW_KIND_DRIFT]++)
                    if (h.network == 0 || is_hum(&h))
                        hypothesis_take(g, &h, s);
}

void gw_odds_weigh(const gw_terms *terms, const gw_fit *fit, double extent, double least_noise, double keeps,
                   gw_odds *out) {
    *out = (gw_odds){0};
    grid g = {.terms = terms, .samples = fit->present, .keeps = keeps, .size[STEPS] = extent};
    out->noise = noise_beside(&g, 0, (double)terms->others);
    if (terms->mains[1] > 0)
        out->noise = fmin(out->noise, noise_beside(&g, 1, (double)terms->others));
    out->noise = g.noise = fmax(out->noise, least_noise);
    sizes_set(&g, extent);
    sums s = {.best = -INFINITY};
    hypotheses_take(&g, &s);
    conclude(terms, &s, terms->mains[0] * (double)fit->count, out);
}
