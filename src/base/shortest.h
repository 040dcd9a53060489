/* The fewest digits that read back as the same double. Private to the program. */
#ifndef GAINWALK_BASE_SHORTEST_H
#define GAINWALK_BASE_SHORTEST_H

#include <stdbool.h>
#include <stddef.h>

/* Writes what printf makes of `value` by %.15g, or by %.16g or %.17g where fewer digits would not read back as the same
 * double. `out` has room for 40 characters. False where whole numbers of 128 bits can't settle it: outside of 1e-11 to
 * 1e15, and for a power of two. */
bool gw_shortest_print(double value, char *out);

#endif
