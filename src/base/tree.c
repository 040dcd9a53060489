#include "base/tree.h"

#include "base/shortest.h"
#include "base/unicode.h"

#include <math.h>
#include <string.h>

enum { DEPTH_MAX = 32, INDENT = 1 };

json_t *gw_tree_object(gw_tree *tree) {
    json_t *made = json_object();
    tree->failed |= made == NULL;
    return made;
}

json_t *gw_tree_array(gw_tree *tree) {
    json_t *made = json_array();
    tree->failed |= made == NULL;
    return made;
}

void gw_tree_add(gw_tree *tree, json_t *to, const char *key, json_t *value) {
    /* both calls take over the value even when they fail, and accept NULL */
    int failed = key != NULL ? json_object_set_new(to, key, value) : json_array_append_new(to, value);
    tree->failed |= failed != 0;
}

static json_t *text_value(gw_tree *tree, const char *text) {
    if (text == NULL)
        return json_null();
    gw_text valid = {0};
    for (uint32_t code; (code = gw_unicode_next(&text)) != 0;) {
        char bytes[5];
        gw_text_add_bytes(&valid, bytes, gw_unicode_put(code, bytes));
    }
    tree->failed |= valid.failed;
    json_t *made = json_string(gw_text_string(&valid));
    gw_text_free(&valid);
    return made;
}

void gw_tree_add_text(gw_tree *tree, json_t *to, const char *key, const char *text) {
    gw_tree_add(tree, to, key, text_value(tree, text));
}

void gw_tree_add_real(gw_tree *tree, json_t *to, const char *key, double value) {
    gw_tree_add(tree, to, key, isfinite(value) ? json_real(value) : json_null());
}

void gw_tree_add_integer(gw_tree *tree, json_t *to, const char *key, long long value) {
    gw_tree_add(tree, to, key, json_integer((json_int_t)value));
}

void gw_tree_add_bool(gw_tree *tree, json_t *to, const char *key, bool value) {
    gw_tree_add(tree, to, key, json_boolean(value));
}

void gw_tree_add_null(gw_tree *tree, json_t *to, const char *key) {
    gw_tree_add(tree, to, key, json_null());
}

void gw_tree_add_strings(gw_tree *tree, json_t *to, const char *key, const gw_strings *list) {
    json_t *array = gw_tree_array(tree);
    for (size_t i = 0; i < list->count; i++)
        gw_tree_add_text(tree, array, NULL, list->items[i]);
    gw_tree_add(tree, to, key, array);
}

/* ---- writing --------------------------------------------------------------------------------------- */

void gw_tree_number(double value, gw_text *out) {
    char number[40];
    double back = 0;
    bool done = gw_shortest_print(value, number);
    for (int digits = 15; digits <= 17 && !done; digits++) {
        gw_number_print(value, digits, number, sizeof number);
        done = gw_number_parse(number, strlen(number), &back) && back == value;
    }
    if (value == 0 && signbit(value)) /* compares equal to 0, and is not the same double */
        gw_text_add_char(out, '-');
    gw_text_add(out, number[0] == '-' && value == 0 ? number + 1 : number);
    if (strpbrk(number, ".eE") == NULL)
        gw_text_add(out, ".0");
}

static void write_escaped(uint32_t code, gw_text *out) {
    const char *known = code == '"'    ? "\\\""
                        : code == '\\' ? "\\\\"
                        : code == '\n' ? "\\n"
                        : code == '\t' ? "\\t"
                                       : NULL;
    if (known != NULL)
        gw_text_add(out, known);
    else if (code >= 0x10000)
        gw_text_printf(out, "\\u%04x\\u%04x", (unsigned)(0xD800 + ((code - 0x10000) >> 10)),
                       (unsigned)(0xDC00 + ((code - 0x10000) & 0x3FF)));
    else
        gw_text_printf(out, "\\u%04x", (unsigned)code);
}

