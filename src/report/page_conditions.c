/* How it was measured: conditions, conventions, captures; and the job sheet. */
#include "report/odd.h"
#include "report/page.h"

#include <stdio.h>
#include <string.h>

bool gw_page_is_bench(const char *key) {
    static const char *const keys[] = {"stimulus", "mains",    "band", "accuracy",   "reference",
                                       "probe",    "coupling", "zero", "full_scale", "decision"};
    for (size_t i = 0; i < sizeof keys / sizeof *keys; i++)
        if (gw_word_equal(key, keys[i]))
            return true;
    return false;
}

static void pairs(gw_text *out, const gw_walk *walk, bool bench) {
    for (size_t i = 0; i + 1 < walk->conditions.count; i += 2)
        if (gw_page_is_bench(walk->conditions.items[i]) == bench)
            gw_html_format(out, "<dt>%s</dt><dd>%s</dd>\n", walk->conditions.items[i], walk->conditions.items[i + 1]);
}

static void band(gw_text *out, const gw_walk *walk) {
    char low[64], high[64];
    for (size_t i = 0; i < walk->point_count; i++) {
        const gw_readings *readings = walk->points[i].readings;
        if (readings == NULL || !(readings->band_high_hz > 0))
            continue;
        gw_html_format(out, "<dt>noise and THD+N in</dt><dd>%s .. %s</dd>\n",
                       gw_shown_exact(readings->band_low_hz, "Hz", 3, low, sizeof low),
                       gw_shown_exact(readings->band_high_hz, "Hz", 3, high, sizeof high));
        return;
    }
}

void gw_page_conditions(const gw_page *page) {
    gw_text *out = page->out;
    gw_page_section(page, "conditions", "Conditions and conventions");
    gw_text_add(out, "<dl>\n");
    pairs(out, page->walk, true);
    band(out, page->walk);
    gw_text_add(out, "</dl>\n<ul>\n");
    for (size_t i = 0; gw_shown_conventions[i] != NULL; i++)
        gw_html_format(out, "<li>%s</li>\n", gw_shown_conventions[i]);
    for (size_t i = 0; i < page->walk->remarks.count; i++)
        gw_html_format(out, "<li>%s</li>\n", page->walk->remarks.items[i]);
    gw_text_add(out, "</ul>\n");
    gw_html_section_end(out);
}

/* ---- captures -------------------------------------------------------------------------------------- */

static void capture_row(gw_text *out, const gw_walk_point *point, bool hashed) {
    const gw_source *source = &point->readings->source;
    const char *unit = source->unit != NULL ? source->unit : "V";
    char rate[64], length[64], step[64], channel[160];
    snprintf(channel, sizeof channel, "%d%s%.100s", source->channel, source->channel_name != NULL ? ", " : "",
             source->channel_name != NULL ? source->channel_name : "");
    gw_html_row_begin(out, point->name);
    gw_html_cell(out, "file", NULL, source->file);
    gw_html_cell(out, "channel", NULL, channel);
    gw_html_cell(out, "rate", NULL, gw_shown_exact(source->rate_hz, "Hz", 7, rate, sizeof rate));
    gw_html_cell(out, "length", NULL, gw_shown_exact(source->duration_s, "s", 4, length, sizeof length));
    gw_html_cell(out, "step", NULL,
                 source->step > 0 ? gw_shown_exact(source->step, unit, 3, step, sizeof step) : "not known");
    gw_html_cell(out, "signal", NULL, gw_signal_name(point->readings->signal));
    if (hashed) {
        gw_html_cell_begin(out, "SHA-256", NULL);
        gw_html_format(out, "<code>%s</code>", source->sha256);
        gw_html_cell_end(out);
    }
    gw_html_row_end(out);
}

void gw_page_captures(const gw_page *page) {
    const char *headings[] = {"point", "file", "channel", "rate", "length", "step", "signal", "SHA-256", NULL};
    const gw_walk *walk = page->walk;
    bool hashed = false;
    for (size_t i = 0; i < walk->point_count; i++)
        hashed = hashed || (walk->points[i].readings != NULL && walk->points[i].readings->source.sha256 != NULL);
    if (!hashed)
        headings[7] = NULL;
    gw_page_section(page, "captures", "Captures");
    gw_html_table_begin(page->out, "What the figures were made from", headings);
    for (size_t i = 0; i < walk->point_count + walk->rail_count; i++) {
        const gw_walk_point *point = i < walk->point_count ? &walk->points[i] : &walk->rails[i - walk->point_count];
        if (point->readings != NULL)
            capture_row(page->out, point, hashed);
    }
    gw_html_table_end(page->out);
    gw_html_section_end(page->out);
}

/* ---- the job sheet --------------------------------------------------------------------------------- */

static void sheet_points(const gw_page *page) {
    static const char *const headings[] = {"point", "level", "gain", "DC", "judged", NULL};
    const gw_walk *walk = page->walk;
    gw_html_table_begin(page->out, "As measured", headings);
    for (size_t i = 0; i < walk->point_count; i++) {
        const gw_walk_point *point = &walk->points[i];
        const gw_walk_stage *stage = gw_shown_stage_to(walk, i);
        gw_shown level = {.why = "not measured"}, dc = level, gain = level;
        gw_text words = {0};
        if (point->readings != NULL) {
            level = gw_shown_reading(GW_LEVEL, &point->readings->values[GW_LEVEL], point->readings->source.unit);
            dc = gw_shown_reading(GW_DC, &point->readings->values[GW_DC], point->readings->source.unit);
        }
        if (stage != NULL)
            gain = gw_shown_judge(&stage->gain, NULL).figure;
        gw_odd_words(walk, false, i, &words);
        gw_html_row_begin(page->out, point->name);
        const gw_shown *figures[] = {&level, &gain, &dc};
        for (size_t k = 0; k < 3; k++) {
            gw_html_cell_begin(page->out, headings[k + 1], NULL);
            gw_html_shown(page->out, figures[k], 3);
            gw_html_cell_end(page->out);
        }
        gw_html_cell(page->out, "judged", gw_html_class(point->status), gw_text_string(&words));
        gw_html_row_end(page->out);
        page->out->failed = page->out->failed || words.failed;
        gw_text_free(&words);
    }
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
    gw_html_format(out,
                   "<section class=\"sheet\" aria-labelledby=\"%ssheet\">\n<h2 id=\"%ssheet\">Job sheet</h2>\n<dl>\n",
                   page->prefix, page->prefix);
    gw_html_format(out, "<dt>piece</dt><dd>%s</dd>\n", walk->title != NULL ? walk->title : "");
    gw_html_format(out, "<dt>unit</dt><dd>%s</dd>\n", walk->unit != NULL ? walk->unit : "");
    if (walk->note != NULL)
        gw_html_format(out, "<dt>note</dt><dd>%s</dd>\n", walk->note);
    pairs(out, walk, false);
    if (page->comparison != NULL)
        gw_html_format(out, "<dt>result</dt><dd>%s.</dd>\n<dt>before</dt><dd>%s</dd>\n", page->comparison->summary,
                       page->before->verdict.summary);
    sheet_found(page);
    pairs(out, walk, true);
    gw_text_add(out, "</dl>\n");
    sheet_points(page);
    gw_text_add(out, "<p class=\"sign\"><span>date</span><span>signed</span></p>\n</section>\n");
}
