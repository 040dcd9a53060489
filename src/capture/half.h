/* The last line of a text that has no end of its own. Private to src/capture/. */
#ifndef GAINWALK_CAPTURE_HALF_H
#define GAINWALK_CAPTURE_HALF_H

#include "capture/table.h"

/* Whether a last line without an end is only half of one: fewer cells, fewer decimals or exponent digits than any
 * before it. */
bool gw_row_is_half(const gw_table *table, const gw_rows *rows, gw_row_kind kind);

#endif
