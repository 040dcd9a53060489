/* gainwalk watch: what it says. */
#include "watch.h"

#include <string.h>

static const char refresh[] = "<meta http-equiv=\"refresh\" content=\"2\">\n";

static void add_reading(gw_text *out, const char *name, const gw_readings *readings, gw_reading_key key) {
    const gw_reading *at = &readings->values[key];
    double value = 0, u95 = 0;
    char text[48];
    if (at->state == GW_READING_NONE || !gw_reading_shown(key, at, readings->source.unit, &value, &u95))
        return;
    const char *unit = gw_reading_unit(key, readings->source.unit);
    gw_text_printf(out, ", %s %s%s", name, at->state == GW_READING_BELOW ? "below " : "",
                   gw_quantity_print(value, at->state == GW_READING_BELOW ? 0 : u95, unit, 4, text, sizeof text));
}

static void add_gain(gw_text *out, const gw_walk *walk, int point) {
    char text[3][32];
    for (size_t i = 0; i < walk->stage_count; i++) {
        const gw_walk_stage *stage = &walk->stages[i];
        const gw_judgement *gain = &stage->gain;
        if (stage->to != point || !gain->has_value || !(gain->value > 0))
            continue;
        gw_text_printf(out, ", gain %s%s dB from %s", gain->below ? "below " : "",
                       gw_number_fixed(gw_db_from_ratio(gain->value), 1, text[0], sizeof text[0]),
                       stage->from >= 0 ? walk->points[stage->from].name : "the reference channel");
        if (gain->has_expected && gain->low > 0 && gain->high > 0)
            gw_text_printf(out, " (expected %s to %s dB)",
                           gw_number_fixed(gw_db_from_ratio(gain->low), 1, text[1], sizeof text[1]),
                           gw_number_fixed(gw_db_from_ratio(gain->high), 1, text[2], sizeof text[2]));
    }
}

static const gw_walk_point *find(const gw_walk *walk, const char *name, int *index) {
    for (size_t i = 0; i < walk->point_count + walk->rail_count; i++) {
        bool rail = i >= walk->point_count;
        const gw_walk_point *at = rail ? &walk->rails[i - walk->point_count] : &walk->points[i];
        *index = rail ? -1 : (int)i;
        if (strcmp(at->name, name) == 0)
            return at;
    }
    return NULL;
}

void gw_cli_watch_point(const gw_walk *walk, const char *name, const char *path, gw_text *out) {
    int index = -1;
    const gw_walk_point *at = find(walk, name, &index);
    if (at == NULL)
        return;
    gw_text_printf(out, "%s: %s", name, gw_status_name(at->status));
    if (at->status == GW_UNREADABLE && at->why != NULL)
        gw_text_printf(out, ", %s", at->why);
    else if (at->readings != NULL) {
        if (index >= 0)
            add_reading(out, "level", at->readings, GW_LEVEL);
        add_gain(out, walk, index);
        if (!at->readings->dc_hidden)
            add_reading(out, "DC", at->readings, GW_DC);
        add_reading(out, "THD", at->readings, GW_THD);
    }
    gw_text_printf(out, " (%s)\n", gw_path_name(path));
}

static void add_next(gw_text *out, const gw_walk *walk) {
    for (size_t i = 0; i < walk->next_count && i < 1; i++) {
        const gw_next *next = &walk->next[i];
        const char *name = next->point >= 0  ? walk->points[next->point].name
                           : next->rail >= 0 ? walk->rails[next->rail].name
                                             : NULL;
        if (name != NULL)
            gw_text_printf(out, "Next: %s (%s)\n", name, next->why);
        else
            gw_text_printf(out, "Next: outside the chain (%s)\n", next->why);
    }
}

/* The page, written whole; one that is still growing reloads itself. */
static void write_page(const watch *of, bool live) {
    const gw_walk *walk = gw_cli_job_walk(of->judged);
    gw_report_options options;
    gw_text made = {0}, page = {0};
    gw_error error = {0};
    if (of->given->values[OPTION_HTML] == NULL || !gw_cli_report_options(of->given, &options))
        return;
    if (!gw_cli_captures_apart(of->given, &walk, 1, &error) ||
        !gw_report_walk_html(&walk, 1, &options, &made, &error)) {
        gw_cli_fail(&error);
        gw_text_free(&made);
        return;
    }
    const char *text = gw_text_string(&made), *head = strstr(text, "<head>\n");
    size_t before = live && head != NULL ? (size_t)(head - text) + strlen("<head>\n") : 0;
    gw_text_add_bytes(&page, text, before);
    gw_text_add(&page, before > 0 ? refresh : "");
    gw_text_add(&page, text + before);
    gw_cli_write(of->given->values[OPTION_HTML], &page, true);
    gw_text_free(&page);
    gw_text_free(&made);
}

void gw_cli_watch_verdict(const watch *of, const gw_text *points) {
    const gw_walk *walk = gw_cli_job_walk(of->judged);
    gw_report_options options;
    gw_text out = {0};
    gw_error error = {0};
    if (!gw_cli_report_options(of->given, &options))
        return;
    if (!options.quiet)
        gw_text_add(&out, gw_text_string(points));
    options.quiet = true;
    if (gw_report_walk_text(&walk, 1, &options, &out, &error)) {
        add_next(&out, walk);
        gw_text_add_char(&out, '\n');
        gw_cli_print(&out);
    } else
        gw_cli_fail(&error);
    gw_text_free(&out);
    write_page(of, true);
}

int gw_cli_watch_end(const watch *of) {
    const gw_walk *walk = gw_cli_job_walk(of->judged);
    arguments given = *of->given;
    for (size_t i = 0; i < of->files.count; i++) {
        const folder_file *at = &of->files.files[i];
        if (at->there && !at->judged && at->size > 0)
            gw_cli_note("not complete, not judged: ", at->path);
    }
    for (size_t i = 0; i < of->assigned_count; i++) {
        gw_text line = {0};
        gw_text_printf(&line, "%s: capture = %s", of->assigned[i].point, gw_path_name(of->assigned[i].path));
        gw_cli_note("for the chain file, point ", gw_text_string(&line));
        gw_text_free(&line);
    }
    write_page(of, false);
    given.values[OPTION_HTML] = NULL;
    return gw_cli_report_walks(&given, &walk, 1) ? gw_walk_exit(walk) : EXIT_NOT_DONE;
}
