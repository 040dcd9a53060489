/* Waveform and spectrum of each point, with all its readings. */
#include "report/page.h"

#include <stdio.h>
#include <string.h>

static void reading_rows(gw_text *out, const gw_readings *readings) {
    for (int key = 0; key < GW_READING_COUNT; key++) {
        if (gw_shown_again((gw_reading_key)key, readings->source.unit))
            continue;
        gw_shown shown = gw_shown_reading((gw_reading_key)key, &readings->values[key], readings->source.unit);
        gw_html_format(out, "<dt>%s</dt><dd>", gw_reading_infos[key].name);
        if (shown.state == GW_READING_NONE) {
            gw_html_format(out, "<small>%s</small>", shown.why);
        } else {
            gw_html_shown_u95(out, &shown, 7);
            if (shown.state == GW_READING_BELOW)
                gw_html_format(out, " <small>%s</small>", shown.why);
        }
        if (key == GW_PITCH && shown.state == GW_READING_VALUE) {
            char note[8];
            gw_html_format(out, " <small>from %s</small>",
                           gw_shown_note(readings->values[GW_FREQUENCY].value, note, sizeof note));
        }
        gw_text_add(out, "</dd>\n");
    }
}

static void line_item(gw_text *out, const char *name, const gw_shown *shown) {
    gw_html_format(out, "<dt>%s</dt><dd>", name);
    gw_html_shown_u95(out, shown, 3);
    gw_text_add(out, "</dd>\n");
}

static void line_rows(gw_text *out, const gw_readings *readings) {
    const char *unit = gw_reading_unit(GW_AC_RMS, readings->source.unit != NULL ? readings->source.unit : "V");
    char name[96], frequency[64];
    for (size_t i = 0; i < readings->harmonic_count; i++) {
        const gw_harmonic *harmonic = &readings->harmonics[i];
        gw_shown shown = {.state = GW_READING_VALUE, .value = harmonic->rms, .u95 = harmonic->u95, .unit = unit};
        snprintf(name, sizeof name, "harmonic %d", harmonic->order);
        if (harmonic->resolved)
            line_item(out, name, &shown);
    }
    for (size_t i = 0; i < readings->tone_count; i++) {
        const gw_tone *tone = &readings->tones[i];
        gw_shown shown = {.state = GW_READING_VALUE, .value = tone->rms, .u95 = tone->u95, .unit = unit};
        snprintf(name, sizeof name, "%s, %s", gw_tone_kind_name(tone->kind),
                 gw_quantity_print(tone->frequency_hz, 0, "Hz", 4, frequency, sizeof frequency));
        line_item(out, name, &shown);
    }
}

static void readings_list(gw_text *out, const char *name, const gw_readings *readings) {
    gw_html_format(out, "<details><summary>All readings at %s</summary>\n<dl>\n", name);
    reading_rows(out, readings);
    line_rows(out, readings);
    gw_text_add(out, "</dl>\n</details>\n");
}

static const gw_readings *then_at(const gw_page *page, const gw_walk_point *point, bool rail) {
    if (page->before == NULL)
        return NULL;
    const gw_walk_point *points = rail ? page->before->rails : page->before->points;
    size_t count = rail ? page->before->rail_count : page->before->point_count;
    for (size_t i = 0; i < count; i++)
        if (strcmp(points[i].name, point->name) == 0)
            return points[i].readings;
    return NULL;
}

static void trace(const gw_page *page, const gw_walk_point *point, bool rail) {
    gw_text *out = page->out;
    const gw_readings *before = then_at(page, point, rail);
    if (point->readings == NULL)
        return;
    gw_html_format(out, "<figure>\n<figcaption><h3>%s%s</h3>%s</figcaption>\n", rail ? "rail " : "", point->name,
                   point->what);
    gw_svg_waveform(out, point->name, point->readings, before);
    gw_svg_spectrum(out, point->name, point->readings, before);
    readings_list(out, point->name, point->readings);
    for (size_t i = 0; i < point->readings->remarks.count; i++)
        gw_html_format(out, "<p><small>%s</small></p>\n", point->readings->remarks.items[i]);
    gw_text_add(out, "</figure>\n");
}

void gw_page_traces(const gw_page *page) {
    gw_page_section(page, "traces", "Waveform and spectrum at each point");
    gw_html_format(page->out,
                   "<p>Above a spectrum, numbers mark harmonics, m mains and its multiples, t other tones; the dashed "
                   "line is the floor.%s</p>\n<div class=\"columns traces\">\n",
                   page->before != NULL ? " What was captured before lies behind in grey-brown." : "");
    for (size_t i = 0; i < page->walk->point_count; i++)
        trace(page, &page->walk->points[i], false);
    for (size_t i = 0; i < page->walk->rail_count; i++)
        trace(page, &page->walk->rails[i], true);
    gw_text_add(page->out, "</div>\n");
    gw_html_section_end(page->out);
}
