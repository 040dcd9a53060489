/* Tables of points, rails and stages. */
#include "report/odd.h"
#include "report/page.h"

static void reading_cell(gw_text *out, const char *label, const gw_walk_point *point, gw_reading_key key, int digits,
                         gw_status status) {
    gw_shown shown = gw_shown_at(point, key);
    gw_html_cell_begin(out, label, gw_html_class(status));
    if (key == GW_DC && gw_shown_dc_hidden(point))
        gw_text_add(out, "<small>hidden by the capture</small>");
    else
        gw_html_shown(out, &shown, digits);
    gw_html_mark(out, status);
    gw_html_cell_end(out);
}

static void judged_cells(gw_text *out, const char *label, const char *expected_label, const gw_judgement *judgement,
                         const char *unit) {
    gw_shown_judgement judged = gw_shown_judge(judgement, unit);
    gw_html_cell_begin(out, label, gw_html_class(judged.status));
    gw_html_shown_u95(out, &judged.figure, 3);
    gw_html_mark(out, judged.status);
    gw_html_cell_end(out);
    gw_html_cell_begin(out, expected_label, NULL);
    gw_html_expected(out, &judged);
    gw_html_cell_end(out);
}

static void words_cell(const gw_page *page, bool rail, size_t index) {
    const gw_walk_point *point = rail ? &page->walk->rails[index] : &page->walk->points[index];
    gw_text words = {0};
    gw_odd_words(page->walk, rail, index, &words);
    gw_html_cell(page->out, "judged", gw_html_class(point->status), gw_text_string(&words));
    gw_text_part_free(page->out, &words);
}

static void point_row(const gw_page *page, size_t index) {
    const gw_walk *walk = page->walk;
    const gw_walk_point *point = &walk->points[index];
    const gw_walk_stage *stage = gw_shown_stage_to(walk, index);
    static const gw_judgement nothing = {.kind = GW_JUDGE_GAIN, .why = "nothing stands before it"};
    gw_html_row_begin(page->out, point->name);
    gw_html_cell(page->out, "what", NULL, point->what);
    reading_cell(page->out, "level", point, GW_LEVEL, 3, gw_odd_status(walk, index, "level", NULL));
    judged_cells(page->out, "gain", "gain expected", stage != NULL ? &stage->gain : &nothing, NULL);
    reading_cell(page->out, "DC", point, GW_DC, 3, gw_odd_status(walk, index, "dc", "dc"));
    reading_cell(page->out, "THD", point, GW_THD, 2, gw_odd_status(walk, index, "thd", "thd_added"));
    reading_cell(page->out, "noise", point, GW_NOISE, 2, gw_odd_status(walk, index, "noise", "noise_added"));
    reading_cell(page->out, "hum", point, GW_HUM, 2, gw_odd_status(walk, index, "hum", "hum_added"));
    words_cell(page, false, index);
    gw_html_row_end(page->out);
}

void gw_page_points(const gw_page *page) {
    static const char *const headings[] = {"point", "what", "level",  "gain", "gain expected", "DC", "THD",
                                           "noise", "hum",  "judged", NULL};
    gw_page_section(page, "points", "Points");
    gw_html_table_begin(page->out, "One row a point, in the order of the signal", headings);
    for (size_t i = 0; i < page->walk->point_count; i++)
        point_row(page, i);
    gw_html_table_end(page->out);
    gw_html_section_end(page->out);
}

/* What is expected of the points themselves: DC, limits, level, frequency. */
static bool is_judged(const gw_walk_point *point, const gw_judgement *judgement) {
    if (judgement == &point->frequency && judgement->status == GW_OK)
        return false; /* the same all along the chain; it stands among the readings */
    return judgement->has_expected || judgement->status != GW_UNJUDGED;
}

static void own_rows(const gw_page *page, const char *name, const gw_walk_point *point) {
    for (const gw_judged_field *field = gw_point_fields; field->key != NULL; field++) {
        const gw_judgement *judgement = gw_judged_of_point(point, field);
        if (!is_judged(point, judgement))
            continue;
        gw_html_row_begin(page->out, name);
        gw_html_cell(page->out, "figure", NULL, field->name);
        judged_cells(page->out, "measured", "expected", judgement, gw_shown_volts(point));
        gw_html_cell(page->out, "from", NULL, judgement->how);
        gw_html_cell(page->out, "remark", NULL, judgement->why);
        gw_html_row_end(page->out);
    }
}

