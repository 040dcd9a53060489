#include "measure/flanks.h"

#include "base/lanes.h"
#include "gainwalk/capture.h"

typedef int64_t whole_lanes __attribute__((vector_size(32)));

enum { SUMS = 10, WIDTH = 4 };

#define ALL_OF(value) ((gw_lanes){value, value, value, value})
/* The lanes that hold, the others zero. */
#define CHOSEN(which, values) ((gw_lanes)((whole_lanes)(values) & (which)))
#define TOTAL(v)              (((v)[0] + (v)[2]) + ((v)[1] + (v)[3]))

/* Which of the lanes from `at` on are there and present. */
static inline void present_from(const gw_flanks_of *of, size_t at, whole_lanes *which) {
    for (size_t j = 0; j < WIDTH; j++)
        if (at + j >= of->count || (of->marks && of->marks[at + j] != GW_SAMPLE_PRESENT))
            (*which)[j] = 0;
}

/* Values from `at` on, zeros behind the last. */
static inline void load(const double *values, size_t at, size_t count, gw_lanes *out) {
    if (at + WIDTH <= count) {
        *out = GW_LANES_AT(values + at);
        return;
    }
    *out = ALL_OF(0);
    for (size_t j = 0; at + j < count; j++)
        (*out)[j] = values[at + j];
}

static inline void products_add(gw_lanes *sums, const whole_lanes *which, const gw_lanes *volts, const gw_lanes *cosine,
                                const gw_lanes *sine) {
    gw_lanes x = CHOSEN(*which, *volts), c = CHOSEN(*which, *cosine), s = CHOSEN(*which, *sine);
    sums[0] += CHOSEN(*which, ALL_OF(1));
    sums[1] += c;
    sums[2] += s;
    sums[3] += c * c;
    sums[4] += c * s;
    sums[5] += s * s;
    sums[6] += x;
    sums[7] += x * c;
    sums[8] += x * s;
    sums[9] += x * x;
}

GW_WIDE void gw_flanks_sum(const gw_flanks_of *of, double low, double high, gw_flanks *out) {
    gw_lanes sums[SUMS] = {{0}};
    const gw_lanes sign = ALL_OF(of->sign), lows = ALL_OF(low), highs = ALL_OF(high);
    for (size_t i = 0; i < of->count; i += WIDTH) {
        gw_lanes x, by, c, s;
        load(of->volts, i, of->count, &x);
        load(of->cosine, i, of->count, &c);
        load(of->sine, i, of->count, &s);
        x *= sign;
        by = x;
        if (of->by)
            load(of->by, i, of->count, &by);
        whole_lanes which = (whole_lanes)(by <= highs) & (whole_lanes)(by >= lows);
        if (of->marks || i + WIDTH > of->count)
            present_from(of, i, &which);
        products_add(sums, &which, &x, &c, &s);
    }
    *out = (gw_flanks){.count = TOTAL(sums[0]),
                       .c = TOTAL(sums[1]),
                       .s = TOTAL(sums[2]),
                       .cc = TOTAL(sums[3]),
                       .cs = TOTAL(sums[4]),
                       .ss = TOTAL(sums[5]),
                       .x = TOTAL(sums[6]),
                       .xc = TOTAL(sums[7]),
                       .xs = TOTAL(sums[8]),
                       .xx = TOTAL(sums[9])};
}

GW_WIDE double gw_flanks_above(const gw_flanks_of *of, double level, size_t *count) {
    gw_lanes sum = {0};
    whole_lanes found = {0};
    const gw_lanes levels = ALL_OF(level);
    for (size_t i = 0; i < of->count; i += WIDTH) {
        gw_lanes by, x;
        load(of->by, i, of->count, &by);
        load(of->volts, i, of->count, &x);
        whole_lanes which = (whole_lanes)(by > levels);
        if (of->marks || i + WIDTH > of->count)
            present_from(of, i, &which);
        sum += CHOSEN(which, x);
        found -= which;
    }
    *count = (size_t)(found[0] + found[1] + found[2] + found[3]);
    return of->sign * TOTAL(sum);
}

GW_WIDE void gw_flanks_foretell(const gw_flanks_of *of, double centre, double a, double b, double *out) {
    size_t i = 0;
    for (; i + WIDTH <= of->count; i += WIDTH) {
        gw_lanes value =
            ALL_OF(centre) + ALL_OF(a) * GW_LANES_AT(of->cosine + i) + ALL_OF(b) * GW_LANES_AT(of->sine + i);
        *(gw_lanes *)(out + i) = value;
    }
    for (; i < of->count; i++)
        out[i] = centre + a * of->cosine[i] + b * of->sine[i];
}
