/* Plain text for terminals: width, colour, wrapping and tables. Nothing from outside reaches the terminal but through
 * gw_terminal_clean. */
#ifndef GAINWALK_REPORT_TERMINAL_H
#define GAINWALK_REPORT_TERMINAL_H

#include "gainwalk/base.h"
#include "gainwalk/report.h"

typedef enum gw_tint { GW_TINT_PLAIN, GW_TINT_STRONG, GW_TINT_FAINT, GW_TINT_GOOD, GW_TINT_DOUBT, GW_TINT_BAD } gw_tint;

/* Where text goes and how: `width` columns, never under 30. */
typedef struct gw_pen {
    gw_text *out;
    bool color;
    int width;
} gw_pen;

gw_pen gw_pen_new(const gw_report_options *options, gw_text *out);

/* Appends `text` with every character that steers made visible: "\x1b", "\u202e". NULL is "". */
void gw_terminal_clean(const char *text, gw_text *out);

/* Columns that already clean text takes. */
int gw_terminal_columns(const char *text);

/* Writes clean text in a colour, where there is colour. */
void gw_pen_put(const gw_pen *pen, gw_tint tint, const char *text);

/* Writes text (cleaned here) wrapped at blanks: `lead` begins the first line, further lines are indented by as much.
 * Ends with a newline. */
void gw_pen_wrap(const gw_pen *pen, gw_tint tint, const char *lead, const char *text);

/* Writes clean text wrapped to `width` columns; lines after the first are indented. No newline at the end. */
void gw_pen_lines(const gw_pen *pen, gw_tint tint, const char *text, int width, int indent);
void gw_pen_blanks(const gw_pen *pen, int count);

/* A heading with an empty line before it. */
void gw_pen_heading(const gw_pen *pen, const char *text);

/* The colour of a status. */
gw_tint gw_tint_of_status(gw_status status);

/* ---- tables ---------------------------------------------------------------------------------------- */

enum { GW_TABLE_COLUMNS = 9 };

typedef struct gw_cell {
    char *text; /* clean; NULL is empty */
    gw_tint tint;
} gw_cell;

typedef struct gw_listing_column {
    const char *heading;
    bool right;  /* aligned to the right */
    int at_most; /* columns; longer text is cut; 0: the last column, which is wrapped */
} gw_listing_column;

typedef struct gw_listing {
    const gw_listing_column *columns;
    size_t column_count;
    gw_cell (*rows)[GW_TABLE_COLUMNS];
    size_t row_count, capacity;
    bool failed;
} gw_listing;

/* Adds an empty row and returns its cells; NULL (and `failed`) when memory is out. */
gw_cell *gw_listing_row(gw_listing *table);
/* Fills a cell with a copy of `text`, cleaned. `cell` NULL does nothing. */
void gw_cell_set(gw_listing *table, gw_cell *cell, const char *text, gw_tint tint);
/* Writes the table, or, where the terminal is too narrow for it, each row as a short paragraph. */
void gw_listing_write(const gw_listing *table, const gw_pen *pen);
void gw_listing_free(gw_listing *table);

#endif
