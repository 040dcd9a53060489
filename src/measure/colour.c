#include "measure/colour.h"

#include "measure/hidden.h"

#include <math.h>
#include <stdlib.h>

/* Cycles a record at which the residual is asked. */
static const double places[] = {1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 19, 24, 30, 38, 50, 65, 85, 110};
enum { PLACES = sizeof places / sizeof *places, PLACES_LEAST = 8, STEPS = 12, NEIGHBOURS = 2, UNKNOWNS_MAX = 24 };

/* Of a line that the model imitates but for less than this, mostly rounding is left. */
static const double least_share = 0.2;
/* Twice the gain in log likelihood of two parameters: white noise passes 14 once in a thousand records (chi-square). */
static const double surely = 14;
/* A value so many times the median of those beside it is a line, not noise. */
static const double line_over = 8;
/* No density below this share of the mean is believed. */
static const double least_density = 0.2;

typedef struct points {
    double x[PLACES], y[PLACES]; /* ln cycles; density re white */
    size_t count;
} points;

static void sort(double *values, size_t count) {
    for (size_t i = 1; i < count; i++)
        for (size_t k = i; k > 0 && values[k] < values[k - 1]; k--) {
            double swap = values[k];
            values[k] = values[k - 1];
            values[k - 1] = swap;
        }
}

/* Lines that stand in the residual are cut down to what is beside them. */
static void lines_cut(points *p) {
    double cut[PLACES];
    for (size_t i = 0; i < p->count; i++) {
        double beside[2 * NEIGHBOURS + 1];
        size_t n = 0;
        for (size_t k = i > NEIGHBOURS ? i - NEIGHBOURS : 0; k < p->count && k <= i + NEIGHBOURS; k++)
            beside[n++] = p->y[k];
        sort(beside, n);
        cut[i] = fmin(p->y[i], line_over * beside[n / 2]);
    }
    for (size_t i = 0; i < p->count; i++)
        p->y[i] = fmax(cut[i], 1e-6);
}

static void points_take(const gw_fit *fit, points *p) {
    double white = gw_fit_variance(fit);
    p->count = 0;
    for (size_t k = 0; k < PLACES && places[k] < 0.45 * (double)fit->count; k++) {
        gw_candidate candidate = gw_fit_candidate(fit, places[k] / (double)fit->count);
        if (candidate.share < least_share)
            continue;
        p->x[p->count] = log(places[k]);
        p->y[p->count++] = 0.5 * candidate.drop / white;
    }
    lines_cut(p);
}

/* Straight line through ln density by maximum likelihood, each value exponential about its mean (Whittle 1953;
 * McCullagh & Nelder 1989, gamma regression with logarithmic link). */
static gw_colour line_fit(const points *p) {
    double n = (double)p->count, mean_x = 0, squares = 0, a = 0, b = 0;
    for (size_t i = 0; i < p->count; i++) {
        mean_x += p->x[i] / n;
        a += (log(p->y[i]) + 0.5772) / n; /* Euler's constant: the mean of ln of an exponential variable */
    }
    for (size_t i = 0; i < p->count; i++)
        squares += (p->x[i] - mean_x) * (p->x[i] - mean_x);
    for (int step = 0; step < STEPS; step++) {
        double up = 0, turn = 0;
        for (size_t i = 0; i < p->count; i++) {
            double over = fmin(p->y[i] / exp(a + b * (p->x[i] - mean_x)) - 1, 3);
            up += over / n;
            turn += over * (p->x[i] - mean_x) / squares;
        }
        a += up;
        b += turn;
    }
    return (gw_colour){.log_one = a - b * mean_x, .power = b, .middle = mean_x, .count = n, .squares = squares};
}

gw_colour gw_colour_of(const gw_fit *fit) {
    points p;
    if (!(gw_fit_variance(fit) > 0))
        return (gw_colour){0};
    points_take(fit, &p);
    if (p.count < PLACES_LEAST)
        return (gw_colour){0};
    gw_colour colour = line_fit(&p);
    double gain = 0;
    for (size_t i = 0; i < p.count; i++) {
        double density = exp(colour.log_one + colour.power * p.x[i]);
        gain += 2 * (p.y[i] - p.y[i] / density - log(density));
    }
    colour.found = gain > surely && fabs(colour.power) < 4;
    return colour;
}

