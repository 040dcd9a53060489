/* Sections of a chain file, and the way from a key to the function that takes it. */
#include "draft.h"

#include <string.h>

static const char *const section_words[] = {"chain", "instrument", "point", "rail", NULL};

static bool word_in(const char *list, const char *word) {
    return strstr(list, word) != NULL; /* no section's word is part of another's */
}

/* ---- sections ------------------------------------------------------------------------------------- */

static const gw_draft_point *find_named(const gw_chain_draft *draft, const char *name) {
    for (size_t i = 0; i < draft->point_count; i++)
        if (strcmp(draft->points[i].point.name, name) == 0)
            return &draft->points[i];
    for (size_t i = 0; i < draft->rail_count; i++)
        if (strcmp(draft->rails[i].point.name, name) == 0)
            return &draft->rails[i];
    return NULL;
}

static bool check_name(const gw_chain_draft *draft, bool rail, const char *name) {
    const char *word = rail ? "rail" : "point";
    if (name[0] == '\0')
        return gw_draft_fail(draft, "a %s without a name: write [%s NAME]", word, word);
    if (strlen(name) > GW_NAME_MAX)
        return gw_draft_fail(draft, "a name longer than %d bytes: '%.60s…'", GW_NAME_MAX, name);
    if (draft->point_count + draft->rail_count >= GW_POINTS_MAX)
        return gw_draft_fail(draft, "more than %d points and rails", GW_POINTS_MAX);
    const gw_draft_point *other = find_named(draft, name);
    if (other != NULL)
        return gw_draft_fail(draft, "the name '%s' is already taken by the %s of line %ld", name,
                             other->point.rail ? "rail" : "point", other->point.line);
    return true;
}

bool gw_draft_add_point(gw_chain_draft *draft, bool rail, const char *name) {
    if (rail ? !GW_GROW(draft->rails, draft->rail_count, draft->rail_capacity)
             : !GW_GROW(draft->points, draft->point_count, draft->point_capacity))
        return gw_error_memory(draft->error);
    draft->now = rail ? &draft->rails[draft->rail_count] : &draft->points[draft->point_count];
    *draft->now = (gw_draft_point){.point = {.rail = rail, .line = draft->line, .after = -1}};
    draft->now->point.name = gw_draft_copy(draft, name);
    if (draft->now->point.name == NULL)
        return false;
    if (rail)
        draft->rail_count++;
    else
        draft->point_count++;
    return true;
}

static bool open_once(gw_chain_draft *draft, const char *word, const char *name, long *line) {
    if (name[0] != '\0')
        return gw_draft_fail(draft, "section '%s' has no name, but '%.60s' stands behind it", word, name);
    if (*line > 0)
        return gw_draft_fail(draft, "section '%s' is already at line %ld", word, *line);
    *line = draft->line;
    return true;
}

static bool open_named(gw_chain_draft *draft, gw_section section, const char *name) {
    if (section == GW_SECTION_CHAIN)
        return open_once(draft, "chain", name, &draft->chain_line);
    if (section == GW_SECTION_INSTRUMENT)
        return open_once(draft, "instrument", name, &draft->instrument_line);
    bool rail = section == GW_SECTION_RAIL;
    return check_name(draft, rail, name) && gw_draft_add_point(draft, rail, name);
}

bool gw_draft_open_section(gw_chain_draft *draft, const char *header, long line) {
    char word[64], hint[64];
    draft->line = draft->section_line = line;
    memset(draft->seen, 0, sizeof draft->seen);
    header += strspn(header, " \t");
    size_t length = strcspn(header, " \t");
    if (length >= sizeof word)
        length = sizeof word - 1;
    memcpy(word, header, length);
    word[length] = '\0';
    const char *name = header + length + strspn(header + length, " \t");
    char trimmed[128];
    size_t size = strlen(name);
    while (size > 0 && (name[size - 1] == ' ' || name[size - 1] == '\t'))
        size--;
    size = size < sizeof trimmed ? size : sizeof trimmed - 1;
    memcpy(trimmed, name, size);
    trimmed[size] = '\0';
    for (size_t i = 0; section_words[i] != NULL; i++)
        if (gw_word_equal(section_words[i], word)) {
            draft->section = (gw_section)(GW_SECTION_CHAIN + i);
            return open_named(draft, draft->section, trimmed);
        }
    return gw_draft_fail(draft,
                         "unknown section '[%s]'; sections are [chain], [instrument], [point NAME], [rail NAME]%s",
                         header, gw_draft_hint(word, section_words, hint, sizeof hint));
}

/* ---- keys ----------------------------------------------------------------------------------------- */

static bool refuse_key(const gw_chain_draft *draft, const char *section, const char *key) {
    const char *known[GW_CHAIN_KEYS_MAX + 1];
    const char *elsewhere = NULL;
    char hint[64];
    size_t count = 0;
    for (const gw_chain_key *row = gw_chain_keys; row->key != NULL; row++) {
        if (word_in(row->section, section))
            known[count++] = row->key;
        else if (strcmp(row->key, key) == 0)
            elsewhere = row->section;
    }
    known[count] = NULL;
    if (elsewhere != NULL)
        return gw_draft_fail(draft, "key '%.60s' does not belong in a section '%s', but in '%s'", key, section,
                             elsewhere);
    return gw_draft_fail(draft, "unknown key '%.60s' in a section '%s'%s", key, section,
                         gw_draft_hint(key, known, hint, sizeof hint));
}

bool gw_draft_set_key(gw_chain_draft *draft, const char *key, const char *text) {
    if (draft->section == GW_SECTION_NONE)
        return gw_draft_fail(draft, "key '%.60s' stands before any section", key);
    if (key[0] == '\0')
        return gw_draft_fail(draft, "no key before '='");
    const char *section = section_words[draft->section - GW_SECTION_CHAIN];
    for (size_t i = 0; gw_chain_keys[i].key != NULL; i++) {
        const gw_chain_key *row = &gw_chain_keys[i];
        if (strcmp(row->key, key) != 0 || !word_in(row->section, section))
            continue;
        if (draft->seen[i] > 0)
            return gw_draft_fail(draft, "key '%s' is already given at line %ld", key, draft->seen[i]);
        draft->seen[i] = draft->line;
        draft->key = row->key;
        return row->set(draft, text);
    }
    return refuse_key(draft, section, key);
}
