/* Spectra: decibels over a logarithmic frequency axis; harmonics, mains and floor marked. */
#include "report/svg.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { LEFT = 46, RIGHT = 352, TOP = 22, BOTTOM = 138, HEIGHT = 160, COLUMNS = 306 };

typedef struct frame {
    double low_hz, high_hz, low_db, high_db;
    bool log_x;
} frame;

/* An axis that can be drawn: no more than nine decades where it is logarithmic. */
static bool usable(const gw_readings *readings) {
    if (readings == NULL || readings->spectrum.count < 3 || readings->spectrum.high == NULL)
        return false;
    double start = readings->spectrum.start, end = readings->spectrum.end;
    return isfinite(start) && isfinite(end) && end > start &&
           (!readings->spectrum.log_x || (start > 0 && end < 1e9 * start));
}

static double decibels(double rms, bool full_scale) {
    double db = rms > 0 ? gw_db_from_ratio(full_scale ? rms * sqrt(2.0) : rms) : -400;
    return db < -400 ? -400 : db > 400 ? 400 : db; /* beyond any voltage */
}

static double place_x(const frame *in, double hertz) {
    double share = in->log_x ? log(hertz / in->low_hz) / log(in->high_hz / in->low_hz)
                             : (hertz - in->low_hz) / (in->high_hz - in->low_hz);
    return LEFT + share * (RIGHT - LEFT);
}

static double place_y(const frame *in, double db) {
    double share = (db - in->low_db) / (in->high_db - in->low_db);
    return BOTTOM - (share < 0 ? 0 : share > 1 ? 1 : share) * (BOTTOM - TOP);
}

static int by_size(const void *one, const void *other) {
    double a = *(const double *)one, b = *(const double *)other;
    return (a > b) - (a < b);
}

/* The floor: the median of the drawn lines. Negative when memory is out. */
static double median_of(const gw_trace *trace) {
    double *sorted = malloc(trace->count * sizeof *sorted);
    if (sorted == NULL)
        return -1;
    memcpy(sorted, trace->high, trace->count * sizeof *sorted);
    qsort(sorted, trace->count, sizeof *sorted, by_size);
    double median = sorted[trace->count / 2];
    free(sorted);
    return median;
}

static double highest(const gw_trace *trace) {
    double most = 0;
    for (size_t i = 0; i < trace->count; i++)
        most = trace->high[i] > most ? trace->high[i] : most;
    return most;
}

static void put_curve(gw_text *out, const gw_trace *trace, const frame *in, bool full_scale, const char *class_name) {
    size_t columns = trace->count < COLUMNS ? trace->count : COLUMNS;
    gw_text_printf(out, "<path class=\"%s\" d=\"", class_name);
    for (size_t k = 0; k < columns; k++) {
        size_t first = k * trace->count / columns, end = (k + 1) * trace->count / columns;
        double most = trace->high[first];
        for (size_t i = first; i < end; i++)
            most = trace->high[i] > most ? trace->high[i] : most;
        double share = columns > 1 ? (double)k / (double)(columns - 1) : 0;
        double hertz = trace->log_x ? trace->start * pow(trace->end / trace->start, share)
                                    : trace->start + share * (trace->end - trace->start);
        double x = place_x(in, hertz);
        if (x >= LEFT - 0.5 && x <= RIGHT + 0.5)
            gw_svg_point(out, k == 0 ? 'M' : 'L', x, place_y(in, decibels(most, full_scale)));
    }
    gw_text_add(out, "\"/>\n");
}

static void put_decades(gw_text *out, const frame *in) {
    for (double hertz = pow(10, ceil(log10(in->low_hz))); hertz <= in->high_hz; hertz *= 10) {
        char text[64];
        double x = place_x(in, hertz);
        gw_svg_line(out, "grid", x, TOP, x, BOTTOM);
        if (x > LEFT + 14 && x < RIGHT - 40)
            gw_svg_text(out, "small middle", x, HEIGHT - 10, 60, gw_shown_exact(hertz, "Hz", 3, text, sizeof text));
    }
}

static void put_axes(gw_text *out, const frame *in, const char *unit) {
    char text[64];
    gw_svg_rect(out, "grid", LEFT, TOP, RIGHT - LEFT, BOTTOM - TOP);
    for (double db = in->low_db + 20; db < in->high_db; db += 20)
        gw_svg_line(out, "grid", LEFT, place_y(in, db), RIGHT, place_y(in, db));
    if (in->log_x)
        put_decades(out, in);
    gw_svg_text(out, "small end", LEFT - 4, TOP + 8, 60, gw_shown_exact(in->high_db, unit, 4, text, sizeof text));
    gw_svg_text(out, "small end", LEFT - 4, BOTTOM, 60, gw_shown_exact(in->low_db, "", 4, text, sizeof text));
    gw_svg_text(out, "small end", RIGHT, HEIGHT - 10, 60, gw_shown_exact(in->high_hz, "Hz", 3, text, sizeof text));
}

