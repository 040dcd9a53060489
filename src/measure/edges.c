#include "measure/edges.h"

#include "gainwalk/capture.h"
#include "measure/robust.h"

#include <math.h>
#include <stdlib.h>

static const double pi = 3.14159265358979323846;

/* An edge is at least half as high as the highest, and stands out of the noise. */
static const double least_share = 0.5, least_sigmas = 8;
/* Of an unresolved edge so much lies between two samples (the rest is noise, or an edge not quite so short), and so
 * little beside them. Of a band-limited one (Si(pi x)/pi) it is 6 % at the least, and 18 % on average. */
static const double between_share = 0.9, beside_share = 0.05;

static bool present(const unsigned char *marks, size_t i) {
    return !marks || marks[i] == GW_SAMPLE_PRESENT;
}

/* Sums over the edges found; `whole` is their height from where they begin to where they end. */
typedef struct sums {
    double count, height, between, beside, jump, whole;
} sums;

static bool all_present(const unsigned char *marks, size_t first, size_t last) {
    for (size_t i = first; marks && i <= last; i++)
        if (!present(marks, i))
            return false;
    return true;
}

/* How much the waveform changes from sample to sample beside its edges: the median. */
static bool usual_change(const double *volts, size_t n, double *usual) {
    double *changes = malloc(n * sizeof *changes);
    if (!changes)
        return false;
    for (size_t i = 0; i + 1 < n; i++)
        changes[i] = fabs(volts[i + 1] - volts[i]);
    *usual = gw_median(changes, n - 1);
    free(changes);
    return true;
}

/* Steps of an edge on either side of its largest, and how small the last may be beside that. */
enum { STEPS = 8 };
static const double last_step = 0.1;

/* An edge's height from where it begins to where it ends, without its sign. */
static double whole_height(const double *v, size_t n, size_t i) {
    double jump = v[i + 1] - v[i];
    size_t from = i, to = i + 1;
    while (from > 0 && i - from < STEPS && (v[from] - v[from - 1]) / jump > last_step)
        from--;
    while (to + 1 < n && to - i <= STEPS && (v[to + 1] - v[to]) / jump > last_step)
        to++;
    return fabs(v[to] - v[from]);
}

/* The edge between i and i + 1, with two samples on either side: its height over all of these, without what the
 * waveform changes there anyway. */
static void edge_add(const double *v, size_t n, size_t i, double usual, sums *s) {
    double jump = v[i + 1] - v[i], sign = jump < 0 ? -1 : 1;
    double far = (v[i + 2] + v[i + 3] - v[i - 1] - v[i - 2]) / 2 * sign;
    double beside = fabs(v[i + 2] - v[i + 1]) + fabs(v[i] - v[i - 1]);
    s->count++;
    s->height += far;
    s->between += fabs(jump) + 3 * usual;
    s->beside += fmax(beside - 2 * usual, 0);
    s->jump += fabs(jump);
    s->whole += whole_height(v, n, i);
}

static sums edges_sum(const double *volts, const unsigned char *marks, size_t n, double highest, double usual) {
    sums s = {0};
    for (size_t i = 2; i + 3 < n; i++) {
        double change = fabs(volts[i + 1] - volts[i]);
        if (change < least_share * highest || !all_present(marks, i - 2, i + 3))
            continue;
        edge_add(volts, n, i, usual, &s);
        i += 2; /* an edge has but one largest change */
    }
    return s;
}

bool gw_edges_unresolved(const double *volts, const unsigned char *marks, size_t n, double period, double noise_v,
                         gw_edges *out) {
    *out = (gw_edges){0};
    if (n < 8 || !(period >= 8))
        return true;
    double highest = 0, usual;
    for (size_t i = 0; i + 1 < n; i++)
        if (present(marks, i) && present(marks, i + 1))
            highest = fmax(highest, fabs(volts[i + 1] - volts[i]));
    if (!usual_change(volts, n, &usual))
        return false;
    if (!(highest > least_sigmas * noise_v) || !(highest > least_sigmas * usual))
        return true;
    sums s = edges_sum(volts, marks, n, highest, usual);
    /* noise beside an edge: the mean of |x - y| of two Gaussian values is 2/sqrt(pi) of their deviation, twice */
    double noise = s.count * 4 / sqrt(pi) * noise_v, most = 4 * ceil((double)n / period);
    if (s.count < 2 || s.count > most)
        return true;
    if (s.height > 0 && s.between + noise / 2 >= between_share * s.height &&
        s.beside - noise <= beside_share * s.height)
        *out = (gw_edges){.count = s.count, .height_v = s.height / s.count};
    else
        out->steepest = fmin(s.jump / s.whole, 1);
    return true;
}

/* How a straight line through `count` values at whole places leans, over their height, where they swing by `turn`
 * radians from each to the next: the derivative of Dirichlet's kernel over the places' sum of squares. */
static double lean(double count, double turn) {
    double half = sin(turn / 2), squares = count * (count * count - 1) / 12;
    if (fabs(half) * count < 1e-4)
        return fabs(remainder(turn, 2 * pi));
    double n = count * turn / 2;
    return fabs(count * cos(n) * half - sin(n) * cos(turn / 2)) / (2 * half * half * squares);
}

/* Folds that are summed. */
enum { FOLDS = 3 };

/* A jump through a filter of the shape of one sample: sin(pi x)/(pi x) at the rate, x = 1/steepest, is not more than
 * steepest/pi. In what the fit sees as its place, a jump that is sampled without a filter is off by a saw of one
 * sample, whose Fourier terms are 1/(pi k). */
static double steep_uncertainty(double steepest, double cycles, double samples) {
    double square = 0;
    for (int k = 1; k <= FOLDS; k++)
        square += pow(steepest / (pi * k) / (pi * k) * lean(cycles, 2 * pi * k * samples), 2);
    return sqrt(square) / 2; /* nowhere more than its height: that is 95 % and more */
}

double gw_edges_period_uncertainty(const gw_edges *edges, double cycles, double samples) {
    if (edges->steepest > 0)
        return steep_uncertainty(edges->steepest, fmax(floor(cycles), 2), samples);
    if (!(edges->count > 0))
        return 0;
    /* sigma^2 = 1/12 and a line through c points a period apart: 12 sigma^2/(c (c^2 - 1)), the less for several edges a
     * period */
    double each = fmax(floor(cycles), 2), edges_a_period = fmax(round(edges->count / cycles), 1);
    return 1 / sqrt(edges_a_period * each * (each * each - 1));
}

double gw_edges_mean_uncertainty(const gw_edges *edges, size_t n) {
    return edges->count > 0 ? edges->height_v * sqrt(edges->count / 12) / (double)n : 0;
}
