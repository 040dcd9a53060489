#include "report/svg.h"

#include "base/unicode.h"
#include "report/terminal.h"

#include <string.h>

void gw_svg_begin(gw_text *out, double height, const char *label) {
    gw_text_add(out, "<svg viewBox=\"0 0 360 ");
    gw_html_number(out, height);
    gw_html_format(out, "\" role=\"img\" aria-label=\"%s\">\n", label);
}

void gw_svg_end(gw_text *out) {
    gw_text_add(out, "</svg>\n");
}

static void attribute(gw_text *out, const char *name, double value) {
    gw_text_printf(out, " %s=\"", name);
    gw_html_number(out, value);
    gw_text_add_char(out, '"');
}

void gw_svg_line(gw_text *out, const char *class_name, double x1, double y1, double x2, double y2) {
    gw_text_printf(out, "<path class=\"%s\" d=\"", class_name);
    gw_svg_point(out, 'M', x1, y1);
    gw_svg_point(out, 'L', x2, y2);
    gw_text_add(out, "\"/>\n");
}

void gw_svg_rect(gw_text *out, const char *class_name, double x, double y, double width, double height) {
    gw_text_printf(out, "<rect class=\"%s\"", class_name);
    attribute(out, "x", x);
    attribute(out, "y", y);
    attribute(out, "width", width);
    attribute(out, "height", height);
    gw_text_add(out, "/>\n");
}

/* Width of a character in ems, on the safe side: as bold in a wide sans serif. */
static double ems(uint32_t code) {
    if (code < 0x80 && strchr("WMm@%", (int)code) != NULL)
        return 1.1;
    if (code < 0x80 && strchr("ijlI.,:;|'!/ ()", (int)code) != NULL)
        return 0.42;
    if ((code >= 'A' && code <= 'Z') || code == 'w')
        return 0.85;
    return code < 0x80 ? 0.7 : 0.85 * gw_unicode_columns(code);
}

static double width_of(const char *text, double size) {
    double width = 0;
    for (uint32_t code; (code = gw_unicode_next(&text)) != 0;)
        width += ems(code) * size;
    return width;
}

void gw_svg_text(gw_text *out, const char *class_name, double x, double y, double width, const char *text) {
    double size = strncmp(class_name, "small", 5) == 0 ? 9.5 : 11, used = 0; /* as in the style */
    size *= strcmp(class_name, "small") == 0 ? 0.93 : 1;                     /* not bold */
    gw_text clean = {0}, cut = {0};
    gw_terminal_clean(text, &clean);
    bool all = width_of(gw_text_string(&clean), size) <= width;
    const char *at = gw_text_string(&clean), *before = at;
    for (uint32_t code; (code = gw_unicode_next(&at)) != 0; before = at) {
        used += ems(code) * size;
        if (!all && used > width - size)
            break;
        gw_text_add_bytes(&cut, before, (size_t)(at - before));
    }
    gw_text_add(&cut, all ? "" : "\xE2\x80\xA6");
    gw_text_printf(out, "<text class=\"%s\"", class_name);
    attribute(out, "x", x);
    attribute(out, "y", y);
    gw_text_add_char(out, '>');
    gw_html_text(out, gw_text_string(&cut));
    gw_text_add(out, "</text>\n");
    gw_text_part_free(out, &clean);
    gw_text_part_free(out, &cut);
}

void gw_svg_point(gw_text *out, char command, double x, double y) {
    gw_text_add_char(out, command);
    gw_html_number(out, x);
    gw_text_add_char(out, ',');
    gw_html_number(out, y);
}

static void circle(gw_text *out, const char *class_name, double x, double y, double r) {
    gw_text_printf(out, "<circle class=\"node %s\"", class_name);
    attribute(out, "cx", x);
    attribute(out, "cy", y);
    attribute(out, "r", r);
    gw_text_add(out, "/>\n");
}

static void diamond(gw_text *out, const char *class_name, double x, double y, double r) {
    gw_text_printf(out, "<path class=\"node %s\" d=\"", class_name);
    gw_svg_point(out, 'M', x, y - r);
    gw_svg_point(out, 'L', x + r, y);
    gw_svg_point(out, 'L', x, y + r);
    gw_svg_point(out, 'L', x - r, y);
    gw_text_add(out, "Z\"/>\n");
}

void gw_svg_node(gw_text *out, gw_status status, double x, double y) {
    const char *name = gw_html_class(status);
    if (status == GW_OFF) {
        diamond(out, name, x, y, 8);
        gw_svg_line(out, "cut", x - 2.6, y - 2.6, x + 2.6, y + 2.6);
        gw_svg_line(out, "cut", x - 2.6, y + 2.6, x + 2.6, y - 2.6);
    } else if (status == GW_UNREADABLE) {
        gw_svg_rect(out, "node unreadable", x - 5, y - 5, 10, 10);
        gw_svg_line(out, "cut", x - 3, y, x + 3, y);
    } else if (status == GW_UNSURE) {
        diamond(out, name, x, y, 7);
    } else {
        circle(out, name, x, y, 5);
    }
}

double gw_svg_row(size_t index) {
    return GW_SVG_TOP + GW_SVG_PITCH * ((double)index + 0.5);
}
