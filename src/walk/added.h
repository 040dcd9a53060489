#ifndef GAINWALK_WALK_ADDED_H
#define GAINWALK_WALK_ADDED_H

#include "walk/walker.h"

/* Gross is, beside its share of the signal, so many times the input's. */
static const double gross_times = 3;
/* Noise of about a step belongs to the capture. */
static const double floor_times = 1.5;

/* One quantity at one stage. All in the unit of the reading (volts, or a ratio), referred to the stage's output. */
typedef struct gw_added {
    bool fed; /* something is known of what came in: the source's own noise is nobody's fault here */
    gw_measure_kind kind;
    int from; /* where it is compared with */
    const gw_limit *limit;
    const char *why;               /* no value: why */
    bool out_below, in_below, has; /* upper bounds; a value is there */
    double out, out_u95, in, in_u95;
    bool powers;  /* adds in power (noise), not perhaps in phase */
    double floor; /* the instrument's own */
    double whole; /* what `gross` is a share of */
    double gross;
} gw_added;

/* What a stage adds to one quantity, against the stated limit, or against what any stage adds in health. */
gw_judgement gw_added_judge(const gw_walker *walker, const gw_added *a);
/* Is it far beyond what any stage adds in health? GW_UNJUDGED where it is not. */
gw_status gw_added_gross(const gw_added *a);

#endif
