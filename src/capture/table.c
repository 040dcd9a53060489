#include "capture/table.h"

#include <string.h>

#include "capture/bulk.h"
#include "capture/columns.h"
#include "capture/half.h"
#include "capture/room.h"
#include "capture/strips.h"

enum { FEW_ROWS = 3, STREAK = 8, ROWS_LEAST = 64, ROWS_GUESSED = 4096, BLOCKS_NOTED = 256 };
enum { FEW_MANY = 16, PATIENCE_MAX = 1024 };

typedef struct finder {
    gw_table now, best, wide; /* `wide`: the row in hand, where it has very many values */
    gw_rows rows;
    const gw_script *script;
    size_t full_rows; /* of the block in hand */
    size_t streak;    /* short rows since the last full one */
    size_t marks;     /* rows of missing marks only since the last row with a value */
    size_t wide_rows;
    size_t expected_rows;                /* a guess at the rows of the whole text; 0 without one */
    size_t widths[BLOCKS_NOTED], blocks; /* of the blocks of a few rows and more */
    size_t waited, patience;             /* rows since many at a time were tried; rows until they are again */
    size_t plain_from;                   /* since which byte rows are plain, but for odd ones between strips */
    bool lasted;                         /* the last strips went far: behind the odd row that ended them more may */
    gw_error *error;
} finder;

/* ---- blocks ------------------------------------------------------------------------------------- */

static bool append(finder *f) {
    gw_table *table = &f->now;
    const gw_rows *rows = &f->rows;
    if (table->rows == 0)
        table->start = rows->start;
    if (rows->filled > table->width && !gw_table_widen(table, rows->filled))
        return gw_error_memory(f->error);
    if (table->rows == table->capacity) {
        size_t guess = table->rows < ROWS_LEAST ? ROWS_LEAST : table->rows * 2;
        if (table->rows >= ROWS_GUESSED && table->rows < f->expected_rows)
            guess = f->expected_rows;
        if (!gw_table_grow(table, guess))
            return gw_error_memory(f->error);
    }
    for (size_t i = 0; i < table->width; i++)
        if (!gw_table_put(table, &table->columns[i], table->rows, i < rows->count ? &rows->cells[i] : NULL))
            return gw_error_memory(f->error);
    for (size_t i = 0; table->rows % GW_ROOM_PASS == GW_ROOM_PASS - 1 && i < table->width; i++) {
        gw_room_forget(table->columns[i].values, (table->rows + 1 - GW_ROOM_PASS) * sizeof(double),
                       GW_ROOM_PASS * sizeof(double));
        gw_room_expect(table->columns[i].values, (table->rows + 1) * sizeof(double), GW_ROOM_PASS * sizeof(double),
                       true);
        gw_room_passed(table->columns[i].marks, 1, table->rows);
    }
    table->rows++;
    table->end = rows->at;
    table->short_rows += rows->count < table->width;
    table->raw_least = rows->count < table->raw_least ? rows->count : table->raw_least;
    return true;
}

/* Takes rows back from the end of the block: those that held nothing but marks of missing samples. */
static void take_back(gw_table *table, size_t count) {
    for (size_t i = 0; i < table->width; i++)
        for (size_t row = table->rows - count; row < table->rows; row++)
            table->columns[i].missing -= (table->columns[i].marks[row] & GW_MARK_STATE) == GW_SAMPLE_MISSING;
    table->rows -= count;
}

/* The block in hand is over: it is kept where it is longer than the best so far. */
static void close_block(finder *f) {
    if (f->marks > 0)
        take_back(&f->now, f->marks);
    if (f->now.rows >= FEW_ROWS && f->blocks < BLOCKS_NOTED)
        f->widths[f->blocks++] = f->now.width;
    if (f->now.rows > f->best.rows) {
        gw_table swapped = f->best;
        f->best = f->now;
        f->now = swapped;
    }
    gw_table_clear(&f->now);
    f->full_rows = f->streak = f->marks = 0;
    f->lasted = false;
}

/* Goes back to where a narrower table began below a few wider rows, and reads on from there. */
static void split_streak(finder *f, size_t streak_start) {
    f->rows.at = streak_start;
    f->now.rows -= f->streak - 1;
    f->marks = 0;
    close_block(f);
}

static bool take_data_row(finder *f, size_t *streak_start) {
    const gw_rows *rows = &f->rows;
    gw_table *table = &f->now;
    if (table->rows > 0 && rows->filled > table->width) {
        bool room = table->raw_least >= rows->filled;
        bool shorts = table->rows <= FEW_ROWS && table->width >= 2;
        if (!room && !shorts)
            close_block(f);
    }
    bool is_short = table->rows > 0 && rows->count < table->width;
    if (is_short && f->streak++ == 0)
        *streak_start = rows->start;
    if (!is_short) {
        f->streak = 0;
        f->full_rows++;
    } else if (f->streak >= f->full_rows * 2 + STREAK) {
        split_streak(f, *streak_start);
        return true;
    }
    f->marks = 0;
    return append(f);
}

