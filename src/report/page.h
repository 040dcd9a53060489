/* The sections of the HTML report. */
#ifndef GAINWALK_REPORT_PAGE_H
#define GAINWALK_REPORT_PAGE_H

#include "report/svg.h"

/* `prefix` makes the ids of a page with several chains unlike: "c1-". */
typedef struct gw_page {
    gw_text *out;
    const gw_walk *walk;
    const gw_walk *before;           /* comparisons: the walk before the repair; else NULL */
    const gw_comparison *comparison; /* likewise */
    char prefix[32];
    size_t number; /* of the chain where the page has several, from 1; else 0 */
} gw_page;

/* A section with an id of this page. */
void gw_page_section(const gw_page *page, const char *id, const char *heading);

void gw_page_head(const gw_page *page);
void gw_page_drawings(const gw_page *page);
void gw_page_points(const gw_page *page);
void gw_page_rails(const gw_page *page);
void gw_page_stages(const gw_page *page);
/* Response of the stages and levels against frequency, where a sweep was fed in. */
void gw_page_response(const gw_page *page);
void gw_page_findings(const gw_page *page);
void gw_page_next(const gw_page *page);
void gw_page_traces(const gw_page *page);
void gw_page_conditions(const gw_page *page);
void gw_page_captures(const gw_page *page);
void gw_page_cautions(gw_text *out);
void gw_page_job_sheet(const gw_page *page);
/* The table of changes of a comparison. */
void gw_page_changes(const gw_page *page);
/* The short one of the job sheet: all points, or only those that changed. */
void gw_page_sheet_changes(const gw_page *page, bool all);

/* Whether a condition is of the bench (stimulus, mains …) as opposed to free text for the job sheet. */
bool gw_page_is_bench(const char *key);
/* The conditions of the bench, or the free text, as terms of a description list. */
void gw_page_pairs(gw_text *out, const gw_walk *walk, bool bench);

#endif
