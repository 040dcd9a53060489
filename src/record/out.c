/* Structures to JSON. */
#include "record/convert.h"

#include <math.h>
#include <string.h>

static const void *at(const void *from, size_t offset) {
    return (const char *)from + offset;
}

static size_t count_at(const void *from, size_t offset) {
    size_t count;
    memcpy(&count, at(from, offset), sizeof count);
    return count;
}

static int integer_at(const void *from, size_t offset) {
    int value;
    memcpy(&value, at(from, offset), sizeof value);
    return value;
}

static const void *pointer_at(const void *from, size_t offset) {
    const void *pointer;
    memcpy(&pointer, at(from, offset), sizeof pointer);
    return pointer;
}

/* JSON has no word for what is not finite: a string then. */
static void add_real(gw_tree *tree, json_t *object, const char *key, double value) {
    if (isfinite(value))
        gw_tree_add_real(tree, object, key, value);
    else
        gw_tree_add_text(tree, object, key, isnan(value) ? "nan" : value < 0 ? "-inf" : "inf");
}

static void add_reals(gw_tree *tree, json_t *object, const gw_field *field, const void *from) {
    const double *values = pointer_at(from, field->offset);
    size_t count = count_at(from, field->count_offset);
    if (values == NULL) {
        gw_tree_add_null(tree, object, field->key);
        return;
    }
    json_t *array = gw_tree_array(tree);
    for (size_t i = 0; i < count; i++)
        add_real(tree, array, NULL, values[i]);
    gw_tree_add(tree, object, field->key, array);
}

static void add_causes(gw_tree *tree, json_t *object, const gw_field *field, const void *from) {
    const char *const *causes = at(from, field->offset);
    size_t count = count_at(from, field->count_offset);
    json_t *array = gw_tree_array(tree);
    for (size_t i = 0; i < count && i < GW_CAUSES_MAX; i++)
        gw_tree_add_text(tree, array, NULL, causes[i]);
    gw_tree_add(tree, object, field->key, array);
}

static void add_values(gw_tree *tree, json_t *object, const gw_field *field, const void *from) {
    const gw_reading *values = at(from, field->offset);
    json_t *inner = gw_tree_object(tree);
    for (int i = 0; i < GW_READING_COUNT; i++)
        gw_tree_add(tree, inner, gw_reading_infos[i].key, gw_record_out(tree, &gw_structure_reading, &values[i]));
    gw_tree_add(tree, object, field->key, inner);
}

static void add_list(gw_tree *tree, json_t *object, const gw_field *field, const void *from) {
    const char *items = pointer_at(from, field->offset);
    size_t count = count_at(from, field->count_offset);
    json_t *array = gw_tree_array(tree);
    for (size_t i = 0; i < count; i++)
        gw_tree_add(tree, array, NULL, gw_record_out(tree, field->structure, items + i * field->structure->size));
    gw_tree_add(tree, object, field->key, array);
}

static void add_pointed(gw_tree *tree, json_t *object, const gw_field *field, const void *pointed) {
    gw_tree_add(tree, object, field->key,
                pointed != NULL ? gw_record_out(tree, field->structure, pointed) : json_null());
}

static void add_scalar(gw_tree *tree, json_t *object, const gw_field *field, const void *from) {
    const void *place = at(from, field->offset);
    uint64_t big;
    double real;
    bool flag;
    switch (field->kind) {
    case GW_FIELD_REAL:
        memcpy(&real, place, sizeof real);
        add_real(tree, object, field->key, real);
        break;
    case GW_FIELD_INDEX:
        gw_tree_add_integer(tree, object, field->key, integer_at(from, field->offset));
        break;
    case GW_FIELD_COUNT:
        gw_tree_add_integer(tree, object, field->key, (long long)count_at(from, field->offset));
        break;
    case GW_FIELD_BIG:
        memcpy(&big, place, sizeof big);
        gw_tree_add_integer(tree, object, field->key, (long long)big);
        break;
    case GW_FIELD_BOOL:
        memcpy(&flag, place, sizeof flag);
        gw_tree_add_bool(tree, object, field->key, flag);
        break;
    case GW_FIELD_WORD:
        gw_tree_add_text(tree, object, field->key, field->word(integer_at(from, field->offset)));
        break;
    default: /* NAME, TEXT */
        gw_tree_add_text(tree, object, field->key, pointer_at(from, field->offset));
    }
}

/* Recursion is bounded by the nesting of the tables, which are constant and hold no cycle. */
static void add_field(gw_tree *tree, json_t *object, const gw_field *field, const void *from) {
    switch (field->kind) {
    case GW_FIELD_STRINGS:
        gw_tree_add_strings(tree, object, field->key, at(from, field->offset));
        break;
    case GW_FIELD_CAUSES:
        add_causes(tree, object, field, from);
        break;
    case GW_FIELD_REALS:
        add_reals(tree, object, field, from);
        break;
    case GW_FIELD_OBJECT:
        add_pointed(tree, object, field, at(from, field->offset));
        break;
    case GW_FIELD_POINTER:
        add_pointed(tree, object, field, pointer_at(from, field->offset));
        break;
    case GW_FIELD_LIST:
        add_list(tree, object, field, from);
        break;
    case GW_FIELD_VALUES:
        add_values(tree, object, field, from);
        break;
    default:
        add_scalar(tree, object, field, from);
    }
}

json_t *gw_record_out(gw_tree *tree, const gw_structure *structure, const void *from) {
    json_t *object = gw_tree_object(tree);
    for (const gw_field *field = structure->fields; field->key != NULL; field++)
        add_field(tree, object, field, from);
    return object;
}
