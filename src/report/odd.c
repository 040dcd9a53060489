#include "report/odd.h"

#include <string.h>

/* A list of names under construction: "OFF: gain, DC". */
typedef struct word_list {
    gw_text *out;
    const char *head;
    size_t count;
    size_t begun; /* length of `out` before */
} word_list;

static void add_word(word_list *list, const char *word) {
    if (list->count++ > 0)
        gw_text_add(list->out, ", ");
    else if (list->out->length > list->begun)
        gw_text_printf(list->out, "; %s: ", list->head);
    else
        gw_text_printf(list->out, "%s: ", list->head);
    gw_text_add(list->out, word);
}

static void add_fields(word_list *list, const gw_walk_point *point, const gw_walk_stage *stage, gw_status status) {
    for (const gw_judged_field *field = gw_stage_fields; stage != NULL && field->key != NULL; field++)
        if (gw_judged_of_stage(stage, field)->status == status)
            add_word(list, field->name);
    if (stage != NULL && stage->polarity_status == status)
        add_word(list, "polarity");
    for (const gw_judged_field *field = gw_point_fields; field->key != NULL; field++) {
        bool told = strcmp(field->key, "dc") == 0 && stage != NULL && stage->dc.status == status;
        if (gw_judged_of_point(point, field)->status == status && !told)
            add_word(list, field->name);
    }
}

/* Findings that no figure shows (crackle, cut-outs …). */
static void add_findings(word_list *list, const gw_walk *walk, bool rail, size_t index, gw_status status) {
    for (size_t i = 0; i < walk->finding_count; i++) {
        const gw_finding *finding = &walk->findings[i];
        if (finding->status == status && finding->follows < 0 && (rail ? finding->rail : finding->point) == (int)index)
            add_word(list, gw_finding_infos[finding->code].code);
    }
}

static void add_list(const gw_walk *walk, bool rail, size_t index, gw_status status, const char *head, size_t begun,
                     gw_text *out) {
    const gw_walk_point *point = rail ? &walk->rails[index] : &walk->points[index];
    word_list list = {.out = out, .head = head, .begun = begun};
    add_fields(&list, point, rail ? NULL : gw_shown_stage_to(walk, index), status);
    if (list.count == 0)
        add_findings(&list, walk, rail, index, status);
}

/* The finding that what was found at a point follows from; -1 where there is none. */
static int cause_of(const gw_walk *walk, size_t index) {
    for (size_t i = 0; i < walk->finding_count; i++)
        if (walk->findings[i].point == (int)index && walk->findings[i].follows >= 0)
            return walk->findings[i].follows;
    return -1;
}

void gw_odd_words(const gw_walk *walk, bool rail, size_t index, gw_text *out) {
    const gw_walk_point *point = rail ? &walk->rails[index] : &walk->points[index];
    size_t begun = out->length;
    if (point->status == GW_UNREADABLE) {
        gw_text_printf(out, "UNREADABLE: %s", point->why != NULL ? point->why : "no reason known");
        return;
    }
    if (point->status == GW_UNPROBED) {
        gw_text_add(out, "unprobed");
        return;
    }
    add_list(walk, rail, index, GW_OFF, "OFF", begun, out);
    add_list(walk, rail, index, GW_UNSURE, "unsure", begun, out);
    if (out->length > begun)
        return;
    int cause = rail ? -1 : cause_of(walk, index);
    if (cause >= 0 && point->status == GW_OK)
        gw_text_printf(out, "ok itself; see finding %d", cause + 1);
    else if (cause >= 0)
        gw_text_printf(out, "follows from finding %d", cause + 1);
    else
        gw_text_add(out, point->status == GW_OFF ? "OFF" : gw_status_name(point->status));
}

/* How much a status asks for attention. */
static int gravity(gw_status status) {
    static const int gravities[] = {
        [GW_UNJUDGED] = 0, [GW_OK] = 1, [GW_UNSURE] = 2, [GW_OFF] = 3, [GW_UNPROBED] = 0, [GW_UNREADABLE] = 0};
    return gravities[status];
}

gw_status gw_odd_status(const gw_walk *walk, size_t index, const char *point_key, const char *stage_key) {
    gw_status worst = GW_UNJUDGED;
    const gw_walk_stage *stage = gw_shown_stage_to(walk, index);
    for (const gw_judged_field *field = gw_point_fields; point_key != NULL && field->key != NULL; field++) {
        gw_status status = gw_judged_of_point(&walk->points[index], field)->status;
        if (strcmp(field->key, point_key) == 0 && gravity(status) > gravity(worst))
            worst = status;
    }
    for (const gw_judged_field *field = gw_stage_fields; stage != NULL && stage_key != NULL && field->key != NULL;
         field++) {
        gw_status status = gw_judged_of_stage(stage, field)->status;
        if (strcmp(field->key, stage_key) == 0 && gravity(status) > gravity(worst))
            worst = status;
    }
    return worst;
}

const char *gw_odd_verdict(gw_verdict_status status) {
    static const char *const names[] = {[GW_VERDICT_CLEAR] = "IN ORDER",
                                        [GW_VERDICT_FAULT] = "FAULT",
                                        [GW_VERDICT_UNSURE] = "UNSURE",
                                        [GW_VERDICT_INCOMPLETE] = "INCOMPLETE"};
    return names[status];
}
