#include "capture/axis.h"

#include "base/lanes.h"
#include "capture/room.h"
#include "capture/turns.h"

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

/* ---- passes ------------------------------------------------------------------------------------- */

/* A pass goes over blocks of rows; what comes of a block rests on nothing else, and blocks are joined in their order,
 * so that any number of threads gives the same. */
typedef struct stretch {
    const gw_times *times;
    size_t first, count; /* rows */
    double middle;       /* rows count from here: near the mean row, so that little cancels */
    double origin;       /* times count from here */
} stretch;

typedef struct block {
    size_t from, to; /* of the stretch */
} block;

static size_t blocks_of(const stretch *s) {
    return (s->count + GW_ROOM_PASS - 1) / GW_ROOM_PASS;
}

static block block_begin(const stretch *s, size_t k) {
    size_t from = k * GW_ROOM_PASS, left = s->count - from;
    block b = {from, from + (left < GW_ROOM_PASS ? left : GW_ROOM_PASS)};
    if (s->times->packs == NULL)
        gw_room_expect(s->times->values, (s->first + b.from) * sizeof(double), (b.to - b.from) * sizeof(double), false);
    return b;
}

static void block_end(const stretch *s, block b) {
    if (s->times->packs == NULL)
        gw_room_forget(s->times->values, (s->first + b.from) * sizeof(double), (b.to - b.from) * sizeof(double));
}

/* Rows at a time, near at hand when they come out of a pack. */
enum { NEAR = 8192 };

/* Rows `from` to `to` of the stretch, where they stand or in `room`. */
static const double *near_values(const stretch *s, size_t from, size_t to, double *room) {
    const gw_times *times = s->times;
    if (times->packs == NULL)
        return times->values + s->first + from;
    gw_packs_fetch(times->packs, times->column, times->values, s->first + from, to - from, room);
    return room;
}

static size_t near_end(size_t at, block b) {
    return b.to - at < NEAR ? b.to : at + NEAR;
}

static int threads_of(const gw_times *times) {
    return times->jobs > 1 ? times->jobs : 1;
}

/* Sums over the times that are present, rows counted from the middle. */
typedef struct sums {
    double rows, squares, times, products, largest;
    size_t present;
} sums;

static inline double larger(double one, double other) {
    return one > other ? one : other;
}

static void sum_marked(const stretch *s, block b, sums *out) {
    const double *values = s->times->values + s->first;
    for (size_t i = b.from; i < b.to; i++) {
        if (!is_present(s->times, s->first + i))
            continue;
        double row = (double)i - s->middle, time = values[i] - s->origin;
        out->present++;
        out->rows += row;
        out->squares += row * row;
        out->times += time;
        out->products += row * time;
        out->largest = larger(out->largest, fabs(values[i]));
    }
}

GW_WIDE static void sum_plain(const double *values, double row, double origin, size_t count, sums *out) {
    const gw_lanes step = {4, 4, 4, 4}, zero = {origin, origin, origin, origin};
    gw_lanes at = {row, row + 1, row + 2, row + 3}, rows = {0}, squares = {0}, times = {0}, products = {0}, none = {0};
    double largest = 0;
    size_t i = 0;
    for (; i + 4 <= count; i += 4, at += step) {
        gw_lanes time = GW_LANES_AT(values + i) - zero;
        rows += at;
        squares += at * at;
        times += time;
        products += at * time;
    }
    out->rows = gw_lanes_sum(&rows, &none);
    out->squares = gw_lanes_sum(&squares, &none);
    out->times = gw_lanes_sum(&times, &none);
    out->products = gw_lanes_sum(&products, &none);
    for (; i < count; i++) {
        double here = row + (double)i, time = values[i] - origin;
        out->rows += here;
        out->squares += here * here;
        out->times += time;
        out->products += here * time;
    }
#pragma omp simd reduction(max : largest)
    for (size_t k = 0; k < count; k++)
        largest = larger(largest, fabs(values[k]));
    out->largest = largest;
    out->present = count;
}

static sums sums_join(const sums *one, const sums *other) {
    return (sums){one->rows + other->rows,         one->squares + other->squares,        one->times + other->times,
                  one->products + other->products, larger(one->largest, other->largest), one->present + other->present};
}

/* How neighbouring times that are present follow each other. */
typedef struct follow {
    size_t equal, rising, sinking, wide;
} follow;

/* How `count` values follow the one before each. Counts are of whole numbers that doubles hold. */
GW_WIDE static void follow_near(const double *values, size_t count, double least_wide, follow *out) {
    double rising = 0, sinking = 0, wide = 0;
#pragma omp simd reduction(+ : rising, sinking, wide)
    for (size_t i = 1; i <= count; i++) {
        double step = values[i] - values[i - 1];
        rising += step > 0 ? 1.0 : 0.0;
        sinking += step < 0 ? 1.0 : 0.0;
        wide += fabs(step) >= least_wide ? 1.0 : 0.0;
    }
    size_t up = (size_t)rising, down = (size_t)sinking;
    *out = (follow){out->equal + count - up - down, out->rising + up, out->sinking + down, out->wide + (size_t)wide};
}

static follow follow_join(const follow *one, const follow *other) {
    return (follow){one->equal + other->equal, one->rising + other->rising, one->sinking + other->sinking,
                    one->wide + other->wide};
}

