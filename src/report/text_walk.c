/* Text of `walk`: the verdict first, then what it rests on. */
#include "report/odd.h"
#include "report/response.h"
#include "report/terminal.h"
#include "report/text_tables.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static gw_tint tint_of_verdict(gw_verdict_status status) {
    static const gw_tint tints[] = {[GW_VERDICT_CLEAR] = GW_TINT_GOOD,
                                    [GW_VERDICT_FAULT] = GW_TINT_BAD,
                                    [GW_VERDICT_UNSURE] = GW_TINT_DOUBT,
                                    [GW_VERDICT_INCOMPLETE] = GW_TINT_DOUBT};
    return tints[status];
}

static void put_verdict(const gw_pen *pen, const gw_walk *walk, const char *lead) {
    gw_text line = {0};
    gw_text_printf(&line, "%s: %s", gw_odd_verdict(walk->verdict.status),
                   walk->verdict.summary != NULL ? walk->verdict.summary : "");
    gw_pen_wrap(pen, tint_of_verdict(walk->verdict.status), lead, gw_text_string(&line));
    gw_text_part_free(pen->out, &line);
}

static void put_identity(const gw_pen *pen, const gw_walk *walk) {
    gw_text line = {0};
    gw_text_add(&line, walk->title != NULL  ? walk->title
                       : walk->file != NULL ? walk->file
                                            : "captures in the order given");
    if (walk->unit != NULL)
        gw_text_printf(&line, ", unit %s", walk->unit);
    if (walk->title != NULL && walk->file != NULL)
        gw_text_printf(&line, " (%s)", walk->file);
    gw_pen_wrap(pen, GW_TINT_PLAIN, "", gw_text_string(&line));
    if (walk->note != NULL)
        gw_pen_wrap(pen, GW_TINT_PLAIN, "", walk->note);
    gw_text_part_free(pen->out, &line);
}

static void put_danger(const gw_pen *pen, const gw_walk *walk) {
    const char *name = NULL;
    double volts = 0;
    bool ac = false;
    if (!gw_shown_dangerous(walk, &name, &volts, &ac))
        return;
    char figure[48];
    gw_text line = {0};
    gw_text_printf(&line,
                   "%s at %s is above extra-low voltage (50 V AC, 120 V DC; IEC 61140) and can kill. "
                   "Qualified people only, and by local rules.",
                   gw_quantity_print(volts, 0, ac ? "V AC" : "V DC", 3, figure, sizeof figure), name);
    gw_pen_wrap(pen, GW_TINT_BAD, "DANGER: ", gw_text_string(&line));
    gw_text_part_free(pen->out, &line);
}

/* ---- findings -------------------------------------------------------------------------------------- */

static void put_finding_heading(const gw_pen *pen, const gw_walk *walk, size_t index) {
    const gw_finding *finding = &walk->findings[index];
    const char *from = gw_shown_point(walk, finding->from), *to = gw_shown_point(walk, finding->to);
    const char *place = gw_shown_place(walk, finding->point, finding->rail);
    char lead[24];
    gw_text line = {0};
    snprintf(lead, sizeof lead, "%zu  ", index + 1);
    gw_text_printf(&line, "%s %s, ", finding->status == GW_OFF ? "OFF" : "unsure",
                   gw_finding_infos[finding->code].code);
    if (from != NULL && to != NULL)
        gw_text_printf(&line, "between %s and %s", from, to);
    else
        gw_text_printf(&line, "at %s", place != NULL ? place : to != NULL ? to : "the source");
    gw_pen_wrap(pen, gw_tint_of_status(finding->status), lead, gw_text_string(&line));
    gw_text_part_free(pen->out, &line);
}

static void put_labelled(const gw_pen *pen, const char *label, const char *text) {
    if (text != NULL && *text != '\0')
        gw_pen_wrap(pen, GW_TINT_PLAIN, label, text);
}

static void put_causes(const gw_pen *pen, const gw_finding *finding) {
    for (size_t i = 0; i < finding->cause_count; i++)
        put_labelled(pen, i == 0 ? "   likely:  " : "            ", finding->causes[i]);
}

