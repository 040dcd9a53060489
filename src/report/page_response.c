/* Response of the stages, and levels against frequency, where a sweep was fed in. */
#include "report/page.h"
#include "report/response.h"

static const double shown_hz[] = {50, 100, 1000, 5000, 10000, 15000};
enum { SHOWN = sizeof shown_hz / sizeof *shown_hz };

static void corner_cells(gw_text *out, const char *label, const char *expected_label, const gw_judgement *corner) {
    char text[64];
    gw_html_cell_begin(out, label, gw_html_class(corner->status));
    gw_html_format(out, "%s", gw_response_corner(corner, false, text, sizeof text));
    gw_html_mark(out, corner->status);
    gw_html_cell_end(out);
    gw_html_cell(out, expected_label, NULL, gw_response_corner(corner, true, text, sizeof text));
}

static void stages(const gw_page *page) {
    static const char *const headings[] = {"stage that leads to", "lower corner",   "lower expected",
                                           "upper corner",        "upper expected", NULL};
    gw_html_table_begin(page->out, "Where the gain of each stage has fallen by 3 dB, against what its values say",
                        headings);
    for (size_t i = 0; i < page->walk->stage_count; i++) {
        const gw_walk_stage *stage = &page->walk->stages[i];
        if (stage->response.count == 0)
            continue;
        gw_html_row_begin(page->out, gw_shown_point(page->walk, stage->to));
        corner_cells(page->out, "lower corner", "lower expected", &stage->low_corner);
        corner_cells(page->out, "upper corner", "upper expected", &stage->high_corner);
        gw_html_row_end(page->out);
    }
    gw_html_table_end(page->out);
}

static void curves(const gw_page *page) {
    gw_text_add(page->out, "<div class=\"columns\">\n");
    for (size_t i = 0; i < page->walk->stage_count; i++) {
        const gw_walk_stage *stage = &page->walk->stages[i];
        const char *from = gw_shown_point(page->walk, stage->from), *to = gw_shown_point(page->walk, stage->to);
        if (stage->response.count == 0)
            continue;
        gw_html_format(page->out, "<figure><figcaption>Gain from %s to %s; dashed: expected</figcaption>\n",
                       from != NULL ? from : "the source", to);
        gw_svg_response(page->out, to, &stage->response);
        gw_text_add(page->out, "</figure>\n");
    }
    gw_text_add(page->out, "</div>\n");
}

static void level_row(const gw_page *page, const gw_walk_point *point, const char *const *headings) {
    gw_html_row_begin(page->out, point->name);
    for (size_t i = 0; i < SHOWN; i++) {
        double u95, level = gw_response_level(point, shown_hz[i], &u95);
        gw_shown shown = {.state = level > 0 ? GW_READING_VALUE : GW_READING_NONE,
                          .value = level,
                          .u95 = u95,
                          .unit = gw_shown_volts(point),
                          .why = "nothing of the sweep here"};
        gw_html_cell_begin(page->out, headings[i + 1], NULL);
        gw_html_shown(page->out, &shown, 3);
        gw_html_cell_end(page->out);
    }
    gw_html_row_end(page->out);
}

static void levels(const gw_page *page) {
    static const char *const headings[] = {"point", "50 Hz", "100 Hz", "1 kHz", "5 kHz", "10 kHz", "15 kHz", NULL};
    static const double drawn_hz[] = {100, 1000, 10000};
    static const char *const drawn[] = {"Level at 100 Hz", "Level at 1 kHz", "Level at 10 kHz"};
    gw_text_add(page->out, "<div class=\"columns\">\n");
    for (size_t i = 0; i < sizeof drawn_hz / sizeof *drawn_hz; i++) {
        gw_html_format(page->out, "<figure><figcaption>%s</figcaption>\n", drawn[i]);
        page->out->failed = !gw_svg_levels_at(page->out, page->walk, drawn_hz[i]) || page->out->failed;
        gw_text_add(page->out, "</figure>\n");
    }
    gw_text_add(page->out, "</div>\n");
    gw_html_table_begin(page->out, "Level of the sweep at each point, by frequency", headings);
    for (size_t i = 0; i < page->walk->point_count; i++)
        level_row(page, &page->walk->points[i], headings);
    gw_html_table_end(page->out);
}

void gw_page_response(const gw_page *page) {
    if (!gw_response_any(page->walk))
        return;
    gw_page_section(page, "response", "Response against frequency");
    stages(page);
    curves(page);
    levels(page);
    gw_html_section_end(page->out);
}
