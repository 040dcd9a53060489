/* Changes as they are shown. */
#ifndef GAINWALK_REPORT_CHANGE_H
#define GAINWALK_REPORT_CHANGE_H

#include "report/shown.h"

typedef struct gw_shown_change {
    gw_shown before, after;
    bool has_change;
    double change, u95;
    const char *unit; /* of the change: dB for gains and levels, else that of the figures */
    gw_change_status status;
    const char *why; /* NULL */
} gw_shown_change;

/* Names of the changes for people, by key: "level", "gain", "DC" … */
extern const char *const gw_change_titles[GW_CHANGE_KEYS];

gw_shown_change gw_shown_change_of(const gw_comparison *comparison, const gw_comparison_point *point,
                                   gw_change_key key);

/* "+31.2 dB", "-6.1 mV"; "" where there is none. Returns `out`. */
char *gw_shown_print_change(const gw_shown_change *change, char *out, size_t size);

/* Unit of volts at a compared point. */
const char *gw_change_volts(const gw_comparison *comparison, const gw_comparison_point *point);

#endif
