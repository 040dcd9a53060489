/* The JSON that every report shares. Shapes and names are promised to readers: a change raises `version`. */
#ifndef GAINWALK_REPORT_JSON_H
#define GAINWALK_REPORT_JSON_H

#include "base/tree.h"
#include "report/shown.h"

enum { GW_JSON_VERSION = 1 };

/* {"format": …, "version": …, "program": …}. */
json_t *gw_json_root(gw_tree *tree, const char *format, const gw_report_options *options);

/* A figure: value and u95; below and why; or only why. */
void gw_json_add_shown(gw_tree *tree, json_t *to, const char *key, const gw_shown *shown);

/* A figure with what was expected of it and how it was judged. */
void gw_json_add_judged(gw_tree *tree, json_t *to, const char *key, const gw_shown_judgement *judged);

/* The same for one line of many: with the number of the input that it tells of. */
json_t *gw_json_line(gw_tree *tree, const char *format, size_t number, const gw_report_options *options);

/* A file that could not be read: its name, and why. */
json_t *gw_json_refused(gw_tree *tree, const char *file, const char *why);

/* The readings of one channel. */
json_t *gw_json_capture(gw_tree *tree, const gw_readings *readings);

#endif
