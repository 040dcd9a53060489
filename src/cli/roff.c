#include "roff.h"

#include <string.h>

void gw_roff_text(gw_text *out, const char *text) {
    bool starts = true; /* of a line: a dot or a quote would there be a request */
    for (const char *at = text; *at != '\0'; at++) {
        if (starts && (*at == '.' || *at == '\''))
            gw_text_add(out, "\\&");
        starts = false;
        if (*at == '\\')
            gw_text_add(out, "\\e");
        else if (*at == '-')
            gw_text_add(out, "\\-");
        else if (*at == '\'')
            gw_text_add(out, "\\(aq");
        else if (*at == '^' || *at == '~')
            gw_text_add(out, *at == '^' ? "\\(ha" : "\\(ti");
        else if (*at == '\n')
            gw_text_add_char(out, at[1] != '\0' ? ' ' : '\n');
        else
            gw_text_add_char(out, *at);
    }
}

void gw_roff_begin(gw_text *out, const char *title, int section, const char *purpose) {
    gw_text_printf(out, ".TH %s %d \"\" \"%s\" \"%s\"\n.nh\n.ad l\n.SH NAME\n", title, section, PROGRAM,
                   section == 1 ? "User commands" : "File formats");
    gw_roff_text(out, title);
    gw_text_add(out, " \\- ");
    gw_roff_text(out, purpose);
    gw_text_add_char(out, '\n');
}

static void heading(gw_text *out, const char *macro, const char *title) {
    gw_text_printf(out, "%s \"", macro);
    gw_roff_text(out, title);
    gw_text_add(out, "\"\n");
}

void gw_roff_section(gw_text *out, const char *title) {
    heading(out, ".SH", title);
}

void gw_roff_subsection(gw_text *out, const char *title) {
    heading(out, ".SS", title);
}

static void end_line(gw_text *out) {
    if (out->length > 0 && out->data[out->length - 1] != '\n')
        gw_text_add_char(out, '\n');
}

void gw_roff_paragraph(gw_text *out, const char *text) {
    gw_text_add(out, ".PP\n");
    gw_roff_text(out, text);
    end_line(out);
}

void gw_roff_item(gw_text *out, const char *term, const char *rest, const char *text) {
    gw_text_add(out, ".TP\n\\fB");
    gw_roff_text(out, term);
    gw_text_add(out, "\\fR");
    if (rest != NULL && *rest != '\0') {
        gw_text_add_char(out, ' ');
        gw_roff_text(out, rest);
    }
    gw_text_add_char(out, '\n');
    gw_roff_text(out, text);
    end_line(out);
}

void gw_roff_line(gw_text *out, const char *before, const char *text) {
    gw_text_add(out, ".br\n");
    gw_roff_text(out, before);
    gw_roff_text(out, text);
    end_line(out);
}

void gw_roff_example(gw_text *out, const char *lines) {
    gw_text_add(out, ".PP\n.nf\n");
    while (*lines != '\0') {
        gw_text one = {0};
        size_t length = strcspn(lines, "\n");
        gw_text_add_bytes(&one, lines, length);
        gw_text_add(out, *gw_text_string(&one) != '\0' ? "    " : "\\&");
        gw_roff_text(out, gw_text_string(&one));
        gw_text_add_char(out, '\n');
        gw_text_part_free(out, &one);
        lines += length + (lines[length] == '\n');
    }
    gw_text_add(out, ".fi\n");
}
