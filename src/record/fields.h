/* What stands in a record: one table of fields a structure, used by the writer and by the reader alike. */
#ifndef GAINWALK_RECORD_FIELDS_H
#define GAINWALK_RECORD_FIELDS_H

#include "gainwalk/record.h"

typedef enum gw_field_kind {
    GW_FIELD_REAL,    /* double */
    GW_FIELD_INDEX,   /* int */
    GW_FIELD_COUNT,   /* size_t */
    GW_FIELD_BIG,     /* uint64_t */
    GW_FIELD_BOOL,    /* bool */
    GW_FIELD_NAME,    /* const char *, never NULL */
    GW_FIELD_TEXT,    /* const char *, may be NULL */
    GW_FIELD_WORD,    /* an enum, written as its name */
    GW_FIELD_STRINGS, /* gw_strings */
    GW_FIELD_CAUSES,  /* const char *[GW_CAUSES_MAX] and its count */
    GW_FIELD_REALS,   /* double * and its count; NULL is null */
    GW_FIELD_OBJECT,  /* a structure inside */
    GW_FIELD_POINTER, /* a pointer to a structure, may be NULL */
    GW_FIELD_LIST,    /* a pointer to structures and their count */
    GW_FIELD_VALUES,  /* gw_reading[GW_READING_COUNT], by the names of the readings */
} gw_field_kind;

typedef struct gw_structure gw_structure;

typedef struct gw_field {
    const char *key;
    gw_field_kind kind;
    size_t offset;
    size_t count_offset;           /* CAUSES, REALS, LIST */
    const gw_structure *structure; /* OBJECT, POINTER, LIST */
    const char *(*word)(int code); /* WORD; NULL behind the last */
    int since;                     /* version that brought it; older records lack it, it is then zero */
} gw_field;

struct gw_structure {
    size_t size;
    const gw_field *fields; /* ended by a NULL key; counts of REALS stand before them */
};

extern const gw_structure gw_structure_walk;
extern const gw_structure gw_structure_reading;
extern const gw_structure gw_structure_chain;

#endif
