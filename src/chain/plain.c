/* Chains without a chain file: captures that are successive points, and options of the command line. */
#include "draft.h"

#include <stdio.h>
#include <string.h>

/* Where an error of an option is said to be. */
typedef struct option {
    gw_chain_draft *draft;
    const char *before;
} option;

static option begin_option(gw_chain_draft *draft, const char *name) {
    option now = {.draft = draft, .before = draft->file};
    draft->file = name;
    draft->line = 0;
    return now;
}

static bool end_option(const option *now, bool good) {
    now->draft->file = now->before;
    return good;
}

/* ---- names ---------------------------------------------------------------------------------------- */

static bool taken(const gw_chain_draft *draft, const char *name) {
    for (size_t i = 0; i < draft->point_count; i++)
        if (strcmp(draft->points[i].point.name, name) == 0)
            return true;
    return false;
}

/* The file's name without folder and extension, with a number where that is taken. */
static bool add_capture(gw_chain_draft *draft, const char *path) {
    char stem[200], name[240];
    const char *last = gw_path_name(path);
    const char *dot = strrchr(last, '.');
    size_t length = dot != NULL && dot != last ? (size_t)(dot - last) : strlen(last);
    length = length < sizeof stem - 1 ? length : sizeof stem - 1;
    snprintf(stem, sizeof stem, "%.*s", (int)length, last);
    snprintf(name, sizeof name, "%s", stem[0] != '\0' ? stem : "capture");
    for (int number = 2; taken(draft, name); number++)
        snprintf(name, sizeof name, "%s-%d", stem, number);
    if (draft->point_count >= GW_POINTS_MAX)
        return gw_draft_fail(draft, "more than %d captures", GW_POINTS_MAX);
    return gw_draft_add_point(draft, false, name);
}

/* ---- gains ---------------------------------------------------------------------------------------- */

static size_t count_items(const char *list) {
    size_t count = 1;
    for (; *list != '\0'; list++)
        count += *list == ',';
    return count;
}

static bool read_gain(gw_chain_draft *draft, size_t point, const char *from, size_t length) {
    char item[64];
    if (length >= sizeof item)
        return gw_draft_fail(draft, "not a gain: '%.*s…'", 40, from);
    snprintf(item, sizeof item, "%.*s", (int)length, from);
    gw_stated ignored = {0};
    return gw_draft_gain(draft, "gain", item, point < draft->point_count ? &draft->points[point].gain : &ignored);
}

/* One gain a stage; or one a point, of which the first, that of whatever drives the first point, is not judged. */
static bool read_gains(gw_chain_draft *draft, const char *list) {
    size_t count = count_items(list), points = draft->point_count;
    if (count != points && count + 1 != points)
        return gw_draft_fail(draft, "%zu gains for %zu captures: give one for each stage between them", count, points);
    size_t point = points - count;
    for (const char *at = list;; at++) {
        size_t length = strcspn(at, ",");
        if (!read_gain(draft, point++, at, length))
            return false;
        at += length;
        if (*at == '\0')
            break;
    }
    draft->points[0].gain = (gw_stated){0};
    return true;
}

/* ---- options --------------------------------------------------------------------------------------- */

static bool read_stimulus(gw_chain_draft *draft, const char *text) {
    draft->chain->stimulus_text = gw_draft_copy(draft, text);
    return draft->chain->stimulus_text != NULL &&
           gw_stimulus_parse(text, &draft->chain->stimulus, draft->file, 0, draft->error);
}

static bool read_options(gw_chain_draft *draft, const gw_chain_plain *plain) {
    bool good = true;
    option now = begin_option(draft, "--stimulus");
    good = end_option(&now, good && (plain->stimulus == NULL || read_stimulus(draft, plain->stimulus)));
    now = begin_option(draft, "--mains");
    good = end_option(&now,
                      good && (plain->mains == NULL || gw_draft_mains(draft, plain->mains, &draft->chain->mains_hz)));
    now = begin_option(draft, "--probe");
    good = end_option(&now, good && (plain->probe == NULL || gw_draft_probe(draft, plain->probe, &draft->probe)));
    now = begin_option(draft, "--accuracy");
    good = end_option(
        &now, good && (plain->accuracy == NULL || gw_draft_accuracy(draft, plain->accuracy, &draft->chain->accuracy)));
    now = begin_option(draft, "--gain");
    return end_option(&now, good && (plain->gains == NULL || read_gains(draft, plain->gains)));
}

static bool read_plain(gw_chain_draft *draft, const gw_chain_plain *plain) {
    if (plain->count == 0)
        return gw_draft_fail(draft, "no capture to walk along");
    for (size_t i = 0; i < plain->count; i++) {
        if (!add_capture(draft, plain->captures[i]))
            return false;
        draft->now->capture = plain->captures[i];
        if (plain->channel != NULL) {
            draft->now->point.channel = gw_draft_copy(draft, plain->channel);
            if (draft->now->point.channel == NULL)
                return false;
        }
    }
    return read_options(draft, plain);
}

bool gw_chain_from_files(const gw_chain_plain *plain, gw_chain **out, gw_error *error) {
    gw_chain_draft draft;
    bool good = gw_draft_start(&draft, NULL) && read_plain(&draft, plain);
    return gw_draft_finish(&draft, good, out, error);
}
