/* Comma-separated values (RFC 4180) for spreadsheets: text never becomes a formula, numbers have a point. */
#ifndef GAINWALK_REPORT_CSV_H
#define GAINWALK_REPORT_CSV_H

#include "report/shown.h"

/* One line after the other. Start with `{.out = …}`. */
typedef struct gw_csv {
    gw_text *out;
    bool inside; /* a cell stands before on this line */
} gw_csv;

/* A text cell, quoted where needed. What a spreadsheet would take for a formula gets an apostrophe before it;
 * characters that steer are left out. NULL is an empty cell. */
void gw_csv_text(gw_csv *csv, const char *text);
void gw_csv_number(gw_csv *csv, double value);
void gw_csv_empty(gw_csv *csv);
/* Two cells: the value ("<0.4" for a bound) and its u95. */
void gw_csv_shown(gw_csv *csv, const gw_shown *shown);
/* A heading with its unit, "gain (dB)", and for the uncertainty "gain u95 (dB)". */
void gw_csv_heading(gw_csv *csv, const char *name, const char *unit);
void gw_csv_headings(gw_csv *csv, const char *name, const char *unit);
/* The unit in a heading; `unit` is that of the captures, or "V or FS" where they are mixed. */
const char *gw_csv_unit(gw_reading_key key, const char *unit);
void gw_csv_end(gw_csv *csv);

#endif
