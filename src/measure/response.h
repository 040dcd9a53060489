/* Responses in the making. Private to src/measure/. */
#ifndef GAINWALK_MEASURE_RESPONSE_H
#define GAINWALK_MEASURE_RESPONSE_H

#include "gainwalk/measure.h"

/* Without lines, with room for `bands` of them. NULL when memory is out. */
gw_response *gw_response_new(size_t bands);

/* Middle and corners, from two lines or more. */
void gw_response_finish(gw_response *of);

#endif
