#include "measure/sine.h"

#include "base/lanes.h"
#include "gainwalk/capture.h"

#include <math.h>
#include <string.h>

/* Samples that are worked on at a time: whole lanes of them, and few enough to stay close at hand. */
enum { STRETCH = 256, UNKNOWNS = 3, PRODUCTS = 6 };

/* cos and sin of a frequency over a stretch, from its first sample on. */
typedef struct turns {
    double cosines[STRETCH], sines[STRETCH];
} turns;

/* A stretch of the record: its samples, 0 where there are none, and how much each counts; padded to whole lanes. */
typedef struct stretch {
    double x[STRETCH], weight[STRETCH];
    double cosine, sine; /* at its first sample */
    double time, step;   /* of that sample, and from one to the next, in halves of the record */
} stretch;

/* Sums in lanes: products of the gradient with itself (00, 01, 02, 11, 12, 22), and with the rest. */
typedef struct normal {
    double products[PRODUCTS][GW_LANES], rests[UNKNOWNS][GW_LANES];
} normal;

static const double lane_places[GW_LANES] = {0, 1, 2, 3, 4, 5, 6, 7};

static bool present(const unsigned char *marks, size_t i) {
    return !marks || marks[i] == GW_SAMPLE_PRESENT;
}

/* Solves the symmetric 3 x 3 system `m` x = `b` by elimination; false where it is singular. */
static bool solve3(double m[UNKNOWNS][UNKNOWNS], double b[UNKNOWNS]) {
    for (int k = 0; k < UNKNOWNS; k++) {
        if (!(m[k][k] > 0))
            return false;
        for (int i = k + 1; i < UNKNOWNS; i++) {
            double factor = m[i][k] / m[k][k];
            for (int j = k; j < UNKNOWNS; j++)
                m[i][j] -= factor * m[k][j];
            b[i] -= factor * b[k];
        }
    }
    for (int k = UNKNOWNS - 1; k >= 0; k--) {
        for (int j = k + 1; j < UNKNOWNS; j++)
            b[k] -= m[k][j] * b[j];
        b[k] /= m[k][k];
    }
    return true;
}

static void turns_make(double omega, turns *out) {
    for (size_t j = 0; j < STRETCH; j++) {
        out->cosines[j] = cos(omega * (double)j);
        out->sines[j] = sin(omega * (double)j);
    }
}

/* A whole stretch with samples missing: no branch a sample. */
GW_WIDE static void marked_take(const double *restrict x, const unsigned char *restrict marks, stretch *restrict out) {
    for (size_t j = 0; j < STRETCH; j++) {
        double value = x[j];
        out->weight[j] = marks[j] ? 0 : 1;
        out->x[j] = marks[j] ? 0 : value;
    }
}

/* The stretch from sample `at` on, and how many samples it has. */
static size_t stretch_take(const double *x, const unsigned char *marks, size_t n, size_t at, double omega,
                           stretch *out) {
    size_t length = n - at < STRETCH ? n - at : STRETCH;
    double time = (double)at - ((double)n - 1) / 2;
    out->cosine = cos(omega * time);
    out->sine = sin(omega * time);
    out->step = 2 / (double)n;
    out->time = time * out->step;
    if (!marks && length == STRETCH) {
        memcpy(out->x, x + at, sizeof out->x);
        for (size_t j = 0; j < STRETCH; j++)
            out->weight[j] = 1;
        return length;
    }
    if (marks && length == STRETCH) {
        marked_take(x + at, marks + at, out);
        return length;
    }
    for (size_t j = 0; j < STRETCH; j++) {
        bool counts = j < length && present(marks, at + j);
        out->x[j] = counts ? x[at + j] : 0;
        out->weight[j] = counts;
    }
    return length;
}