static void meter_line(const gw_page *page, const gw_walk_point *point) {
    gw_shown shown = {.state = GW_READING_VALUE, .value = point->meter_v, .u95 = point->meter_u95_v, .unit = "V"};
    gw_html_format(page->out, "<li>%s, by meter: ", point->name);
    gw_html_shown_u95(page->out, &shown, 4);
    gw_text_add(page->out, "</li>\n");
}

static void meters(const gw_page *page) {
    bool any = false;
    for (size_t i = 0; i < page->walk->point_count + page->walk->rail_count; i++) {
        const gw_walk_point *point =
            i < page->walk->point_count ? &page->walk->points[i] : &page->walk->rails[i - page->walk->point_count];
        if (!point->metered)
            continue;
        gw_text_add(page->out, any ? "" : "<ul class=\"plain\">\n");
        any = true;
        meter_line(page, point);
    }
    gw_text_add(page->out, any ? "</ul>\n" : "");
}

static bool anything_judged(const gw_walk *walk) {
    for (size_t i = 0; i < walk->point_count + walk->rail_count; i++) {
        const gw_walk_point *point = i < walk->point_count ? &walk->points[i] : &walk->rails[i - walk->point_count];
        if (point->metered)
            return true;
        for (const gw_judged_field *field = gw_point_fields; field->key != NULL; field++)
            if (is_judged(point, gw_judged_of_point(point, field)))
                return true;
    }
    return walk->rail_count > 0;
}

void gw_page_rails(const gw_page *page) {
    static const char *const headings[] = {"at", "figure", "measured", "expected", "from", "remark", NULL};
    const gw_walk *walk = page->walk;
    if (!anything_judged(walk))
        return;
    gw_page_section(page, "rails", "Rails and limits");
    gw_html_table_begin(page->out, "What is expected of a rail or of a point itself", headings);
    for (size_t i = 0; i < walk->rail_count; i++)
        own_rows(page, walk->rails[i].name, &walk->rails[i]);
    for (size_t i = 0; i < walk->point_count; i++)
        own_rows(page, walk->points[i].name, &walk->points[i]);
    gw_html_table_end(page->out);
    meters(page);
    gw_html_section_end(page->out);
}

/* ---- stages ---------------------------------------------------------------------------------------- */

static void stage_rows(const gw_page *page, const gw_walk_stage *stage) {
    const gw_walk *walk = page->walk;
    gw_text name = {0};
    const char *from = gw_shown_point(walk, stage->from), *to = gw_shown_point(walk, stage->to);
    gw_text_printf(&name, "%s \xE2\x86\x92 %s", from != NULL ? from : "source", to != NULL ? to : "?");
    for (const gw_judged_field *field = gw_stage_fields; field->key != NULL; field++) {
        const gw_judgement *judgement = gw_judged_of_stage(stage, field);
        if (!judgement->has_value && !judgement->has_expected)
            continue;
        gw_html_row_begin(page->out, gw_text_string(&name));
        gw_html_cell(page->out, "figure", NULL, field->name);
        judged_cells(page->out, "measured", "expected", judgement,
                     stage->to >= 0 ? gw_shown_volts(&walk->points[stage->to]) : "V");
        gw_html_cell(page->out, "from", NULL, judgement->how);
        gw_html_cell(page->out, "remark", NULL, judgement->why);
        gw_html_row_end(page->out);
    }
    gw_text_part_free(page->out, &name);
}

static void stage_notes(const gw_page *page) {
    gw_text_add(page->out, "<ul class=\"plain\">\n");
    for (size_t i = 0; i < page->walk->stage_count; i++) {
        const gw_walk_stage *stage = &page->walk->stages[i];
        const char *to = gw_shown_point(page->walk, stage->to);
        if (stage->note != NULL && to != NULL)
            gw_html_format(page->out, "<li><strong>%s</strong> %s</li>\n", to, stage->note);
    }
    gw_text_add(page->out, "</ul>\n");
}

void gw_page_stages(const gw_page *page) {
    static const char *const headings[] = {"stage", "figure", "measured", "expected", "from", "remark", NULL};
    bool noted = false;
    if (page->walk->stage_count == 0)
        return;
    for (size_t i = 0; i < page->walk->stage_count; i++)
        noted = noted || page->walk->stages[i].note != NULL;
    gw_page_section(page, "stages", "Stages");
    if (noted)
        stage_notes(page);
    gw_text_add(page->out, "<details><summary>Every judged figure of every stage</summary>\n");
    gw_html_table_begin(page->out, "Each stage against what it should do", headings);
    for (size_t i = 0; i < page->walk->stage_count; i++)
        stage_rows(page, &page->walk->stages[i]);
    gw_html_table_end(page->out);
    gw_text_add(page->out, "</details>\n");
    gw_html_section_end(page->out);
}
