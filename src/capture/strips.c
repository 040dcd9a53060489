#include "capture/strips.h"

#include <stdatomic.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "capture/bulk.h"
#include "capture/room.h"
#include "capture/turns.h"

/* Bytes of a strip; and behind it, for the end of its last line. */
enum { STRIP = 256 << 10, BEYOND = 4096, PAD = GW_SCRIPT_PAD };

/* What was found in a strip. */
typedef struct found {
    size_t rows;
    size_t end;        /* of the last one, a byte of the text */
    bool whole;        /* all of its lines are rows */
    size_t packed, at; /* bytes of them, packed, and where these go */
} found;

/* All strips, and how far they have come. */
typedef struct strips {
    gw_table *table;
    gw_packs *packs; /* of the table; NULL: values go to its columns */
    const gw_script *script;
    size_t from, to; /* bytes of the text */
    size_t count;
    found *founds;      /* of each; with packs */
    size_t rows;        /* taken */
    size_t reached;     /* the end of the last of them */
    bool stopped;       /* what comes behind is not taken */
    atomic_size_t seen; /* rows read so far, of whichever strips */
    atomic_size_t last; /* strips behind this one are not wanted */
    gw_turns turns;
} strips;

/* What one thread works with. */
typedef struct desk {
    gw_bulk bulk;
    size_t most; /* rows */
    char *text;
    double *values;
    signed char *powers;
    gw_printed printed[GW_BULK_COLUMNS];
    unsigned char *packed;
} desk;

static bool is_line_end(char character) {
    return character == '\n' || character == '\r';
}

static void desk_make(const gw_table *table, gw_format format, desk *out) {
    *out = (desk){.most = 0};
    gw_bulk_begin(&out->bulk, table, format);
    out->most = (STRIP + BEYOND) / (2 * table->width) + 1; /* a digit and a sign behind it for each */
    out->text = malloc(1 + STRIP + BEYOND + PAD);
    out->values = malloc(out->most * table->width * sizeof *out->values);
    out->powers = malloc(out->most * table->width);
    out->packed = malloc(gw_pack_most(table->width, out->most));
    for (size_t c = 0; out->values != NULL && out->powers != NULL && c < table->width; c++) {
        out->bulk.columns[c].values = out->values + c * out->most;
        out->bulk.columns[c].powers = out->powers + c * out->most;
        out->printed[c] = (gw_printed){out->bulk.columns[c].values, out->bulk.columns[c].powers};
    }
}

static bool desk_made(const desk *own) {
    return own->text != NULL && own->values != NULL && own->powers != NULL && own->packed != NULL;
}

static void desk_end(desk *out) {
    free(out->text);
    free(out->values);
    free(out->powers);
    free(out->packed);
}

/* The bytes `from` to `to` of the text, one before them and some behind. False where no line ends there, or the file
 * does. */
static bool load(const strips *all, const desk *own, size_t from, size_t to, size_t *loaded) {
    const gw_window *window = all->script->window;
    gw_input input = *window->input; /* its own note of a failure: others may be reading */
    size_t behind = window->length - to < BEYOND ? window->length - to : BEYOND;
    *loaded = 1 + to - from + behind;
    if (gw_input_read(&input, window->offset + from - 1, own->text, *loaded) < *loaded)
        return false;
    memset(own->text + *loaded, '\n', PAD);
    size_t end = *loaded - behind;
    while (end < *loaded && !is_line_end(own->text[end]))
        end++;
    return end < *loaded;
}

/* Reads the rows of the lines that begin in bytes `from` to `to`. */
static found strip_read(const strips *all, const desk *own, size_t from, size_t to) {
    size_t loaded;
    if (!desk_made(own) || !load(all, own, from, to, &loaded))
        return (found){0};
    const char *end = own->text + 1 + (to - from), *at = own->text;
    while (at < end && !is_line_end(*at))
        at++;
    found out = {.rows = gw_bulk_printed(&own->bulk, &at, end, own->most)};
    out.end = from - 1 + (size_t)(at - own->text);
    while (at < end && is_line_end(*at))
        at++;
    out.whole = at >= end;
    if (all->packs != NULL && out.rows > 0)
        out.packed = gw_pack_strip(own->printed, all->table->width, out.rows, own->packed);
    return out;
}

