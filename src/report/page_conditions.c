/* How it was measured: conditions, conventions, captures. */
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

void gw_page_pairs(gw_text *out, const gw_walk *walk, bool bench) {
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
    gw_page_pairs(out, page->walk, true);
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
