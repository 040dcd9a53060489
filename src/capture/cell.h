/* One cell of a table of numbers. Strict: it must be a value as a whole, and no locale has a say.
 *
 * A value is a number, perhaps with a unit of its own, a clock time, or a mark of overload or of a missing sample. */
#ifndef GAINWALK_CAPTURE_CELL_H
#define GAINWALK_CAPTURE_CELL_H

#include "capture/units.h"

/* How the numbers of a file are written. */
typedef struct gw_format {
    char separator;    /* '\t', ';', ',' or ' ' for runs of blanks */
    char decimal;      /* '.' or ',' */
    bool quoted_comma; /* comma separates, and is the decimal sign within quotes */
    bool joined;       /* comma separates and is the decimal sign: two fields are one number */
} gw_format;

typedef enum gw_cell_kind {
    GW_CELL_TEXT, /* no value */
    GW_CELL_EMPTY,
    GW_CELL_MISSING,
    GW_CELL_OVERLOAD,
    GW_CELL_NUMBER,
} gw_cell_kind;

/* `digits`: significant ones as printed. `last`: power of ten of the last printed digit, prefix of the cell's unit
 * included. `decimals`: digits behind the decimal sign. `exponent`: digits of the exponent. */
typedef struct gw_cell {
    double value; /* in the unit without prefix where the cell has its own; seconds of a clock */
    short digits, last, decimals, exponent;
    unsigned char kind; /* gw_cell_kind */
    unsigned char unit; /* gw_unit_kind of the cell's own unit */
    bool is_clock;
} gw_cell;

/* Values from here on are marks of overload in files that know no infinity (a common practice of instruments:
 * SCPI 1999, volume 1, section 7.2.1.4, 9.9E37, written with few digits). */
#define GW_OVERLOAD_LEAST 9.8e37

/* Reads a cell, blanks and quotes around it included. */
void gw_cell_parse(const char *text, size_t length, gw_format format, gw_cell *out);

/* Reads a plain number (sign, digits, decimal sign, exponent) at `text`, which must be followed somewhere by a
 * character that no number holds. Returns where it ends, or NULL when there is none or it needs more thought (then
 * *out is untouched). The result is the nearest double. */
const char *gw_cell_number(const char *text, char decimal, gw_cell *out);

#endif
