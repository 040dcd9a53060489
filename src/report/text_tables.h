/* The tables of points and of rails in a text report. */
#ifndef GAINWALK_REPORT_TEXT_TABLES_H
#define GAINWALK_REPORT_TEXT_TABLES_H

#include "report/terminal.h"

void gw_text_points(const gw_walk *walk, const gw_pen *pen);
void gw_text_rails(const gw_walk *walk, const gw_pen *pen);

#endif
