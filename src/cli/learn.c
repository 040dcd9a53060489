/* gainwalk learn: expectations from known-good units. */
#include "cli.h"

#include <stdlib.h>
#include <string.h>

static const char *const default_output = "learnt.ini";

/* The units, and where they came from. */
typedef struct school {
    source *sources;
    size_t source_count;
    const gw_walk **units;
    size_t count, capacity;
    gw_text names;
} school;

static void free_school(school *of) {
    for (size_t i = 0; i < of->source_count; i++)
        gw_cli_source_free(&of->sources[i]);
    free(of->sources);
    free(of->units);
    gw_text_free(&of->names);
}

/* A file's name on one line of a comment. */
static void add_name(gw_text *out, const char *name) {
    if (out->length > 0)
        gw_text_add(out, ", ");
    for (; *name != '\0'; name++)
        gw_text_add_char(out, (unsigned char)*name < 0x20 || *name == 0x7F ? '?' : *name);
}

/* Whoever calls a unit good is believed, but told what speaks against it. */
static bool doubt(const gw_walk *unit, const char *name) {
    gw_text line = {0};
    if (unit->verdict.status != GW_VERDICT_FAULT)
        return true;
    gw_text_printf(&line, "%s: %s", name, unit->verdict.summary);
    gw_cli_note("note: taken for good, though by what its chain expects it is not: ", gw_text_string(&line));
    bool whole = !line.failed;
    gw_text_free(&line);
    return whole;
}

static bool add_unit(school *to, const char *name, int jobs, gw_error *error) {
    source *from = &to->sources[to->source_count];
    if (!gw_cli_source_load(name, jobs, from, error))
        return false;
    to->source_count++;
    add_name(&to->names, gw_path_name(name));
    for (size_t i = 0; i < gw_cli_source_count(from); i++) {
        if (!GW_GROW(to->units, to->count, to->capacity))
            return gw_error_memory(error);
        to->units[to->count++] = gw_cli_source_walk(from, i);
        if (!doubt(to->units[to->count - 1], name))
            return gw_error_memory(error);
    }
    return !to->names.failed || gw_error_memory(error);
}

/* The words behind the chain file, or the chain file itself. */
static bool enrol(const arguments *given, int jobs, school *out, gw_error *error) {
    size_t first = given->count > 1 ? 1 : 0;
    out->sources = calloc(given->count, sizeof *out->sources);
    if (out->sources == NULL)
        return gw_error_memory(error);
    for (size_t i = first; i < given->count; i++)
        for (size_t k = first; k < i; k++)
            if (gw_cli_are_one(given->words[k], given->words[i]))
                return gw_error_set(error, given->words[i], 0, "is given twice: one unit is not two");
    for (size_t i = first; i < given->count; i++)
        if (!add_unit(out, given->words[i], jobs, error))
            return false;
    return true;
}

static size_t count_learnt(const gw_lesson *lesson) {
    size_t count = 0;
    for (size_t i = 0; i < lesson->count; i++) {
        const gw_learnt_point *at = &lesson->points[i];
        count += (size_t)at->gain.has + at->dc.has + at->thd.has + at->noise.has;
    }
    return count;
}

static bool write_lesson(const gw_chain *chain, const school *from, const char *path, gw_text *out, gw_error *error) {
    char *text = NULL;
    size_t length = 0;
    gw_lesson *lesson = NULL;
    bool fine = gw_learn_run(chain, from->units, from->count, &lesson, error) &&
                gw_file_read(path, GW_CHAIN_TEXT_MAX, &text, &length, error) &&
                gw_lesson_write(lesson, text, length, gw_text_string(&from->names), out, error);
    if (fine && count_learnt(lesson) == 0)
        fine = gw_error_set(error, path, 0, "nothing was learnt: no point of it was measured in any of the units");
    free(text);
    gw_lesson_free(lesson);
    return fine;
}

/* What was made must load. */
static bool loads(const gw_text *text, const char *path, gw_error *error) {
    gw_chain *chain = NULL;
    bool fine = gw_chain_parse(gw_text_string(text), text->length, path, &chain, error);
    gw_chain_free(chain);
    return fine;
}

static bool learn(const arguments *given, const char *path, gw_text *out, gw_error *error) {
    school from = {0};
    gw_chain *chain = NULL;
    int jobs = 1;
    if (given->count == 0)
        return gw_error_set(error, NULL, 0, "no chain file given, see 'gainwalk learn --help'");
    if (gw_cli_is_standard(given->words[0]))
        return gw_error_set(error, NULL, 0, "the chain file that is learnt for has to be a file");
    bool fine = gw_cli_jobs(given, &jobs, error) && gw_chain_load(given->words[0], &chain, error) &&
                enrol(given, jobs, &from, error) && write_lesson(chain, &from, given->words[0], out, error) &&
                loads(out, path, error);
    gw_chain_free(chain);
    free_school(&from);
    return fine;
}

int gw_cli_learn(const arguments *given) {
    const char *path = given->values[OPTION_OUTPUT] != NULL ? given->values[OPTION_OUTPUT] : default_output;
    gw_text text = {0};
    gw_error error = {0};
    int status = EXIT_IN_ORDER;
    if (!learn(given, path, &text, &error))
        status = gw_cli_fail(&error);
    else if (!gw_cli_write(path, &text, given->values[OPTION_FORCE] != NULL))
        status = EXIT_NOT_DONE;
    else if (!gw_cli_is_standard(path))
        gw_cli_note("written: ", path);
    gw_text_free(&text);
    return status;
}
