/* Before and after, point by point. */
#include "report/change.h"
#include "report/page.h"

#include <stdio.h>
#include <string.h>

static const char *class_of(gw_change_status status) {
    static const char *const names[] = {[GW_CHANGE_SAME] = "same",
                                        [GW_CHANGE_BETTER] = "better",
                                        [GW_CHANGE_WORSE] = "worse",
                                        [GW_CHANGE_DIFFERENT] = "different",
                                        [GW_CHANGE_NOT_COMPARABLE] = "none"};
    return names[status];
}

static void change_row(gw_text *out, const gw_comparison_point *point, gw_change_key key,
                       const gw_shown_change *change) {
    char text[96];
    gw_html_row_begin(out, point->name);
    gw_html_cell(out, "figure", NULL, gw_change_titles[key]);
    gw_html_cell_begin(out, "before", NULL);
    gw_html_shown_u95(out, &change->before, 4);
    gw_html_cell_end(out);
    gw_html_cell_begin(out, "after", NULL);
    gw_html_shown_u95(out, &change->after, 4);
    gw_html_cell_end(out);
    gw_html_cell_begin(out, "change", NULL);
    gw_shown difference = {
        .state = GW_READING_VALUE, .value = change->change, .u95 = change->u95, .unit = change->unit};
    if (change->has_change) {
        gw_text_add(out, *gw_shown_print_change(change, text, sizeof text) == '+' ? "+" : "");
        gw_html_shown_u95(out, &difference, 3);
    }
    gw_html_cell_end(out);
    gw_html_cell_begin(out, "is", class_of(change->status));
    gw_html_text(out, gw_change_name(change->status));
    if (change->why != NULL)
        gw_html_format(out, ": %s", change->why);
    gw_html_cell_end(out);
    gw_html_row_end(out);
}

static void point_rows(const gw_page *page, const gw_comparison_point *point) {
    bool any = false;
    for (int key = 0; key < GW_CHANGE_KEYS; key++) {
        gw_shown_change change = gw_shown_change_of(page->comparison, point, (gw_change_key)key);
        if (change.before.state == GW_READING_NONE && change.after.state == GW_READING_NONE)
            continue;
        any = true;
        change_row(page->out, point, (gw_change_key)key, &change);
    }
    if (any)
        return;
    gw_html_row_begin(page->out, point->name);
    for (size_t i = 0; i < 4; i++)
        gw_text_add(page->out, "<td role=\"cell\"></td>");
    gw_html_cell_begin(page->out, "is", class_of(point->status));
    gw_html_format(page->out, "%s: %s", gw_change_name(point->status), point->why);
    gw_html_cell_end(page->out);
    gw_html_row_end(page->out);
}

static void counts(const gw_page *page) {
    const gw_comparison *comparison = page->comparison;
    gw_text_printf(
        page->out, "<p>Points: %zu better, %zu worse, %zu the same, %zu different, %zu not comparable.</p>\n<dl>\n",
        comparison->better, comparison->worse, comparison->same, comparison->different, comparison->not_comparable);
    gw_html_format(page->out, "<dt>before</dt><dd>%s</dd>\n<dt>after</dt><dd>%s</dd>\n",
                   comparison->before->verdict.summary, comparison->after->verdict.summary);
    for (size_t i = 0; i < comparison->differences.count; i++)
        gw_html_format(page->out, "<dt>differs</dt><dd>%s</dd>\n", comparison->differences.items[i]);
    gw_text_add(page->out, "</dl>\n");
}

/* ---- at a glance ------------------------------------------------------------------------------------- */

static void glance_cell(gw_text *out, const gw_shown_change *change, gw_change_key key) {
    bool same = change->status == GW_CHANGE_SAME || change->status == GW_CHANGE_NOT_COMPARABLE;
    gw_html_cell_begin(out, gw_change_titles[key], class_of(change->status));
    gw_html_shown(out, &change->before, 3);
    gw_text_add(out, " \xE2\x86\x92 ");
    gw_html_shown(out, &change->after, 3);
    if (!same)
        gw_html_format(out, " <strong class=\"mark\">%s</strong>", gw_change_name(change->status));
    gw_html_cell_end(out);
}

/* `keys`: how many of the figures, from the first on. */
static void glance_row(const gw_page *page, const gw_comparison_point *point, int keys) {
    gw_html_row_begin(page->out, point->name);
    gw_html_cell_begin(page->out, "overall", class_of(point->status));
    gw_html_text(page->out, gw_change_name(point->status));
    if (point->why != NULL)
        gw_html_format(page->out, ": %s", point->why);
    gw_html_cell_end(page->out);
    for (int key = 0; key < keys; key++) {
        gw_shown_change change = gw_shown_change_of(page->comparison, point, (gw_change_key)key);
        if (change.before.state == GW_READING_NONE && change.after.state == GW_READING_NONE)
            gw_text_add(page->out, "<td role=\"cell\"></td>");
        else
            glance_cell(page->out, &change, (gw_change_key)key);
    }
    gw_html_row_end(page->out);
}

static void glance(const gw_page *page) {
    static const char *const headings[] = {"point", "overall", "level", "gain", "DC", "THD", "noise", "hum", NULL};
    gw_html_table_begin(page->out, "Before and after, one row a point; what is not marked is the same", headings);
    for (size_t i = 0; i < page->comparison->point_count; i++)
        glance_row(page, &page->comparison->points[i], GW_CHANGE_KEYS);
    gw_html_table_end(page->out);
}

void gw_page_sheet_changes(const gw_page *page, bool all) {
    static const char *const headings[] = {"point", "overall", "level", "gain", "DC", NULL};
    const gw_comparison *comparison = page->comparison;
    gw_html_table_begin(page->out, all ? "Before and after" : "Before and after: the points that are not the same",
                        headings);
    for (size_t i = 0; i < comparison->point_count; i++)
        if (all || comparison->points[i].status != GW_CHANGE_SAME)
            glance_row(page, &comparison->points[i], GW_CHANGE_DC + 1);
    gw_html_table_end(page->out);
}

void gw_page_changes(const gw_page *page) {
    static const char *const headings[] = {"point", "figure", "before", "after", "change", "is", NULL};
    gw_page_section(page, "changes", "Before and after");
    counts(page);
    glance(page);
    gw_text_add(page->out, "<details><summary>Every change with its uncertainty</summary>\n");
    gw_html_table_begin(
        page->out, "Better and worse are nearer to and further from what is expected, by more than the uncertainty",
        headings);
    for (size_t i = 0; i < page->comparison->point_count; i++)
        point_rows(page, &page->comparison->points[i]);
    gw_html_table_end(page->out);
    gw_text_add(page->out, "</details>\n");
    gw_html_section_end(page->out);
}
