/* Gain of a stage against frequency, measured and expected. */
#include "report/svg.h"

#include <math.h>

enum { LEFT = 46, RIGHT = 352, TOP = 12, BOTTOM = 128, HEIGHT = 150 };
/* Decibels from the highest gain down; what lies deeper is drawn at the edge. */
static const double depth_db = 40;

typedef struct frame {
    double low_hz, high_hz, top_db;
} frame;

static double place_x(const frame *in, double hertz) {
    return LEFT + log(hertz / in->low_hz) / log(in->high_hz / in->low_hz) * (RIGHT - LEFT);
}

static double place_y(const frame *in, double ratio) {
    double share = ratio > 0 ? (in->top_db - gw_db_from_ratio(ratio)) / depth_db : 1;
    return TOP + (share < 0 ? 0 : share > 1 ? 1 : share) * (BOTTOM - TOP);
}

static void put_curve(gw_text *out, const frame *in, const gw_walk_curve *curve, bool expected) {
    bool begun = false;
    gw_text_printf(out, "<path class=\"%s\" d=\"", expected ? "floor" : "line");
    for (size_t i = 0; i < curve->count; i++) {
        double ratio = expected ? curve->lines[i].expected : curve->lines[i].value;
        if (!(ratio > 0))
            continue;
        gw_svg_point(out, begun ? 'L' : 'M', place_x(in, curve->lines[i].frequency_hz), place_y(in, ratio));
        begun = true;
    }
    gw_text_add(out, "\"/>\n");
}

static void put_axes(gw_text *out, const frame *in) {
    char text[64];
    gw_svg_rect(out, "grid", LEFT, TOP, RIGHT - LEFT, BOTTOM - TOP);
    for (int step = 1; step < 4; step++)
        gw_svg_line(out, "grid", LEFT, TOP + step * (BOTTOM - TOP) / 4.0, RIGHT, TOP + step * (BOTTOM - TOP) / 4.0);
    for (double hertz = pow(10, ceil(log10(in->low_hz))); hertz <= in->high_hz; hertz *= 10) {
        double x = place_x(in, hertz);
        gw_svg_line(out, "grid", x, TOP, x, BOTTOM);
        if (x > LEFT + 14 && x < RIGHT - 40)
            gw_svg_text(out, "small middle", x, HEIGHT - 8, 60, gw_shown_exact(hertz, "Hz", 3, text, sizeof text));
    }
    gw_svg_text(out, "small end", LEFT - 4, TOP + 8, 60, gw_shown_exact(in->top_db, "dB", 4, text, sizeof text));
    gw_svg_text(out, "small end", LEFT - 4, BOTTOM, 60,
                gw_shown_exact(in->top_db - depth_db, "", 4, text, sizeof text));
    gw_svg_text(out, "small end", RIGHT, HEIGHT - 8, 60, gw_shown_exact(in->high_hz, "Hz", 3, text, sizeof text));
}

void gw_svg_response(gw_text *out, const char *name, const gw_walk_curve *curve) {
    double most = 0;
    for (size_t i = 0; i < curve->count; i++)
        most = fmax(most, fmax(curve->lines[i].value, curve->lines[i].expected));
    double low = curve->count > 0 ? curve->lines[0].frequency_hz : 0;
    double high = curve->count > 0 ? curve->lines[curve->count - 1].frequency_hz : 0;
    if (!(low > 0 && high > low && high < 1e9 * low && most > 0 && isfinite(most)))
        return;
    frame in = {.low_hz = low, .high_hz = high, .top_db = 10 * ceil(gw_db_from_ratio(most) / 10 + 0.1)};
    gw_text label = {0};
    gw_text_printf(&label, "Gain of the stage that leads to %s against frequency, measured and expected", name);
    gw_svg_begin(out, HEIGHT, gw_text_string(&label));
    put_axes(out, &in);
    put_curve(out, &in, curve, true);
    put_curve(out, &in, curve, false);
    gw_svg_end(out);
    gw_text_part_free(out, &label);
}
