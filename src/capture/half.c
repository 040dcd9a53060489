#include "capture/half.h"

#include <string.h>

bool gw_row_is_half(const gw_table *table, const gw_rows *rows, gw_row_kind kind) {
    if (table->rows == 0 || table->wide)
        return false;
    if (kind == GW_ROW_TEXT) /* begun as a row of numbers */
        return rows->count > 1 ||
               (table->width == 1 && strchr("+-.0123456789", rows->script->bytes[rows->start]) != NULL);
    bool filled = table->width > 0 && table->columns[table->width - 1].empty == 0;
    if (rows->count < table->raw_least || (rows->filled < table->width && filled))
        return true;
    for (size_t i = 0; i < rows->filled && i < table->width; i++) {
        const gw_cell *cell = &rows->cells[i];
        const gw_column *column = &table->columns[i];
        if (cell->kind == GW_CELL_NUMBER && column->numbers > 0 &&
            (cell->decimals < column->decimals_least || cell->exponent < column->exponent_least))
            return true;
    }
    return false;
}
