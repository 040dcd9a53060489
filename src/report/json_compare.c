/* JSON of `compare`. */
#include "report/change.h"
#include "report/json.h"

static void add_change(gw_tree *tree, json_t *to, const gw_comparison *comparison, const gw_comparison_point *point,
                       gw_change_key key) {
    gw_shown_change change = gw_shown_change_of(comparison, point, key);
    json_t *object = gw_tree_object(tree);
    gw_tree_add_text(tree, object, "status", gw_change_name(change.status));
    if (change.why != NULL)
        gw_tree_add_text(tree, object, "why", change.why);
    gw_json_add_shown(tree, object, "before", &change.before);
    gw_json_add_shown(tree, object, "after", &change.after);
    gw_shown difference = {.state = GW_READING_VALUE, .value = change.change, .u95 = change.u95, .unit = change.unit};
    if (change.has_change)
        gw_json_add_shown(tree, object, "change", &difference);
    gw_tree_add(tree, to, gw_change_keys[key], object);
}

static json_t *point_object(gw_tree *tree, const gw_comparison *comparison, const gw_comparison_point *point) {
    json_t *object = gw_tree_object(tree), *changes = gw_tree_object(tree);
    gw_tree_add_text(tree, object, "name", point->name);
    gw_tree_add_bool(tree, object, "rail", point->rail);
    gw_tree_add_text(tree, object, "status", gw_change_name(point->status));
    if (point->why != NULL)
        gw_tree_add_text(tree, object, "why", point->why);
    gw_tree_add_text(tree, object, "before", gw_status_name(point->status_before));
    gw_tree_add_text(tree, object, "after", gw_status_name(point->status_after));
    for (int key = 0; key < GW_CHANGE_KEYS; key++)
        add_change(tree, changes, comparison, point, (gw_change_key)key);
    gw_tree_add(tree, object, "changes", changes);
    return object;
}

static void add_side(gw_tree *tree, json_t *to, const char *key, const gw_walk *walk) {
    json_t *object = gw_tree_object(tree);
    gw_tree_add_text(tree, object, "file", walk->file);
    gw_tree_add_text(tree, object, "title", walk->title);
    gw_tree_add_text(tree, object, "unit", walk->unit);
    gw_tree_add_text(tree, object, "status", gw_verdict_name(walk->verdict.status));
    gw_tree_add_text(tree, object, "summary", walk->verdict.summary);
    gw_tree_add(tree, to, key, object);
}

static void add_counts(gw_tree *tree, json_t *to, const gw_comparison *comparison) {
    json_t *object = gw_tree_object(tree);
    gw_tree_add_integer(tree, object, "better", (long long)comparison->better);
    gw_tree_add_integer(tree, object, "worse", (long long)comparison->worse);
    gw_tree_add_integer(tree, object, "same", (long long)comparison->same);
    gw_tree_add_integer(tree, object, "different", (long long)comparison->different);
    gw_tree_add_integer(tree, object, "not comparable", (long long)comparison->not_comparable);
    gw_tree_add(tree, to, "counts", object);
}

static json_t *comparison_object(gw_tree *tree, const gw_comparison *comparison) {
    json_t *object = gw_tree_object(tree), *points = gw_tree_array(tree);
    gw_tree_add_text(tree, object, "summary", comparison->summary);
    gw_tree_add_bool(tree, object, "comparable", comparison->comparable);
    gw_tree_add_strings(tree, object, "differences", &comparison->differences);
    add_side(tree, object, "before", comparison->before);
    add_side(tree, object, "after", comparison->after);
    add_counts(tree, object, comparison);
    for (size_t i = 0; i < comparison->point_count; i++)
        gw_tree_add(tree, points, NULL, point_object(tree, comparison, &comparison->points[i]));
    gw_tree_add(tree, object, "points", points);
    return object;
}

bool gw_report_compare_json(const gw_comparison *const *comparisons, size_t count, const gw_report_options *options,
                            gw_text *out, gw_error *error) {
    gw_tree tree = {0};
    json_t *root = gw_json_root(&tree, "gainwalk-compare", options), *array = gw_tree_array(&tree);
    for (size_t i = 0; i < count; i++)
        gw_tree_add(&tree, array, NULL, comparison_object(&tree, comparisons[i]));
    gw_tree_add(&tree, root, "comparisons", array);
    return gw_tree_write(&tree, root, out, error);
}
