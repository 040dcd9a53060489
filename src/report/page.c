/* The head of a report, its drawings, findings and what to do next. */
#include "report/page.h"

#include "report/odd.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

void gw_page_section(const gw_page *page, const char *id, const char *heading) {
    char full[48], number[24];
    snprintf(full, sizeof full, "%s%s", page->prefix, id);
    if (page->number == 0) {
        gw_html_section(page->out, full, heading);
        return;
    }
    /* several chains have sections of one name: a screen reader tells them apart by their number */
    snprintf(number, sizeof number, "%zu", page->number);
    gw_html_format(page->out, "<section aria-label=\"%s, chain %s\">\n<h2 id=\"%s\">%s</h2>\n", heading, number, full,
                   heading);
}

static void danger(const gw_page *page) {
    const char *name = NULL;
    double volts = 0;
    bool ac = false;
    char figure[64];
    if (!gw_shown_dangerous(page->walk, &name, &volts, &ac))
        return;
    gw_html_format(
        page->out,
        "<p class=\"verdict danger\" role=\"note\"><b>DANGER</b>%s at %s is above extra-low voltage (50 V AC, "
        "120 V DC; IEC 61140) and can kill. Qualified people only, and by local rules.</p>\n",
        gw_quantity_print(volts, 0, ac ? "V AC" : "V DC", 3, figure, sizeof figure), name);
}

void gw_page_head(const gw_page *page) {
    const gw_walk *walk = page->walk;
    const char *title = walk->title != NULL  ? walk->title
                        : walk->file != NULL ? walk->file
                                             : "Captures in the order given";
    gw_text_add(page->out, "<header>\n<p class=\"eyebrow\">");
    gw_html_format(page->out, page->comparison != NULL ? "Before and after" : "Signal walk");
    if (walk->unit != NULL)
        gw_html_format(page->out, " \xC2\xB7 unit %s", walk->unit);
    if (walk->file != NULL)
        gw_html_format(page->out, " \xC2\xB7 %s", gw_path_name(walk->file));
    gw_html_format(page->out, "</p>\n<h1>%s</h1>\n", title);
    if (walk->note != NULL)
        gw_html_format(page->out, "<p>%s</p>\n", walk->note);
    const char *status = gw_verdict_name(walk->verdict.status);
    if (page->comparison == NULL)
        gw_html_format(page->out, "<p class=\"verdict %s\"><b>%s</b>%s</p>\n", status,
                       gw_odd_verdict(walk->verdict.status), walk->verdict.summary);
    else
        gw_html_format(page->out, "<p class=\"verdict %s\">%s.</p>\n", status, page->comparison->summary);
    danger(page);
    gw_text_add(page->out, "</header>\n");
}

/* ---- drawings -------------------------------------------------------------------------------------- */

/* A mark with what it means. */
static void key_item(gw_text *out, gw_status status, const char *meaning) {
    gw_text_add(out, "<li><svg viewBox=\"0 0 20 20\" aria-hidden=\"true\">");
    gw_svg_node(out, status, 10, 10);
    gw_html_format(out, "</svg>%s</li>\n", meaning);
}

static void key(const gw_page *page) {
    gw_text_add(page->out, "<ul class=\"key\">\n");
    key_item(page->out, GW_OK, "in order, or not judged");
    key_item(page->out, GW_OFF, "off");
    key_item(page->out, GW_UNSURE, "unsure: within the uncertainty of the limit");
    key_item(page->out, GW_UNPROBED, "unprobed");
    key_item(page->out, GW_UNREADABLE, "unreadable");
    gw_text_add(page->out, "<li><svg viewBox=\"0 0 20 20\" aria-hidden=\"true\"><rect class=\"band\" x=\"2\" y=\"3\" "
                           "width=\"16\" height=\"14\"/><path class=\"expected\" d=\"M10,3L10,17\"/></svg>"
                           "expected, with its limits</li>\n");
    if (page->before != NULL)
        gw_text_add(page->out, "<li><svg viewBox=\"0 0 20 20\" aria-hidden=\"true\"><circle class=\"node before\" "
                               "r=\"5\" cx=\"10\" cy=\"10\"/></svg>before</li>\n");
    gw_text_add(page->out, "</ul>\n");
}

