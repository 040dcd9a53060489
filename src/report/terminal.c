#include "report/terminal.h"

#include "base/unicode.h"

#include <string.h>

enum { WIDTH_USUAL = 100, WIDTH_LEAST = 30 };

gw_pen gw_pen_new(const gw_report_options *options, gw_text *out) {
    gw_pen pen = {.out = out, .width = WIDTH_USUAL};
    if (options == NULL)
        return pen;
    pen.color = options->color;
    if (options->width > 0 && options->width < WIDTH_USUAL)
        pen.width = options->width < WIDTH_LEAST ? WIDTH_LEAST : options->width;
    return pen;
}

void gw_terminal_clean(const char *text, gw_text *out) {
    if (text == NULL)
        return;
    for (char shown[12]; gw_text_visible(&text, shown);)
        gw_text_add(out, shown);
}

int gw_terminal_columns(const char *text) {
    int columns = 0;
    for (uint32_t code; (code = gw_unicode_next(&text)) != 0;)
        columns += gw_unicode_columns(code);
    return columns;
}

void gw_pen_put(const gw_pen *pen, gw_tint tint, const char *text) {
    static const char *const codes[] = {
        [GW_TINT_PLAIN] = "",        [GW_TINT_STRONG] = "\x1b[1m", [GW_TINT_FAINT] = "\x1b[2m",
        [GW_TINT_GOOD] = "\x1b[32m", [GW_TINT_DOUBT] = "\x1b[33m", [GW_TINT_BAD] = "\x1b[1;31m"};
    bool tinted = pen->color && tint != GW_TINT_PLAIN && *text != '\0';
    if (tinted)
        gw_text_add(pen->out, codes[tint]);
    gw_text_add(pen->out, text);
    if (tinted)
        gw_text_add(pen->out, "\x1b[0m");
}

gw_tint gw_tint_of_status(gw_status status) {
    static const gw_tint tints[] = {
        [GW_UNJUDGED] = GW_TINT_PLAIN, [GW_OK] = GW_TINT_GOOD,        [GW_UNSURE] = GW_TINT_DOUBT,
        [GW_OFF] = GW_TINT_BAD,        [GW_UNPROBED] = GW_TINT_FAINT, [GW_UNREADABLE] = GW_TINT_BAD};
    return tints[status];
}

void gw_pen_blanks(const gw_pen *pen, int count) {
    for (int i = 0; i < count; i++)
        gw_text_add_char(pen->out, ' ');
}

/* Bytes of the longest beginning of `text` that fits `width` columns, ended at a blank if it has one. */
static size_t line_length(const char *text, int width) {
    const char *at = text, *blank = NULL;
    int columns = 0;
    for (;;) {
        const char *before = at;
        uint32_t code = gw_unicode_next(&at);
        if (code == 0)
            return (size_t)(before - text);
        columns += gw_unicode_columns(code);
        if (code == ' ' && columns <= width + 1)
            blank = before;
        if (columns > width && code != ' ') {
            const char *end = blank != NULL && blank > text ? blank : before > text ? before : at;
            return (size_t)(end - text);
        }
    }
}

void gw_pen_lines(const gw_pen *pen, gw_tint tint, const char *text, int width, int indent) {
    for (bool first = true; *text != '\0' || first; first = false) {
        size_t length = line_length(text, width);
        gw_text line = {0};
        gw_text_add_bytes(&line, text, length);
        if (!first) {
            gw_text_add_char(pen->out, '\n');
            gw_pen_blanks(pen, indent);
        }
        gw_pen_put(pen, tint, gw_text_string(&line));
        gw_text_part_free(pen->out, &line);
        text += length;
        text += strspn(text, " ");
        if (pen->out->failed)
            return;
    }
}

void gw_pen_wrap(const gw_pen *pen, gw_tint tint, const char *lead, const char *text) {
    gw_text clean = {0};
    gw_terminal_clean(text, &clean);
    int indent = gw_terminal_columns(lead);
    gw_text_add(pen->out, lead);
    int width = pen->width - indent;
    gw_pen_lines(pen, tint, gw_text_string(&clean), width < 10 ? 10 : width, indent);
    gw_text_add_char(pen->out, '\n');
    gw_text_part_free(pen->out, &clean);
}

void gw_pen_heading(const gw_pen *pen, const char *text) {
    gw_text_add_char(pen->out, '\n');
    gw_pen_put(pen, GW_TINT_STRONG, text);
    gw_text_add_char(pen->out, '\n');
}
