#include "measure/tally.h"

#include <math.h>

typedef enum way { MEAN, ROOT_MEAN_SQUARE, INVERSE_SQUARE, HIGHEST, LOWEST, SUM } way;

typedef struct rule {
    way way;
    bool everywhere;
} rule;

static const rule rules[GW_READING_COUNT] = {
    [GW_DC] = {MEAN, true},
    [GW_AC_RMS] = {ROOT_MEAN_SQUARE, true},
    [GW_TOTAL_RMS] = {ROOT_MEAN_SQUARE, true},
    [GW_PEAK_HIGH] = {HIGHEST, true},
    [GW_PEAK_LOW] = {LOWEST, true},
    [GW_PEAK_TO_PEAK] = {HIGHEST, true},
    [GW_CREST] = {HIGHEST, true},
    [GW_FREQUENCY] = {MEAN, false},
    [GW_PITCH] = {MEAN, false},
    [GW_LEVEL] = {ROOT_MEAN_SQUARE, false},
    [GW_LEVEL_DBV] = {ROOT_MEAN_SQUARE, false},
    [GW_LEVEL_DBU] = {ROOT_MEAN_SQUARE, false},
    [GW_THD] = {ROOT_MEAN_SQUARE, false},
    [GW_THD_N] = {ROOT_MEAN_SQUARE, false},
    [GW_SINAD] = {INVERSE_SQUARE, false},
    [GW_NOISE] = {ROOT_MEAN_SQUARE, false},
    [GW_NOISE_A] = {ROOT_MEAN_SQUARE, false},
    [GW_NOISE_DENSITY] = {ROOT_MEAN_SQUARE, false},
    [GW_HUM] = {ROOT_MEAN_SQUARE, false},
    [GW_SNR] = {INVERSE_SQUARE, false},
    [GW_CLIP_HIGH] = {MEAN, true},
    [GW_CLIP_LOW] = {MEAN, true},
    [GW_DROPOUTS] = {SUM, true},
    [GW_DRIFT] = {MEAN, true},
};

bool gw_tally_everywhere(gw_reading_key key) {
    return rules[key].everywhere;
}

/* What is averaged, and its slope for the uncertainty. */
static double averaged(way how, double value, double *slope) {
    switch (how) {
    case ROOT_MEAN_SQUARE:
        *slope = 2 * value;
        return value * value;
    case INVERSE_SQUARE:
        *slope = value > 0 ? 2 / (value * value * value) : 0;
        return value > 0 ? 1 / (value * value) : 0;
    default:
        *slope = 1;
        return value;
    }
}

static double restored(way how, double mean, double *slope) {
    switch (how) {
    case ROOT_MEAN_SQUARE:
        *slope = mean > 0 ? 0.5 / sqrt(mean) : 0;
        return sqrt(fmax(mean, 0));
    case INVERSE_SQUARE:
        *slope = mean > 0 ? 0.5 / (mean * sqrt(mean)) : 0;
        return mean > 0 ? 1 / sqrt(mean) : 0;
    default:
        *slope = 1;
        return mean;
    }
}

static void extremes_take(gw_tally *tally, double highest, double lowest, double u_highest) {
    bool first = tally->values == 0;
    if (first || highest > tally->highest)
        tally->highest = highest;
    if (first || lowest < tally->lowest)
        tally->lowest = lowest;
    tally->u_extreme = first ? u_highest : fmax(tally->u_extreme, u_highest);
}

void gw_tally_add(gw_tally *tally, gw_reading_key key, const gw_reading *reading, size_t weight) {
    double w = (double)weight;
    if (reading->state != GW_READING_VALUE) {
        tally->why = reading->why;
        if (reading->state == GW_READING_BELOW) {
            tally->belows += weight;
            tally->bound = fmax(tally->bound, reading->value);
        } else {
            tally->nones += weight;
        }
        return;
    }
    double slope, mean = averaged(rules[key].way, reading->value, &slope);
    extremes_take(tally, reading->value, reading->value, reading->u_random);
    tally->first = tally->values ? tally->first : mean;
    double apart = mean - tally->first;
    tally->values += weight;
    tally->sum += w * mean;
    tally->w2 += w * w;
    tally->w2m += w * w * apart;
    tally->w2mm += w * w * apart * apart;
    tally->variance += w * w * slope * slope * reading->u_random * reading->u_random;
    tally->scale += reading->value != 0 ? w * reading->u_scale / fabs(reading->value) : 0;
    tally->total += w * reading->value;
    tally->bound = fmax(tally->bound, reading->value + reading->u95);
}

