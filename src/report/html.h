/* HTML: one self-contained page, no script, nothing loaded. Text gets in only through gw_html_text. */
#ifndef GAINWALK_REPORT_HTML_H
#define GAINWALK_REPORT_HTML_H

#include "report/shown.h"

/* Text as text: what is markup is escaped (attributes too), what steers is made visible. NULL is "". */
void gw_html_text(gw_text *out, const char *text);

/* Markup in which each %s is replaced by an argument, escaped. Nothing else of printf. */
void gw_html_format(gw_text *out, const char *markup, ...);

/* The head of the page with its policy and style, down to the open <main>; and the end. */
bool gw_html_begin(gw_text *out, const char *title, gw_error *error);
void gw_html_end(gw_text *out, const gw_report_options *options);

/* A number of a drawing, one decimal. */
void gw_html_number(gw_text *out, double value);

/* <data value="…">98.7 mV</data>: the exact figure for machines, the rounded for people. A dash and the reason as its
 * title where there is none. */
void gw_html_shown(gw_text *out, const gw_shown *shown, int digits);
/* The same with "± u95". */
void gw_html_shown_u95(gw_text *out, const gw_shown *shown, int digits);
/* What was expected, "20.8 ± 1.0 dB", or a dash. */
void gw_html_expected(gw_text *out, const gw_shown_judgement *judged);

/* "ok", "off" …: also the class names of the style. */
const char *gw_html_class(gw_status status);
/* A figure's mark in words for who doesn't see colour: " off" or " unsure"; nothing else. */
void gw_html_mark(gw_text *out, gw_status status);

/* Tables that become cards on a narrow screen and stay tables for a screen reader. */
void gw_html_table_begin(gw_text *out, const char *caption, const char *const *headings);
void gw_html_row_begin(gw_text *out, const char *heading);
void gw_html_cell_begin(gw_text *out, const char *label, const char *class_name);
void gw_html_cell_end(gw_text *out);
void gw_html_cell(gw_text *out, const char *label, const char *class_name, const char *text);
void gw_html_row_end(gw_text *out);
void gw_html_table_end(gw_text *out);

/* <section><h2>…; closed by gw_html_section_end. `id` is plain ASCII of our own. */
void gw_html_section(gw_text *out, const char *id, const char *heading);
void gw_html_section_end(gw_text *out);

/* The style sheet, in pieces; ended by NULL. */
extern const char *const gw_html_style[];

#endif
