#include "measure/slow.h"

#include "base/lanes.h"
#include "measure/sweep.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double two_pi = 6.283185307179586476925;

/* Half the taps beyond a group stand on either side of it. */
enum { BESIDE = (GW_SLOW_TAPS - GW_SLOW_GROUP) / 2, GROUPS_BESIDE = (BESIDE + GW_SLOW_GROUP - 1) / GW_SLOW_GROUP };

/* The modified Bessel function of order 0 by its series (Abramowitz & Stegun 9.6.12). */
static double bessel_0(double x) {
    double term = 1, sum = 1;
    for (int k = 1; term > 1e-17 * sum; k++) {
        term *= x * x / (4.0 * k * k);
        sum += term;
    }
    return sum;
}

bool gw_slow_begin(gw_slow *slow, size_t samples) {
    size_t groups = (samples + GW_SLOW_GROUP - 1) / GW_SLOW_GROUP;
    *slow = (gw_slow){.count = groups + (size_t)2 * GROUPS_BESIDE, .samples = samples};
    slow->values = malloc(slow->count * sizeof *slow->values);
    /* a window as wide as six groups, frequencies up to an eighth of the groups' rate */
    double beta = 0.5 * two_pi * GW_SLOW_TAPS / GW_SLOW_GROUP * (1 - 1.0 / 8);
    for (int j = 0; j < GW_SLOW_TAPS; j++) {
        double x = (j - 0.5 * (GW_SLOW_TAPS - 1)) / (0.5 * GW_SLOW_TAPS);
        slow->taps[j] = bessel_0(beta * sqrt(1 - x * x));
    }
    return slow->values != NULL;
}

void gw_slow_end(gw_slow *slow) {
    free(slow->values);
    *slow = (gw_slow){0};
}

static inline double weighted(const double *values, const double *taps) {
    gw_lanes one = {0}, other = {0};
    for (int j = 0; j < GW_SLOW_TAPS; j += GW_LANES) {
        one += GW_LANES_AT(values + j) * GW_LANES_AT(taps + j);
        other += GW_LANES_AT(values + j + 4) * GW_LANES_AT(taps + j + 4);
    }
    return gw_lanes_sum(&one, &other);
}

/* Where the record begins or ends within the window: zeros stand beyond. */
static double weighted_at_end(const gw_slow *slow, const double *vector, size_t group) {
    double sum = 0;
    for (size_t j = 0; j < GW_SLOW_TAPS; j++) {
        size_t at = group * GW_SLOW_GROUP + j, before = GROUPS_BESIDE * GW_SLOW_GROUP + BESIDE;
        if (at >= before && at - before < slow->samples)
            sum += vector[at - before] * slow->taps[j];
    }
    return sum;
}

GW_WIDE void gw_slow_make(gw_slow *slow, const double *vector) {
    const size_t before = GROUPS_BESIDE * GW_SLOW_GROUP + BESIDE;
    for (size_t k = 0; k < slow->count; k++) {
        size_t at = k * GW_SLOW_GROUP;
        bool inside = at >= before && at - before + GW_SLOW_TAPS <= slow->samples;
        slow->values[k] = inside ? weighted(vector + (at - before), slow->taps) : weighted_at_end(slow, vector, k);
    }
    slow->made = true;
}

void gw_slow_dot(const gw_slow *slow, double frequency, double *cosine, double *sine) {
    double c, s, window = 0;
    for (int j = 0; j < GW_SLOW_TAPS; j++)
        window += slow->taps[j] * cos(two_pi * frequency * (j - 0.5 * (GW_SLOW_TAPS - 1)));
    gw_sweep_dot(slow->values, slow->count, frequency * GW_SLOW_GROUP, &c, &s);
    /* the groups' middle lies behind the record's by what the last group lacks */
    double groups = (double)slow->count - 2 * GROUPS_BESIDE;
    double apart = 0.5 * (groups * GW_SLOW_GROUP - (double)slow->samples), turn = two_pi * frequency * apart;
    double scale = GW_SLOW_GROUP / window;
    *cosine = scale * (cos(turn) * c - sin(turn) * s);
    *sine = scale * (sin(turn) * c + cos(turn) * s);
}
