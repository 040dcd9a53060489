/* Columns of plain numbers as they were printed: whole numbers and a power of ten, packed and kept in a file without a
 * name. A third or less of what doubles take, and the same doubles come of it. Private to src/capture/.
 *
 * A strip of rows has a straight line through each column, and what is left over it, mostly a byte or two a value: of
 * times that are printed exactly nothing. Where powers differ, or numbers are too large, doubles are kept. */
#ifndef GAINWALK_CAPTURE_PACKS_H
#define GAINWALK_CAPTURE_PACKS_H

#include "gainwalk/base.h"

typedef struct gw_packs gw_packs;

/* NULL where no such file can be made, or memory is out. */
gw_packs *gw_packs_new(size_t width);
void gw_packs_free(gw_packs *packs);

size_t gw_packs_width(const gw_packs *packs);

/* Powers of ten are -22 to 22, or this one: minus zero, of which a whole number has none. */
enum { GW_POWER_MINUS_ZERO = 127 };

/* Numbers of a column: whole ones, each to be multiplied by its power of ten. */
typedef struct gw_printed {
    double *wholes;
    signed char *powers;
} gw_printed;

/* What gw_number_parse would have made of them, in place. */
void gw_printed_values(const gw_printed *printed, size_t count);

/* Bytes that a strip may take when it is packed. */
size_t gw_pack_most(size_t width, size_t rows);

/* Packs the columns of a strip into `bytes`; returns how many these are. */
size_t gw_pack_strip(const gw_printed *columns, size_t width, size_t rows, unsigned char *bytes);

/* Where so many bytes are to be written, and writing them; for any thread. After a failure gw_packs_good is false. */
size_t gw_packs_reserve(gw_packs *packs, size_t length);
void gw_packs_write(gw_packs *packs, size_t at, const unsigned char *bytes, size_t length);

/* What was written there is a strip that begins at `row`, behind all rows of those before it. For one thread. */
void gw_packs_place(gw_packs *packs, size_t row, size_t rows, size_t at);

/* False with an error where not all could be written, and read. NULL is good. */
bool gw_packs_good(const gw_packs *packs, gw_error *error);

/* Rows `first` to `first + count` of a column; those that stand in no strip come from `room`, which has all rows. */
void gw_packs_fetch(gw_packs *packs, size_t column, const double *room, size_t first, size_t count, double *values);

/* Writes the rows of all strips into `room`. */
void gw_packs_spread(gw_packs *packs, size_t column, double *room);

#endif
