#include "capture/columns.h"

#include <limits.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "capture/room.h"

/* Tables of more bytes than this are kept in files, unless there are very many columns. */
enum { MEMORY_MAX = 6 << 20, FILES_MAX = 128 };

static void free_columns(gw_table *table) {
    for (size_t i = 0; i < table->columns_capacity; i++) {
        gw_room_free(table->columns[i].values);
        gw_room_free(table->columns[i].marks);
    }
    free(table->columns);
}

void gw_table_free(gw_table *table) {
    free_columns(table);
    gw_packs_free(table->packs);
    *table = (gw_table){0};
}

void gw_column_unpack(const gw_table *table, size_t column) {
    gw_column *of = &table->columns[column];
    if (of->packed)
        gw_packs_spread(table->packs, column, of->values);
    of->packed = false;
}

gw_times gw_table_times(const gw_table *table, size_t column, double quantum, int jobs) {
    const gw_column *of = &table->columns[column];
    if (of->marks != NULL)
        gw_column_unpack(table, column);
    return (gw_times){.values = of->values,
                      .marks = of->marks,
                      .count = table->rows,
                      .quantum = quantum,
                      .jobs = jobs,
                      .packs = of->packed ? table->packs : NULL,
                      .column = column};
}

static void clear_column(gw_column *column) {
    double *values = column->values;
    gw_room_free(column->marks);
    *column = (gw_column){.values = values, .decimals_least = INT_MAX, .exponent_least = INT_MAX};
}

static bool in_files(const gw_table *table, size_t capacity) {
    return table->width > 0 && table->width <= FILES_MAX && capacity > MEMORY_MAX / (sizeof(double) * table->width);
}

/* Room for a mark a row, those behind `from` zeroed. */
static bool grow_marks(const gw_table *table, gw_column *column, size_t from, size_t capacity) {
    unsigned char *marks = gw_room_grow(column->marks, from, capacity, in_files(table, capacity));
    if (marks == NULL)
        return false;
    column->marks = marks;
    for (size_t i = from; i < capacity; i += GW_ROOM_PASS) {
        size_t count = capacity - i < GW_ROOM_PASS ? capacity - i : GW_ROOM_PASS;
        memset(marks + i, 0, count);
        gw_room_forget(marks, i, count);
    }
    return true;
}

static bool set_marks(gw_table *table, gw_column *column) {
    return column->marks != NULL || grow_marks(table, column, 0, table->capacity);
}

bool gw_table_grow(gw_table *table, size_t capacity) {
    if (capacity > SIZE_MAX / sizeof(double))
        return false;
    for (size_t i = 0; i < table->width; i++) {
        gw_column *column = &table->columns[i];
        double *values = gw_room_grow(column->values, table->rows * sizeof *values, capacity * sizeof *values,
                                      in_files(table, capacity));
        if (values == NULL)
            return false;
        column->values = values;
        if (column->marks != NULL && !grow_marks(table, column, table->capacity, capacity))
            return false;
    }
    table->capacity = capacity;
    return true;
}

bool gw_table_widen(gw_table *table, size_t width) {
    if (width > table->columns_capacity) {
        gw_column *columns = realloc(table->columns, width * sizeof *columns);
        if (columns == NULL)
            return false;
        memset(columns + table->columns_capacity, 0, (width - table->columns_capacity) * sizeof *columns);
        table->columns = columns;
        table->columns_capacity = width;
    }
    for (; table->width < width; table->width++) {
        gw_column *column = &table->columns[table->width];
        clear_column(column);
        double *values = gw_room_grow(column->values, 0, (table->capacity > 0 ? table->capacity : 1) * sizeof *values,
                                      in_files(table, table->capacity));
        if (values == NULL)
            return false;
        column->values = values;
        if (table->rows == 0)
            continue;
        if (!set_marks(table, column))
            return false;
        for (size_t i = 0; i < table->rows; i++) {
            column->values[i] = 0;
            column->marks[i] = GW_SAMPLE_MISSING;
            gw_room_passed(column->values, sizeof *column->values, i);
            gw_room_passed(column->marks, 1, i);
        }
        column->missing = column->empty = table->rows;
    }
    return true;
}

