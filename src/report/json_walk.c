/* JSON of `walk`. */
#include "report/json.h"

static void add_meter(gw_tree *tree, json_t *to, const gw_walk_point *point) {
    gw_shown meter = {.state = GW_READING_VALUE, .value = point->meter_v, .u95 = point->meter_u95_v, .unit = "V"};
    if (point->metered)
        gw_json_add_shown(tree, to, "meter", &meter);
}

/* The point's own figures, those of which something was expected. */
static void add_judged(gw_tree *tree, json_t *to, const gw_walk_point *point) {
    json_t *object = gw_tree_object(tree);
    for (const gw_judged_field *field = gw_point_fields; field->key != NULL; field++) {
        gw_shown_judgement judged = gw_shown_judge(gw_judged_of_point(point, field), gw_shown_volts(point));
        if (judged.status != GW_UNJUDGED)
            gw_json_add_judged(tree, object, field->key, &judged);
    }
    if (json_object_size(object) > 0)
        gw_tree_add(tree, to, "judged", object);
    else
        json_decref(object);
}

static json_t *point_object(gw_tree *tree, const gw_walk_point *point) {
    json_t *object = gw_tree_object(tree);
    gw_tree_add_text(tree, object, "name", point->name);
    if (point->what != NULL)
        gw_tree_add_text(tree, object, "what", point->what);
    gw_tree_add_text(tree, object, "status", gw_status_name(point->status));
    if (point->why != NULL)
        gw_tree_add_text(tree, object, "why", point->why);
    add_judged(tree, object, point);
    add_meter(tree, object, point);
    if (point->readings != NULL)
        gw_tree_add(tree, object, "capture", gw_json_capture(tree, point->readings));
    return object;
}

static void add_points(gw_tree *tree, json_t *to, const char *key, const gw_walk_point *points, size_t count) {
    json_t *array = gw_tree_array(tree);
    for (size_t i = 0; i < count; i++)
        gw_tree_add(tree, array, NULL, point_object(tree, &points[i]));
    gw_tree_add(tree, to, key, array);
}

static const char *polarity_name(gw_polarity polarity) {
    static const char *const names[] = {
        [GW_POLARITY_UNKNOWN] = "unknown", [GW_POLARITY_KEPT] = "kept", [GW_POLARITY_FLIPPED] = "flipped"};
    return names[polarity];
}

static void add_stage_figure(gw_tree *tree, json_t *to, const gw_walk *walk, const gw_walk_stage *stage,
                             const gw_judged_field *field) {
    const char *unit = stage->to >= 0 ? gw_shown_volts(&walk->points[stage->to]) : "V";
    gw_shown_judgement judged = gw_shown_judge(gw_judged_of_stage(stage, field), unit);
    gw_json_add_judged(tree, to, field->key, &judged);
}

/* Gain and DC, then polarity, then what the stage adds. */
static void add_corner(gw_tree *tree, json_t *to, const char *key, const gw_judgement *corner) {
    json_t *object = gw_tree_object(tree);
    gw_tree_add_text(tree, object, "unit", "Hz");
    if (corner->has_value) {
        gw_tree_add_real(tree, object, "value", corner->value);
        gw_tree_add_real(tree, object, "u95", corner->u95);
    } else {
        gw_tree_add_text(tree, object, "why", corner->why);
    }
    if (corner->has_expected)
        gw_tree_add_real(tree, object, "expected", corner->expected);
    gw_tree_add_text(tree, object, "status", gw_status_name(corner->status));
    gw_tree_add(tree, to, key, object);
}

static void add_decibels(gw_tree *tree, json_t *to, const char *key, double ratio) {
    if (ratio > 0)
        gw_tree_add_real(tree, to, key, gw_db_from_ratio(ratio));
}

static void add_response(gw_tree *tree, json_t *to, const gw_walk_stage *stage) {
    if (stage->response.count == 0)
        return;
    json_t *object = gw_tree_object(tree), *lines = gw_tree_array(tree);
    gw_tree_add_real(tree, object, "middle_hz", stage->middle_hz);
    add_corner(tree, object, "low_corner", &stage->low_corner);
    add_corner(tree, object, "high_corner", &stage->high_corner);
    for (size_t i = 0; i < stage->response.count; i++) {
        const gw_walk_line *at = &stage->response.lines[i];
        json_t *line = gw_tree_object(tree);
        gw_tree_add_real(tree, line, "frequency_hz", at->frequency_hz);
        add_decibels(tree, line, "gain_db", at->value);
        add_decibels(tree, line, "u95_db", at->value > 0 ? 1 + at->u95 / at->value : 0);
        add_decibels(tree, line, "expected_db", at->expected);
        gw_tree_add(tree, lines, NULL, line);
    }
    gw_tree_add(tree, object, "lines", lines);
    gw_tree_add(tree, to, "response", object);
}

static json_t *stage_object(gw_tree *tree, const gw_walk *walk, const gw_walk_stage *stage) {
    json_t *object = gw_tree_object(tree);
    gw_tree_add_text(tree, object, "from", gw_shown_point(walk, stage->from));
    gw_tree_add_text(tree, object, "to", gw_shown_point(walk, stage->to));
    gw_tree_add_text(tree, object, "kind", stage->kind);
    gw_tree_add_text(tree, object, "status", gw_status_name(stage->status));
    add_stage_figure(tree, object, walk, stage, &gw_stage_fields[0]);
    add_stage_figure(tree, object, walk, stage, &gw_stage_fields[1]);
    gw_tree_add_text(tree, object, "polarity", polarity_name(stage->polarity));
    for (const gw_judged_field *field = gw_stage_fields + 2; field->key != NULL; field++)
        add_stage_figure(tree, object, walk, stage, field);
    if (stage->note != NULL)
        gw_tree_add_text(tree, object, "note", stage->note);
    add_response(tree, object, stage);
    return object;
}

