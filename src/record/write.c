/* Walks into a record. */
#include "record/convert.h"

#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

static void add_chain(gw_tree *tree, json_t *to, const gw_walk *walk) {
    gw_record_chain chain = {.file = walk->file};
    char hash[GW_SHA256_SIZE], *text = NULL;
    size_t length;
    gw_error unreadable = {0};
    if (walk->file != NULL && gw_record_sha256(walk->file, hash, &unreadable) &&
        gw_file_read(walk->file, GW_CHAIN_TEXT_MAX, &text, &length, &unreadable)) {
        chain.sha256 = hash;
        chain.text = text;
    }
    gw_tree_add(tree, to, "chain", gw_record_out(tree, &gw_structure_chain, &chain));
    free(text);
}

/* Puts the capture's SHA-256 where the readings came without one. `point` is the point's object. */
static void add_hash(gw_tree *tree, json_t *point, const char *key, const gw_readings *readings) {
    char hash[GW_SHA256_SIZE];
    gw_error unreadable = {0};
    if (readings == NULL || readings->source.sha256 != NULL || readings->source.file == NULL)
        return;
    json_t *source = json_object_get(json_object_get(point, key), "source");
    if (source != NULL && gw_record_sha256(readings->source.file, hash, &unreadable))
        gw_tree_add_text(tree, source, "sha256", hash);
}

static void add_hashes(gw_tree *tree, json_t *list, const gw_walk_point *points, size_t count) {
    for (size_t i = 0; i < count; i++) {
        json_t *point = json_array_get(list, i);
        add_hash(tree, point, "readings", points[i].readings);
        add_hash(tree, point, "reference", points[i].reference);
    }
}

static json_t *walk_object(gw_tree *tree, const gw_walk *walk) {
    json_t *object = gw_tree_object(tree), *inner = gw_record_out(tree, &gw_structure_walk, walk);
    add_hashes(tree, json_object_get(inner, "points"), walk->points, walk->point_count);
    add_hashes(tree, json_object_get(inner, "rails"), walk->rails, walk->rail_count);
    add_chain(tree, object, walk);
    gw_tree_add(tree, object, "walk", inner);
    return object;
}

bool gw_record_write(const gw_walk *const *walks, size_t count, const gw_record_options *options, gw_text *out,
                     gw_error *error) {
    gw_tree tree = {0};
    json_t *root = gw_tree_object(&tree), *array = gw_tree_array(&tree);
    gw_tree_add_text(&tree, root, "format", "gainwalk-record");
    gw_tree_add_integer(&tree, root, "version", GW_RECORD_VERSION);
    gw_tree_add_text(&tree, root, "program", options->program != NULL ? options->program : "gainwalk");
    gw_tree_add_text(&tree, root, "created", options->created);
    for (size_t i = 0; i < count; i++)
        gw_tree_add(&tree, array, NULL, walk_object(&tree, walks[i]));
    gw_tree_add(&tree, root, "chains", array);
    return gw_tree_write(&tree, root, out, error);
}

/* ---- saving ---------------------------------------------------------------------------------------- */

static bool same_file(const struct stat *one, const char *path) {
    struct stat other;
    return path != NULL && stat(path, &other) == 0 && one->st_dev == other.st_dev && one->st_ino == other.st_ino;
}

static bool holds_file(const struct stat *target, const gw_walk_point *points, size_t count) {
    for (size_t i = 0; i < count; i++)
        if (points[i].readings != NULL && same_file(target, points[i].readings->source.file))
            return true;
    return false;
}

/* Whether `path` is something these walks were made from. */
static bool is_source(const char *path, const gw_walk *const *walks, size_t count) {
    struct stat target;
    if (stat(path, &target) != 0)
        return false;
    for (size_t i = 0; i < count; i++)
        if (same_file(&target, walks[i]->file) || holds_file(&target, walks[i]->points, walks[i]->point_count) ||
            holds_file(&target, walks[i]->rails, walks[i]->rail_count))
            return true;
    return false;
}

bool gw_record_save(const char *path, const gw_walk *const *walks, size_t count, const gw_record_options *options,
                    gw_error *error) {
    if (is_source(path, walks, count))
        return gw_error_set(error, path, 0, "not written: the record would replace a file it was made from");
    gw_text text = {0};
    bool done = gw_record_write(walks, count, options, &text, error) &&
                gw_file_write(path, text.data, text.length, options->force, error);
    gw_text_free(&text);
    return done;
}
