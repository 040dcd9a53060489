/* JSON to structures. */
#include "record/convert.h"

#include <limits.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

bool gw_record_wrong(gw_intake *intake, const char *key, const char *what) {
    return gw_error_set(intake->error, intake->file, 0, "damaged record: \xE2\x80\x98%s%s%s\xE2\x80\x99 %s",
                        intake->where, *intake->where != '\0' && key != NULL ? "." : "", key != NULL ? key : "", what);
}

size_t gw_record_enter(gw_intake *intake, const char *key, size_t index, bool indexed) {
    size_t mark = strlen(intake->where);
    char *end = intake->where + mark;
    size_t left = sizeof intake->where - mark;
    if (indexed)
        snprintf(end, left, "%s%s[%zu]", mark > 0 ? "." : "", key, index);
    else
        snprintf(end, left, "%s%s", mark > 0 ? "." : "", key);
    return mark;
}

void gw_record_leave(gw_intake *intake, size_t mark) {
    intake->where[mark] = '\0';
}

static void *at(void *to, size_t offset) {
    return (char *)to + offset;
}

static bool take_real(gw_intake *intake, const char *key, const json_t *value, double *out) {
    static const struct {
        const char *word;
        double value;
    } words[] = {{"inf", (double)INFINITY}, {"-inf", (double)-INFINITY}, {"nan", (double)NAN}};
    if (json_is_number(value)) {
        *out = json_number_value(value);
        return true;
    }
    for (size_t i = 0; i < sizeof words / sizeof *words && json_is_string(value); i++)
        if (strcmp(json_string_value(value), words[i].word) == 0)
            return *out = words[i].value, true;
    return gw_record_wrong(intake, key, "is no number");
}

static bool take_integer(gw_intake *intake, const char *key, const json_t *value, json_int_t least, json_int_t most,
                         json_int_t *out) {
    if (!json_is_integer(value))
        return gw_record_wrong(intake, key, "is no whole number");
    *out = json_integer_value(value);
    return (*out >= least && *out <= most) || gw_record_wrong(intake, key, "is out of range");
}

static bool take_text(gw_intake *intake, const char *key, const json_t *value, bool required, const char **out) {
    *out = NULL;
    if (json_is_null(value) && !required)
        return true;
    if (!json_is_string(value))
        return gw_record_wrong(intake, key, "is no text");
    *out = gw_arena_string(intake->arena, json_string_value(value));
    return *out != NULL || gw_error_memory(intake->error);
}

static bool take_word(gw_intake *intake, const gw_field *field, const json_t *value, void *to) {
    const char *text = json_is_string(value) ? json_string_value(value) : "";
    for (int code = 0; field->word(code) != NULL; code++) {
        if (strcmp(field->word(code), text) != 0)
            continue;
        memcpy(at(to, field->offset), &code, sizeof code);
        return true;
    }
    return gw_record_wrong(intake, field->key, "is none of the words known here");
}

static bool take_strings(gw_intake *intake, const gw_field *field, json_t *value, gw_strings *out) {
    if (!json_is_array(value))
        return gw_record_wrong(intake, field->key, "is no list");
    size_t count = json_array_size(value);
    out->items = gw_arena_array(intake->arena, count, sizeof *out->items);
    if (out->items == NULL)
        return gw_error_memory(intake->error);
    for (size_t i = 0; i < count; i++) {
        const char *text;
        if (!take_text(intake, field->key, json_array_get(value, i), true, &text))
            return false;
        out->items[i] = gw_arena_string(intake->arena, text);
        if (out->items[i] == NULL)
            return gw_error_memory(intake->error);
    }
    out->count = out->capacity = count;
    return true;
}

static bool take_causes(gw_intake *intake, const gw_field *field, json_t *value, void *to) {
    if (!json_is_array(value) || json_array_size(value) > GW_CAUSES_MAX)
        return gw_record_wrong(intake, field->key, "is no list, or too long");
    size_t count = json_array_size(value);
    const char **causes = at(to, field->offset);
    memcpy(at(to, field->count_offset), &count, sizeof count);
    for (size_t i = 0; i < count; i++)
        if (!take_text(intake, field->key, json_array_get(value, i), true, &causes[i]))
            return false;
    return true;
}

static bool take_reals(gw_intake *intake, const gw_field *field, json_t *value, void *to) {
    size_t count;
    memcpy(&count, at(to, field->count_offset), sizeof count);
    if (json_is_null(value))
        return true;
    if (!json_is_array(value) || json_array_size(value) != count)
        return gw_record_wrong(intake, field->key, "has not as many values as announced");
    double *values = gw_arena_array(intake->arena, count, sizeof *values);
    if (values == NULL)
        return gw_error_memory(intake->error);
    for (size_t i = 0; i < count; i++)
        if (!take_real(intake, field->key, json_array_get(value, i), &values[i]))
            return false;
    memcpy(at(to, field->offset), &values, sizeof values);
    return true;
}

