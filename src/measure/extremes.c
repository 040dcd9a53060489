/* Peaks and crest factor: of the samples, with what noise adds to a highest sample. */
#include "measure/sums.h"
#include "measure/work.h"

#include <math.h>
#include <stdlib.h>

/* Heights of the model under its top, gathered where they are many: so many about this one. */
typedef struct height {
    double mean, count;
} height;

typedef struct side {
    double sign;  /* +1 the highest, -1 the lowest sample */
    double value; /* of the samples */
    double top;   /* of the model */
    height *near; /* heights of the model where noise could reach its top */
    size_t near_count;
} side;

/* In standard deviations: how far over the model's top noise is looked for, from where on a sample is taken to stay
 * under for certain, and how exactly the answer is wanted. */
static const double highest = 7, certain = 6, exact = 1e-5;

/* Cells that heights are gathered in: fifty to a deviation. Within one the logarithm of a probability bends by less
 * than 1 / deviation², so that the mean stands for all to (1/50)²/24. */
enum { CELLS_A_DEVIATION = 50, CELLS = 6 * CELLS_A_DEVIATION + 1, STRETCH = 16 };

static double height_at(const gw_fit *fit, double sign, size_t i) {
    return sign * (fit->values[i] - fit->residual[i]);
}

static bool present_at(const gw_fit *fit, size_t i) {
    return !fit->marks || fit->marks[i] == 0;
}

/* Most stretches of samples lie under all that counts: found without a branch for each. */
static inline bool all_under(const gw_fit *fit, double sign, size_t from, double least) {
    const double *values = fit->values + from, *residual = fit->residual + from;
    int over = 0;
    for (size_t i = 0; i < STRETCH; i++)
        over |= !(sign * (values[i] - residual[i]) < least);
    return over == 0;
}

/* Gathers the few samples that count, so that the search need not go over the whole record each time. */
static void near_gather(const gw_fit *fit, double sigma, side *out) {
    double least = out->top - certain * sigma * (1 + 1e-9), cells = CELLS_A_DEVIATION / sigma;
    for (size_t from = 0; from < fit->count; from += STRETCH) {
        size_t to = fit->count - from < STRETCH ? fit->count : from + STRETCH;
        if (to - from == STRETCH && all_under(fit, out->sign, from, least))
            continue;
        for (size_t i = from; i < to; i++) {
            double here = height_at(fit, out->sign, i);
            if (here < least || !present_at(fit, i))
                continue;
            size_t cell = (size_t)fmin((out->top - here) * cells, CELLS - 1);
            out->near[cell].mean += here; /* the sum, as yet */
            out->near[cell].count++;
        }
    }
    for (size_t k = 0; k < CELLS; k++)
        if (out->near[k].count > 0)
            out->near[out->near_count++] =
                (height){.mean = out->near[k].mean / out->near[k].count, .count = out->near[k].count};
}

static bool side_find(const gw_work *work, double sign, side *out) {
    const gw_fit *fit = &work->model->fit;
    gw_extent values = gw_extent_of(fit->values, NULL, fit->marks, fit->count);
    gw_extent model = gw_extent_of(fit->values, fit->residual, fit->marks, fit->count);
    *out =
        (side){.sign = sign, .value = sign > 0 ? values.high : -values.low, .top = sign > 0 ? model.high : -model.low};
    out->near = calloc(CELLS, sizeof *out->near);
    if (!out->near)
        return gw_error_memory(work->error);
    if (work->noise_v > 0)
        near_gather(fit, work->noise_v, out);
    return true;
}

/* Standard normal distribution function. */
static double normal_below(double z) {
    return 0.5 * erfc(-z / sqrt(2));
}

/* A product of probabilities as small as this goes over to the sum: none that is multiplied to it is below 2^-FEW. */
static const double small_product = 1e-200;
enum { FEW = 8 };

/* Negative logarithm of the probability that no sample, noise on top of the model, lies more than `excess` above the
 * model's top. Where there are few at a height they are multiplied, not to take the logarithm of each. */
static double rarity_above(const gw_work *work, const side *s, double excess) {
    double sum = 0, product = 1, sigma = work->noise_v;
    for (size_t i = 0; i < s->near_count; i++) {
        double z = (s->top + excess - s->near[i].mean) / sigma;
        if (!(z < certain))
            continue;
        double below = normal_below(z);
        if (s->near[i].count > FEW)
            sum -= s->near[i].count * log(below);
        for (double k = 0; s->near[i].count <= FEW && k < s->near[i].count; k++)
            product *= below;
        if (product < small_product) {
            sum -= log(product);
            product = 1;
        }
    }
    return sum - log(product);
}

/* What is asked: that of one side, or of either, the other's top `apart` lower. */
typedef struct question {
    const gw_work *work;
    const side *one, *other;
    double apart, wanted;
    bool within; /* the top of the noisy samples no further below the model's top either */
} question;

