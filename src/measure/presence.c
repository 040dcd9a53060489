#include "measure/presence.h"

#include "measure/transform.h"

#include <math.h>
#include <stdlib.h>

static const double pi = 3.14159265358979323846;

/* Values on each side of a frequency; the table's cells for a sample at least; what making one cell costs, in runs
 * looked at. */
enum { SIDE = 12, CELLS_A_SAMPLE = 2, RUNS_A_CELL = 20 };

/* Samples a record at most: far more than a segment has. */
enum { LONGEST = 1 << 24 };

struct gw_presence {
    size_t asked;            /* runs that were looked at in vain */
    size_t size;             /* cells, a power of two; 0: not made */
    double spread, scale;    /* the Gaussian's exponent in cells, -spread·x²; its height */
    double beside[SIDE + 1]; /* its values at whole cells */
    double *re, *im;         /* the transform, size + 2·SIDE cells: those at the ends come again */
};

gw_presence *gw_presence_new(void) {
    return calloc(1, sizeof(gw_presence));
}

void gw_presence_free(gw_presence *presence) {
    if (presence)
        free(presence->re);
    free(presence);
}

/* With `size` cells for `count` samples, x in cells: g(x) = e^{-spread·x²}. */
static void gaussian_fill(gw_presence *p, size_t count) {
    double rate = (double)p->size / (double)count;
    p->spread = pi * (rate - 0.5) / (rate * SIDE);
    p->scale = sqrt(p->spread / pi);
    for (int k = 0; k <= SIDE; k++)
        p->beside[k] = exp(-p->spread * k * k);
}

/* The row of the present samples, t from the middle one, divided by the Gaussian's spectrum: the sums of ones as real
 * part, those of t/count as imaginary part; bits of the indices turned round. */
static void row_put(const gw_presence *p, const gw_fit *fit, double *re, double *im) {
    double middle = floor((double)fit->count / 2), width = pi * pi / (p->spread * (double)p->size * (double)p->size);
    size_t turned = 0;
    for (size_t i = 0; i < p->size; i++, turned = gw_turned_next(turned, p->size)) {
        /* cell i holds sample middle + i, and the last cells those before the middle */
        double t = i < p->size / 2 ? (double)i : (double)i - (double)p->size, at = middle + t;
        bool present = at >= 0 && at < (double)fit->count && (!fit->marks || !fit->marks[(size_t)at]);
        re[turned] = present ? exp(width * t * t) : 0;
        im[turned] = re[turned] * t / (double)fit->count;
    }
}

static void ends_fill(gw_presence *p) {
    for (size_t k = 0; k < SIDE; k++) {
        p->re[k] = p->re[p->size + k];
        p->im[k] = p->im[p->size + k];
        p->re[p->size + SIDE + k] = p->re[SIDE + k];
        p->im[p->size + SIDE + k] = p->im[SIDE + k];
    }
}

static bool table_make(gw_presence *p, const gw_fit *fit) {
    size_t size = 1;
    while (size < CELLS_A_SAMPLE * fit->count)
        size *= 2;
    size_t cells = size + 2 * (size_t)SIDE;
    double *twiddles = malloc(2 * size * sizeof *twiddles);
    p->re = malloc(2 * cells * sizeof *p->re);
    if (!twiddles || !p->re) {
        free(twiddles);
        free(p->re);
        p->re = NULL;
        (void)gw_error_memory(fit->error);
        return false;
    }
    p->size = size;
    p->im = p->re + cells;
    gaussian_fill(p, fit->count);
    gw_twiddles_fill(twiddles, twiddles + size, size);
    row_put(p, fit, p->re + SIDE, p->im + SIDE);
    gw_transform_run(twiddles, twiddles + size, size, p->re + SIDE, p->im + SIDE);
    ends_fill(p);
    free(twiddles);
    return true;
}

typedef struct point {
    double re, im;
} point;

/* What stands at a place in cells, 0 … size: Σ cells·g(place − cell). With x = place − its cell,
 * g(x − k) = g(x)·e^{2·spread·x·k}·g(k). */
static point between(const gw_presence *p, double place) {
    size_t cell = (size_t)place;
    double x = place - (double)cell, one = exp(2 * p->spread * x), up = 1, down = 1 / one;
    point sum = {0, 0};
    const double *re = p->re + SIDE + cell, *im = p->im + SIDE + cell;
    for (int k = 0; k < SIDE; k++) {
        double right = up * p->beside[k], left = down * p->beside[k + 1];
        sum.re += right * re[k] + left * re[-k - 1];
        sum.im += right * im[k] + left * im[-k - 1];
        up *= one;
        down /= one;
    }
    double height = p->scale * exp(-p->spread * x * x);
    return (point){height * sum.re, height * sum.im};
}

/* From Z(f) = Σ (1 + it/count)·e^{i2πft} and Z(-f): the two sums, both of real rows. */
static void sums_of(const gw_presence *p, const gw_fit *fit, double frequency, gw_moments *out) {
    double off = frequency - floor(frequency), size = (double)p->size;
    point minus = between(p, off * size), plus = between(p, (off > 0 ? 1 - off : 0) * size);
    double c = 0.5 * (plus.re + minus.re), s = 0.5 * (plus.im - minus.im);
    double tc = 0.5 * (plus.im + minus.im) * (double)fit->count, ts = 0.5 * (minus.re - plus.re) * (double)fit->count;
    /* of an even number of samples mid-record stands half a sample before the middle one */
    double late = fit->count % 2 ? 0 : 0.5, turn = late * (frequency - 2 * floor(frequency / 2));
    double turn_c = cos(2 * pi * turn), turn_s = sin(2 * pi * turn);
    tc += late * c;
    ts += late * s;
    *out = (gw_moments){turn_c * c - turn_s * s, turn_s * c + turn_c * s, turn_c * tc - turn_s * ts,
                        turn_s * tc + turn_c * ts};
}

bool gw_presence_sums(gw_presence *presence, const gw_fit *fit, double frequency, gw_moments *out) {
    if (!presence->size) {
        presence->asked += fit->run_count;
        bool pays = presence->asked / RUNS_A_CELL >= CELLS_A_SAMPLE * fit->count;
        if (!pays || fit->count > LONGEST || !table_make(presence, fit))
            return false;
    }
    sums_of(presence, fit, frequency, out);
    return true;
}