/* A row of marks only: overload may begin and end a block, missing samples only stand within. */
static bool take_marks_row(finder *f) {
    bool overload = false;
    for (size_t i = 0; i < f->rows.filled; i++)
        overload = overload || f->rows.cells[i].kind == GW_CELL_OVERLOAD;
    if (f->now.rows == 0 && !overload)
        return true;
    if (f->now.rows > 0 && f->rows.filled > f->now.width) {
        close_block(f);
        return true;
    }
    f->marks = overload ? 0 : f->marks + 1;
    return append(f);
}

/* Puts one more value of a row of very many. */
static bool put_wide(gw_table *wide, const gw_cell *cell) {
    if (wide->rows == wide->capacity && !gw_table_grow(wide, wide->rows < ROWS_GUESSED ? ROWS_GUESSED : wide->rows * 2))
        return false;
    gw_column *column = &wide->columns[0];
    if (!gw_table_put(wide, column, wide->rows, cell))
        return false;
    gw_room_passed(column->values, sizeof *column->values, wide->rows);
    gw_room_passed(column->marks, 1, wide->rows);
    wide->rows++;
    return true;
}

/* Begins such a row with the cells that gw_rows has kept. */
static bool begin_wide(finder *f) {
    gw_table_clear(&f->wide);
    if (!gw_table_widen(&f->wide, 1))
        return false;
    f->wide.start = f->rows.start;
    for (size_t i = 0; i < GW_COLUMNS_MAX; i++)
        if (!put_wide(&f->wide, &f->rows.cells[i]))
            return false;
    return true;
}

/* Takes the others; what is empty waits for a value behind it. Only the first such row is wanted. */
static bool take_wide_cell(void *taker, size_t index, const gw_cell *cell) {
    finder *f = taker;
    gw_table *wide = &f->wide;
    if (f->wide_rows > 0 || cell->kind == GW_CELL_EMPTY || cell->kind == GW_CELL_TEXT)
        return true;
    if ((wide->rows == 0 || wide->start != f->rows.start) && !begin_wide(f))
        return false;
    while (wide->rows < index)
        if (!put_wide(wide, NULL))
            return false;
    return put_wide(wide, cell);
}

/* A row of very many values: a channel written in one line. The first is kept, as a block of one column. */
static bool take_wide_row(finder *f) {
    if (f->wide_rows++ > 0)
        return true;
    close_block(f);
    gw_table swapped = f->now;
    f->now = f->wide;
    f->wide = swapped;
    f->now.end = f->rows.at;
    f->now.wide = true;
    close_block(f);
    return true;
}

/* ---- rows --------------------------------------------------------------------------------------- */

static bool take_row(finder *f, gw_row_kind kind, size_t *streak_start) {
    bool last = f->script->unended && f->rows.at + 1 >= f->script->length;
    if (last && gw_row_is_half(&f->now, &f->rows, kind)) {
        f->now.cut = true;
        return true;
    }
    if (kind == GW_ROW_DATA && f->rows.filled > GW_COLUMNS_MAX)
        return take_wide_row(f);
    if (kind == GW_ROW_MARKS && f->rows.filled > GW_COLUMNS_MAX)
        kind = GW_ROW_TEXT; /* marks alone are no capture */
    if (kind == GW_ROW_DATA)
        return take_data_row(f, streak_start);
    if (kind == GW_ROW_MARKS)
        return take_marks_row(f);
    if (kind == GW_ROW_TEXT && f->now.rows > 0)
        close_block(f);
    return true;
}

/* ---- many rows at a time ------------------------------------------------------------------------- */

/* Whether rows like the last ones may follow: as many cells in each, nothing odd of late. */
static bool is_steady(const finder *f) {
    const gw_table *table = &f->now;
    return table->rows >= ROWS_LEAST && table->width > 0 && table->width <= GW_BULK_COLUMNS && f->streak == 0 &&
           f->marks == 0 && table->raw_least <= table->width && f->rows.beside == NULL && !f->rows.format.joined &&
           f->rows.format.separator != ' ';
}

/* Rows until the columns have to grow, or to leave memory: that is append's. */
static size_t rows_free(const gw_table *table) {
    size_t room = table->capacity - table->rows, pass = GW_ROOM_PASS - 1 - table->rows % GW_ROOM_PASS;
    return room < pass ? room : pass;
}

/* What is in memory of the rows to come: where it ends. */
static const char *loaded_end(const finder *f) {
    const gw_script *script = f->script;
    gw_script_need(script, f->rows.at);
    size_t end = f->rows.end < script->length ? f->rows.end : script->length;
    if (script->window != NULL && script->window->safe < end)
        end = script->window->safe;
    return script->bytes + end;
}