/* Characters that stand as they are and take one byte: how many of them begin the text. */
static size_t plain_length(const char *text) {
    size_t length = 0;
    while (text[length] >= ' ' && text[length] < 0x7F && text[length] != '"' && text[length] != '\\')
        length++;
    return length;
}

static void write_string(const char *text, gw_text *out) {
    gw_text_add_char(out, '"');
    size_t plain = plain_length(text);
    gw_text_add_bytes(out, text, plain);
    text += plain;
    for (uint32_t code; (code = gw_unicode_next(&text)) != 0;) {
        char bytes[5];
        if (code == '"' || code == '\\' || gw_unicode_steers(code))
            write_escaped(code, out);
        else
            gw_text_add_bytes(out, bytes, gw_unicode_put(code, bytes));
    }
    gw_text_add_char(out, '"');
}

static void write_scalar(const json_t *value, gw_text *out) {
    switch (json_typeof(value)) {
    case JSON_STRING:
        write_string(json_string_value(value), out);
        break;
    case JSON_INTEGER:
        gw_text_printf(out, "%lld", (long long)json_integer_value(value));
        break;
    case JSON_REAL:
        gw_tree_number(json_real_value(value), out);
        break;
    case JSON_TRUE:
    case JSON_FALSE:
        gw_text_add(out, json_is_true(value) ? "true" : "false");
        break;
    default:
        gw_text_add(out, "null");
    }
}

static bool is_container(const json_t *value) {
    return json_is_object(value) || json_is_array(value);
}

/* Containers that hold no other containers stand on one line. */
static bool is_flat(json_t *container) {
    const char *key;
    json_t *value;
    size_t i;
    json_array_foreach(container, i, value) {
        if (is_container(value))
            return false;
    }
    json_object_foreach(container, key, value) {
        if (is_container(value))
            return false;
    }
    return true;
}

/* Between two members: a blank in flat containers, else a new line. */
static void write_gap(bool first, bool flat, int depth, gw_text *out) {
    if (!first)
        gw_text_add(out, flat ? ", " : ",");
    if (flat)
        return;
    gw_text_add_char(out, '\n');
    for (int i = 0; i < depth * INDENT; i++)
        gw_text_add_char(out, ' ');
}

/* Recursion is bounded: trees are built by this program, a few levels deep. A negative depth keeps all in one line. */
static void write_value(json_t *value, int depth, gw_text *out) {
    if (!is_container(value) || depth > DEPTH_MAX) {
        write_scalar(value, out);
        return;
    }
    bool object = json_is_object(value), flat = depth < 0 || is_flat(value), first = true;
    int inner = depth < 0 ? depth : depth + 1;
    gw_text_add_char(out, object ? '{' : '[');
    const char *key;
    json_t *member;
    size_t i;
    json_array_foreach(value, i, member) {
        write_gap(first, flat, inner, out);
        write_value(member, inner, out);
        first = false;
    }
    json_object_foreach(value, key, member) {
        write_gap(first, flat, inner, out);
        write_string(key, out);
        gw_text_add(out, ": ");
        write_value(member, inner, out);
        first = false;
    }
    if (!flat)
        write_gap(true, false, depth, out);
    gw_text_add_char(out, object ? '}' : ']');
}

static bool write_root(gw_tree *tree, json_t *root, int depth, gw_text *out, gw_error *error) {
    if (root != NULL && !tree->failed) {
        write_value(root, depth, out);
        gw_text_add_char(out, '\n');
    }
    bool done = root != NULL && !tree->failed && !out->failed;
    json_decref(root);
    return done || gw_error_memory(error);
}

bool gw_tree_write(gw_tree *tree, json_t *root, gw_text *out, gw_error *error) {
    return write_root(tree, root, 0, out, error);
}

bool gw_tree_write_line(gw_tree *tree, json_t *root, gw_text *out, gw_error *error) {
    return write_root(tree, root, -1, out, error);
}