/* A consequence is one line: one fault stays one fault. */
static void put_finding(const gw_pen *pen, const gw_walk *walk, size_t index) {
    const gw_finding *finding = &walk->findings[index];
    put_finding_heading(pen, walk, index);
    put_labelled(pen, "   ", finding->evidence);
    if (finding->follows >= 0) {
        char line[64];
        snprintf(line, sizeof line, "follows from %d", finding->follows + 1);
        put_labelled(pen, "   ", line);
        return;
    }
    put_causes(pen, finding);
    put_labelled(pen, "   confirm: ", finding->confirm);
    put_labelled(pen, "   alike:   ", finding->lookalikes);
    put_labelled(pen, "   settle:  ", finding->settle);
}

static void put_findings(const gw_pen *pen, const gw_walk *walk) {
    if (walk->finding_count > 0)
        gw_pen_heading(pen, "Findings");
    for (size_t i = 0; i < walk->finding_count; i++)
        put_finding(pen, walk, i);
}

/* ---- the rest -------------------------------------------------------------------------------------- */

static void put_named(const gw_pen *pen, const char *name, const char *text) {
    gw_text line = {0};
    gw_text_printf(&line, "%s: %s", name, text);
    gw_pen_wrap(pen, GW_TINT_PLAIN, "  ", gw_text_string(&line));
    gw_text_part_free(pen->out, &line);
}

static void put_notes(const gw_pen *pen, const gw_walk *walk) {
    bool headed = false;
    for (size_t i = 0; i < walk->stage_count; i++) {
        const gw_walk_stage *stage = &walk->stages[i];
        const char *to = gw_shown_point(walk, stage->to);
        if (stage->note == NULL || to == NULL)
            continue;
        if (!headed)
            gw_pen_heading(pen, "Stages");
        headed = true;
        put_named(pen, to, stage->note);
    }
}

/* One end of the response; nothing where neither the sweep nor the values know a corner. */
static void add_corner(gw_text *words, const char *name, const gw_judgement *corner) {
    char measured[64], expected[64];
    if (corner->has_value || corner->has_expected)
        gw_text_printf(words, "%s%s corner %s, expected %s", words->length > 0 ? "; " : "", name,
                       gw_response_corner(corner, false, measured, sizeof measured),
                       gw_response_corner(corner, true, expected, sizeof expected));
    if (corner->status == GW_OFF || corner->status == GW_UNSURE)
        gw_text_printf(words, " (%s)", corner->status == GW_OFF ? "OFF" : "UNSURE");
}

static void put_response(const gw_pen *pen, const gw_walk *walk) {
    if (gw_response_any(walk))
        gw_pen_heading(pen, "Response (corners: where the gain has fallen by 3 dB)");
    for (size_t i = 0; i < walk->stage_count; i++) {
        const gw_walk_stage *stage = &walk->stages[i];
        const char *to = gw_shown_point(walk, stage->to);
        gw_text words = {0};
        if (stage->response.count == 0 || to == NULL)
            continue;
        add_corner(&words, "lower", &stage->low_corner);
        add_corner(&words, "upper", &stage->high_corner);
        put_named(pen, to, words.length > 0 ? gw_text_string(&words) : "no corner in the sweep, as expected");
        gw_text_part_free(pen->out, &words);
    }
}

static void put_next(const gw_pen *pen, const gw_walk *walk) {
    if (walk->next_count > 0)
        gw_pen_heading(pen, "Probe next");
    for (size_t i = 0; i < walk->next_count; i++) {
        const char *place = gw_shown_place(walk, walk->next[i].point, walk->next[i].rail);
        put_named(pen, place != NULL ? place : "outside the chain", walk->next[i].why != NULL ? walk->next[i].why : "");
    }
    if (walk->next_count > 0 && walk->probes_expected > 0 && walk->probes_expected < 1e4) {
        char line[80];
        long more = (long)ceil(walk->probes_expected - 1e-9);
        snprintf(line, sizeof line, "about %ld more probe%s until the stage is known", more, more == 1 ? "" : "s");
        gw_pen_wrap(pen, GW_TINT_PLAIN, "  ", line);
    }
}

