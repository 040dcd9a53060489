/* What is odd at a point, in words: the same in every format. */
#ifndef GAINWALK_REPORT_ODD_H
#define GAINWALK_REPORT_ODD_H

#include "report/shown.h"

/* "ok", "OFF: gain, DC; unsure: THD", "unprobed", "UNREADABLE: why" … for point `index`, or for rail `index`. */
void gw_odd_words(const gw_walk *walk, bool rail, size_t index, gw_text *out);

/* The worse of what is judged of the point itself and of the stage that leads to it, by the names in the tables of
 * judged figures (either may be NULL). GW_UNJUDGED where nothing is judged. */
gw_status gw_odd_status(const gw_walk *walk, size_t index, const char *point_key, const char *stage_key);

/* "FAULT", "IN ORDER", "UNSURE", "INCOMPLETE". */
const char *gw_odd_verdict(gw_verdict_status status);

#endif
