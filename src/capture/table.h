/* The block of numbers in a text: its longest unbroken run of rows of values, as columns. */
#ifndef GAINWALK_CAPTURE_TABLE_H
#define GAINWALK_CAPTURE_TABLE_H

#include "capture/axis.h"
#include "capture/packs.h"
#include "capture/rows.h"
#include "gainwalk/capture.h"

/* A cell had a unit of its own: its value needs no unit any more. Beside GW_SAMPLE_… in a column's marks. */
enum { GW_MARK_OWN_UNIT = 4, GW_MARK_STATE = 3 };

typedef struct gw_column {
    double *values;       /* 0 where marked missing or overloaded */
    unsigned char *marks; /* NULL: all present and without units of their own */
    bool packed;          /* some rows stand in the table's packs, not in `values` */
    size_t numbers, missing, overload, empty, clocks;
    unsigned units; /* bit set of gw_unit_kind of cells */
    /* of the numbers: most significant digits, and the coarsest last digit of those that have as many */
    int digits, last;
    int decimals_least, decimals_most, exponent_least;
} gw_column;

typedef struct gw_table {
    gw_column *columns;
    size_t width, columns_capacity;
    size_t rows, capacity;
    size_t start, end; /* bytes in the script: first row, behind the last */
    size_t short_rows; /* with fewer cells than columns */
    size_t raw_least;  /* fewest cells of a row, empty ones at the end included */
    size_t others;     /* blocks of as many columns and at least 3 rows that were passed over for this one */
    bool cut;          /* the file's last line was left out as half */
    bool wide;         /* one line of very many values */
    size_t wide_rows;  /* lines of very many values in the text */
    gw_packs *packs;   /* rows of a long table; or NULL */
} gw_table;

/* Finds and reads the longest block in bytes `from` to `to`. Rows that hold nothing but marks belong to it where they
 * stand within; a half last line is left out. `beside` as in gw_rows. `expected_rows` is
 * a guess that saves growing, 0 for none. False when memory is out, or a limit is passed.
 */
bool gw_table_read(gw_table *table, const gw_script *script, gw_format format, const unsigned char *beside, size_t from,
                   size_t to, size_t expected_rows, gw_error *error);
void gw_table_free(gw_table *table);

/* A column as times; what has marks is unpacked for it. */
gw_times gw_table_times(const gw_table *table, size_t column, double quantum, int jobs);

/* Makes sure that all values of a column stand in its `values`. */
void gw_column_unpack(const gw_table *table, size_t column);

/* The last printed digit, as gw_column tells it, of rows `first` to `first + count` of a column only: reads the text
 * again. False when memory is out. */
bool gw_table_last_digit(const gw_table *table, const gw_script *script, gw_format format, const unsigned char *beside,
                         size_t column, size_t first, size_t count, int *last);

/* One row of a table of many columns (or of the only one) becomes one column of many rows. */
bool gw_table_turn(gw_table *table, gw_error *error);

#endif