void gw_page_drawings(const gw_page *page) {
    gw_text *out = page->out;
    bool done = true;
    gw_page_section(page, "chain", "The chain, its levels and its DC");
    gw_text_add(out, "<div class=\"columns\">\n<figure><figcaption><h3>Chain</h3>downwards; a thick line is the faulty "
                     "stage</figcaption>\n");
    done = gw_svg_chain(out, page->walk) && done;
    gw_text_add(out, "</figure>\n<figure><figcaption><h3>Level</h3>expected band and measured level</figcaption>\n");
    done = gw_svg_levels(out, page->walk, page->before) && done;
    gw_text_add(out, "</figure>\n<figure><figcaption><h3>DC</h3>measured, with what is expected</figcaption>\n");
    done = gw_svg_dc(out, page->walk, page->before, false) && done;
    if (page->walk->rail_count > 0) {
        gw_text_add(out, "</figure>\n<figure><figcaption><h3>Rails</h3>DC, with what is expected</figcaption>\n");
        done = gw_svg_dc(out, page->walk, page->before, true) && done;
    }
    gw_text_add(out, "</figure>\n</div>\n");
    key(page);
    gw_html_section_end(out);
    out->failed |= !done;
}

/* ---- findings -------------------------------------------------------------------------------------- */

static void labelled(gw_text *out, const char *label, const char *text) {
    if (text != NULL && *text != '\0')
        gw_html_format(out, "<p><strong>%s</strong> %s</p>\n", label, text);
}

static void finding_heading(const gw_page *page, size_t index) {
    const gw_finding *finding = &page->walk->findings[index];
    const char *from = gw_shown_point(page->walk, finding->from), *to = gw_shown_point(page->walk, finding->to);
    const char *place = gw_shown_place(page->walk, finding->point, finding->rail);
    char number[24];
    snprintf(number, sizeof number, "%zu", index + 1);
    gw_html_format(page->out, "<h3>%s. %s, ", number, gw_finding_infos[finding->code].code);
    if (from != NULL && to != NULL)
        gw_html_format(page->out, "between %s and %s", from, to);
    else
        gw_html_format(page->out, "at %s", place != NULL ? place : to != NULL ? to : "the source");
    gw_text_add(page->out, finding->status == GW_UNSURE ? " (unsure)</h3>\n" : "</h3>\n");
}

static void causes(gw_text *out, const gw_finding *finding) {
    if (finding->cause_count == 0)
        return;
    gw_text_add(out, "<p><strong>Likely causes, most likely first</strong></p>\n<ol>\n");
    for (size_t i = 0; i < finding->cause_count; i++)
        gw_html_format(out, "<li>%s</li>\n", finding->causes[i]);
    gw_text_add(out, "</ol>\n");
}

static void finding(const gw_page *page, size_t index) {
    const gw_finding *found = &page->walk->findings[index];
    char number[24];
    gw_html_format(page->out, "<div class=\"card %s\">\n",
                   found->follows >= 0 ? "unjudged" : gw_html_class(found->status));
    finding_heading(page, index);
    gw_html_format(page->out, "<p>%s</p>\n", found->evidence);
    if (found->follows >= 0) {
        snprintf(number, sizeof number, "%d", found->follows + 1);
        gw_html_format(page->out, "<p>Follows from finding %s.</p>\n", number);
    } else {
        causes(page->out, found);
        labelled(page->out, "Confirm:", found->confirm);
        labelled(page->out, "Looks alike:", found->lookalikes);
        labelled(page->out, "To settle it:", found->settle);
    }
    gw_text_add(page->out, "</div>\n");
}

void gw_page_findings(const gw_page *page) {
    if (page->walk->finding_count == 0)
        return;
    gw_page_section(page, "findings", "Findings");
    for (size_t i = 0; i < page->walk->finding_count; i++)
        finding(page, i);
    gw_html_section_end(page->out);
}

void gw_page_next(const gw_page *page) {
    const gw_walk *walk = page->walk;
    if (walk->next_count == 0)
        return;
    gw_page_section(page, "next", "Probe next");
    gw_text_add(page->out, "<ol>\n");
    for (size_t i = 0; i < walk->next_count; i++) {
        const char *place = gw_shown_place(walk, walk->next[i].point, walk->next[i].rail);
        gw_html_format(page->out, "<li><strong>%s</strong>: %s</li>\n", place != NULL ? place : "outside the chain",
                       walk->next[i].why);
    }
    gw_text_add(page->out, "</ol>\n");
    if (walk->probes_expected > 0 && walk->probes_expected < 1e4)
        gw_text_printf(page->out, "<p>About %ld more until the stage is known.</p>\n",
                       (long)ceil(walk->probes_expected - 1e-9));
    gw_html_section_end(page->out);
}

void gw_page_cautions(gw_text *out) {
    gw_html_section(out, "cautions", "Cautions");
    gw_text_add(out, "<ul>\n");
    for (size_t i = 0; gw_shown_cautions[i] != NULL; i++)
        gw_html_format(out, "<li>%s</li>\n", gw_shown_cautions[i]);
    gw_text_add(out, "</ul>\n");
    gw_html_section_end(out);
}