static double rarity_of(const question *q, double excess) {
    double rarity = rarity_above(q->work, q->one, excess);
    return q->other ? rarity + rarity_above(q->work, q->other, excess + q->apart) : rarity;
}

/* Of nothing: an exponential of less is zero. */
static const double most_rare = 700;

/* Positive where noise stays under with less than the wanted probability. The logarithm once more, as a tail falls like
 * e^{-z²/2}: nearly a straight line over a part of a deviation. */
static double missing_at(const question *q, double excess) {
    double rarity = rarity_of(q, excess);
    /* where one sample alone is near the top, noise takes it down as often as up */
    double below = q->within ? exp(rarity - fmin(rarity_of(q, -excess), most_rare + rarity)) : 0;
    if (below > 0)
        rarity = below < 1 ? fmin(rarity - log1p(-below), most_rare) : most_rare;
    return log(rarity) - q->wanted;
}

/* The excess over the model's top that noise stays under with a given probability, or `within` which it stays; of two
 * sides, on either, the other's top `apart` lower. False position, the end that stays weighing half as much each time
 * (the Illinois method: Dowell & Jarratt 1971). */
static double excess_at(const gw_work *work, const side *one, const side *other, double apart, double probability,
                        bool within) {
    const question q = {work, one, other, apart, log(-log(probability)), within};
    double low = 0, high = highest * work->noise_v, at_low = missing_at(&q, low), at_high = missing_at(&q, high);
    if (at_low <= 0)
        return 0;
    int stays = 0; /* which end did, the last time */
    while (at_high <= 0 && high - low > exact * work->noise_v) {
        bool even = isinf(at_high); /* nothing can lie so high */
        double share = even ? 0.5 : at_low / (at_low - at_high), middle = low + share * (high - low);
        double here = missing_at(&q, middle);
        if (fabs(here) < exact)
            return middle;
        if (here > 0) {
            at_high *= stays == 1 && !even ? 0.5 : 1;
            low = middle, at_low = here, stays = 1;
        } else {
            at_low *= stays == -1 && !even ? 0.5 : 1;
            high = middle, at_high = here, stays = -1;
        }
    }
    return high;
}

/* `dc` is what the sides are counted from here. */
static void crest_of(gw_work *work, const side *high, const side *low, double dc) {
    double ac = work->out->values[GW_AC_RMS].value, step = work->block->step;
    bool upper = high->top - dc >= low->top + dc;
    const side *larger = upper ? high : low, *smaller = upper ? low : high;
    double apart = larger->top - larger->sign * dc - (smaller->top - smaller->sign * dc);
    double wide = work->noise_v > 0 ? excess_at(work, larger, smaller, apart, 0.96, true) : 0;
    double u_peak = hypot(hypot(0.5 * wide, step / sqrt(12)), work->out->values[GW_DC].u_random);
    double u_ac = work->out->values[GW_AC_RMS].u_random, peak = fmax(high->value - dc, low->value + dc);
    gw_work_value(work, GW_CREST, peak / ac, hypot(u_peak / ac, peak * u_ac / (ac * ac)), false);
}

static void crest_read(gw_work *work, const side *high, const side *low) {
    double ac = work->out->values[GW_AC_RMS].value;
    if (ac > work->block->step)
        crest_of(work, high, low, work->model->fit.dc);
    else
        gw_work_none(work, GW_CREST, ac > 0 ? "less than the capture's resolution" : "no AC part");
}

static void peaks_of(gw_work *work, const side *high, const side *low) {
    double median[2] = {0, 0}, wide[2] = {0, 0}, step = work->block->step / sqrt(12);
    const side *sides[2] = {high, low};
    for (int k = 0; k < 2 && work->noise_v > 0; k++) {
        median[k] = excess_at(work, sides[k], NULL, 0, 0.5, false);
        wide[k] = excess_at(work, sides[k], NULL, 0, 0.96, true);
    }
    /* u95 is twice these: what the noise adds to a peak, and half a step's rounding */
    double u_high = hypot(0.5 * wide[0], step), u_low = hypot(0.5 * wide[1], step);
    gw_work_value(work, GW_PEAK_HIGH, high->value, u_high, true);
    gw_work_value(work, GW_PEAK_LOW, -low->value, u_low, true);
    double both = median[0] + median[1] + hypot(wide[0] - median[0], wide[1] - median[1]);
    gw_work_value(work, GW_PEAK_TO_PEAK, high->value + low->value, hypot(0.5 * both, sqrt(2) * step), true);
}

bool gw_work_extremes(gw_work *work) {
    side high = {0}, low = {0};
    bool found = side_find(work, 1, &high) && side_find(work, -1, &low);
    if (found) {
        peaks_of(work, &high, &low);
        crest_read(work, &high, &low);
    }
    free(high.near);
    free(low.near);
    return found;
}
