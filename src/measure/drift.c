#include "events.h"

#include "gainwalk/capture.h"

#include <math.h>

/* Sums of a straight line's normal equations over points in order: time in points, centred when solved. */
typedef struct line_sums {
    double count, t, tt, x, tx, xx;
} line_sums;

static void add_point(line_sums *s, double t, double x) {
    s->count++;
    s->t += t;
    s->tt += t * t;
    s->x += x;
    s->tx += t * x;
    s->xx += x * x;
}

static bool solve_line(const line_sums *s, double *slope, double *u_slope) {
    if (s->count < 3)
        return false;
    double tt = s->tt - s->t * s->t / s->count;
    double tx = s->tx - s->t * s->x / s->count;
    double xx = s->xx - s->x * s->x / s->count;
    if (!(tt > 0))
        return false;
    *slope = tx / tt;
    *u_slope = sqrt(fmax(xx - tx * *slope, 0) / (s->count - 2) / tt);
    return true;
}

bool gw_drift_slope(const double *volts, const unsigned char *marks, size_t n, double rate_hz, double frequency_hz,
                    double *slope, double *u_slope) {
    *slope = *u_slope = 0;
    double period = frequency_hz > 0 ? fmax(rate_hz / frequency_hz, 1) : 1;
    if (!(rate_hz > 0) || period > (double)n)
        return false;
    size_t points = (size_t)((double)n / period);
    double middle = (double)n / rate_hz / 2, first = n ? volts[0] : 0; /* differences keep their digits on a large DC */
    line_sums sums = {0};
    for (size_t p = 0; p < points; p++) {
        size_t from = (size_t)((double)p * period + 0.5), to = (size_t)((double)(p + 1) * period + 0.5), here = 0;
        double sum = 0, time = 0;
        for (size_t i = from; i < to && i < n; i++) {
            if (marks && marks[i] != GW_SAMPLE_PRESENT)
                continue;
            sum += volts[i] - first;
            time += (double)i / rate_hz - middle;
            here++;
        }
        if (here * 2 > to - from)
            add_point(&sums, time / (double)here, sum / (double)here);
    }
    return solve_line(&sums, slope, u_slope);
}
