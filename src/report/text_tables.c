#include "report/text_tables.h"

#include "report/odd.h"

#include <stdio.h>
#include <string.h>

/* With gaps and the least of the last column, these make 100 columns. */
static const gw_listing_column point_columns[] = {
    {"point", false, 11}, {"level", true, 11}, {"gain", true, 10},  {"expected", true, 15},
    {"DC", true, 11},     {"THD", true, 9},    {"noise", true, 10}, {"", false, 0},
};

static const gw_listing_column rail_columns[] = {
    {"rail", false, 16},  {"DC", true, 12},    {"expected", true, 20},
    {"ripple", true, 12}, {"limit", true, 12}, {"", false, 0},
};

/* A figure with its mark: "!" behind what is off, "?" behind what is unsure. */
static void set_figure(gw_listing *table, gw_cell *row, size_t column, const gw_shown *shown, int digits,
                       gw_status status) {
    char figure[80], marked[96];
    gw_shown_print(shown, digits, figure, sizeof figure);
    const char *mark = status == GW_OFF ? " !" : status == GW_UNSURE ? " ?" : "";
    snprintf(marked, sizeof marked, "%s%s", *figure != '\0' ? figure : "-", mark);
    if (row != NULL)
        gw_cell_set(table, &row[column], marked,
                    status == GW_OFF || status == GW_UNSURE ? gw_tint_of_status(status) : GW_TINT_PLAIN);
}

static void set_words(gw_listing *table, gw_cell *cell, const gw_walk *walk, bool rail, size_t index) {
    gw_text words = {0};
    gw_odd_words(walk, rail, index, &words);
    gw_status status = rail ? walk->rails[index].status : walk->points[index].status;
    if (gw_shown_stage_to(walk, index) != NULL && !rail && status == GW_OK)
        status = gw_shown_stage_to(walk, index)->status;
    gw_cell_set(table, cell, gw_text_string(&words), gw_tint_of_status(status));
    table->failed |= words.failed;
    gw_text_free(&words);
}

static void set_gain(gw_listing *table, gw_cell *row, const gw_walk *walk, size_t index) {
    const gw_walk_stage *stage = gw_shown_stage_to(walk, index);
    if (stage == NULL || row == NULL)
        return;
    gw_shown_judgement gain = gw_shown_judge(&stage->gain, NULL);
    char expected[128];
    set_figure(table, row, 2, &gain.figure, 3, gain.status);
    gw_cell_set(table, &row[3], gw_shown_print_expected(&gain, expected, sizeof expected), GW_TINT_PLAIN);
}

static void add_point(gw_listing *table, const gw_walk *walk, size_t index) {
    static const struct {
        gw_reading_key key;
        const char *point_key, *stage_key;
        size_t column;
        int digits;
    } figures[] = {{GW_LEVEL, "level", NULL, 1, 3},
                   {GW_DC, "dc", "dc", 4, 3},
                   {GW_THD, "thd", "thd_added", 5, 2},
                   {GW_NOISE, "noise", "noise_added", 6, 2}};
    const gw_walk_point *point = &walk->points[index];
    gw_cell *row = gw_listing_row(table);
    if (row == NULL)
        return;
    gw_cell_set(table, &row[0], point->name, GW_TINT_STRONG);
    bool known = point->readings != NULL || point->metered;
    for (size_t i = 0; i < sizeof figures / sizeof *figures && known; i++) {
        gw_shown shown = gw_shown_at(point, figures[i].key);
        set_figure(table, row, figures[i].column, &shown, figures[i].digits,
                   gw_odd_status(walk, index, figures[i].point_key, figures[i].stage_key));
    }
    if (gw_shown_dc_hidden(point))
        gw_cell_set(table, &row[4], "hidden", GW_TINT_FAINT);
    set_gain(table, row, walk, index);
    set_words(table, &row[7], walk, false, index);
}

void gw_text_points(const gw_walk *walk, const gw_pen *pen) {
    gw_listing table = {.columns = point_columns, .column_count = sizeof point_columns / sizeof *point_columns};
    for (size_t i = 0; i < walk->point_count; i++)
        add_point(&table, walk, i);
    gw_text_add_char(pen->out, '\n');
    gw_listing_write(&table, pen);
    gw_listing_free(&table);
}

static void set_judged(gw_listing *table, gw_cell *row, size_t column, const gw_judgement *judgement,
                       const char *unit) {
    gw_shown_judgement judged = gw_shown_judge(judgement, unit);
    char expected[128];
    set_figure(table, row, column, &judged.figure, 4, judged.status);
    gw_cell_set(table, &row[column + 1], gw_shown_print_expected(&judged, expected, sizeof expected), GW_TINT_PLAIN);
}

void gw_text_rails(const gw_walk *walk, const gw_pen *pen) {
    gw_listing table = {.columns = rail_columns, .column_count = sizeof rail_columns / sizeof *rail_columns};
    for (size_t i = 0; i < walk->rail_count; i++) {
        const gw_walk_point *rail = &walk->rails[i];
        gw_cell *row = gw_listing_row(&table);
        if (row == NULL)
            break;
        gw_cell_set(&table, &row[0], rail->name, GW_TINT_STRONG);
        if (rail->readings != NULL || rail->metered) {
            set_judged(&table, row, 1, &rail->dc, gw_shown_volts(rail));
            set_judged(&table, row, 3, &rail->ripple, gw_shown_volts(rail));
        }
        set_words(&table, &row[5], walk, true, i);
    }
    if (walk->rail_count > 0)
        gw_text_add_char(pen->out, '\n');
    gw_listing_write(&table, pen);
    gw_listing_free(&table);
}
