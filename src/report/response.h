/* Responses of a walk's stages, told. */
#ifndef GAINWALK_REPORT_RESPONSE_H
#define GAINWALK_REPORT_RESPONSE_H

#include "report/shown.h"

/* Whether a sweep went through any stage. */
bool gw_response_any(const gw_walk *walk);

/* "34.1 Hz", or "none in the sweep"; measured, or expected. */
char *gw_response_corner(const gw_judgement *corner, bool expected, char *out, size_t size);

/* The level of a point at a frequency, between its lines; 0 outside of them. `*u95` likewise. */
double gw_response_level(const gw_walk_point *point, double frequency_hz, double *u95);

#endif