/* A tick above the picture at a frequency, with what it is. Ticks closer than `last` are left out. */
static void put_tick(gw_text *out, const frame *in, double hertz, const char *text, double *last) {
    if (!(hertz >= in->low_hz) || hertz > in->high_hz)
        return;
    double x = place_x(in, hertz);
    if (fabs(x - *last) < 8)
        return;
    *last = x;
    gw_svg_line(out, "tick", x, TOP - 6, x, TOP + 3);
    gw_svg_text(out, "small middle", x, TOP - 8, 40, text);
}

static void put_marks(gw_text *out, const gw_readings *readings, const frame *in) {
    double last = -100;
    for (size_t i = 0; i < readings->harmonic_count; i++) {
        const gw_harmonic *harmonic = &readings->harmonics[i];
        char order[16];
        snprintf(order, sizeof order, "%d", harmonic->order);
        if (harmonic->resolved && harmonic->order <= 10)
            put_tick(out, in, harmonic->frequency_hz, order, &last);
    }
    last = -100;
    for (size_t i = 0; i < readings->tone_count; i++) {
        bool mains = readings->tones[i].kind == GW_TONE_MAINS;
        if (mains || readings->tones[i].kind == GW_TONE_OTHER)
            put_tick(out, in, readings->tones[i].frequency_hz, mains ? "m" : "t", &last);
    }
}

static void put_floor(gw_text *out, const frame *in, double floor_rms, bool full_scale) {
    if (!(floor_rms > 0))
        return;
    double y = place_y(in, decibels(floor_rms, full_scale));
    gw_svg_line(out, "floor", LEFT, y, RIGHT, y);
    if (y > TOP + 20 && y < BOTTOM - 11)
        gw_svg_text(out, "small end", LEFT - 4, y + 3, 60, "floor");
}

static frame frame_of(const gw_trace *trace, const gw_trace *then, double floor_rms, bool full_scale) {
    frame in = {.low_hz = trace->start, .high_hz = trace->end, .log_x = trace->log_x};
    double most = highest(trace);
    if (then != NULL && highest(then) > most)
        most = highest(then);
    double top = decibels(most, full_scale), bottom = decibels(floor_rms, full_scale) - 15;
    in.high_db = 20 * ceil((top + 3) / 20);
    in.low_db = 20 * floor(bottom / 20);
    if (in.low_db < in.high_db - 160)
        in.low_db = in.high_db - 160;
    if (in.low_db > in.high_db - 40)
        in.low_db = in.high_db - 40;
    return in;
}

static void put_label(gw_text *label, const char *name, const gw_readings *readings, bool overlaid) {
    size_t harmonics = 0, mains = 0;
    for (size_t i = 0; i < readings->harmonic_count; i++)
        harmonics += readings->harmonics[i].resolved && readings->harmonics[i].order > 1;
    for (size_t i = 0; i < readings->tone_count; i++)
        mains += readings->tones[i].kind == GW_TONE_MAINS;
    gw_text_printf(label, "Spectrum at %s: %zu harmonics and %zu mains lines above the floor%s", name, harmonics, mains,
                   overlaid ? "; the spectrum before lies behind it" : "");
}

void gw_svg_spectrum(gw_text *out, const char *name, const gw_readings *now, const gw_readings *before) {
    if (!usable(now))
        return;
    bool full_scale = now->source.unit != NULL && strcmp(now->source.unit, "FS") == 0, overlaid = usable(before);
    double floor_rms = median_of(&now->spectrum);
    frame in = frame_of(&now->spectrum, overlaid ? &before->spectrum : NULL, floor_rms, full_scale);
    gw_text label = {0};
    put_label(&label, name, now, overlaid);
    gw_svg_begin(out, HEIGHT, gw_text_string(&label));
    put_axes(out, &in, full_scale ? "dBFS" : "dBV");
    if (overlaid)
        put_curve(out, &before->spectrum, &in, full_scale, "then-line");
    put_curve(out, &now->spectrum, &in, full_scale, "line");
    put_floor(out, &in, floor_rms, full_scale);
    put_marks(out, now, &in);
    gw_svg_end(out);
    gw_text_part_free(out, &label);
    out->failed |= floor_rms < 0;
}
