/* JSON trees: jansson's, with additions that never need checking one by one, and written so that people can read them.
 */
#ifndef GAINWALK_BASE_TREE_H
#define GAINWALK_BASE_TREE_H

#include "gainwalk/base.h"

#include <jansson.h>

/* What building has met. `failed`: memory ran out somewhere; look once, at the end. */
typedef struct gw_tree {
    bool failed;
} gw_tree;

json_t *gw_tree_object(gw_tree *tree);
json_t *gw_tree_array(gw_tree *tree);

/* Adds to an object (last name wins) or, where `key` is NULL, to an array. `value` is taken over; NULL counts as
 * failed. */
void gw_tree_add(gw_tree *tree, json_t *to, const char *key, json_t *value);

/* `text` NULL becomes null; bytes that are no UTF-8 become U+FFFD. */
void gw_tree_add_text(gw_tree *tree, json_t *to, const char *key, const char *text);
/* What JSON cannot hold (infinite, not a number) becomes null. */
void gw_tree_add_real(gw_tree *tree, json_t *to, const char *key, double value);
void gw_tree_add_integer(gw_tree *tree, json_t *to, const char *key, long long value);
void gw_tree_add_bool(gw_tree *tree, json_t *to, const char *key, bool value);
void gw_tree_add_null(gw_tree *tree, json_t *to, const char *key);
void gw_tree_add_strings(gw_tree *tree, json_t *to, const char *key, const gw_strings *list);

/* Writes `root`, frees it, and ends with a newline. Members stand in the order they were added; every number has the
 * fewest digits that read back as the same double; characters that steer a terminal are escaped. False when memory is
 * out here or was while `tree` was built. */
bool gw_tree_write(gw_tree *tree, json_t *root, gw_text *out, gw_error *error);

/* As gw_tree_write, in one line. */
bool gw_tree_write_line(gw_tree *tree, json_t *root, gw_text *out, gw_error *error);

/* The fewest digits that read back as the same double, always with a point or an exponent. */
void gw_tree_number(double value, gw_text *out);

#endif
