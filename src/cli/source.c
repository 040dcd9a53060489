/* Where walks come from: a chain file judged now, or a record of one judged before. */
#include "cli.h"

#include <string.h>

static bool load_chain(const char *word, gw_chain **out, gw_error *error) {
    if (!gw_cli_is_standard(word))
        return gw_chain_load(word, out, error);
    gw_text text = {0};
    bool loaded = gw_cli_input_text(GW_CHAIN_TEXT_MAX, &text, error) &&
                  gw_chain_parse(gw_text_string(&text), text.length, "-", out, error);
    gw_text_free(&text);
    return loaded;
}

bool gw_cli_source_load(const char *word, int jobs, source *out, gw_error *error) {
    *out = (source){0};
    if (!gw_cli_is_standard(word) && gw_record_recognise(word))
        return gw_record_load(word, &out->record, error);
    gw_chain *chain = NULL;
    return load_chain(word, &chain, error) && gw_cli_job_run(chain, jobs, &out->judged, error);
}

size_t gw_cli_source_count(const source *from) {
    return from->record != NULL ? from->record->walk_count : from->judged != NULL ? 1 : 0;
}

const gw_walk *gw_cli_source_walk(const source *from, size_t index) {
    return from->record != NULL ? &from->record->walks[index] : gw_cli_job_walk(from->judged);
}

static void tell_unreadable(const gw_walk_point *points, size_t count) {
    for (size_t i = 0; i < count; i++)
        if (points[i].status == GW_UNREADABLE && points[i].why != NULL) {
            gw_error error = {0};
            gw_error_set(&error, NULL, 0, "%s", points[i].why);
            gw_cli_fail(&error);
        }
}

void gw_cli_source_tell(const source *from) {
    for (size_t i = 0; i < gw_cli_source_count(from); i++) {
        const gw_walk *walk = gw_cli_source_walk(from, i);
        tell_unreadable(walk->points, walk->point_count);
        tell_unreadable(walk->rails, walk->rail_count);
    }
}

void gw_cli_source_free(source *of) {
    gw_cli_job_free(of->judged);
    gw_record_free(of->record);
    *of = (source){0};
}