/* And, where it is asked for, how they follow each other. */
static sums sum_block(const stretch *s, block b, follow *beside) {
    double room[NEAR + 1];
    sums all = {0};
    if (s->times->marks != NULL) {
        sum_marked(s, b, &all);
        return all;
    }
    for (size_t at = b.from, end; at < b.to; at = end) {
        sums own;
        size_t before = beside != NULL && at > 0; /* one value */
        end = near_end(at, b);
        const double *values = near_values(s, at - before, end, room);
        sum_plain(values + before, (double)at - s->middle, s->origin, end - at, &own);
        all = sums_join(&all, &own);
        if (beside != NULL)
            follow_near(values, end - at - (before == 0), rounding_digits * s->times->quantum, beside);
    }
    return all;
}

static sums sum_up(const stretch *s, follow *beside) {
    size_t blocks = blocks_of(s);
    sums all = {0};
    gw_turns turns = GW_TURNS;
#pragma omp parallel for schedule(static, 1) num_threads(threads_of(s->times))
    for (size_t k = 0; k < blocks; k++) {
        block b = block_begin(s, k);
        follow steps = {0};
        sums own = sum_block(s, b, beside != NULL ? &steps : NULL);
        block_end(s, b);
        gw_turn_await(&turns, k);
        all = sums_join(&all, &own);
        if (beside != NULL)
            *beside = follow_join(beside, &steps);
        gw_turn_pass(&turns);
    }
    return all;
}

GW_WIDE static double furthest_plain(const double *values, double row, size_t count, double mean, double interval) {
    double most = 0;
#pragma omp simd reduction(max : most)
    for (size_t i = 0; i < count; i++)
        most = larger(most, fabs(values[i] - mean - interval * (row + (double)i)));
    return most;
}

static double furthest_block(const stretch *s, block b, double row, double mean, double interval) {
    double room[NEAR], most = 0;
    for (size_t at = b.from, end; at < b.to; at = end) {
        double from = (double)at - s->middle - row;
        end = near_end(at, b);
        const double *values = near_values(s, at, end, room);
        if (s->times->marks == NULL)
            most = larger(most, furthest_plain(values, from, end - at, mean, interval));
        for (size_t i = at; s->times->marks != NULL && i < end; i++)
            if (is_present(s->times, s->first + i))
                most = larger(most, fabs(values[i - at] - mean - interval * (from + (double)(i - at))));
    }
    return most;
}

/* The largest residual from `mean` at row `row`, rows counted from the middle. */
static double furthest(const stretch *s, double row, double mean, double interval) {
    size_t blocks = blocks_of(s);
    double most = 0;
#pragma omp parallel for schedule(static, 1) num_threads(threads_of(s->times)) reduction(max : most)
    for (size_t k = 0; k < blocks; k++) {
        block b = block_begin(s, k);
        most = larger(most, furthest_block(s, b, row, mean, interval));
        block_end(s, b);
    }
    return most;
}

/* ---- the line ----------------------------------------------------------------------------------- */

static stretch stretch_of(const gw_times *times, size_t first, size_t count) {
    stretch s = {.times = times, .first = first, .count = count, .middle = (double)count / 2};
    size_t start = 0;
    while (start < count && !is_present(times, first + start))
        start++;
    double room[1];
    s.origin = start < count ? *near_values(&s, start, start + 1, room) : 0;
    return s;
}

static bool line_through(const stretch *s, const sums *all, gw_slope *slope) {
    if (all->present < 2)
        return false;
    double n = (double)all->present, row = all->rows / n, mean = all->times / n;
    double interval = (all->products - n * row * mean) / (all->squares - n * row * row);
    *slope = (gw_slope){.interval = interval,
                        .start = s->origin + mean - interval * (s->middle + row),
                        .residual = furthest(s, row, s->origin + mean, interval),
                        .largest = all->largest,
                        .present = all->present};
    return true;
}

bool gw_times_fit(const gw_times *times, size_t first, size_t count, gw_slope *slope) {
    stretch s = stretch_of(times, first, count);
    sums all = sum_up(&s, NULL);
    return line_through(&s, &all, slope);
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

static follow follow_marked(const gw_times *times) {
    follow out = {0};
    size_t before = SIZE_MAX;
    for (size_t i = 0; i < times->count; i++) {
        if (!is_present(times, i))
            continue;
        double step = before != SIZE_MAX ? times->values[i] - times->values[before] : 0;
        if (before != SIZE_MAX) {
            out.equal += step == 0;
            out.rising += step > 0;
            out.sinking += step < 0;
            out.wide += fabs(step) >= rounding_digits * times->quantum;
        }
        before = i;
        gw_room_passed(times->values, sizeof *times->values, i);
    }
    return out;
}

/* Repeats, and how far apart different neighbours are at the median: pairs stand further apart than rounding. */
static bool are_pairs(const follow *f) {
    /* every time twice, but for a few */
    return f->equal * 5 >= (f->equal + f->rising + f->sinking) * 2 && f->rising + f->sinking > 0 &&
           f->wide * 2 > f->rising + f->sinking;
}

gw_evenness gw_times_judge(const gw_times *times, bool *repeats, gw_slope *slope) {
    stretch s = stretch_of(times, 0, times->count);
    follow f = {0};
    if (times->marks != NULL)
        f = follow_marked(times);
    sums all = sum_up(&s, times->marks == NULL ? &f : NULL); /* in one pass with the steps */
    *repeats = f.equal > 0;
    if (are_pairs(&f))
        return GW_TIMES_PAIRS;
    if (f.rising == 0 && f.sinking > 0)
        return GW_TIMES_FALLING;
    if (!line_through(&s, &all, slope))
        return GW_TIMES_UNEVEN;
    return slope->interval >= 0 && gw_slope_is_even(slope, times->quantum) ? GW_TIMES_EVEN : GW_TIMES_UNEVEN;
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
