/* Tables on a terminal. */
#include "report/terminal.h"

#include "base/unicode.h"

#include <stdlib.h>
#include <string.h>

enum { GAP = 2, LAST_LEAST = 9 };

gw_cell *gw_listing_row(gw_listing *table) {
    if (!gw_array_grow((void **)&table->rows, table->row_count, &table->capacity, sizeof *table->rows)) {
        table->failed = true;
        return NULL;
    }
    gw_cell *row = table->rows[table->row_count++];
    memset(row, 0, sizeof *table->rows);
    return row;
}

void gw_cell_set(gw_listing *table, gw_cell *cell, const char *text, gw_tint tint) {
    gw_text clean = {0};
    if (cell == NULL)
        return;
    gw_terminal_clean(text, &clean);
    table->failed |= clean.failed;
    free(cell->text);
    cell->text = clean.data;
    cell->tint = tint;
}

void gw_listing_free(gw_listing *table) {
    for (size_t i = 0; i < table->row_count; i++)
        for (size_t k = 0; k < GW_TABLE_COLUMNS; k++)
            free(table->rows[i][k].text);
    free(table->rows);
    *table = (gw_listing){0};
}

static const char *cell_text(const gw_cell *cell) {
    return cell->text != NULL ? cell->text : "";
}

/* Widths that the rows need, as far as their columns may; 0 for a column that is empty throughout. Returns the sum with
 * gaps, the last column at its least. */
static int fit_widths(const gw_listing *table, int widths[GW_TABLE_COLUMNS]) {
    int sum = 0;
    for (size_t k = 0; k < table->column_count; k++) {
        widths[k] = 0;
        for (size_t i = 0; i < table->row_count; i++) {
            int columns = gw_terminal_columns(cell_text(&table->rows[i][k]));
            widths[k] = columns > widths[k] ? columns : widths[k];
        }
        if (widths[k] == 0)
            continue;
        int heading = gw_terminal_columns(table->columns[k].heading), at_most = table->columns[k].at_most;
        widths[k] = heading > widths[k] ? heading : widths[k];
        if (at_most > 0 && widths[k] > at_most)
            widths[k] = at_most;
        sum += (at_most > 0 || widths[k] < LAST_LEAST ? widths[k] : LAST_LEAST) + GAP;
    }
    return sum - GAP;
}

/* Cut to `width` columns, the cut marked by an ellipsis. */
static void put_cut(const gw_pen *pen, gw_tint tint, const char *text, int width, bool right) {
    int columns = gw_terminal_columns(text);
    gw_text cut = {0};
    if (columns > width) {
        int used = 0;
        for (const char *at = text, *before = text; (used += gw_unicode_columns(gw_unicode_next(&at))) < width;
             before = at)
            gw_text_add_bytes(&cut, before, (size_t)(at - before));
        gw_text_add(&cut, "\xE2\x80\xA6");
        text = gw_text_string(&cut);
        columns = gw_terminal_columns(text);
    }
    if (right)
        gw_pen_blanks(pen, width - columns);
    gw_pen_put(pen, tint, text);
    if (!right)
        gw_pen_blanks(pen, width - columns);
    gw_text_free(&cut);
}

static void trim_line(gw_text *out) {
    while (out->length > 0 && out->data[out->length - 1] == ' ')
        out->data[--out->length] = '\0';
    gw_text_add_char(out, '\n');
}

static void put_headings(const gw_listing *table, const gw_pen *pen, const int *widths) {
    for (size_t k = 0; k < table->column_count; k++) {
        if (widths[k] == 0)
            continue;
        put_cut(pen, GW_TINT_FAINT, table->columns[k].heading, widths[k], table->columns[k].right);
        gw_pen_blanks(pen, GAP);
    }
    trim_line(pen->out);
}

static void put_row(const gw_listing *table, const gw_pen *pen, const int *widths, const gw_cell *row) {
    int at = 0;
    for (size_t k = 0; k < table->column_count; k++) {
        if (widths[k] == 0)
            continue;
        if (table->columns[k].at_most == 0)
            gw_pen_lines(pen, row[k].tint, cell_text(&row[k]), pen->width - at, at);
        else
            put_cut(pen, row[k].tint, cell_text(&row[k]), widths[k], table->columns[k].right);
        gw_pen_blanks(pen, GAP);
        at += widths[k] + GAP;
    }
    trim_line(pen->out);
}

/* The first and the last cell head a paragraph, the others follow with their headings. */
static void put_paragraph(const gw_listing *table, const gw_pen *pen, const gw_cell *row) {
    size_t last = table->column_count - 1;
    int own = gw_terminal_columns(cell_text(&row[0]));
    own = own < pen->width ? own : pen->width;
    put_cut(pen, GW_TINT_STRONG, cell_text(&row[0]), own, false);
    gw_pen_blanks(pen, GAP);
    int at = own + GAP;
    if (at > pen->width / 2) {
        trim_line(pen->out);
        gw_pen_blanks(pen, GAP);
        at = GAP;
    }
    gw_pen_lines(pen, row[last].tint, cell_text(&row[last]), pen->width - at, at);
    trim_line(pen->out);
    for (size_t k = 1; k < last; k++) {
        if (*cell_text(&row[k]) == '\0')
            continue;
        gw_text_printf(pen->out, "  %s ", table->columns[k].heading);
        gw_pen_put(pen, row[k].tint, cell_text(&row[k]));
        gw_text_add_char(pen->out, '\n');
    }
}

void gw_listing_write(const gw_listing *table, const gw_pen *pen) {
    int widths[GW_TABLE_COLUMNS];
    bool fits = fit_widths(table, widths) <= pen->width;
    pen->out->failed |= table->failed;
    if (fits && table->row_count > 0)
        put_headings(table, pen, widths);
    for (size_t i = 0; i < table->row_count; i++) {
        if (fits)
            put_row(table, pen, widths, table->rows[i]);
        else
            put_paragraph(table, pen, table->rows[i]);
    }
}
