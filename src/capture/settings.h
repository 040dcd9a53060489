/* What a preamble says: the few keys that matter, found by ordinary words. */
#ifndef GAINWALK_CAPTURE_SETTINGS_H
#define GAINWALK_CAPTURE_SETTINGS_H

#include "capture/cell.h"
#include "capture/script.h"

enum { GW_COUNTS_MAX = 8 };

/* A value with what it was said to be in. */
typedef struct gw_stated {
    bool given;
    double value; /* without the unit's prefix, where it had a unit */
    bool has_unit;
} gw_stated;

/* A key with one value for each column, or one for all. */
typedef struct gw_setting {
    char **cells; /* of its line; NULL where the key does not appear */
    size_t count;
} gw_setting;

typedef struct gw_settings {
    gw_stated interval_s, rate_hz, start_s, per_division_v;
    uint64_t counts[GW_COUNTS_MAX]; /* numbers of samples announced */
    size_t count_count;
    gw_unit axis_unit; /* a unit of seconds or hertz given by a key */
    gw_setting value_units, names, probes, couplings;
    size_t key_rows; /* rows that look like a key with its value */
} gw_settings;

/* Takes the lines of a preamble in. `separator` is the data's. Cells from index `from` up to `to` only (a preamble
 * that stands beside data). False when memory is out. */
bool gw_settings_take(gw_settings *settings, gw_arena *arena, const gw_line *lines, size_t count, gw_format format,
                      size_t from, size_t to);

/* The value of a key for the column at `index` of its line, or the one that holds for all; NULL where there is none. */
const char *gw_setting_for(const gw_setting *setting, size_t index);

/* Whether a line reads as a key with its value. */
bool gw_line_is_setting(const gw_line *line);

/* A probe's factor: `10`, `10X`, `x10`, `1:10`, `10:1`; 0 where it is none. */
double gw_probe_factor(const char *text);

/* A number that `text` begins with, its decimal sign a point or `decimal`; `*rest` is what follows it. */
bool gw_setting_number(const char *text, char decimal, double *value, const char **rest);

#endif
