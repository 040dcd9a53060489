#include "capture/axis.h"

#include "capture/room.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Two roundings to single precision, relative. */
static const double single_precision = 2.4e-7;
/* Below this no slope is trusted, relative. */
static const double least_width = 2e-7;
/* Different times further apart than this many printed digits are no rounding. */
static const double rounding_digits = 1.5;

static bool is_present(const gw_times *times, size_t row) {
    return times->marks == NULL || (times->marks[row] & 3) == GW_SAMPLE_PRESENT;
}

/* Sums over the times that are present, rows counted from `middle`. */
typedef struct sums {
    double origin, largest;
    double rows, squares, times, products;
    size_t present;
} sums;

static inline double larger(double one, double other) {
    return one > other ? one : other;
}

static sums sum_up(const gw_times *times, size_t first, size_t count, double middle) {
    sums s = {0};
    const double *values = times->values + first;
    for (size_t i = 0; i < count; i++) {
        if (times->marks != NULL && !is_present(times, first + i))
            continue;
        if (s.present++ == 0)
            s.origin = values[i];
        double row = (double)i - middle, time = values[i] - s.origin;
        s.rows += row;
        s.squares += row * row;
        s.times += time;
        s.products += row * time;
        s.largest = larger(s.largest, fabs(values[i]));
        gw_room_passed(times->values, sizeof *values, first + i);
    }
    return s;
}

bool gw_times_fit(const gw_times *times, size_t first, size_t count, gw_slope *slope) {
    double middle = (double)count / 2; /* near the mean row, so that little cancels */
    sums s = sum_up(times, first, count, middle);
    if (s.present < 2)
        return false;
    double n = (double)s.present, row = s.rows / n, mean = s.times / n;
    double interval = (s.products - n * row * mean) / (s.squares - n * row * row);
    double start = s.origin + mean - interval * (middle + row), residual = 0;
    const double *values = times->values + first;
    for (size_t i = 0; i < count; i++) {
        if (times->marks == NULL || is_present(times, first + i))
            residual = larger(residual, fabs(values[i] - s.origin - mean - interval * ((double)i - middle - row)));
        gw_room_passed(times->values, sizeof *values, first + i);
    }
    *slope = (gw_slope){interval, start, residual, s.largest, s.present};
    return true;
}

bool gw_slope_is_even(const gw_slope *slope, double quantum) {
    return slope->residual <= quantum + single_precision * slope->largest + fabs(slope->interval) / 100;
}

/* ---- steps -------------------------------------------------------------------------------------- */

/* Steps between neighbouring times, per row; returns their number. */
static size_t take_steps(const gw_times *times, double *steps) {
    size_t count = 0, before = 0;
    bool any = false;
    for (size_t i = 0; i < times->count; i++) {
        if (!is_present(times, i))
            continue;
        if (any)
            steps[count++] = (times->values[i] - times->values[before]) / (double)(i - before);
        before = i;
        gw_room_passed(times->values, sizeof *times->values, i);
        any = true;
    }
    return count;
}

static int by_size(const void *one, const void *other) {
    double a = *(const double *)one, b = *(const double *)other;
    return (a > b) - (a < b);
}

/* The median of the positive steps; 0 where there are none. Sorts them. */
static double median_positive(double *steps, size_t count) {
    size_t positive = 0;
    for (size_t i = 0; i < count; i++)
        if (steps[i] > 0)
            steps[positive++] = steps[i];
    if (positive == 0)
        return 0;
    qsort(steps, positive, sizeof *steps, by_size);
    return steps[(positive - 1) / 2];
}

/* Repeats, and how far apart different neighbours are at the median: pairs stand further apart than rounding. */
static bool are_pairs(const gw_times *times, bool *repeats, bool *falling) {
    size_t equal = 0, rising = 0, sinking = 0, wide = 0, before = 0;
    bool any = false;
    for (size_t i = 0; i < times->count; i++) {
        if (!is_present(times, i))
            continue;
        double step = any ? times->values[i] - times->values[before] : 0;
        if (any) {
            equal += step == 0;
            rising += step > 0;
            sinking += step < 0;
            wide += fabs(step) >= rounding_digits * times->quantum;
        }
        before = i;
        gw_room_passed(times->values, sizeof *times->values, i);
        any = true;
    }
    *repeats = equal > 0;
    *falling = rising == 0 && sinking > 0;
    /* every time twice, but for a few */
    return equal * 5 >= (equal + rising + sinking) * 2 && rising + sinking > 0 && wide * 2 > rising + sinking;
}

gw_evenness gw_times_judge(const gw_times *times, bool *repeats) {
    gw_slope slope;
    bool falling;
    if (are_pairs(times, repeats, &falling))
        return GW_TIMES_PAIRS;
    if (falling)
        return GW_TIMES_FALLING;
    if (!gw_times_fit(times, 0, times->count, &slope))
        return GW_TIMES_UNEVEN;
    return slope.interval >= 0 && gw_slope_is_even(&slope, times->quantum) ? GW_TIMES_EVEN : GW_TIMES_UNEVEN;
}

bool gw_times_cut(const gw_times *times, gw_run *run) {
    double *steps = times->count < SIZE_MAX / sizeof *steps ? malloc((times->count + 1) * sizeof *steps) : NULL;
    *run = (gw_run){0};
    if (steps == NULL)
        return false;
    size_t count = take_steps(times, steps);
    double median = median_positive(steps, count), limit = median / 2 + 2 * times->quantum;
    free(steps);
    size_t first = 0, before = 0;
    bool any = false;
    for (size_t i = 0; i <= times->count; i++) {
        bool last = i == times->count;
        if (!last && !is_present(times, i))
            continue;
        double step = any && !last ? (times->values[i] - times->values[before]) / (double)(i - before) : median;
        if (last || fabs(step - median) > limit) {
            run->runs++;
            if (i - first > run->count) {
                run->first = first;
                run->count = i - first;
            }
            first = i;
        }
        before = i;
        any = true;
        gw_room_passed(last ? NULL : times->values, sizeof *times->values, i);
    }
    return true;
}

/* ---- the interval ------------------------------------------------------------------------------- */

double gw_slope_width(const gw_slope *slope, double quantum, size_t count) {
    double width = count > 1 ? fmax(2 * slope->residual, quantum) / (double)(count - 1) : 0;
    return fmax(width, least_width * fabs(slope->interval));
}

static double with_digits(double value, int digits) {
    char text[40];
    double rounded = value;
    gw_number_print(value, digits, text, sizeof text);
    return gw_number_parse(text, strlen(text), &rounded) ? rounded : value;
}

double gw_slope_snap(double interval, double width) {
    for (int digits = 1; digits < 17; digits++) {
        double as_interval = with_digits(interval, digits), rate = with_digits(1 / interval, digits);
        double off = fabs(as_interval - interval), rate_off = rate > 0 ? fabs(1 / rate - interval) : INFINITY;
        /* both may be the same figure, apart by rounding: the rate is then the exact one */
        if (rate_off <= width && rate_off <= off + 1e-12 * interval)
            return rate;
        if (off <= width)
            return 1 / as_interval;
        if (rate_off <= width)
            return rate;
    }
    return 1 / interval;
}
