/* HTML of `walk` and of `compare`. */
#include "report/odd.h"
#include "report/page.h"

#include <stdio.h>

static const char *title_of(const gw_walk *walk) {
    return walk->title != NULL ? walk->title : walk->file != NULL ? walk->file : "Signal walk";
}

static void put_walk(const gw_page *page) {
    gw_page_head(page);
    gw_page_drawings(page);
    if (page->comparison != NULL)
        gw_page_changes(page);
    gw_page_findings(page);
    gw_page_next(page);
    gw_page_points(page);
    gw_page_rails(page);
    gw_page_stages(page);
    gw_page_response(page);
    gw_page_traces(page);
    gw_page_conditions(page);
    gw_page_captures(page);
}

/* Several chains: where each stands, first. */
static void put_summary(gw_text *out, const gw_walk *const *walks, size_t count) {
    gw_html_section(out, "chains", "Chains");
    gw_text_add(out, "<ul class=\"plain\">\n");
    for (size_t i = 0; i < count; i++)
        gw_html_format(out, "<li><strong>%s</strong> %s: %s</li>\n", title_of(walks[i]),
                       gw_odd_verdict(walks[i]->verdict.status), walks[i]->verdict.summary);
    gw_text_add(out, "</ul>\n");
    gw_html_section_end(out);
}

static gw_page page_of(gw_text *out, const gw_walk *walk, size_t index, size_t count) {
    gw_page page = {.out = out, .walk = walk};
    if (count < 2)
        return page;
    page.number = index + 1;
    snprintf(page.prefix, sizeof page.prefix, "c%zu-", index + 1);
    return page;
}

bool gw_report_walk_html(const gw_walk *const *walks, size_t count, const gw_report_options *options, gw_text *out,
                         gw_error *error) {
    if (!gw_html_begin(out, count == 1 ? title_of(walks[0]) : "Signal walks", error))
        return false;
    if (count != 1)
        gw_text_add(out, "<header><h1>Signal walks</h1></header>\n");
    if (count > 1)
        put_summary(out, walks, count);
    for (size_t i = 0; i < count; i++) {
        gw_page page = page_of(out, walks[i], i, count);
        put_walk(&page);
    }
    gw_page_cautions(out);
    for (size_t i = 0; i < count; i++) {
        gw_page page = page_of(out, walks[i], i, count);
        gw_page_job_sheet(&page);
    }
    gw_html_end(out, options);
    return !out->failed || gw_error_memory(error);
}

bool gw_report_compare_html(const gw_comparison *const *comparisons, size_t count, const gw_report_options *options,
                            gw_text *out, gw_error *error) {
    if (!gw_html_begin(out, count == 1 ? title_of(comparisons[0]->after) : "Before and after", error))
        return false;
    if (count != 1)
        gw_text_add(out, "<header><h1>Before and after</h1></header>\n");
    for (size_t i = 0; i < count; i++) {
        gw_page page = page_of(out, comparisons[i]->after, i, count);
        page.before = comparisons[i]->before;
        page.comparison = comparisons[i];
        put_walk(&page);
    }
    gw_page_cautions(out);
    for (size_t i = 0; i < count; i++) {
        gw_page page = page_of(out, comparisons[i]->after, i, count);
        page.before = comparisons[i]->before;
        page.comparison = comparisons[i];
        gw_page_job_sheet(&page);
    }
    gw_html_end(out, options);
    return !out->failed || gw_error_memory(error);
}