double gw_colour_at(const gw_colour *colour, double cycles) {
    if (!colour->found || cycles > places[PLACES - 1])
        return 1;
    return fmax(exp(colour->log_one + colour->power * log(cycles)), least_density);
}

/* How unsure the density is (variance of its ln, of gamma regression as of least squares), times which it is raised: a
 * variance that is known so badly leaves more than one in twenty outside of two deviations. */
static const double raised = 1.2;

/* The density at so many cycles as high as it has to be taken for an uncertainty. */
static double density_wide(const gw_colour *colour, double cycles) {
    double density = gw_colour_at(colour, cycles), off = log(cycles) - colour->middle;
    return density * exp(raised * (1 / colour->count + off * off / colour->squares));
}

/* Adds to the covariance what noise of this density within `width` cycles about `cycles` brings beyond white noise. */
static bool add(gw_model *model, double density, double cycles, double width, gw_error *error) {
    double count = (double)model->fit.count;
    return gw_hidden_line(model, cycles / count, (density - 1) * 2 * width / count, error);
}

/* About a line beyond those places: so many cycles on either side are asked, and this density is more than white noise
 * shows there (two standard deviations of their mean). */
enum { BESIDE_FROM = 2, BESIDE = 14 };
static const double beside_least = 1.4;

/* The density about a line, re white, what stands out there cut down; 1 where it is hardly more. */
static double density_beside(const gw_fit *fit, double cycles) {
    double y[2 * (BESIDE + 1 - BESIDE_FROM)], white = gw_fit_variance(fit), sum = 0;
    size_t n = 0;
    for (int k = -BESIDE; k <= BESIDE; k++) {
        double frequency = (cycles + k) / (double)fit->count;
        if (abs(k) < BESIDE_FROM || frequency > 0.5 - 0.5 / (double)fit->count)
            continue;
        gw_candidate candidate = gw_fit_candidate(fit, frequency);
        if (candidate.share > least_share)
            y[n++] = 0.5 * candidate.drop / white;
    }
    if (n < BESIDE)
        return 1;
    sort(y, n);
    for (size_t k = 0; k < n; k++)
        sum += fmin(y[k], line_over * y[n / 2]);
    return sum > beside_least * (double)n ? sum / (double)n : 1;
}

/* What noise brings to lines beyond the places that the colour was found at. */
static bool lines_beyond(gw_model *model, double reach, double width, gw_error *error) {
    const gw_fit *fit = &model->fit;
    for (size_t k = 0; k < fit->line_count; k++) {
        double cycles = gw_fit_frequency(fit, &fit->lines[k]) * (double)fit->count;
        double density = cycles > places[PLACES - 1] ? density_beside(fit, cycles) : 1;
        for (double off = width / 2 - reach; density > 1 && off < reach; off += width)
            if (!add(model, density, cycles + off, width, error))
                return false;
    }
    return true;
}

/* Is a line of the model within so many cycles? */
static bool line_near(const gw_fit *fit, double cycles, double reach) {
    for (size_t k = 0; k < fit->line_count; k++)
        if (fabs(gw_fit_frequency(fit, &fit->lines[k]) * (double)fit->count - cycles) < reach)
            return true;
    return false;
}

gw_colour gw_colour_find(gw_model *model) {
    const gw_fit *fit = &model->fit;
    double steps = model->step * model->step / 12;
    if (fit->unknowns > UNKNOWNS_MAX || !(model->variance > 4 * steps) || gw_fit_exact(fit))
        return (gw_colour){0};
    gw_colour colour = gw_colour_of(fit);
    model->coloured = colour.found;
    if (colour.found)
        model->slow = fmax(model->slow, gw_colour_at(&colour, 1) * model->variance);
    return colour;
}

bool gw_colour_join(gw_model *model, const gw_colour *found, gw_error *error) {
    static const double slowest = 0.1, wider = 1.5, first = 0.9, width = 0.5, reach = 8;
    const gw_fit *fit = &model->fit;
    if (!found->found)
        return true;
    double at = slowest;
    for (; at < first; at *= wider)
        if (!add(model, density_wide(found, at * sqrt(wider)), at * sqrt(wider), at * (wider - 1), error))
            return false;
    for (; at < fmin(places[PLACES - 1], 0.5 * (double)fit->count); at += width)
        if ((at < reach || line_near(fit, at + width / 2, reach)) &&
            !add(model, density_wide(found, at + width / 2), at + width / 2, width, error))
            return false;
    return lines_beyond(model, reach, width, error);
}
