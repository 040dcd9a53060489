/* Waveforms: what the capture shows against time, its peaks kept. */
#include "report/svg.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { LEFT = 46, RIGHT = 352, TOP = 10, BOTTOM = 128, HEIGHT = 150, COLUMNS = 306 };

typedef struct frame {
    double x0, x1, y0, y1; /* seconds and volts at the edges */
} frame;

static double place_x(const frame *in, double seconds) {
    return LEFT + (seconds - in->x0) / (in->x1 - in->x0) * (RIGHT - LEFT);
}

static double place_y(const frame *in, double volts) {
    double share = (volts - in->y0) / (in->y1 - in->y0);
    return BOTTOM - (share < 0 ? 0 : share > 1 ? 1 : share) * (BOTTOM - TOP);
}

static bool usable(const gw_readings *readings) {
    return readings != NULL && readings->waveform.count > 1 && readings->waveform.high != NULL &&
           readings->waveform.end > readings->waveform.start && isfinite(readings->waveform.end) &&
           isfinite(readings->waveform.start);
}

static double low_at(const gw_trace *trace, size_t i) {
    return trace->low != NULL ? trace->low[i] : trace->high[i];
}

static void include(frame *in, const gw_trace *trace) {
    for (size_t i = 0; i < trace->count; i++) {
        in->y0 = low_at(trace, i) < in->y0 ? low_at(trace, i) : in->y0;
        in->y1 = trace->high[i] > in->y1 ? trace->high[i] : in->y1;
    }
}

/* Zero stays in the picture unless it is far from the signal. */
static void settle(frame *in) {
    double span = in->y1 - in->y0;
    if (in->y0 > 0 && in->y0 < 2 * span)
        in->y0 = 0;
    if (in->y1 < 0 && -in->y1 < 2 * span)
        in->y1 = 0;
    span = in->y1 - in->y0;
    double room = span > 0 ? 0.06 * span : fabs(in->y1) > 0 ? 0.1 * fabs(in->y1) : 1;
    in->y0 -= room;
    in->y1 += room;
}

/* Lowest and highest value of the trace's columns that fall on drawn column `column`. */
static void extremes(const gw_trace *trace, size_t column, size_t columns, double *low, double *high) {
    size_t first = column * trace->count / columns, end = (column + 1) * trace->count / columns;
    end = end > first ? end : first + 1;
    *low = low_at(trace, first);
    *high = trace->high[first];
    for (size_t i = first; i < end; i++) {
        *low = low_at(trace, i) < *low ? low_at(trace, i) : *low;
        *high = trace->high[i] > *high ? trace->high[i] : *high;
    }
}

static void put_edge(gw_text *out, const gw_trace *trace, const frame *in, size_t columns, bool upper) {
    for (size_t k = 0; k < columns; k++) {
        size_t column = upper ? k : columns - 1 - k;
        double low, high;
        extremes(trace, column, columns, &low, &high);
        double share = ((double)column + 0.5) / (double)columns;
        double x = place_x(in, trace->start + share * (trace->end - trace->start));
        gw_svg_point(out, upper && k == 0 ? 'M' : 'L', x, place_y(in, upper ? high : low));
    }
}

static void put_curve(gw_text *out, const gw_trace *trace, const frame *in, const char *class_name) {
    size_t columns = trace->count < COLUMNS ? trace->count : COLUMNS;
    gw_text_printf(out, "<path class=\"%s\" d=\"", class_name);
    put_edge(out, trace, in, columns, true);
    put_edge(out, trace, in, columns, false);
    gw_text_add(out, "Z\"/>\n");
}

static void put_axes(gw_text *out, const frame *in, const char *unit) {
    char text[64];
    gw_svg_rect(out, "grid", LEFT, TOP, RIGHT - LEFT, BOTTOM - TOP);
    if (in->y0 < 0 && in->y1 > 0)
        gw_svg_line(out, "zero", LEFT, place_y(in, 0), RIGHT, place_y(in, 0));
    gw_svg_text(out, "small end", LEFT - 4, TOP + 8, 60, gw_quantity_print(in->y1, 0, unit, 2, text, sizeof text));
    gw_svg_text(out, "small end", LEFT - 4, BOTTOM, 60, gw_quantity_print(in->y0, 0, unit, 2, text, sizeof text));
    if (in->y0 < 0 && in->y1 > 0 && place_y(in, 0) > TOP + 20 && place_y(in, 0) < BOTTOM - 12)
        gw_svg_text(out, "small end", LEFT - 4, place_y(in, 0) + 3, 60, "0");
    gw_svg_text(out, "small", LEFT, HEIGHT - 8, 90, gw_shown_exact(in->x0, "s", 3, text, sizeof text));
    gw_svg_text(out, "small end", RIGHT, HEIGHT - 8, 90, gw_shown_exact(in->x1, "s", 3, text, sizeof text));
}

/* The curve before, from the left edge on, as far as the picture goes in time. */
static void put_before(gw_text *out, const gw_trace *trace, const frame *in) {
    gw_trace then = *trace;
    frame own = *in;
    own.x0 = then.start;
    own.x1 = then.start + (in->x1 - in->x0);
    double share = (own.x1 - then.start) / (then.end - then.start);
    if (share < 1) {
        then.count = share > 0 ? (size_t)((double)then.count * share) : 0;
        then.end = own.x1;
    }
    if (then.count > 1)
        put_curve(out, &then, &own, "then");
}

static void label_of(gw_text *label, const char *name, const gw_readings *now, const gw_readings *before) {
    char level[80];
    gw_shown shown = gw_shown_reading(GW_AC_RMS, &now->values[GW_AC_RMS], now->source.unit);
    gw_text_printf(label, "Waveform at %s, %s", name, gw_signal_name(now->signal));
    if (*gw_shown_print(&shown, 3, level, sizeof level) != '\0')
        gw_text_printf(label, ", %s RMS", level);
    gw_text_add(label, usable(before) ? "; the waveform before lies behind it" : "");
}

void gw_svg_waveform(gw_text *out, const char *name, const gw_readings *now, const gw_readings *before) {
    if (!usable(now))
        return;
    const gw_trace *trace = &now->waveform;
    frame in = {.x0 = trace->start, .x1 = trace->end, .y0 = low_at(trace, 0), .y1 = trace->high[0]};
    gw_text label = {0};
    include(&in, trace);
    if (usable(before))
        include(&in, &before->waveform);
    settle(&in);
    label_of(&label, name, now, before);
    gw_svg_begin(out, HEIGHT, gw_text_string(&label));
    put_axes(out, &in, gw_reading_unit(GW_AC_RMS, now->source.unit != NULL ? now->source.unit : "V"));
    if (usable(before))
        put_before(out, &before->waveform, &in);
    put_curve(out, trace, &in, "curve");
    gw_svg_end(out);
    gw_text_part_free(out, &label);
}