static bool take_values(gw_intake *intake, const gw_field *field, json_t *value, void *to) {
    gw_reading *values = at(to, field->offset);
    if (!json_is_object(value))
        return gw_record_wrong(intake, field->key, "is no object");
    size_t outside = gw_record_enter(intake, field->key, 0, false);
    for (int i = 0; i < GW_READING_COUNT; i++) {
        json_t *reading = json_object_get(value, gw_reading_infos[i].key);
        values[i].why = "not in this record"; /* a reading that came later */
        if (reading == NULL)
            continue;
        size_t mark = gw_record_enter(intake, gw_reading_infos[i].key, 0, false);
        if (!gw_record_in(intake, &gw_structure_reading, reading, &values[i]))
            return false;
        gw_record_leave(intake, mark);
    }
    gw_record_leave(intake, outside);
    return true;
}

static bool take_list(gw_intake *intake, const gw_field *field, json_t *value, void *to) {
    if (!json_is_array(value))
        return gw_record_wrong(intake, field->key, "is no list");
    size_t count = json_array_size(value);
    char *items = gw_arena_array(intake->arena, count, field->structure->size);
    if (items == NULL)
        return gw_error_memory(intake->error);
    for (size_t i = 0; i < count; i++) {
        size_t mark = gw_record_enter(intake, field->key, i, true);
        if (!gw_record_in(intake, field->structure, json_array_get(value, i), items + i * field->structure->size))
            return false;
        gw_record_leave(intake, mark);
    }
    memcpy(at(to, field->offset), &items, sizeof items);
    memcpy(at(to, field->count_offset), &count, sizeof count);
    return true;
}

static bool take_object(gw_intake *intake, const gw_field *field, json_t *value, void *to) {
    size_t mark = gw_record_enter(intake, field->key, 0, false);
    if (!gw_record_in(intake, field->structure, value, to))
        return false;
    gw_record_leave(intake, mark);
    return true;
}

static bool take_pointer(gw_intake *intake, const gw_field *field, json_t *value, void *to) {
    if (json_is_null(value))
        return true;
    void *made = gw_arena_take(intake->arena, field->structure->size);
    if (made == NULL)
        return gw_error_memory(intake->error);
    memcpy(at(to, field->offset), &made, sizeof made);
    return take_object(intake, field, value, made);
}

/* ---- by kind --------------------------------------------------------------------------------------- */

static bool take_whole(gw_intake *intake, const gw_field *field, const json_t *value, void *to) {
    static const json_int_t most_of[] = {
        [GW_FIELD_INDEX] = INT_MAX, [GW_FIELD_COUNT] = INT_MAX, [GW_FIELD_BIG] = LLONG_MAX};
    json_int_t least = field->kind == GW_FIELD_INDEX ? INT_MIN : 0, whole = 0;
    if (!take_integer(intake, field->key, value, least, most_of[field->kind], &whole))
        return false;
    int index = (int)whole;
    size_t count = (size_t)whole;
    uint64_t big = (uint64_t)whole;
    if (field->kind == GW_FIELD_INDEX)
        memcpy(at(to, field->offset), &index, sizeof index);
    else if (field->kind == GW_FIELD_COUNT)
        memcpy(at(to, field->offset), &count, sizeof count);
    else
        memcpy(at(to, field->offset), &big, sizeof big);
    return true;
}

static bool take_flag(gw_intake *intake, const gw_field *field, const json_t *value, void *to) {
    if (!json_is_boolean(value))
        return gw_record_wrong(intake, field->key, "is neither true nor false");
    bool flag = json_is_true(value);
    memcpy(at(to, field->offset), &flag, sizeof flag);
    return true;
}

static bool take_field(gw_intake *intake, const gw_field *field, json_t *value, void *to) {
    switch (field->kind) {
    case GW_FIELD_REAL:
        return take_real(intake, field->key, value, at(to, field->offset));
    case GW_FIELD_INDEX:
    case GW_FIELD_COUNT:
    case GW_FIELD_BIG:
        return take_whole(intake, field, value, to);
    case GW_FIELD_BOOL:
        return take_flag(intake, field, value, to);
    case GW_FIELD_NAME:
    case GW_FIELD_TEXT:
        return take_text(intake, field->key, value, field->kind == GW_FIELD_NAME, at(to, field->offset));
    case GW_FIELD_WORD:
        return take_word(intake, field, value, to);
    case GW_FIELD_STRINGS:
        return take_strings(intake, field, value, at(to, field->offset));
    case GW_FIELD_CAUSES:
        return take_causes(intake, field, value, to);
    case GW_FIELD_REALS:
        return take_reals(intake, field, value, to);
    case GW_FIELD_OBJECT:
        return take_object(intake, field, value, at(to, field->offset));
    case GW_FIELD_POINTER:
        return take_pointer(intake, field, value, to);
    case GW_FIELD_LIST:
        return take_list(intake, field, value, to);
    case GW_FIELD_VALUES:
        return take_values(intake, field, value, to);
    }
    return false;
}

bool gw_record_in(gw_intake *intake, const gw_structure *structure, json_t *object, void *to) {
    if (!json_is_object(object))
        return gw_record_wrong(intake, NULL, "is no object");
    for (const gw_field *field = structure->fields; field->key != NULL; field++) {
        json_t *value = json_object_get(object, field->key);
        if (value == NULL && field->since > intake->version)
            continue;
        if (value == NULL)
            return gw_record_wrong(intake, field->key, "is missing");
        if (!take_field(intake, field, value, to))
            return false;
    }
    return true;
}