/* Where trailing zeros are dropped, the 1 after 0.9 and the 10 after 9.9 are printed no coarser than these. */
static inline short last_digit(const gw_cell *cell) {
    bool round = cell->last >= 0 && cell->last < 16 && fabs(cell->value) == pow(10, cell->last + cell->digits - 1);
    return (short)(round ? cell->last - 1 : cell->last);
}

void gw_column_note(gw_column *column, const gw_cell *cell) {
    if (cell->digits > column->digits ||
        (cell->digits == column->digits && cell->last >= column->last && last_digit(cell) > column->last)) {
        column->digits = cell->digits;
        column->last = last_digit(cell);
    }
    if (cell->decimals < column->decimals_least)
        column->decimals_least = cell->decimals;
    if (cell->decimals > column->decimals_most)
        column->decimals_most = cell->decimals;
    if (cell->exponent < column->exponent_least)
        column->exponent_least = cell->exponent;
}

/* Anything but a plain number. */
static bool put_odd_cell(gw_table *table, gw_column *column, size_t row, const gw_cell *cell) {
    if (!set_marks(table, column))
        return false;
    unsigned char mark = GW_SAMPLE_PRESENT;
    column->values[row] = 0;
    if (cell == NULL || cell->kind == GW_CELL_EMPTY || cell->kind == GW_CELL_MISSING) {
        mark = GW_SAMPLE_MISSING;
        column->missing++;
        column->empty += cell == NULL || cell->kind == GW_CELL_EMPTY;
    } else if (cell->kind == GW_CELL_OVERLOAD) {
        mark = GW_SAMPLE_OVERLOAD;
        column->overload++;
    } else {
        column->values[row] = cell->value;
        column->numbers++;
        column->clocks += cell->is_clock;
        column->units |= 1U << cell->unit;
        mark |= GW_MARK_OWN_UNIT;
        gw_column_note(column, cell);
    }
    column->marks[row] = mark;
    return true;
}

bool gw_table_put(gw_table *table, gw_column *column, size_t row, const gw_cell *cell) {
    if (cell == NULL || cell->kind != GW_CELL_NUMBER || cell->unit != GW_UNIT_NONE)
        return put_odd_cell(table, column, row, cell);
    column->values[row] = cell->value;
    if (column->marks != NULL)
        column->marks[row] = GW_SAMPLE_PRESENT;
    column->numbers++;
    gw_column_note(column, cell);
    return true;
}

void gw_table_clear(gw_table *table) {
    for (size_t i = 0; i < table->columns_capacity; i++)
        clear_column(&table->columns[i]);
    gw_packs_free(table->packs);
    gw_column *columns = table->columns;
    size_t columns_capacity = table->columns_capacity;
    *table = (gw_table){.columns = columns, .columns_capacity = columns_capacity, .raw_least = SIZE_MAX};
}

bool gw_table_turn(gw_table *table, gw_error *error) {
    gw_table turned = {0};
    gw_table_clear(&turned);
    if (!gw_table_widen(&turned, 1) || !gw_table_grow(&turned, table->width)) {
        gw_table_free(&turned);
        return gw_error_memory(error);
    }
    gw_column *to = &turned.columns[0];
    for (size_t i = 0; i < table->width; i++) {
        const gw_column *from = &table->columns[i];
        unsigned char mark = from->marks != NULL ? from->marks[0] : 0;
        if (mark != 0 && !set_marks(&turned, to)) {
            gw_table_free(&turned);
            return gw_error_memory(error);
        }
        to->values[i] = from->values[0];
        if (to->marks != NULL)
            to->marks[i] = mark;
        to->numbers += from->numbers;
        to->missing += from->missing;
        to->overload += from->overload;
        to->units |= from->units;
        to->decimals_most = from->decimals_most > to->decimals_most ? from->decimals_most : to->decimals_most;
    }
    turned.rows = table->width;
    turned.start = table->start;
    turned.end = table->end;
    turned.cut = table->cut;
    turned.wide = true;
    gw_table_free(table);
    *table = turned;
    return true;
}
