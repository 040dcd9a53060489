/* The columns of a table while it is read: room for their rows, and the cells put into them. */
#ifndef GAINWALK_CAPTURE_COLUMNS_H
#define GAINWALK_CAPTURE_COLUMNS_H

#include "capture/table.h"

/* Empties the table; the room that its columns have stays theirs. */
void gw_table_clear(gw_table *table);

/* Adds empty columns up to `width`, as long as the others. False when memory is out, as below. */
bool gw_table_widen(gw_table *table, size_t width);

/* Room for `capacity` rows. */
bool gw_table_grow(gw_table *table, size_t capacity);

/* Puts a cell, or none (NULL), into a row that there is room for. */
bool gw_table_put(gw_table *table, gw_column *column, size_t row, const gw_cell *cell);

/* Notes the digits of a number as printed. */
void gw_column_note(gw_column *column, const gw_cell *cell);

#endif
