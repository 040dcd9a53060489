/* Peaks and crest factor: of the samples, with what noise adds to a highest sample. */
#include "measure/work.h"

#include <math.h>
#include <stdlib.h>

/* Standard normal distribution function. */
static double normal_below(double z) {
    return 0.5 * erfc(-z / sqrt(2));
}

typedef struct side {
    double sign;   /* +1 the highest, -1 the lowest sample */
    double origin; /* what it is counted from */
    double value;  /* of the samples */
    double top;    /* of the model */
    double *near;  /* heights of the model where noise could reach its top */
    size_t near_count;
} side;

/* In standard deviations: how far over the model's top noise is looked for, how far under it, and from where on a
 * sample is taken to stay under for certain. */
static const double highest = 7, lowest = -1, certain = 6;

static double height_at(const gw_fit *fit, const side *s, size_t i) {
    return s->sign * ((fit->values[i] - fit->residual[i]) - s->origin);
}

static bool present_at(const gw_fit *fit, size_t i) {
    return !fit->marks || fit->marks[i] == 0;
}

/* Keeps the few samples that count, so that the search need not go over the whole record each time. */
static bool near_find(const gw_fit *fit, double sigma, side *out) {
    double least = out->top - (certain - lowest) * sigma * (1 + 1e-9);
    size_t count = 0;
    for (size_t i = 0; i < fit->count; i++)
        count += present_at(fit, i) && height_at(fit, out, i) >= least;
    out->near = malloc((count ? count : 1) * sizeof *out->near);
    for (size_t i = 0; out->near && i < fit->count; i++)
        if (present_at(fit, i) && height_at(fit, out, i) >= least)
            out->near[out->near_count++] = height_at(fit, out, i);
    return out->near != NULL;
}

static bool side_find(const gw_work *work, double sign, double origin, side *out) {
    const gw_fit *fit = &work->model->fit;
    *out = (side){.sign = sign, .origin = origin, .value = -INFINITY, .top = -INFINITY};
    for (size_t i = 0; i < fit->count; i++) {
        if (!present_at(fit, i))
            continue;
        double value = sign * (fit->values[i] - origin), top = height_at(fit, out, i);
        out->value = value > out->value ? value : out->value;
        out->top = top > out->top ? top : out->top;
    }
    return near_find(fit, work->noise_v, out) || gw_error_memory(work->error);
}

/* Probability that no sample, noise on top of the model, lies more than `excess` above the model's top. */
static double none_above(const gw_work *work, const side *s, double excess) {
    double product = 1, sigma = work->noise_v;
    for (size_t i = 0; i < s->near_count && product > 1e-6; i++) {
        double z = (s->top + excess - s->near[i]) / sigma;
        if (z < certain)
            product *= normal_below(z);
    }
    return product;
}

/* The excess over the model's top that noise stays under with a given probability; of two sides, on either. */
static double excess_at(const gw_work *work, const side *one, const side *other, double probability) {
    double low = lowest * work->noise_v, high = highest * work->noise_v;
    for (int pass = 0; pass < 20; pass++) {
        double middle = 0.5 * (low + high), held = none_above(work, one, middle);
        if (other)
            held *= none_above(work, other, middle + one->top - other->top);
        if (held < probability)
            low = middle;
        else
            high = middle;
    }
    return fmax(high, 0);
}

static void crest_of(gw_work *work, const side *high, const side *low) {
    double ac = work->out->values[GW_AC_RMS].value, step = work->block->step;
    const side *larger = high->top >= low->top ? high : low, *smaller = high->top >= low->top ? low : high;
    double wide = work->noise_v > 0 ? excess_at(work, larger, smaller, 0.96) : 0;
    double u_peak = hypot(hypot(0.5 * wide, step / sqrt(12)), work->out->values[GW_DC].u_random);
    double u_ac = work->out->values[GW_AC_RMS].u_random, peak = fmax(high->value, low->value);
    gw_work_value(work, GW_CREST, peak / ac, hypot(u_peak / ac, peak * u_ac / (ac * ac)), false);
}

static bool crest_read(gw_work *work) {
    double dc = work->model->fit.dc, ac = work->out->values[GW_AC_RMS].value;
    if (!(ac > work->block->step)) {
        gw_work_none(work, GW_CREST, ac > 0 ? "less than the capture's resolution" : "no AC part");
        return true;
    }
    side high = {0}, low = {0};
    bool found = side_find(work, 1, dc, &high) && side_find(work, -1, dc, &low);
    if (found)
        crest_of(work, &high, &low);
    free(high.near);
    free(low.near);
    return found;
}

static void peaks_of(gw_work *work, const side *high, const side *low) {
    double median[2] = {0, 0}, wide[2] = {0, 0}, step = work->block->step / sqrt(12);
    const side *sides[2] = {high, low};
    for (int k = 0; k < 2 && work->noise_v > 0; k++) {
        median[k] = excess_at(work, sides[k], NULL, 0.5);
        wide[k] = excess_at(work, sides[k], NULL, 0.96);
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
    bool found = side_find(work, 1, 0, &high) && side_find(work, -1, 0, &low);
    if (found)
        peaks_of(work, &high, &low);
    free(high.near);
    free(low.near);
    return found && crest_read(work);
}
