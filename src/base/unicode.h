/* UTF-8 taken apart, and which characters could play tricks on whoever looks at them. */
#ifndef GAINWALK_BASE_UNICODE_H
#define GAINWALK_BASE_UNICODE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* The character at `*text` (ended by NUL), and moves past it. Bytes that are no UTF-8 give U+FFFD, one byte at a time.
 * 0 at the end, where it stays. */
uint32_t gw_unicode_next(const char **text);

/* Appends the UTF-8 form of `code` to `out` (5 bytes with its NUL) and returns its length. */
size_t gw_unicode_put(uint32_t code, char out[5]);

/* Characters that steer instead of show: control characters (tab and newline too), marks that turn the direction of
 * writing (Unicode Standard Annex 9), line separators, byte-order marks, annotation and tag characters. */
bool gw_unicode_steers(uint32_t code);

/* Columns on a terminal: 0 for combining marks, 2 for wide characters (Unicode Standard Annex 11, by block), else 1. */
int gw_unicode_columns(uint32_t code);

#endif
