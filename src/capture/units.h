/* Unit words of headings, preambles and cells. */
#ifndef GAINWALK_CAPTURE_UNITS_H
#define GAINWALK_CAPTURE_UNITS_H

#include "gainwalk/base.h"

typedef enum gw_unit_kind {
    GW_UNIT_NONE,
    GW_UNIT_SECOND,
    GW_UNIT_VOLT,
    GW_UNIT_AMPERE,
    GW_UNIT_HERTZ,
    GW_UNIT_DECIBEL,
    GW_UNIT_DIVISION,
    GW_UNIT_CODE,
    GW_UNIT_LOGIC,
    GW_UNIT_INDEX,
    GW_UNIT_OTHER,
} gw_unit_kind;

typedef struct gw_unit {
    gw_unit_kind kind;
    int power; /* of ten: -3 for milli */
} gw_unit;

/* The unit that the whole of `text` names, brackets around it taken off; GW_UNIT_NONE when it is none. Only the
 * prefixes m and M differ by case. */
gw_unit gw_unit_find(const char *text);

/* As gw_unit_find for a rate of samples: Hz, S/s, Sa/s, sps, samples/s with a prefix. */
gw_unit gw_unit_find_rate(const char *text);

/* A heading cell taken apart: `Time (ms)`, `CH2[V]`, `in1_mV`, `N1 in V`, `Volts A`. `*name` is NULL where nothing but
 * a unit stands there. Names are copied to `arena`; false when memory is out. */
bool gw_unit_split(gw_arena *arena, const char *cell, const char **name, gw_unit *unit);

/* What `value`, in `unit`, is in the unit without its prefix. Dividing keeps decimals exact. */
double gw_unit_apply(gw_unit unit, double value);

#endif