/* Counts plain rows that stand in the columns already, and end at byte `at`. */
static void rows_taken(finder *f, size_t count, size_t at) {
    gw_table *table = &f->now;
    for (size_t i = 0; i < table->width; i++) {
        table->columns[i].numbers += count;
        if (table->columns[i].marks != NULL)
            memset(table->columns[i].marks + table->rows, GW_SAMPLE_PRESENT, count);
    }
    table->rows += count;
    f->full_rows += count;
    f->rows.at = table->end = at;
    table->raw_least = table->width < table->raw_least ? table->width : table->raw_least;
}

/* Where a long stretch of rows was plain, so may be the next, strip by strip. Whether they went far. */
static bool take_strips(finder *f) {
    const gw_script *script = f->script;
    size_t at = f->rows.at, end = f->rows.end < script->length ? f->rows.end : script->length;
    if (script->window == NULL || at - f->plain_from < GW_STRIPS_LEAST || (end - at) / 2 < GW_STRIPS_LEAST)
        return false;
    size_t count = gw_strips_take(&f->now, script, f->rows.format, &at, end - GW_STRIPS_LEAST);
    bool lasted = at - f->rows.at >= GW_STRIPS_LASTED;
    if (count > 0)
        rows_taken(f, count, at);
    return lasted;
}

/* Is there another line before `end`, which then is no plain row? */
static bool line_before(const char *at, const char *end) {
    while (at < end && (*at == '\n' || *at == '\r'))
        at++;
    return at < end;
}

/* Reads as many rows as are plain; where these are few, it waits longer before it tries again. */
static void take_many(finder *f) {
    gw_bulk bulk;
    if (f->waited++ < f->patience || !is_steady(f) || f->rows.at >= f->rows.end)
        return;
    if (f->lasted && (f->lasted = take_strips(f)))
        return;
    const char *end = loaded_end(f), *at = f->script->bytes + f->rows.at;
    size_t most = rows_free(&f->now);
    gw_bulk_begin(&bulk, &f->now, f->rows.format);
    size_t count = gw_bulk_rows(&bulk, &at, end, most);
    bool odd = count < most && line_before(at, end);
    f->waited = 0;
    f->patience = count >= FEW_MANY ? 0 : f->patience < PATIENCE_MAX ? 2 * f->patience + 1 : PATIENCE_MAX;
    if (count > 0)
        rows_taken(f, count, (size_t)(at - f->script->bytes));
    if (odd)
        f->plain_from = f->rows.at;
    else
        f->lasted = take_strips(f);
}

bool gw_table_read(gw_table *table, const gw_script *script, gw_format format, const unsigned char *beside, size_t from,
                   size_t to, size_t expected_rows, gw_error *error) {
    finder f = {.script = script, .expected_rows = expected_rows, .error = error};
    size_t streak_start = 0;
    gw_row_kind kind;
    bool right = true;
    gw_table_clear(&f.now);
    gw_table_clear(&f.best);
    gw_table_clear(&f.wide);
    gw_rows_start(&f.rows, script, format, from, to);
    f.rows.beside = beside;
    f.rows.take = take_wide_cell;
    f.rows.taker = &f;
    while (take_many(&f), right && (kind = gw_rows_next(&f.rows)) != GW_ROW_END)
        right = take_row(&f, kind, &streak_start);
    if (f.rows.failed)
        right = gw_error_memory(error);
    if (right)
        close_block(&f);
    f.best.wide_rows = f.wide_rows;
    for (size_t i = 0; i < f.blocks; i++)
        f.best.others += f.widths[i] == f.best.width;
    f.best.others -= f.best.others > 0;
    gw_rows_free(&f.rows);
    gw_table_free(&f.now);
    gw_table_free(&f.wide);
    *table = f.best;
    if (!right)
        gw_table_free(table);
    return right;
}

bool gw_table_last_digit(const gw_table *table, const gw_script *script, gw_format format, const unsigned char *beside,
                         size_t column, size_t first, size_t count, int *last) {
    gw_column digits = {.last = *last};
    gw_rows rows;
    gw_rows_start(&rows, script, format, table->start, table->end);
    rows.beside = beside;
    gw_row_kind kind;
    for (size_t row = 0; row < first + count && (kind = gw_rows_next(&rows)) != GW_ROW_END;) {
        if (row >= first && column < rows.filled && rows.cells[column].kind == GW_CELL_NUMBER)
            gw_column_note(&digits, &rows.cells[column]);
        row += kind == GW_ROW_DATA || kind == GW_ROW_MARKS;
    }
    gw_rows_free(&rows);
    *last = digits.last;
    return !rows.failed;
}
