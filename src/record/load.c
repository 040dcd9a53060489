/* Records read again. */
#include "record/convert.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

static const size_t record_most = (size_t)256 << 20;

/* ---- what the fields alone don't tell ---------------------------------------------------------------- */

/* An index of -1 .. count - 1. */
static bool index_within(gw_intake *intake, const char *key, int index, size_t count) {
    return (index >= -1 && (index < 0 || (size_t)index < count)) || gw_record_wrong(intake, key, "points nowhere");
}

/* A point follows an earlier one, so that there is no circle. */
static bool check_points(gw_intake *intake, const gw_walk *walk) {
    for (size_t i = 0; i < walk->point_count; i++) {
        size_t mark = gw_record_enter(intake, "points", i, true);
        if (!index_within(intake, "after", walk->points[i].after, i))
            return false;
        gw_record_leave(intake, mark);
    }
    return true;
}

static bool check_stages(gw_intake *intake, const gw_walk *walk) {
    for (size_t i = 0; i < walk->stage_count; i++) {
        size_t mark = gw_record_enter(intake, "stages", i, true);
        const gw_walk_stage *stage = &walk->stages[i];
        if (stage->to < 0 || !index_within(intake, "from", stage->from, walk->point_count) ||
            !index_within(intake, "to", stage->to, walk->point_count))
            return gw_record_wrong(intake, "to", "points nowhere");
        gw_record_leave(intake, mark);
    }
    return true;
}

static bool check_findings(gw_intake *intake, const gw_walk *walk) {
    for (size_t i = 0; i < walk->finding_count; i++) {
        size_t mark = gw_record_enter(intake, "findings", i, true);
        const gw_finding *finding = &walk->findings[i];
        if (!index_within(intake, "from", finding->from, walk->point_count) ||
            !index_within(intake, "to", finding->to, walk->point_count) ||
            !index_within(intake, "point", finding->point, walk->point_count) ||
            !index_within(intake, "rail", finding->rail, walk->rail_count) ||
            !index_within(intake, "follows", finding->follows, walk->finding_count))
            return false;
        gw_record_leave(intake, mark);
    }
    return true;
}

static bool check_verdict(gw_intake *intake, const gw_walk *walk) {
    size_t mark = gw_record_enter(intake, "verdict", 0, false);
    const gw_verdict *verdict = &walk->verdict;
    bool good = index_within(intake, "finding", verdict->finding, walk->finding_count) &&
                index_within(intake, "from", verdict->from, walk->point_count) &&
                index_within(intake, "to", verdict->to, walk->point_count) &&
                index_within(intake, "point", verdict->point, walk->point_count) &&
                index_within(intake, "rail", verdict->rail, walk->rail_count);
    gw_record_leave(intake, mark);
    for (size_t i = 0; good && i < walk->next_count; i++)
        good = index_within(intake, "next.point", walk->next[i].point, walk->point_count) &&
               index_within(intake, "next.rail", walk->next[i].rail, walk->rail_count);
    return good;
}

static bool check_walk(gw_intake *intake, const gw_walk *walk) {
    if (walk->conditions.count % 2 != 0)
        return gw_record_wrong(intake, "conditions", "are no pairs");
    return check_points(intake, walk) && check_stages(intake, walk) && check_findings(intake, walk) &&
           check_verdict(intake, walk);
}

/* ---- reading ----------------------------------------------------------------------------------------- */

static bool read_chain(gw_intake *intake, json_t *object, gw_walk *walk, gw_record_chain *chain) {
    static const char *const parts[] = {"chain", "walk"};
    for (size_t i = 0; i < sizeof parts / sizeof *parts; i++)
        if (!json_is_object(json_object_get(object, parts[i])))
            return gw_record_wrong(intake, parts[i], "is no object");
    if (!gw_record_in(intake, &gw_structure_chain, json_object_get(object, "chain"), chain) ||
        !gw_record_in(intake, &gw_structure_walk, json_object_get(object, "walk"), walk))
        return false;
    walk->arena = NULL; /* the record's owns everything */
    return check_walk(intake, walk);
}

