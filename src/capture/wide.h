/* Long texts of two or four bytes a character, made UTF-8 in a file without a name, so that they can be read through a
 * window like any other. */
#ifndef GAINWALK_CAPTURE_WIDE_H
#define GAINWALK_CAPTURE_WIDE_H

#include "capture/input.h"

/* Writes what stands in `from` behind its first `mark` bytes, in the encoding that iconv calls `name` with characters
 * of at least `unit` bytes, as UTF-8 into a file in the folder for temporary files (TMPDIR), which is gone when `out`
 * is closed. What makes no sense becomes '?'. Where no file can be made, `out->descriptor` is -1 and nothing is done.
 * False with an error where the encoding is unknown, the disk is full, or the text became shorter. */
bool gw_wide_keep(gw_input *from, const char *name, size_t mark, size_t unit, gw_input *out, gw_error *error);

#endif
