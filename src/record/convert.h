/* Structures to JSON and back, by their tables of fields. */
#ifndef GAINWALK_RECORD_CONVERT_H
#define GAINWALK_RECORD_CONVERT_H

#include "base/tree.h"
#include "record/fields.h"

/* The object that holds `structure`'s fields of `from`. */
json_t *gw_record_out(gw_tree *tree, const gw_structure *structure, const void *from);

/* What reading has met, and where it stands. */
typedef struct gw_intake {
    gw_arena *arena; /* takes everything that is read */
    const char *file;
    int version;
    gw_error *error;
    char where[200]; /* "chains[0].points[2].dc" */
} gw_intake;

/* Fills `to` (zeroed, of the structure's size) from `object`. What is missing, of the wrong kind or out of range is an
 * error that says where. */
bool gw_record_in(gw_intake *intake, const gw_structure *structure, json_t *object, void *to);

/* Fills the error: `what` is wrong with `key` (may be NULL) where the intake stands. Returns false. */
bool gw_record_wrong(gw_intake *intake, const char *key, const char *what);

/* Adds a step to `where`, and takes it off again: `mark` keeps the length before. */
size_t gw_record_enter(gw_intake *intake, const char *key, size_t index, bool indexed);
void gw_record_leave(gw_intake *intake, size_t mark);

#endif
