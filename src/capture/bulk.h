/* Rows of plain numbers, many at a time: what most of a long table is. */
#ifndef GAINWALK_CAPTURE_BULK_H
#define GAINWALK_CAPTURE_BULK_H

#include "capture/table.h"

enum { GW_BULK_COLUMNS = 64 };

/* What a column is known to hold: a number that tells nothing new stays within. */
typedef struct gw_bulk_column {
    double *values;      /* or whole numbers, where powers go apart */
    signed char *powers; /* of ten; NULL: values are wanted */
    uint64_t most, many; /* digits of more places than any before; of as many as the most */
    int last;            /* coarsest last place of those with as many */
    int decimals_least, decimals_most, exponent_least;
} gw_bulk_column;

typedef struct gw_bulk {
    size_t width;
    char separator, decimal;
    gw_bulk_column columns[GW_BULK_COLUMNS];
} gw_bulk;

/* Ready for rows behind those that the table has. */
void gw_bulk_begin(gw_bulk *bulk, const gw_table *table, gw_format format);

/* Reads rows from `*at` on, a line's beginning or the end of the one before, into the columns' values from their
 * beginning on, `most` at most, as long as they are plain numbers, as many as there are columns, and tell nothing new
 * of any. `*at` is then the end of the last one. Lines must be whole before `end`, which is not read. Returns how many.
 */
size_t gw_bulk_rows(const gw_bulk *bulk, const char **at, const char *end, size_t most);

/* The same, but whole numbers and powers of ten, as gw_printed has them. */
size_t gw_bulk_printed(const gw_bulk *bulk, const char **at, const char *end, size_t most);

#endif
