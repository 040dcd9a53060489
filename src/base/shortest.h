/* Doubles in as few digits as read back the same. Private to src/. */
#ifndef GAINWALK_BASE_SHORTEST_H
#define GAINWALK_BASE_SHORTEST_H

#include <stddef.h>

enum { GW_SHORTEST_SIZE = 40 };

/* Writes a finite value with 15, 16 or 17 significant digits, the least that gw_number_parse makes the same double of,
 * in the form of gw_number_print. Of 0 and -0 the same. */
void gw_number_shortest(double value, char out[GW_SHORTEST_SIZE]);

#endif
