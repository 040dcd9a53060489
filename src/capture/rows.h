/* Rows of a text read as numbers, one after the other, without allocation a row. */
#ifndef GAINWALK_CAPTURE_ROWS_H
#define GAINWALK_CAPTURE_ROWS_H

#include "capture/cell.h"
#include "capture/script.h"

typedef enum gw_row_kind {
    GW_ROW_DATA,  /* every filled cell is a value, at least one a number */
    GW_ROW_MARKS, /* marks of overload or missing samples only */
    GW_ROW_BARE,  /* separators only */
    GW_ROW_TEXT,
    GW_ROW_END,
} gw_row_kind;

/* Above this number of cells a row is taken for one channel written in a line. */
enum { GW_COLUMNS_MAX = 1024 };

/* Takes a cell of the row in hand that stands behind the first GW_COLUMNS_MAX. False when memory is out. */
typedef bool gw_cell_taker(void *taker, size_t index, const gw_cell *cell);

typedef struct gw_rows {
    const gw_script *script;
    gw_format format;
    const unsigned char *beside; /* of GW_COLUMNS_MAX columns: not 0 where a preamble stands beside the data; or NULL */
    bool lenient;                /* go on behind a cell of text: `cells` then tells of every cell of the row */
    size_t at, end;              /* what is left to read */
    size_t start;                /* of the row just read */
    gw_cell *cells;              /* the first GW_COLUMNS_MAX of the row: no more are kept */
    gw_cell_taker *take;         /* is given the others, one after the other, or NULL */
    void *taker;                 /* its first argument */
    size_t capacity;
    size_t count;              /* cells of the row, those behind its last separator included */
    size_t filled;             /* without empty cells at the end */
    bool marks_end, value_end; /* whether cells that are not kept hold a mark, a number */
    bool failed;               /* memory is out */
} gw_rows;

void gw_rows_start(gw_rows *rows, const gw_script *script, gw_format format, size_t from, size_t to);
gw_row_kind gw_rows_next(gw_rows *rows);
void gw_rows_free(gw_rows *rows);

#endif
