#include "capture/rows.h"

#include <stdlib.h>
#include <string.h>

void gw_rows_start(gw_rows *rows, const gw_script *script, gw_format format, size_t from, size_t to) {
    *rows = (gw_rows){.script = script, .format = format, .at = from, .end = to};
}

void gw_rows_free(gw_rows *rows) {
    free(rows->cells);
    rows->cells = NULL;
}

static inline bool is_line_end(char character) {
    return character == '\n' || character == '\r';
}

static bool more_cells(gw_rows *rows) {
    size_t capacity = rows->capacity == 0 ? 64 : rows->capacity * 2;
    gw_cell *cells = capacity <= SIZE_MAX / sizeof *cells ? realloc(rows->cells, capacity * sizeof *cells) : NULL;
    if (cells == NULL) {
        rows->failed = true;
        return false;
    }
    rows->cells = cells;
    rows->capacity = capacity;
    return true;
}

static inline bool is_separator(const gw_format *format, char character) {
    return character == format->separator || (format->separator == ' ' && character == '\t');
}

/* The end of a cell: a separator outside quotes (the second one where two fields make a number), or the line's end. */
static const char *cell_end(const gw_format *format, const char *at) {
    bool quoted = false, joined = format->joined;
    for (; !is_line_end(*at); at++) {
        if (*at == '"')
            quoted = !quoted;
        else if (!quoted && is_separator(format, *at)) {
            if (!joined)
                break;
            joined = false;
        }
    }
    return at;
}

static inline const char *skip_blanks(const gw_format *format, const char *at) {
    while (*at == ' ' || (*at == '\t' && format->separator != '\t'))
        at++;
    return at;
}

/* Reads one cell at `at`; returns where its separator or the line's end stands. */
static inline const char *take_cell(const gw_rows *rows, const char *at, gw_cell *cell) {
    const gw_format *format = &rows->format;
    const char *text = skip_blanks(format, at);
    const char *end = format->joined ? NULL : gw_cell_number(text, format->decimal, cell);
    if (end != NULL) {
        if (is_separator(format, *end) || is_line_end(*end))
            return end;
        end = format->separator == ' ' ? end : skip_blanks(format, end);
        if (is_separator(format, *end) || is_line_end(*end))
            return end;
    }
    end = cell_end(format, text);
    gw_cell_parse(text, (size_t)(end - text), *format, cell);
    return end;
}

static gw_row_kind kind_of(const gw_rows *rows, bool text) {
    if (text)
        return GW_ROW_TEXT;
    bool any = rows->marks_end;
    if (rows->value_end)
        return GW_ROW_DATA;
    for (size_t i = 0; i < rows->filled && i < GW_COLUMNS_MAX; i++) {
        if (rows->cells[i].kind == GW_CELL_NUMBER)
            return GW_ROW_DATA;
        any = any || rows->cells[i].kind != GW_CELL_EMPTY;
    }
    return any ? GW_ROW_MARKS : GW_ROW_BARE;
}

static inline bool is_beside(const gw_rows *rows, size_t column) {
    return rows->beside != NULL && column < GW_COLUMNS_MAX && rows->beside[column];
}

static const char *line_end(const char *at) {
    while (!is_line_end(*at))
        at++;
    return at;
}

/* Where the next cell of the row is put: one place for all that are not kept. NULL when memory is out. */
static inline gw_cell *next_cell(gw_rows *rows, gw_cell *passing) {
    if (rows->count >= GW_COLUMNS_MAX)
        return passing;
    return rows->count < rows->capacity || more_cells(rows) ? &rows->cells[rows->count] : NULL;
}

static bool hand_on(gw_rows *rows, const gw_cell *cell) {
    rows->value_end = rows->value_end || cell->kind == GW_CELL_NUMBER;
    rows->marks_end = rows->marks_end || cell->kind == GW_CELL_MISSING || cell->kind == GW_CELL_OVERLOAD;
    rows->failed = rows->take != NULL && !rows->take(rows->taker, rows->count, cell);
    return !rows->failed;
}

static gw_row_kind read_row(gw_rows *rows, const char *at) {
    bool text = false, blanks = rows->format.separator == ' ';
    gw_cell passing;
    rows->count = rows->filled = 0;
    rows->marks_end = rows->value_end = false;
    for (bool more = true; more;) {
        if (blanks && is_line_end(*(at = skip_blanks(&rows->format, at))) && rows->count > 0)
            break;
        gw_cell *cell = next_cell(rows, &passing);
        if (cell == NULL)
            return GW_ROW_END;
        if (is_beside(rows, rows->count)) {
            at = cell_end(&rows->format, at);
            *cell = (gw_cell){.kind = GW_CELL_EMPTY};
        } else {
            at = take_cell(rows, at, cell);
        }
        if (cell == &passing && !hand_on(rows, cell))
            return GW_ROW_END;
        rows->count++;
        if (cell->kind != GW_CELL_EMPTY)
            rows->filled = rows->count;
        text = text || cell->kind == GW_CELL_TEXT;
        if (text && !rows->lenient)
            break;
        more = !is_line_end(*at);
        at++;
    }
    rows->at = (size_t)(line_end(text && !rows->lenient ? at : at - 1) - rows->script->bytes);
    return kind_of(rows, text);
}

gw_row_kind gw_rows_next(gw_rows *rows) {
    const gw_script *script = rows->script;
    const char *bytes = script->bytes;
    gw_script_need(script, rows->at);
    if (gw_script_stopped(script))
        return GW_ROW_END;
    while (rows->at < rows->end && is_line_end(bytes[rows->at]))
        gw_script_need(script, ++rows->at);
    rows->start = rows->at;
    return rows->at < rows->end && !gw_script_stopped(script) ? read_row(rows, bytes + rows->at) : GW_ROW_END;
}
