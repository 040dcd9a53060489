#include "capture/vote.h"

#include <limits.h>
#include <string.h>

#include "capture/table.h"

enum { LOOK_FIRST = 16 << 10, LINES_LEAST = 12, BESIDE_ROWS_MAX = 400 };

/* In the order that decides between equals. */
static const gw_format formats[] = {
    {.separator = '\t', .decimal = '.'}, {.separator = '\t', .decimal = ','},
    {.separator = ';', .decimal = '.'},  {.separator = ';', .decimal = ','},
    {.separator = ',', .decimal = '.'},  {.separator = ' ', .decimal = '.'},
    {.separator = ' ', .decimal = ','},  {.separator = ',', .decimal = '.', .quoted_comma = true},
};

enum { FORMATS = sizeof formats / sizeof *formats };

static bool is_line_end(char character) {
    return character == '\n' || character == '\r';
}

/* The part of the text to look at, and which characters stand in it. */
typedef struct look {
    size_t length;
    size_t lines;                /* that hold something */
    size_t holds[UCHAR_MAX + 1]; /* how often */
} look;

/* At least `least` bytes and some lines, up to a line's end. */
static look part_of(const gw_script *script, size_t least) {
    const char *bytes = script->bytes;
    size_t ends = 0, begin = 0, at = 0, length = script->length; /* begin: of the line in hand */
    bool windowed = script->window != NULL;
    look out = {.length = length};
    while (at < length) {
        if (windowed)
            gw_script_need(script, at);
        if (windowed && gw_script_stopped(script))
            break;
        char character = bytes[at++];
        out.holds[(unsigned char)character]++;
        if (!is_line_end(character))
            continue;
        out.lines += at > begin + 1;
        begin = at;
        if (++ends >= LINES_LEAST && at >= least)
            break;
    }
    out.length = at;
    out.lines += at > begin;
    return out;
}

static bool parts_cells(const look *looked, const gw_format *format) {
    return looked->holds[(unsigned char)format->separator] > 0 || (format->separator == ' ' && looked->holds['\t'] > 0);
}

/* Would an earlier format read the part no otherwise? So it is with one whose separator isn't there and the same
 * decimal sign, and where it is quotes that make the difference and there are none. */
static bool is_repeat(const look *looked, size_t format) {
    const gw_format *f = &formats[format];
    if (f->quoted_comma && looked->holds['"'] == 0)
        return true;
    for (size_t k = 0; k < format && !parts_cells(looked, f); k++)
        if (!parts_cells(looked, &formats[k]) && formats[k].decimal == f->decimal &&
            formats[k].quoted_comma == f->quoted_comma)
            return true;
    return false;
}

/* ---- a preamble beside the data ----------------------------------------------------------------- */

/* For each column: how many rows have a number, or a value at all, and whether any has text. */
typedef struct beside {
    size_t rows, width;
    size_t numbers[GW_COLUMNS_MAX], values[GW_COLUMNS_MAX];
    bool text[GW_COLUMNS_MAX];
} beside;

static bool count_cells(beside *b, gw_rows *rows, size_t limit) {
    gw_row_kind kind;
    while (b->rows < BESIDE_ROWS_MAX && (kind = gw_rows_next(rows)) != GW_ROW_END) {
        if (rows->count > GW_COLUMNS_MAX)
            return false;
        if (b->numbers[0] > 0)
            return false; /* no column of text on the left */
        if (rows->at + 1 >= limit && rows->at + 1 >= rows->script->length && b->rows > 0)
            break; /* the last line may be half */
        b->rows++;
        b->width = rows->filled > b->width ? rows->filled : b->width;
        for (size_t i = 0; i < rows->filled; i++) {
            b->numbers[i] += rows->cells[i].kind == GW_CELL_NUMBER;
            b->values[i] += rows->cells[i].kind >= GW_CELL_MISSING;
            b->text[i] = b->text[i] || rows->cells[i].kind == GW_CELL_TEXT;
        }
    }
    return true;
}

/* Marks what is preamble: all but the last two columns of each run of columns that hold a value in every row. */
static size_t mark_pairs(const beside *b, unsigned char *preamble) {
    size_t pairs = 0;
    memset(preamble, 1, GW_COLUMNS_MAX);
    for (size_t i = 0, run = 0; i <= b->width && i < GW_COLUMNS_MAX; i++) {
        bool data = i < b->width && b->values[i] == b->rows && b->numbers[i] > 0;
        if (!data && run >= 2 && b->numbers[i - 2] == b->rows) {
            preamble[i - 1] = preamble[i - 2] = 0;
            pairs++;
        }
        run = data ? run + 1 : 0;
    }
    return pairs;
}

static size_t look_beside(const gw_script *script, gw_format format, size_t part, unsigned char *preamble,
                          bool *failed) {
    beside b = {0};
    gw_rows rows;
    gw_rows_start(&rows, script, format, 0, part);
    rows.lenient = true;
    bool right = count_cells(&b, &rows, part);
    *failed = rows.failed;
    gw_rows_free(&rows);
    bool left_is_text = b.numbers[0] == 0 && b.text[0];
    return right && b.rows >= 2 && left_is_text ? mark_pairs(&b, preamble) : 0;
}

