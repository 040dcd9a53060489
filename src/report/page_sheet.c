/* The job sheet: one printed page for the file and for the customer. */
#include "report/odd.h"
#include "report/page.h"

enum { POINTS_AT_MOST = 14 }; /* with more, only those that are not in order fit the page */

static void sheet_figure(gw_text *out, const char *label, const gw_shown *shown) {
    gw_html_cell_begin(out, label, NULL);
    gw_html_shown(out, shown, 3);
    gw_html_cell_end(out);
}

static void sheet_row(const gw_page *page, size_t index) {
    const gw_walk_point *point = &page->walk->points[index];
    const gw_walk_stage *stage = gw_shown_stage_to(page->walk, index);
    gw_shown level = gw_shown_at(point, GW_LEVEL), dc = gw_shown_at(point, GW_DC);
    gw_shown gain = {.why = "no stage leads here"};
    gw_text words = {0};
    if (stage != NULL)
        gain = gw_shown_judge(&stage->gain, NULL).figure;
    gw_odd_words(page->walk, false, index, &words);
    gw_html_row_begin(page->out, point->name);
    sheet_figure(page->out, "level", &level);
    sheet_figure(page->out, "gain", &gain);
    sheet_figure(page->out, "DC", &dc);
    gw_html_cell(page->out, "judged", gw_html_class(point->status), gw_text_string(&words));
    gw_html_row_end(page->out);
    gw_text_part_free(page->out, &words);
}

static void sheet_points(const gw_page *page, bool all) {
    static const char *const headings[] = {"point", "level", "gain", "DC", "judged", NULL};
    gw_html_table_begin(page->out, all ? "As measured" : "As measured: the points that are not in order", headings);
    for (size_t i = 0; i < page->walk->point_count; i++)
        if (all || page->walk->points[i].status != GW_OK)
            sheet_row(page, i);
    gw_html_table_end(page->out);
}

static void sheet_found(const gw_page *page) {
    const gw_walk *walk = page->walk;
    int index = walk->verdict.finding;
    gw_html_format(page->out, "<dt>verdict</dt><dd>%s</dd>\n", walk->verdict.summary);
    if (index < 0 || (size_t)index >= walk->finding_count)
        return;
    const gw_finding *found = &walk->findings[index];
    if (found->cause_count > 0)
        gw_html_format(page->out, "<dt>likely cause</dt><dd>%s</dd>\n", found->causes[0]);
    if (found->confirm != NULL)
        gw_html_format(page->out, "<dt>confirm by</dt><dd>%s</dd>\n", found->confirm);
}

void gw_page_job_sheet(const gw_page *page) {
    gw_text *out = page->out;
    const gw_walk *walk = page->walk;
    gw_text_add(out, "<div class=\"sheet\">\n");
    gw_page_section(page, "sheet", "Job sheet");
    gw_text_add(out, "<dl>\n");
    gw_html_format(out, "<dt>piece</dt><dd>%s</dd>\n", walk->title != NULL ? walk->title : "");
    gw_html_format(out, "<dt>unit</dt><dd>%s</dd>\n", walk->unit != NULL ? walk->unit : "");
    if (walk->note != NULL)
        gw_html_format(out, "<dt>note</dt><dd>%s</dd>\n", walk->note);
    gw_page_pairs(out, walk, false);
    if (page->comparison != NULL)
        gw_html_format(out, "<dt>result</dt><dd>%s.</dd>\n<dt>before</dt><dd>%s</dd>\n", page->comparison->summary,
                       page->before->verdict.summary);
    sheet_found(page);
    gw_page_pairs(out, walk, true);
    gw_text_add(out, "</dl>\n");
    size_t rows = page->comparison != NULL ? page->comparison->point_count : walk->point_count;
    bool all = rows <= POINTS_AT_MOST;
    if (page->comparison != NULL)
        gw_page_sheet_changes(page, all);
    else
        sheet_points(page, all);
    gw_text_add(out, "<p class=\"sign\"><span>date</span><span>signed</span></p>\n</section>\n</div>\n");
}
