/* The parts of a comparison. */
#ifndef GAINWALK_RECORD_COMPARE_H
#define GAINWALK_RECORD_COMPARE_H

#include "gainwalk/record.h"

/* What keeps two walks from being compared, as sentences for people, and which figures it spoils. */
typedef struct gw_obstacles {
    const char *spoils[GW_CHANGE_KEYS]; /* why not, by figure; NULL: comparable */
} gw_obstacles;

/* Looks at stimulus, band, probe and coupling. Fills `comparison->differences` and `comparison->comparable`. */
bool gw_compare_conditions(gw_comparison *comparison, gw_obstacles *out, gw_error *error);

/* Fills the changes and the status of one matched point. */
void gw_compare_point(const gw_comparison *comparison, const gw_obstacles *obstacles, gw_comparison_point *point);

/* The sentence on top; NULL when memory is out. */
const char *gw_compare_summary(const gw_comparison *comparison);

/* The stage that leads to point `index`, or NULL. */
const gw_walk_stage *gw_compare_stage(const gw_walk *walk, int index);

#endif