static bool vote_beside(gw_vote *vote, const gw_script *script, const look *looked, gw_error *error) {
    unsigned char preamble[GW_COLUMNS_MAX];
    size_t best = 0;
    for (size_t i = 0; i < FORMATS; i++) {
        bool failed = false;
        bool possible = formats[i].separator != ' ' && parts_cells(looked, &formats[i]) && !is_repeat(looked, i);
        size_t pairs = possible ? look_beside(script, formats[i], looked->length, preamble, &failed) : 0;
        if (failed)
            return gw_error_memory(error);
        if (pairs <= best)
            continue;
        best = pairs;
        vote->format = formats[i];
        vote->beside = true;
        memcpy(vote->preamble, preamble, sizeof preamble);
    }
    return true;
}

/* ---- the vote ----------------------------------------------------------------------------------- */

/* The best format so far. */
typedef struct standing {
    size_t format, rows;
    bool wide, reaches;
    size_t middle;       /* byte where a line in the middle of its block begins */
    size_t above, below; /* lines of the part before that one, and behind it */
} standing;

/* Finds the line, and counts the others. Of a text that is not in memory as a whole it finds none. */
static void middle_find(const gw_script *script, const look *looked, const gw_table *table, standing *best) {
    size_t at = 0, above = 0, middle = table->start + (table->end - table->start) / 2;
    const char *bytes = script->bytes;
    best->middle = script->length;
    if (script->window != NULL)
        return;
    for (size_t begin = 0; at < looked->length; at++) {
        if (begin == at && at >= middle && !is_line_end(bytes[at]))
            break;
        if (!is_line_end(bytes[at]))
            continue;
        above += at > begin;
        begin = at + 1;
    }
    best->middle = at;
    best->above = above;
    best->below = looked->lines - above - 1;
}

/* Can the text hold as many rows as the best has, read in this format? A line of text ends a block: where the one in
 * the middle of the best is text, there are no more rows than lines on either side of it, unless a line is so long
 * that it is a column. */
static bool may_win(const gw_script *script, const look *looked, size_t format, const standing *best, bool *failed) {
    const gw_format *f = &formats[format];
    size_t cells = looked->holds[(unsigned char)f->separator] + (f->separator == ' ' ? looked->holds['\t'] : 0);
    if (best->rows == 0 || best->middle >= looked->length || cells >= GW_COLUMNS_MAX || best->above >= best->rows ||
        best->below >= best->rows)
        return true;
    gw_rows rows;
    gw_rows_start(&rows, script, *f, best->middle, looked->length);
    bool text = gw_rows_next(&rows) == GW_ROW_TEXT; /* not where memory is out */
    *failed = rows.failed;
    gw_rows_free(&rows);
    return !text;
}

/* More rows win; of as many, those of several columns; then the earlier format. */
static bool is_better(const standing *one, const standing *best) {
    if (one->rows != best->rows || one->rows == 0)
        return one->rows > best->rows;
    return one->wide != best->wide ? one->wide : one->format < best->format;
}

static bool format_try(gw_vote *vote, const gw_script *script, const look *looked, size_t format, standing *best,
                       gw_error *error) {
    gw_table table;
    bool failed = false;
    if (!may_win(script, looked, format, best, &failed))
        return true;
    if (failed)
        return gw_error_memory(error);
    if (!gw_table_read(&table, script, formats[format], NULL, 0, looked->length, 0, error))
        return false;
    standing here = {.format = format,
                     .rows = table.rows - (table.short_rows < table.rows ? table.short_rows : 0),
                     .wide = table.width > 1,
                     .reaches = table.end + 2 >= looked->length};
    if (is_better(&here, best)) {
        *best = here;
        middle_find(script, looked, &table, best);
        double share = (double)script->length / (double)(table.end - table.start + 1);
        vote->expected_rows = (size_t)((double)table.rows * share * 1.05) + 64;
    }
    gw_table_free(&table);
    return true;
}

/* Those formats first whose separator stands in the text: most others then cannot win. `*reaches`: whether the best
 * block reaches the end of the part looked at; then the rest of the text is likely more of it. */
static bool vote_part(gw_vote *vote, const gw_script *script, const look *looked, bool *reaches, gw_error *error) {
    standing best = {.rows = 0};
    for (int parting = 1; parting >= 0; parting--)
        for (size_t i = 0; i < FORMATS; i++)
            if (parts_cells(looked, &formats[i]) == parting && !is_repeat(looked, i) &&
                !format_try(vote, script, looked, i, &best, error))
                return false;
    if (best.rows > 0)
        vote->format = formats[best.format];
    vote->rows = best.rows;
    *reaches = best.reaches;
    return true;
}

bool gw_vote_take(gw_vote *vote, const gw_script *script, gw_error *error) {
    memset(vote, 0, sizeof *vote);
    bool reaches = false;
    for (size_t least = LOOK_FIRST; !reaches; least *= 8) {
        look looked = part_of(script, least);
        if (least == LOOK_FIRST && !vote_beside(vote, script, &looked, error))
            return false;
        if (vote->beside)
            return true;
        if (!vote_part(vote, script, &looked, &reaches, error))
            return false;
        if (looked.length >= script->length || least > SIZE_MAX / 16)
            break;
    }
    return true;
}