/* The gradient at a sample is cos, sin and, where omega is tuned, time · (s cos - c sin). */
GW_WIDE static void normal_add(const stretch *from, const turns *turn, const gw_sine *at, double tuned, normal *to) {
    const double first_cosine = from->cosine, first_sine = from->sine, time = tuned * from->time,
                 step = tuned * from->step, c = at->c, s = at->s;
    normal own = *to; /* which nothing else points to */
    for (size_t j = 0; j < STRETCH; j += GW_LANES) {
        const double *cosines = turn->cosines + j, *sines = turn->sines + j, *x = from->x + j,
                     *weight = from->weight + j, *place = lane_places;
        const double here = time + step * (double)j;
#pragma omp simd
        for (int l = 0; l < GW_LANES; l++) {
            double cosine = first_cosine * cosines[l] - first_sine * sines[l];
            double sine = first_sine * cosines[l] + first_cosine * sines[l];
            double turning = (here + step * place[l]) * (s * cosine - c * sine);
            double rest = x[l] - weight[l] * (c * cosine + s * sine);
            own.rests[0][l] += cosine * rest;
            own.rests[1][l] += sine * rest;
            own.rests[2][l] += turning * rest;
            own.products[0][l] += weight[l] * (cosine * cosine);
            own.products[1][l] += weight[l] * (cosine * sine);
            own.products[2][l] += weight[l] * (cosine * turning);
            own.products[3][l] += weight[l] * (sine * sine);
            own.products[4][l] += weight[l] * (sine * turning);
            own.products[5][l] += weight[l] * (turning * turning);
        }
    }
    *to = own;
}

static void normal_total(const normal *from, double m[UNKNOWNS][UNKNOWNS], double b[UNKNOWNS]) {
    for (int p = 0, k = 0; p < UNKNOWNS; p++) {
        b[p] = gw_lanes_total(from->rests[p]);
        for (int q = p; q < UNKNOWNS; q++, k++)
            m[p][q] = m[q][p] = gw_lanes_total(from->products[k]);
    }
}

void gw_sine_step(const double *x, const unsigned char *marks, size_t n, gw_sine *at, bool tune) {
    normal sums;
    turns turn;
    stretch part;
    double m[UNKNOWNS][UNKNOWNS], b[UNKNOWNS];
    memset(&sums, 0, sizeof sums);
    turns_make(at->omega, &turn);
    for (size_t i = 0; i < n; i += STRETCH) {
        stretch_take(x, marks, n, i, at->omega, &part);
        normal_add(&part, &turn, at, tune, &sums);
    }
    normal_total(&sums, m, b);
    if (!tune || m[2][2] <= 0)
        m[2][2] = 1;
    if (!solve3(m, b))
        return;
    at->c += b[0];
    at->s += b[1];
    at->omega += tune ? 2 * b[2] / (double)n : 0;
}

gw_sine gw_sine_fit(const double *x, const unsigned char *marks, size_t n, double omega, double reach) {
    enum { STEPS = 5 };
    gw_sine at = {.omega = omega};
    gw_sine_step(x, marks, n, &at, false);
    for (int i = 0; i < STEPS; i++) {
        double before = at.omega;
        gw_sine_step(x, marks, n, &at, true);
        if (!(fabs(at.omega - omega) <= reach)) {
            at = (gw_sine){.omega = before};
            break;
        }
    }
    gw_sine_step(x, marks, n, &at, false);
    return at;
}

GW_WIDE static void stretch_subtract(stretch *from, const turns *turn, const gw_sine *what) {
    double even = what->c * from->cosine + what->s * from->sine, odd = what->s * from->cosine - what->c * from->sine;
    for (size_t j = 0; j < STRETCH; j++)
        from->x[j] -= even * turn->cosines[j] + odd * turn->sines[j];
}

void gw_sine_subtract(double *x, const unsigned char *marks, size_t n, gw_sine what) {
    turns turn;
    stretch part;
    turns_make(what.omega, &turn);
    for (size_t i = 0; i < n; i += STRETCH) {
        size_t length = stretch_take(x, marks, n, i, what.omega, &part);
        stretch_subtract(&part, &turn, &what);
        for (size_t j = 0; j < length; j++)
            x[i + j] = part.weight[j] > 0 ? part.x[j] : x[i + j];
    }
}