static json_t *finding_object(gw_tree *tree, const gw_walk *walk, const gw_finding *finding) {
    json_t *object = gw_tree_object(tree), *causes = gw_tree_array(tree);
    for (size_t i = 0; i < finding->cause_count; i++)
        gw_tree_add_text(tree, causes, NULL, finding->causes[i]);
    gw_tree_add_text(tree, object, "code", gw_finding_infos[finding->code].code);
    gw_tree_add_text(tree, object, "from", gw_shown_point(walk, finding->from));
    gw_tree_add_text(tree, object, "to", gw_shown_point(walk, finding->to));
    gw_tree_add_text(tree, object, "point", gw_shown_place(walk, finding->point, finding->rail));
    gw_tree_add_text(tree, object, "status", gw_status_name(finding->status));
    gw_tree_add_text(tree, object, "evidence", finding->evidence);
    gw_tree_add(tree, object, "causes", causes);
    gw_tree_add_text(tree, object, "confirm", finding->confirm);
    if (finding->follows >= 0)
        gw_tree_add_integer(tree, object, "follows", finding->follows);
    else
        gw_tree_add_null(tree, object, "follows");
    return object;
}

static json_t *verdict_object(gw_tree *tree, const gw_walk *walk) {
    const gw_verdict *verdict = &walk->verdict;
    json_t *object = gw_tree_object(tree);
    bool rests = verdict->finding >= 0 && (size_t)verdict->finding < walk->finding_count;
    gw_tree_add_text(tree, object, "status", gw_verdict_name(verdict->status));
    gw_tree_add_text(tree, object, "code", rests ? gw_finding_infos[walk->findings[verdict->finding].code].code : NULL);
    gw_tree_add_text(tree, object, "from", gw_shown_point(walk, verdict->from));
    gw_tree_add_text(tree, object, "to", gw_shown_point(walk, verdict->to));
    gw_tree_add_text(tree, object, "point", gw_shown_place(walk, verdict->point, verdict->rail));
    gw_tree_add_bool(tree, object, "exact", verdict->exact);
    gw_tree_add_text(tree, object, "summary", verdict->summary);
    return object;
}

static void add_next(gw_tree *tree, json_t *to, const gw_walk *walk) {
    json_t *array = gw_tree_array(tree);
    for (size_t i = 0; i < walk->next_count; i++) {
        json_t *object = gw_tree_object(tree);
        gw_tree_add_text(tree, object, "point", gw_shown_place(walk, walk->next[i].point, walk->next[i].rail));
        gw_tree_add_text(tree, object, "why", walk->next[i].why);
        gw_tree_add(tree, array, NULL, object);
    }
    gw_tree_add(tree, to, "next", array);
}

static json_t *walk_object(gw_tree *tree, const gw_walk *walk) {
    json_t *object = gw_tree_object(tree), *stages = gw_tree_array(tree), *findings = gw_tree_array(tree);
    gw_tree_add_text(tree, object, "file", walk->file);
    gw_tree_add_text(tree, object, "title", walk->title);
    gw_tree_add_text(tree, object, "unit", walk->unit);
    add_points(tree, object, "points", walk->points, walk->point_count);
    add_points(tree, object, "rails", walk->rails, walk->rail_count);
    for (size_t i = 0; i < walk->stage_count; i++)
        gw_tree_add(tree, stages, NULL, stage_object(tree, walk, &walk->stages[i]));
    gw_tree_add(tree, object, "stages", stages);
    for (size_t i = 0; i < walk->finding_count; i++)
        gw_tree_add(tree, findings, NULL, finding_object(tree, walk, &walk->findings[i]));
    gw_tree_add(tree, object, "findings", findings);
    gw_tree_add(tree, object, "verdict", verdict_object(tree, walk));
    add_next(tree, object, walk);
    return object;
}

bool gw_report_walk_json(const gw_walk *const *walks, size_t count, const gw_report_options *options, gw_text *out,
                         gw_error *error) {
    gw_tree tree = {0};
    json_t *root = gw_json_root(&tree, "gainwalk-walk", options), *array = gw_tree_array(&tree);
    for (size_t i = 0; i < count; i++)
        gw_tree_add(&tree, array, NULL, walk_object(&tree, walks[i]));
    gw_tree_add(&tree, root, "chains", array);
    return gw_tree_write(&tree, root, out, error);
}

bool gw_report_walk_line(const char *file, const char *failure, const gw_walk *const *walks, size_t count,
                         size_t number, const gw_report_options *options, gw_text *out, gw_error *error) {
    gw_tree tree = {0};
    json_t *root = gw_json_line(&tree, "gainwalk-walk", number, options), *array = gw_tree_array(&tree);
    if (failure != NULL)
        gw_tree_add(&tree, array, NULL, gw_json_refused(&tree, file, failure));
    for (size_t i = 0; i < count; i++)
        gw_tree_add(&tree, array, NULL, walk_object(&tree, walks[i]));
    gw_tree_add(&tree, root, "chains", array);
    return gw_tree_write_line(&tree, root, out, error);
}
