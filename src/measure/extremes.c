/* Peaks and crest factor: of the samples, with what noise adds to a highest sample. */
#include "measure/work.h"

#include <math.h>

/* Standard normal distribution function. */
static double normal_below(double z) {
    return 0.5 * erfc(-z / sqrt(2));
}

typedef struct side {
    double sign;  /* +1 the highest, -1 the lowest sample */
    double value; /* of the samples */
    double top;   /* of the model */
} side;

static double model_at(const gw_fit *fit, size_t i) {
    return fit->values[i] - fit->residual[i];
}

static bool present_at(const gw_fit *fit, size_t i) {
    return !fit->marks || fit->marks[i] == 0;
}

static side side_find(const gw_work *work, double sign) {
    const gw_fit *fit = &work->model->fit;
    side out = {.sign = sign, .value = -INFINITY, .top = -INFINITY};
    for (size_t i = 0; i < fit->count; i++) {
        if (!present_at(fit, i))
            continue;
        out.value = fmax(out.value, sign * fit->values[i]);
        out.top = fmax(out.top, sign * model_at(fit, i));
    }
    return out;
}

/* Probability that no sample, noise on top of the model, lies more than `excess` above the model's top. */
static double none_above(const gw_work *work, const side *s, double excess) {
    const gw_fit *fit = &work->model->fit;
    double product = 1, sigma = work->noise_v;
    for (size_t i = 0; i < fit->count && product > 1e-6; i++) {
        double z = (s->top + excess - s->sign * model_at(fit, i)) / sigma;
        if (z < 6 && present_at(fit, i))
            product *= normal_below(z);
    }
    return product;
}

/* The excess that noise stays under with a given probability. */
static double excess_at(const gw_work *work, const side *s, double probability) {
    double low = -work->noise_v, high = 7 * work->noise_v;
    for (int pass = 0; pass < 20; pass++) {
        double middle = 0.5 * (low + high);
        if (none_above(work, s, middle) < probability)
            low = middle;
        else
            high = middle;
    }
    return fmax(high, 0);
}

bool gw_work_extremes(gw_work *work) {
    side high = side_find(work, 1), low = side_find(work, -1);
    double median[2] = {0, 0}, wide[2] = {0, 0}, step = work->block->step / sqrt(12);
    const side *sides[2] = {&high, &low};
    for (int k = 0; k < 2 && work->noise_v > 0; k++) {
        median[k] = excess_at(work, sides[k], 0.5);
        wide[k] = excess_at(work, sides[k], 0.96);
    }
    /* u95 is twice these: what the noise adds to a peak, and half a step's rounding */
    double u_high = hypot(0.5 * wide[0], step), u_low = hypot(0.5 * wide[1], step);
    gw_work_value(work, GW_PEAK_HIGH, high.value, u_high, true);
    gw_work_value(work, GW_PEAK_LOW, -low.value, u_low, true);
    double both = median[0] + median[1] + hypot(wide[0] - median[0], wide[1] - median[1]);
    gw_work_value(work, GW_PEAK_TO_PEAK, high.value + low.value, hypot(0.5 * both, sqrt(2) * step), true);
    double dc = work->model->fit.dc, ac = work->out->values[GW_AC_RMS].value;
    if (!(ac > work->block->step)) {
        gw_work_none(work, GW_CREST, ac > 0 ? "less than the capture's resolution" : "no AC part");
        return true;
    }
    bool upper = high.value - dc >= low.value + dc;
    double peak = upper ? high.value - dc : low.value + dc;
    double u_peak = hypot(upper ? u_high : u_low, work->out->values[GW_DC].u_random);
    double u_ac = work->out->values[GW_AC_RMS].u_random;
    gw_work_value(work, GW_CREST, peak / ac, hypot(u_peak / ac, peak * u_ac / (ac * ac)), false);
    return true;
}
