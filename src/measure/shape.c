#include "shape.h"

#include <math.h>

static const double pi = 3.14159265358979323846;

/* Of the model's slope, where it is looked at: radians of the fundamental from its zero crossing. */
static const double middle_rad = 0.5, outer_low_rad = 0.6, outer_high_rad = 1.0, straight_to_rad = 0.8;
/* Common practice: what a slope's fall short at zero must be, and how much of it may be left in the middle. */
static const double least_shortfall = 0.05, sharp_share = 0.4, broad_share = 0.45, straight_within = 0.1;
/* A triangle's fifth harmonic is 9/25 of its third; a cubic bend has none. */
static const double least_fifth = 0.15;
static const double deviations = 4, dead_zone_steps = 0.75;
enum { POINTS = 9 };

/* Harmonics that count, as waves of the angle from the fundamental's upward zero crossing: order k is b sin(k x) + a
 * cos(k x), relative to the fundamental's peak. */
typedef struct waves {
    const gw_harmonic *harmonics;
    size_t count;
    const gw_harmonic *first;
    int highest; /* resolved order */
} waves;

/* Lanczos' factor: a series cut off at its highest order doesn't ring. */
static double smoothing(const waves *w, int order) {
    double x = pi * (order - 1) / w->highest;
    return x > 0 ? sin(x) / x : 1;
}

/* Slope of the model at `x` radians from the zero crossing that starts half a turn `half` (0 upward, 1 downward), over
 * the slope of the fundamental at zero, taken in the direction of that crossing. */
static double slope_at(const waves *w, double x, int half) {
    double sum = 0, peak = w->first->rms, start = -pi / 2 + pi * half;
    for (size_t i = 0; i < w->count; i++) {
        const gw_harmonic *h = &w->harmonics[i];
        if (h != w->first && !h->resolved)
            continue;
        /* the fundamental is cos(angle); its upward zero crossing is at -pi/2 */
        double shift = h->phase_rad - h->order * w->first->phase_rad;
        sum -= smoothing(w, h->order) * h->order * h->rms / peak * sin(h->order * (start + x) + shift);
    }
    return half ? -sum : sum;
}

/* The same, the mean of both crossings and both sides. */
static double mean_slope(const waves *w, double x) {
    return (slope_at(w, x, 0) + slope_at(w, -x, 0) + slope_at(w, x, 1) + slope_at(w, -x, 1)) / 4;
}

/* Mean of slope over that of a sine, between two angles. */
static double mean_ratio(const waves *w, double from, double to) {
    double sum = 0;
    for (int i = 0; i < POINTS; i++) {
        double x = from + (to - from) * i / (POINTS - 1);
        sum += mean_slope(w, x) / cos(x);
    }
    return sum / POINTS;
}

/* Standard deviation of the slope at zero, from the harmonics' own. */
static double slope_deviation(const waves *w) {
    double sum = 0;
    for (size_t i = 0; i < w->count; i++) {
        const gw_harmonic *h = &w->harmonics[i];
        if (h != w->first && h->resolved)
            sum += pow(smoothing(w, h->order) * h->order * h->u_random / w->first->rms, 2);
    }
    return sqrt(sum);
}

/* Constant slope from the crossing nearly up to the crest. */
static bool is_straight(const waves *w) {
    double middle = mean_slope(w, 0);
    for (int i = 1; i < POINTS; i++) {
        double x = straight_to_rad * i / (POINTS - 1);
        if (fabs(mean_slope(w, x) / middle - 1) > straight_within)
            return false;
    }
    return true;
}

/* Half width of the dead zone that takes as much out of the slope around zero. Of y = x - d sgn x the third harmonic is
 * 4 d/(3 pi) in antiphase (Fourier series, d small). Of a stage that is dead up to d and right beyond it is of the
 * third order in d; there the notch in the slope tells, as wide as the highest order shows it, pi/2 over that order. */
static double equivalent_dead_zone(const waves *w, const gw_harmonic *third, double shortfall) {
    return fmax(3 * pi / 4 * third->rms / w->first->rms, shortfall * pi / 2 / w->highest);
}

static const gw_harmonic *order_of(const gw_harmonic *harmonics, size_t count, int order) {
    for (size_t i = 0; i < count; i++)
        if (harmonics[i].order == order && harmonics[i].resolved && harmonics[i].rms > 0)
            return &harmonics[i];
    return NULL;
}

static int highest_of(const gw_harmonic *harmonics, size_t count) {
    int highest = 1;
    for (size_t i = 0; i < count; i++)
        if (harmonics[i].resolved && harmonics[i].order > highest)
            highest = harmonics[i].order;
    return highest;
}

gw_shape_clues gw_shape_at_zero(const gw_harmonic *harmonics, size_t count, double step) {
    gw_shape_clues clues = {.inner_slope = 1};
    waves w = {harmonics, count, order_of(harmonics, count, 1), highest_of(harmonics, count)};
    const gw_harmonic *third = order_of(harmonics, count, 3), *fifth = order_of(harmonics, count, 5);
    if (!w.first || !third)
        return clues;
    clues.inner_slope = mean_slope(&w, 0);
    double outer = mean_ratio(&w, outer_low_rad, outer_high_rad);
    double shortfall = outer - clues.inner_slope, middle = outer - mean_slope(&w, middle_rad) / cos(middle_rad);
    if (!(outer > 0) || shortfall < fmax(least_shortfall * outer, deviations * slope_deviation(&w)))
        return clues;
    double dead_zone = equivalent_dead_zone(&w, third, shortfall), peak = sqrt(2) * w.first->rms;
    if (middle < sharp_share * shortfall && dead_zone * peak >= dead_zone_steps * step) {
        clues.crossover = true;
        clues.dead_zone = dead_zone;
    } else if (fifth && fifth->rms > least_fifth * third->rms && middle > broad_share * shortfall && is_straight(&w))
        clues.slew_limited = true;
    return clues;
}