void gw_tally_join(gw_tally *tally, const gw_tally *other) {
    if (other->values)
        extremes_take(tally, other->highest, other->lowest, other->u_extreme);
    tally->first = tally->values ? tally->first : other->first;
    double apart = other->first - tally->first;
    tally->values += other->values;
    tally->belows += other->belows;
    tally->nones += other->nones;
    tally->sum += other->sum;
    tally->w2 += other->w2;
    tally->w2m += other->w2m + apart * other->w2;
    tally->w2mm += other->w2mm + apart * (2 * other->w2m + apart * other->w2);
    tally->variance += other->variance;
    tally->scale += other->scale;
    tally->total += other->total;
    tally->bound = fmax(tally->bound, other->bound);
    if (other->why)
        tally->why = other->why;
}

static gw_reading extreme_reading(const gw_tally *tally, way how) {
    double value = how == HIGHEST ? tally->highest : how == LOWEST ? tally->lowest : tally->total;
    return (gw_reading){.state = GW_READING_VALUE,
                        .value = value,
                        .u_random = how == SUM ? 0 : tally->u_extreme,
                        .u_scale = how == SUM ? 0 : fabs(value) * tally->scale / (double)tally->values};
}

static gw_reading mean_reading(const gw_tally *tally, way how) {
    double n = (double)tally->values, mean = tally->sum / n, slope;
    double value = restored(how, mean, &slope);
    /* of a weighted mean, as if of `free` + 1 values of equal weight */
    double free = n * n / tally->w2 - 1;
    double apart = mean - tally->first;
    double spread = fmax(tally->w2mm - apart * (2 * tally->w2m - apart * tally->w2), 0) / (n * n);
    double scatter = free > 1e-9 ? spread * (free + 1) / free : 0;
    double u = slope * sqrt(fmax(tally->variance / (n * n), scatter));
    return (gw_reading){
        .state = GW_READING_VALUE, .value = value, .u_random = u, .u_scale = fabs(value) * tally->scale / n};
}

gw_reading gw_tally_reading(const gw_tally *tally, gw_reading_key key) {
    size_t all = tally->values + tally->belows + tally->nones;
    if (!all || 2 * (tally->values + tally->belows) < all)
        return (gw_reading){.state = GW_READING_NONE, .why = tally->why ? tally->why : "not in this capture"};
    if (tally->values < tally->belows)
        return (gw_reading){.state = GW_READING_BELOW, .value = tally->bound, .why = tally->why};
    way how = rules[key].way;
    gw_reading out = how >= HIGHEST ? extreme_reading(tally, how) : mean_reading(tally, how);
    out.u95 = 2 * hypot(out.u_random, out.u_scale);
    return out;
}

/* ---- phase --------------------------------------------------------------------------------------- */

static const double two_pi = 6.283185307179586476925;

void gw_phase_add(gw_phase_tally *tally, double time_s, double phase_rad, double u_phase_rad, double frequency_hz,
                  double u_frequency_hz) {
    double turn = phase_rad / two_pi;
    if (!tally->count) {
        tally->first_s = tally->last_s = time_s;
        tally->frequency_hz = frequency_hz;
        tally->turns = turn;
    } else {
        /* whole turns by the segment's own frequency: must be beyond doubt */
        double gap = time_s - tally->last_s, expected = tally->turns + frequency_hz * gap;
        double next = turn + round(expected - turn);
        if (fabs(next - expected) > 0.25 || 4 * u_frequency_hz * gap > 0.25)
            tally->lost = true;
        tally->turns = next;
        tally->last_s = time_s;
    }
    double t = time_s - tally->first_s, p = tally->turns - tally->frequency_hz * t;
    tally->count++;
    tally->t += t;
    tally->tt += t * t;
    tally->p += p;
    tally->tp += t * p;
    tally->pp += p * p;
    tally->variance += u_phase_rad * u_phase_rad / (two_pi * two_pi);
}

bool gw_phase_frequency(const gw_phase_tally *tally, double *frequency_hz, double *u_hz) {
    double n = (double)tally->count;
    if (n < 3 || tally->lost)
        return false;
    double tt = tally->tt - tally->t * tally->t / n, tp = tally->tp - tally->t * tally->p / n;
    double pp = tally->pp - tally->p * tally->p / n;
    if (!(tt > 0))
        return false;
    double slope = tp / tt, rest = fmax(pp - tp * slope, 0) / (n - 2);
    *frequency_hz = tally->frequency_hz + slope;
    *u_hz = sqrt(fmax(rest, tally->variance / n) / tt);
    return true;
}