static bool read_chains(gw_intake *intake, json_t *list, gw_record *record) {
    if (!json_is_array(list))
        return gw_record_wrong(intake, "chains", "is no list");
    size_t count = json_array_size(list);
    record->walks = gw_arena_array(record->arena, count, sizeof *record->walks);
    record->chains = gw_arena_array(record->arena, count, sizeof *record->chains);
    if (record->walks == NULL || record->chains == NULL)
        return gw_error_memory(intake->error);
    for (size_t i = 0; i < count; i++) {
        size_t mark = gw_record_enter(intake, "chains", i, true);
        if (!read_chain(intake, json_array_get(list, i), &record->walks[i], &record->chains[i]))
            return false;
        gw_record_leave(intake, mark);
    }
    record->walk_count = count;
    return true;
}

/* Whose file it is, and whether this program can know what is in it. */
static bool read_head(gw_intake *intake, json_t *root, gw_record *record) {
    const char *format = json_string_value(json_object_get(root, "format"));
    json_t *version = json_object_get(root, "version");
    if (format == NULL || strcmp(format, "gainwalk-record") != 0)
        return gw_error_set(intake->error, intake->file, 0, "no record: its format is \xE2\x80\x98%.60s\xE2\x80\x99",
                            format != NULL ? format : "not stated");
    if (!json_is_integer(version) || json_integer_value(version) < 1)
        return gw_record_wrong(intake, "version", "is no whole number from 1");
    if (json_integer_value(version) > GW_RECORD_VERSION)
        return gw_error_set(intake->error, intake->file, 0,
                            "written by a newer program: record version %lld, this one reads up to %d",
                            (long long)json_integer_value(version), GW_RECORD_VERSION);
    intake->version = record->version = (int)json_integer_value(version);
    const char *program = json_string_value(json_object_get(root, "program"));
    const char *created = json_string_value(json_object_get(root, "created"));
    record->program = gw_arena_string(record->arena, program != NULL ? program : "unknown");
    record->created = gw_arena_string(record->arena, created);
    return record->program != NULL || gw_error_memory(intake->error);
}

bool gw_record_parse(const char *text, size_t length, const char *file, gw_record **out, gw_error *error) {
    json_error_t fault;
    *out = NULL;
    errno = 0;
    json_t *root = json_loadb(text, length, JSON_REJECT_DUPLICATES, &fault);
    /* the library may take a text cut short by want of memory for the whole, or blame the text */
    if (errno == ENOMEM) {
        json_decref(root);
        return gw_error_memory(error);
    }
    if (root == NULL)
        return gw_error_set(error, file, fault.line > 0 ? fault.line : 0, "damaged record, or none: %s", fault.text);
    gw_arena *arena = gw_arena_new();
    gw_record *record = arena != NULL ? gw_arena_take(arena, sizeof *record) : NULL;
    bool done = record != NULL;
    if (done) {
        record->arena = arena;
        record->file = gw_arena_string(arena, file);
        done = file == NULL || record->file != NULL || gw_error_memory(error);
        gw_intake intake = {.arena = arena, .file = file, .error = error};
        done =
            done && read_head(&intake, root, record) && read_chains(&intake, json_object_get(root, "chains"), record);
    } else {
        gw_error_memory(error);
    }
    json_decref(root);
    if (done)
        *out = record;
    else
        gw_arena_free(arena);
    return done;
}

bool gw_record_load(const char *path, gw_record **out, gw_error *error) {
    char *text;
    size_t length;
    *out = NULL;
    if (!gw_file_read(path, record_most, &text, &length, error))
        return false;
    bool done = gw_record_parse(text, length, path, out, error);
    free(text);
    return done;
}

void gw_record_free(gw_record *record) {
    if (record != NULL)
        gw_arena_free(record->arena);
}
