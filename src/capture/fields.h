/* Which column is what: time, a channel, an index, or nothing to be used. */
#ifndef GAINWALK_CAPTURE_FIELDS_H
#define GAINWALK_CAPTURE_FIELDS_H

#include "capture/heading.h"
#include "capture/table.h"
#include "capture/vote.h"
#include "capture/words.h"

typedef enum gw_role { GW_ROLE_CHANNEL, GW_ROLE_TIME, GW_ROLE_OTHER_TIME, GW_ROLE_IGNORED, GW_ROLE_EMPTY } gw_role;

typedef struct gw_field {
    gw_role role;
    const char *label;           /* the heading's cell; "" where there is none */
    const char *name;            /* without the unit; NULL where there is none */
    gw_unit unit;                /* GW_UNIT_NONE where none is given anywhere */
    bool own_unit;               /* the heading or the cells give the unit */
    const gw_settings *settings; /* the preamble that speaks of this column */
    size_t setting_index;        /* of its cell in the preamble's lines */
    gw_words words;
} gw_field;

/* A text taken apart as far as its columns. */
typedef struct gw_page {
    gw_script script;
    gw_vote vote;
    gw_table table;
    gw_line *lines; /* above the data */
    size_t line_count;
    gw_heading heading;
    gw_settings settings;    /* of the preamble above; of the first block beside the data */
    gw_settings *beside;     /* of each block beside the data */
    gw_field *fields;        /* one a column */
    size_t time, channels;   /* the time column, or SIZE_MAX; number of channels */
    double quantum;          /* one printed digit of the time column, in seconds */
    bool counts_rows;        /* the time column is whole numbers from 0 or 1, without a unit or a name */
    double rate_stated_hz;   /* from outside the file; 0 unknown */
    const char *beside_file; /* a settings file beside this one that gives interval or rate; NULL: none */
    gw_stated beside_interval_s, beside_rate_hz;
    gw_arena *arena;
} gw_page;

/* Fills page->fields; times are seconds afterwards, clocks carried over midnight and counted from the first. False with
 * an error in one sentence where the table is no waveform. */
bool gw_fields_judge(gw_page *page, gw_error *error);

#endif
