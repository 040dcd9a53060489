/* The steps from a page of text to a capture. */
#ifndef GAINWALK_CAPTURE_TEXT_H
#define GAINWALK_CAPTURE_TEXT_H

#include "capture/fields.h"
#include "capture/store.h"

/* Which rows of the table are used. */
typedef struct gw_extent {
    size_t first, count;
    bool reversed;
} gw_extent;

/* Looks for a settings file of the same stem beside the values, for those that have no interval of their own. */
void gw_text_look_beside(gw_page *page);

/* Finds the rate of a page: from its time column, its preamble, a settings file beside it, or from outside. Rows may
 * be reversed in place. False with an error where the sampling is no even one. */
bool gw_text_find_rate(gw_capture *capture, gw_page *page, const gw_capture_options *options, gw_extent *extent,
                       gw_error *error);

/* Makes channels of the columns: units, codes, probe factor. */
bool gw_text_make_channels(gw_capture *capture, gw_page *page, const gw_capture_options *options, gw_extent extent,
                           gw_error *error);

#endif
