/* A slow bend in a record too short for hum: it is no noise. */
#include "measure/sweep.h"
#include "measure/work.h"

#include <math.h>

/* Of less than this of a cycle of the mains hum is as good as a cubic. */
static const double cubic_cycles = 0.12;
/* What its two bent terms hold where there is a bend, over the variance of noise; correlation of neighbours, at most,
 * of what is left then: noise that rises to low frequencies bends likewise, and leaves more of its kind. */
static const double bend_least = 40, alike_most = 0.5;
/* Samples a record at least. */
enum { TERMS = 4, SAMPLES_LEAST = 16 };

/* Polynomials up to the third order that are orthogonal over the record, with their coefficients. */
typedef struct cubic {
    double middle, mean, lean; /* sample that x is counted from, -1..1; mean of x^2; that of x^4 over it */
    double along[TERMS], own[TERMS];
} cubic;

static void terms_at(const cubic *c, size_t i, double *terms) {
    double x = ((double)i - c->middle) / c->middle;
    terms[0] = 1;
    terms[1] = x;
    terms[2] = x * x - c->mean;
    terms[3] = x * (x * x - c->lean);
}

static double cubic_at(const cubic *c, size_t i) {
    double terms[TERMS], sum = 0;
    terms_at(c, i, terms);
    for (int k = 0; k < TERMS; k++)
        sum += c->along[k] / c->own[k] * terms[k];
    return sum;
}

static cubic cubic_of(const double *values, size_t n) {
    cubic c = {.middle = 0.5 * (double)(n - 1)};
    double two = 0, four = 0;
    for (size_t i = 0; i < n; i++) {
        double x = ((double)i - c.middle) / c.middle;
        two += x * x;
        four += x * x * x * x;
    }
    c.mean = two / (double)n;
    c.lean = four / two;
    for (size_t i = 0; i < n; i++) {
        double terms[TERMS];
        terms_at(&c, i, terms);
        for (int k = 0; k < TERMS; k++) {
            c.along[k] += values[i] * terms[k];
            c.own[k] += terms[k] * terms[k];
        }
    }
    return c;
}

/* Is there a bend, or is it there `surely`; and noise beside it that does not bend itself? */
static bool is_bend(const cubic *c, const double *values, size_t n, bool surely) {
    double bend = c->along[2] * c->along[2] / c->own[2] + c->along[3] * c->along[3] / c->own[3];
    double left = 0, alike = 0, before = 0;
    for (size_t i = 0; i < n; i++) {
        double here = values[i] - cubic_at(c, i);
        left += here * here;
        alike += here * before;
        before = here;
    }
    return (surely || bend * (double)n > bend_least * left) && alike < alike_most * left;
}

void gw_work_unbend(gw_work *work) {
    const gw_model *model = work->model;
    size_t n = model->fit.count;
    double mains = (work->options->mains_hz > 0 ? work->options->mains_hz : 50) / work->block->rate_hz;
    if (model->tone || !model->mains_short || model->fit.marks || n < SAMPLES_LEAST)
        return;
    gw_candidate line = gw_fit_candidate(&model->fit, mains);
    bool small = mains * (double)n < cubic_cycles, hum = model->mains_bend && !small;
    if ((!small && !hum) || !isfinite(line.cosine) || !isfinite(line.sine))
        return;
    /* DC and slope lean on the line */
    if (hum)
        gw_sweep_add(work->quiet, n, mains, -line.cosine, -line.sine);
    cubic c = cubic_of(work->quiet, n);
    work->unbent = is_bend(&c, work->quiet, n, hum);
    for (size_t i = 0; work->unbent && i < n; i++)
        work->quiet[i] -= cubic_at(&c, i);
    if (hum && !work->unbent)
        gw_sweep_add(work->quiet, n, mains, line.cosine, line.sine);
}
