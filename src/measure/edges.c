#include "measure/edges.h"

#include "gainwalk/capture.h"
#include "measure/robust.h"

#include <math.h>
#include <stdlib.h>

/* An edge is at least half as high as the highest, and stands out of the noise. */
static const double least_share = 0.5, least_sigmas = 8;
/* Of an unresolved edge so much lies between two samples (the rest is noise, or an edge not quite so short), and so
 * little beside them. Of a band-limited one (Si(pi x)/pi) it is 6 % at the least, and 18 % on average. */
static const double between_share = 0.9, beside_share = 0.05;

static bool present(const unsigned char *marks, size_t i) {
    return !marks || marks[i] == GW_SAMPLE_PRESENT;
}

/* Sums over the edges found. */
typedef struct sums {
    double count, height, between, beside;
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

/* The edge between i and i + 1, with two samples on either side: its height over all of these, without what the
 * waveform changes there anyway. */
static void edge_add(const double *v, size_t i, double usual, sums *s) {
    double jump = v[i + 1] - v[i], sign = jump < 0 ? -1 : 1;
    double far = (v[i + 2] + v[i + 3] - v[i - 1] - v[i - 2]) / 2 * sign;
    double beside = fabs(v[i + 2] - v[i + 1]) + fabs(v[i] - v[i - 1]);
    s->count++;
    s->height += far;
    s->between += fabs(jump) + 3 * usual;
    s->beside += fmax(beside - 2 * usual, 0);
}

static sums edges_sum(const double *volts, const unsigned char *marks, size_t n, double highest, double usual) {
    sums s = {0};
    for (size_t i = 2; i + 3 < n; i++) {
        double change = fabs(volts[i + 1] - volts[i]);
        if (change < least_share * highest || !all_present(marks, i - 2, i + 3))
            continue;
        edge_add(volts, i, usual, &s);
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
    double noise = s.count * 4 / sqrt(3.14159265358979) * noise_v, most = 4 * ceil((double)n / period);
    if (s.count >= 2 && s.count <= most && s.height > 0 && s.between + noise / 2 >= between_share * s.height &&
        s.beside - noise <= beside_share * s.height)
        *out = (gw_edges){.count = s.count, .height_v = s.height / s.count};
    return true;
}

double gw_edges_period_uncertainty(const gw_edges *edges, double cycles) {
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
