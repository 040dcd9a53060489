#include "report/html.h"

#include "base/tree.h"
#include "report/terminal.h"

#include <nettle/base64.h>
#include <nettle/sha2.h>

#include <math.h>
#include <stdarg.h>
#include <string.h>

void gw_html_text(gw_text *out, const char *text) {
    gw_text clean = {0};
    gw_terminal_clean(text, &clean);
    for (const char *at = gw_text_string(&clean); *at != '\0'; at++) {
        static const struct {
            char character;
            const char *entity;
        } entities[] = {{'&', "&amp;"}, {'<', "&lt;"}, {'>', "&gt;"}, {'"', "&quot;"}, {'\'', "&#39;"}};
        size_t i = 0;
        while (i < sizeof entities / sizeof *entities && entities[i].character != *at)
            i++;
        if (i < sizeof entities / sizeof *entities)
            gw_text_add(out, entities[i].entity);
        else
            gw_text_add_char(out, *at);
    }
    gw_text_part_free(out, &clean);
}

void gw_html_format(gw_text *out, const char *markup, ...) {
    va_list arguments;
    va_start(arguments, markup);
    for (const char *at = markup; *at != '\0';) {
        const char *hole = strstr(at, "%s");
        gw_text_add_bytes(out, at, hole != NULL ? (size_t)(hole - at) : strlen(at));
        if (hole == NULL)
            break;
        gw_html_text(out, va_arg(arguments, const char *));
        at = hole + 2;
    }
    va_end(arguments);
}

/* ---- the page -------------------------------------------------------------------------------------- */

enum { HASH_LENGTH = BASE64_ENCODE_RAW_LENGTH(SHA256_DIGEST_SIZE) };

/* The policy allows this very style and nothing else (Content Security Policy Level 3, hash sources). */
static void style_hash(char out[HASH_LENGTH + 1]) {
    struct sha256_ctx context;
    uint8_t digest[SHA256_DIGEST_SIZE];
    sha256_init(&context);
    for (size_t i = 0; gw_html_style[i] != NULL; i++)
        sha256_update(&context, strlen(gw_html_style[i]), (const uint8_t *)gw_html_style[i]);
    sha256_digest(&context, sizeof digest, digest);
    base64_encode_raw(out, sizeof digest, digest);
    out[HASH_LENGTH] = '\0';
}

bool gw_html_begin(gw_text *out, const char *title, gw_error *error) {
    char hash[HASH_LENGTH + 1];
    style_hash(hash);
    gw_text_add(out, "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
                     "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'sha256-");
    gw_text_add(out, hash);
    gw_text_add(out, "'; base-uri 'none'; form-action 'none'\">\n"
                     "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n"
                     "<meta name=\"color-scheme\" content=\"light dark\">\n"
                     "<meta name=\"referrer\" content=\"no-referrer\">\n<title>");
    gw_html_text(out, title);
    gw_text_add(out, "</title>\n<style>");
    for (size_t i = 0; gw_html_style[i] != NULL; i++)
        gw_text_add(out, gw_html_style[i]);
    gw_text_add(out, "</style>\n</head>\n<body>\n<main>\n");
    return !out->failed || gw_error_memory(error);
}

void gw_html_end(gw_text *out, const gw_report_options *options) {
    gw_html_format(out, "</main>\n<footer><p>Made by %s. Nothing in this page is loaded from elsewhere.</p></footer>\n",
                   options != NULL && options->program != NULL ? options->program : "gainwalk");
    gw_text_add(out, "</body>\n</html>\n");
}

void gw_html_number(gw_text *out, double value) {
    char number[40];
    double tenths = isfinite(value) && fabs(value) < 1e6 ? round(value * 10) : 0;
    gw_text_add(out, gw_number_print(tenths / 10, 8, number, sizeof number));
}

/* ---- figures --------------------------------------------------------------------------------------- */

void gw_html_shown(gw_text *out, const gw_shown *shown, int digits) {
    char figure[80];
    if (shown->state == GW_READING_NONE) {
        gw_html_format(out, "<span class=\"none\" title=\"%s\">\xE2\x80\x93</span>", shown->why);
        return;
    }
    gw_text_add(out, "<data value=\"");
    gw_tree_number(shown->value, out);
    gw_html_format(out, "\">%s</data>", gw_shown_print(shown, digits, figure, sizeof figure));
}

void gw_html_shown_u95(gw_text *out, const gw_shown *shown, int digits) {
    char u95[64];
    gw_html_shown(out, shown, digits);
    if (shown->state != GW_READING_VALUE)
        return;
    gw_text_add(out, " <small>\xC2\xB1 <data value=\"");
    gw_tree_number(shown->u95, out);
    gw_html_format(out, "\">%s</data></small>", gw_quantity_print(shown->u95, 0, shown->unit, 2, u95, sizeof u95));
}

void gw_html_expected(gw_text *out, const gw_shown_judgement *judged) {
    char text[128];
    if (!judged->has_expected) {
        gw_text_add(out, "<span class=\"none\">\xE2\x80\x93</span>");
        return;
    }
    gw_text_add(out, "<data value=\"");
    gw_tree_number(judged->limit_only ? judged->tolerance : judged->expected, out);
    gw_html_format(out, "\">%s</data>", gw_shown_print_expected(judged, text, sizeof text));
}

const char *gw_html_class(gw_status status) {
    return gw_status_name(status);
}

void gw_html_mark(gw_text *out, gw_status status) {
    if (status == GW_OFF)
        gw_text_add(out, " <strong class=\"mark\">off</strong>");
    if (status == GW_UNSURE)
        gw_text_add(out, " <strong class=\"mark\">unsure</strong>");
}

/* ---- tables ---------------------------------------------------------------------------------------- */

void gw_html_table_begin(gw_text *out, const char *caption, const char *const *headings) {
    gw_html_format(out, "<table role=\"table\"><caption>%s</caption>\n<thead role=\"rowgroup\"><tr role=\"row\">",
                   caption);
    for (size_t i = 0; headings[i] != NULL; i++)
        gw_html_format(out, "<th role=\"columnheader\" scope=\"col\">%s</th>", headings[i]);
    gw_text_add(out, "</tr></thead>\n<tbody role=\"rowgroup\">\n");
}

void gw_html_row_begin(gw_text *out, const char *heading) {
    gw_html_format(out, "<tr role=\"row\"><th role=\"rowheader\" scope=\"row\">%s</th>", heading);
}

void gw_html_cell_begin(gw_text *out, const char *label, const char *class_name) {
    gw_html_format(out, "<td role=\"cell\" data-label=\"%s\"", label);
    if (class_name != NULL)
        gw_html_format(out, " class=\"%s\"", class_name);
    gw_text_add(out, "><span>");
}

void gw_html_cell_end(gw_text *out) {
    gw_text_add(out, "</span></td>");
}

void gw_html_cell(gw_text *out, const char *label, const char *class_name, const char *text) {
    gw_html_cell_begin(out, label, class_name);
    gw_html_text(out, text);
    gw_html_cell_end(out);
}

void gw_html_row_end(gw_text *out) {
    gw_text_add(out, "</tr>\n");
}

void gw_html_table_end(gw_text *out) {
    gw_text_add(out, "</tbody></table>\n");
}

void gw_html_section(gw_text *out, const char *id, const char *heading) {
    gw_html_format(out, "<section aria-labelledby=\"%s\">\n<h2 id=\"%s\">%s</h2>\n", id, id, heading);
}

void gw_html_section_end(gw_text *out) {
    gw_text_add(out, "</section>\n");
}
