/* Rows of plain numbers from a long text, strip by strip, by several threads. Private to src/capture/. */
#ifndef GAINWALK_CAPTURE_STRIPS_H
#define GAINWALK_CAPTURE_STRIPS_H

#include "capture/table.h"

/* Bytes of text from which on strips are worth their while; and after which another row that tells something new, as
 * where times get a place more, is a rare one. */
enum { GW_STRIPS_LEAST = 1 << 18, GW_STRIPS_LASTED = 1 << 20 };

/* Reads rows from byte `*at` of a text in a window on (the end of a row, or a line's beginning), up to byte `to`, as
 * long as they are plain as gw_bulk_rows has it, into the table's columns behind the rows it has, as far as their room
 * goes: packed, where a file for that can be made. `*at` is then the end of the last one. Returns how many; the table's
 * counts stay as they are. What is not read here
 * is for others to read, and to tell why not. */
size_t gw_strips_take(gw_table *table, const gw_script *script, gw_format format, size_t *at, size_t to);

#endif