static bool has_remarks(const gw_walk_point *point) {
    return point->readings != NULL && point->readings->remarks.count > 0;
}

static void put_remarks(const gw_pen *pen, const gw_walk *walk) {
    bool headed = walk->remarks.count > 0;
    if (headed)
        gw_pen_heading(pen, "Remarks");
    for (size_t i = 0; i < walk->remarks.count; i++)
        gw_pen_wrap(pen, GW_TINT_PLAIN, "  ", walk->remarks.items[i]);
    for (size_t i = 0; i < walk->point_count + walk->rail_count; i++) {
        const gw_walk_point *point = i < walk->point_count ? &walk->points[i] : &walk->rails[i - walk->point_count];
        if (!has_remarks(point))
            continue;
        if (!headed)
            gw_pen_heading(pen, "Remarks");
        headed = true;
        for (size_t k = 0; k < point->readings->remarks.count; k++)
            put_named(pen, point->name, point->readings->remarks.items[k]);
    }
}

static void add_band(const gw_walk *walk, gw_text *line) {
    char low[48], high[48];
    for (size_t i = 0; i < walk->point_count; i++) {
        const gw_readings *readings = walk->points[i].readings;
        if (readings == NULL || !(readings->band_high_hz > 0))
            continue;
        gw_text_printf(line, "; noise and THD+N in %s .. %s (%s)",
                       gw_shown_exact(readings->band_low_hz, "Hz", 3, low, sizeof low),
                       gw_shown_exact(readings->band_high_hz, "Hz", 3, high, sizeof high), walk->points[i].name);
        return;
    }
}

static void put_conditions(const gw_pen *pen, const gw_walk *walk) {
    gw_pen_heading(pen, "Conditions");
    for (size_t i = 0; i + 1 < walk->conditions.count; i += 2)
        put_named(pen, walk->conditions.items[i], walk->conditions.items[i + 1]);
    gw_text line = {0};
    for (size_t i = 0; gw_shown_conventions[i] != NULL; i++)
        gw_text_printf(&line, "%s%s", i > 0 ? "; " : "", gw_shown_conventions[i]);
    add_band(walk, &line);
    gw_pen_wrap(pen, GW_TINT_PLAIN, "  conventions: ", gw_text_string(&line));
    gw_text_part_free(pen->out, &line);
}

static void put_cautions(const gw_pen *pen) {
    gw_pen_heading(pen, "Cautions");
    for (size_t i = 0; gw_shown_cautions[i] != NULL; i++)
        gw_pen_wrap(pen, GW_TINT_FAINT, "  ", gw_shown_cautions[i]);
}

static void put_walk(const gw_pen *pen, const gw_walk *walk) {
    put_verdict(pen, walk, "");
    put_danger(pen, walk);
    put_identity(pen, walk);
    gw_text_points(walk, pen);
    gw_text_rails(walk, pen);
    put_findings(pen, walk);
    put_notes(pen, walk);
    put_response(pen, walk);
    put_next(pen, walk);
    put_remarks(pen, walk);
    put_conditions(pen, walk);
}

static void put_summary(const gw_pen *pen, const gw_walk *walk) {
    gw_text name = {0};
    gw_terminal_clean(walk->file != NULL ? walk->file : walk->title, &name);
    gw_text_add(&name, name.length > 0 ? "  " : "");
    put_verdict(pen, walk, gw_text_string(&name));
    gw_text_part_free(pen->out, &name);
}

bool gw_report_walk_text(const gw_walk *const *walks, size_t count, const gw_report_options *options, gw_text *out,
                         gw_error *error) {
    gw_pen pen = gw_pen_new(options, out);
    bool quiet = options != NULL && options->quiet;
    for (size_t i = 0; i < count && count > 1; i++)
        put_summary(&pen, walks[i]);
    if (quiet && count == 1)
        put_verdict(&pen, walks[0], "");
    for (size_t i = 0; i < count && !quiet; i++) {
        gw_text_add(out, count > 1 ? "\n" : "");
        put_walk(&pen, walks[i]);
    }
    if (!quiet && count > 0)
        put_cautions(&pen);
    return !out->failed || gw_error_memory(error);
}