/* Joins what was found to what came before: the row it begins at. Nothing behind a line that is no row is taken, nor
 * what the table has no room for. */
static size_t join(strips *all, found *what) {
    size_t row = all->table->rows + all->rows;
    if (all->stopped || what->rows > all->table->capacity - row)
        *what = (found){0};
    all->rows += what->rows;
    all->reached = what->rows > 0 ? what->end : all->reached;
    all->stopped = all->stopped || !what->whole;
    return row;
}

/* No strip behind this one is wanted any more. */
static void end_with(strips *all, size_t k) {
    size_t last = all->last;
    while (k < last && !atomic_compare_exchange_weak(&all->last, &last, k))
        ;
}

/* The strip `k` to read: its bytes. False where it is not wanted. */
static bool strip_begin(const strips *all, size_t k, size_t *from, size_t *to) {
    *from = all->from + k * STRIP;
    *to = all->to - *from < STRIP ? all->to : *from + STRIP;
    return k <= all->last;
}

/* Values go to the columns, where those of the strip before end: one after the other. */
static void strip_to_columns(strips *all, const desk *own, size_t k) {
    size_t from, to, row;
    found what = {0};
    if (strip_begin(all, k, &from, &to))
        what = strip_read(all, own, from, to);
    gw_turn_await(&all->turns, k);
    row = join(all, &what);
    if (all->stopped)
        end_with(all, k);
    gw_turn_pass(&all->turns);
    for (size_t c = 0; c < all->table->width; c++) {
        gw_printed_values(&own->printed[c], what.rows);
        gw_room_write(all->table->columns[c].values, row * sizeof(double), own->printed[c].wholes,
                      what.rows * sizeof(double));
    }
}

/* Packed rows stand anywhere in their file: no thread waits for another. What is not wanted in the end is left there.
 */
static void strip_to_packs(strips *all, const desk *own, size_t k) {
    size_t from, to;
    if (!strip_begin(all, k, &from, &to))
        return;
    found what = strip_read(all, own, from, to);
    if (what.rows > 0) {
        what.at = gw_packs_reserve(all->packs, what.packed);
        gw_packs_write(all->packs, what.at, own->packed, what.packed);
    }
    all->founds[k] = what;
    size_t seen = atomic_fetch_add(&all->seen, what.rows) + what.rows;
    if (!what.whole || seen > all->table->capacity - all->table->rows)
        end_with(all, k);
}

static void share(strips *all, gw_format format) {
    desk own;
    desk_make(all->table, format, &own);
#pragma omp for schedule(dynamic)
    for (size_t k = 0; k < all->count; k++)
        if (all->packs != NULL)
            strip_to_packs(all, &own, k);
        else
            strip_to_columns(all, &own, k);
    desk_end(&own);
}

/* Joins the strips that were packed. */
static void join_packed(strips *all) {
    for (size_t k = 0; k < all->count && !all->stopped; k++) {
        size_t row = join(all, &all->founds[k]);
        if (all->founds[k].rows > 0)
            gw_packs_place(all->packs, row, all->founds[k].rows, all->founds[k].at);
    }
}

/* Where the rows are packed: as long as the table keeps its width. */
static gw_packs *packs_of(gw_table *table) {
    if (table->packs == NULL)
        table->packs = gw_packs_new(table->width);
    if (table->packs == NULL || gw_packs_width(table->packs) != table->width)
        return NULL;
    for (size_t c = 0; c < table->width; c++)
        table->columns[c].packed = true;
    return table->packs;
}

size_t gw_strips_take(gw_table *table, const gw_script *script, gw_format format, size_t *at, size_t to) {
    strips all = {.table = table, .script = script, .from = *at, .reached = *at, .last = SIZE_MAX, .turns = GW_TURNS};
    all.to = to < script->window->length ? to : script->window->length;
    if (*at == 0 || all.to <= all.from)
        return 0;
    all.count = (all.to - all.from + STRIP - 1) / STRIP;
    all.packs = packs_of(table);
    all.founds = all.packs != NULL ? calloc(all.count, sizeof *all.founds) : NULL;
    if (all.packs != NULL && all.founds == NULL)
        return 0;
#pragma omp parallel num_threads(script->jobs > 1 ? script->jobs : 1)
    share(&all, format);
    if (all.packs != NULL)
        join_packed(&all);
    free(all.founds);
    *at = all.reached;
    return all.rows;
}
