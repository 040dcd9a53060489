/* Text of `compare`: the sentence first. */
#include "report/change.h"
#include "report/terminal.h"

#include <stdio.h>
#include <string.h>

static const gw_listing_column columns[] = {
    {"point", false, 12}, {"", false, 8},       {"before", true, 14},
    {"after", true, 14},  {"change", true, 13}, {"", false, 0},
};

static gw_tint tint_of(gw_change_status status) {
    static const gw_tint tints[] = {[GW_CHANGE_SAME] = GW_TINT_PLAIN,
                                    [GW_CHANGE_BETTER] = GW_TINT_GOOD,
                                    [GW_CHANGE_WORSE] = GW_TINT_BAD,
                                    [GW_CHANGE_DIFFERENT] = GW_TINT_DOUBT,
                                    [GW_CHANGE_NOT_COMPARABLE] = GW_TINT_FAINT};
    return tints[status];
}

static void set_words(gw_listing *table, gw_cell *cell, gw_change_status status, const char *why) {
    gw_text words = {0};
    gw_text_add(&words, gw_change_name(status));
    if (why != NULL)
        gw_text_printf(&words, ": %s", why);
    gw_cell_set(table, cell, gw_text_string(&words), tint_of(status));
    table->failed |= words.failed;
    gw_text_free(&words);
}

/* A figure that neither side has is not worth a line. */
static bool worth_a_line(const gw_shown_change *change) {
    return change->before.state != GW_READING_NONE || change->after.state != GW_READING_NONE;
}

static void add_change(gw_listing *table, const gw_comparison *comparison, const gw_comparison_point *point, int key,
                       bool first) {
    gw_shown_change change = gw_shown_change_of(comparison, point, (gw_change_key)key);
    gw_cell *row = gw_listing_row(table);
    char before[80], after[80], difference[80];
    if (row == NULL)
        return;
    gw_cell_set(table, &row[0], first ? point->name : "", GW_TINT_STRONG);
    gw_cell_set(table, &row[1], gw_change_titles[key], GW_TINT_PLAIN);
    gw_cell_set(table, &row[2], gw_shown_print(&change.before, 4, before, sizeof before), GW_TINT_PLAIN);
    gw_cell_set(table, &row[3], gw_shown_print(&change.after, 4, after, sizeof after), GW_TINT_PLAIN);
    gw_cell_set(table, &row[4], gw_shown_print_change(&change, difference, sizeof difference), tint_of(change.status));
    set_words(table, &row[5], change.status, change.why);
}

static void add_point(gw_listing *table, const gw_comparison *comparison, const gw_comparison_point *point) {
    bool first = true;
    for (int key = 0; key < GW_CHANGE_KEYS; key++) {
        gw_shown_change change = gw_shown_change_of(comparison, point, (gw_change_key)key);
        if (!worth_a_line(&change))
            continue;
        add_change(table, comparison, point, key, first);
        first = false;
    }
    gw_cell *row = first ? gw_listing_row(table) : NULL;
    if (row == NULL)
        return;
    gw_cell_set(table, &row[0], point->name, GW_TINT_STRONG);
    set_words(table, &row[5], point->status, point->why);
}

static void put_counts(const gw_pen *pen, const gw_comparison *comparison) {
    gw_text line = {0};
    gw_text_printf(&line, "%zu better, %zu worse, %zu the same, %zu different, %zu not comparable", comparison->better,
                   comparison->worse, comparison->same, comparison->different, comparison->not_comparable);
    gw_pen_wrap(pen, GW_TINT_PLAIN, "points: ", gw_text_string(&line));
    gw_text_part_free(pen->out, &line);
}

static void put_side(const gw_pen *pen, const char *lead, const gw_walk *walk) {
    gw_pen_wrap(pen, GW_TINT_PLAIN, lead, walk->verdict.summary);
}

static void put_comparison(const gw_pen *pen, const gw_comparison *comparison, bool quiet) {
    gw_tint tint = comparison->after->verdict.status == GW_VERDICT_FAULT   ? GW_TINT_BAD
                   : comparison->after->verdict.status == GW_VERDICT_CLEAR ? GW_TINT_GOOD
                                                                           : GW_TINT_DOUBT;
    gw_pen_wrap(pen, tint, "", comparison->summary);
    if (quiet)
        return;
    if (comparison->after->title != NULL)
        gw_pen_wrap(pen, GW_TINT_PLAIN, "", comparison->after->title);
    for (size_t i = 0; i < comparison->differences.count; i++)
        gw_pen_wrap(pen, GW_TINT_DOUBT, "differs: ", comparison->differences.items[i]);
    put_side(pen, "before: ", comparison->before);
    put_side(pen, "after:  ", comparison->after);
    put_counts(pen, comparison);
    gw_listing table = {.columns = columns, .column_count = sizeof columns / sizeof *columns};
    for (size_t i = 0; i < comparison->point_count; i++)
        add_point(&table, comparison, &comparison->points[i]);
    gw_text_add_char(pen->out, '\n');
    gw_listing_write(&table, pen);
    gw_listing_free(&table);
}

bool gw_report_compare_text(const gw_comparison *const *comparisons, size_t count, const gw_report_options *options,
                            gw_text *out, gw_error *error) {
    gw_pen pen = gw_pen_new(options, out);
    for (size_t i = 0; i < count; i++) {
        gw_text_add(out, i > 0 ? "\n" : "");
        put_comparison(&pen, comparisons[i], options != NULL && options->quiet);
    }
    return !out->failed || gw_error_memory(error);
}
