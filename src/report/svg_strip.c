/* One row a point along a common axis: what is expected, what was measured. */
#include "report/svg.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { NAMES = 84, LEFT = 92, RIGHT = 284, VALUES = 292 };

/* The axis: whole steps of 1, 2 or 5 times a power of ten. */
typedef struct axis {
    double low, high, step;
} axis;

static void widen(axis *to, double value) {
    if (!(fabs(value) < 1e12)) /* no voltage and no level */
        return;
    to->low = value < to->low ? value : to->low;
    to->high = value > to->high ? value : to->high;
}

static double nice_step(double range) {
    double rough = range / 4, power = pow(10, floor(log10(rough))), lead = rough / power;
    return power * (lead <= 1 ? 1 : lead <= 2 ? 2 : lead <= 5 ? 5 : 10);
}

static axis axis_of(const gw_strip *strip) {
    axis made = {.low = (double)INFINITY, .high = (double)-INFINITY};
    for (size_t i = 0; i < strip->count; i++) {
        const gw_strip_row *row = &strip->rows[i];
        for (int k = 0; k < 2; k++)
            if (row->marks[k].has)
                widen(&made, row->marks[k].value);
        if (row->has_band) {
            widen(&made, row->low);
            widen(&made, row->high);
        }
    }
    if (strip->from_zero)
        widen(&made, 0);
    if (made.low > made.high)
        made.low = 0, made.high = 1;
    if (!strip->from_zero && made.low < made.high - 120)
        made.low = made.high - 120;
    double range = made.high - made.low;
    made.step = nice_step(range > 1e-9 ? range : 1);
    made.low = made.step * floor((made.low - 0.04 * range) / made.step);
    made.high = made.step * ceil((made.high + 0.04 * range + 1e-12) / made.step);
    return made;
}

static double place(const axis *on, double value) {
    double share = (value - on->low) / (on->high - on->low);
    share = share < 0 ? 0 : share > 1 ? 1 : share;
    return LEFT + share * (RIGHT - LEFT);
}

typedef struct prefix {
    const char *unit;
    double per_volt;
} prefix;

/* The unit in which the axis' figures are short; what has no volts stays as it is. */
static prefix prefix_of(const gw_strip *strip, const axis *on) {
    static const prefix smaller[] = {{"mV", 1e3}, {"\xC2\xB5V", 1e6}, {"nV", 1e9}};
    prefix best = {strip->axis, 1};
    double most = fmax(fabs(on->low), fabs(on->high));
    for (size_t i = 0; strcmp(strip->axis, "V") == 0 && i < 3 && most * best.per_volt < 0.5; i++)
        best = smaller[i];
    return best;
}

static void put_axis(gw_text *out, const gw_strip *strip, const axis *on) {
    double bottom = GW_SVG_TOP + GW_SVG_PITCH * (double)strip->count;
    long ticks = lround((on->high - on->low) / on->step);
    long every = ticks > 6 ? 2 : 1;
    prefix unit = prefix_of(strip, on);
    for (long i = 0; i <= ticks; i++) {
        double value = on->low + (double)i * on->step, x = place(on, value);
        bool zero = strip->from_zero && fabs(value) < on->step / 100;
        char text[64];
        gw_svg_line(out, zero ? "zero" : "grid", x, GW_SVG_TOP - 6, x, bottom);
        if (i % every == 0)
            gw_svg_text(out, "small middle", x, GW_SVG_TOP - 12, 60,
                        gw_shown_exact(zero ? 0 : value * unit.per_volt, "", 4, text, sizeof text));
    }
    gw_svg_text(out, "small", 4, GW_SVG_TOP - 12, 60, unit.unit);
}

static void put_band(gw_text *out, const gw_strip_row *row, const axis *on, double y) {
    if (!row->has_band)
        return;
    double left = place(on, row->low), right = place(on, row->high);
    if (right - left < 3)
        left = (left + right) / 2 - 1.5, right = left + 3;
    gw_svg_rect(out, "band", left, y - 10, right - left, 20);
    double x = place(on, row->expected);
    gw_svg_line(out, "expected", x, y - 10, x, y + 10);
}

static void put_mark(gw_text *out, const gw_strip_mark *mark, const axis *on, double y, bool from_zero) {
    double x = place(on, mark->value);
    if (!mark->has)
        return;
    if (from_zero)
        gw_svg_line(out, "line", place(on, 0), y, x, y);
    if (mark->below)
        gw_svg_line(out, "then-line", LEFT, y, x, y);
    else if (place(on, mark->high) - place(on, mark->low) > 1)
        gw_svg_line(out, "line", place(on, mark->low), y, place(on, mark->high), y);
    gw_svg_node(out, mark->status, x, y);
}

static void put_before(gw_text *out, const gw_strip_mark *mark, const axis *on, double y) {
    if (!mark->has)
        return;
    gw_text_add(out, "<circle class=\"node before\" r=\"4\" cx=\"");
    gw_html_number(out, place(on, mark->value));
    gw_text_add(out, "\" cy=\"");
    gw_html_number(out, y);
    gw_text_add(out, "\"/>\n");
}

static void put_row(gw_text *out, const gw_strip *strip, size_t index, const axis *on) {
    const gw_strip_row *row = &strip->rows[index];
    const gw_strip_mark *now = &row->marks[0];
    double y = gw_svg_row(index);
    bool odd = now->status == GW_OFF || now->status == GW_UNSURE;
    char said[80];
    gw_svg_text(out, "name", 4, y + 4, NAMES - 4, row->name);
    put_band(out, row, on, y);
    put_before(out, &row->marks[1], on, y);
    put_mark(out, now, on, y, strip->from_zero);
    snprintf(said, sizeof said, "%s", now->has ? now->text : row->missing != NULL ? row->missing : "\xE2\x80\x93");
    gw_svg_text(out, odd ? gw_html_class(now->status) : now->has ? "value" : "small", VALUES, y + 4, 74, said);
    if (odd)
        gw_svg_text(out, gw_html_class(now->status), VALUES, y + 17, 60, now->status == GW_OFF ? "off" : "unsure");
}

void gw_svg_strip(gw_text *out, const gw_strip *strip) {
    axis on = axis_of(strip);
    gw_svg_begin(out, GW_SVG_TOP + GW_SVG_PITCH * (double)strip->count + 6, strip->label);
    put_axis(out, strip, &on);
    for (size_t i = 0; i < strip->count; i++)
        put_row(out, strip, i, &on);
    gw_svg_end(out);
}
