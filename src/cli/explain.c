/* gainwalk explain: every word of the program, told from the tables that the program itself works with. */
#include "cli.h"

#include <stdlib.h>
#include <string.h>

enum { WORDS_MAX = 256 };

static void explain_reading(gw_text *out, const gw_reading_info *row) {
    gw_text_printf(out, "%s: a reading (%s%s%s)\n  %s\n", row->key, row->name,
                   row->unit != NULL && *row->unit ? ", in " : "", row->unit != NULL ? row->unit : "", row->meaning);
    if (row->source != NULL)
        gw_text_printf(out, "  source: %s\n", row->source);
}

static void explain_finding(gw_text *out, const gw_finding_info *row) {
    gw_text_printf(out, "%s: a finding\n  %s\n  likely causes, and what would confirm each:\n", row->code,
                   row->meaning);
    for (size_t i = 0; i < GW_CAUSES_MAX && row->causes[i].cause != NULL; i++)
        gw_text_printf(out, "    %zu. %s\n       check: %s\n", i + 1, row->causes[i].cause, row->causes[i].confirm);
    if (row->lookalikes != NULL)
        gw_text_printf(out, "  looks alike: %s\n", row->lookalikes);
}

static const char *dc_words(gw_dc_path path) {
    static const char *const words[] = {
        [GW_DC_PASSES] = "passes", [GW_DC_UNKNOWN] = "passes, sign not known", [GW_DC_BLOCKED] = "blocked"};
    return words[path];
}

static void explain_stage(gw_text *out, const gw_stage_kind *row) {
    gw_text_printf(out, "%s: a stage kind\n  %s\n", row->name, row->meaning);
    for (size_t i = 0; i < GW_STAGE_PARTS && row->parts[i].name != NULL; i++)
        gw_text_printf(out, "    %s%s: %s\n", row->parts[i].name, row->parts[i].required ? "" : " (may be left out)",
                       row->parts[i].meaning);
    if (row->formula != NULL)
        gw_text_printf(out, "  expected gain: %s\n", row->formula);
    gw_text_printf(out, "  DC: %s\n", dc_words(row->dc));
    if (row->source != NULL)
        gw_text_printf(out, "  source: %s\n", row->source);
}

static void explain_key(gw_text *out, const gw_chain_key *row) {
    gw_text_printf(out, "%s: a key of the chain file, section [%s]\n  %s\n  example: %s = %s\n", row->key, row->section,
                   row->meaning, row->key, row->example);
}

static void explain_shape(gw_text *out, const gw_test_shape_info *row) {
    gw_text_printf(out, "%s: a test signal of 'gainwalk tone'\n  %s\n", row->name, row->meaning);
    if (row->source != NULL)
        gw_text_printf(out, "  source: %s\n", row->source);
}

/* Those of one table after those of another. */
size_t gw_cli_explain_words(const char **words, size_t max) {
    size_t count = 0;
    for (size_t i = 0; i < GW_READING_COUNT && count < max; i++)
        words[count++] = gw_reading_infos[i].key;
    for (size_t i = 0; i < GW_FINDING_COUNT && count < max; i++)
        words[count++] = gw_finding_infos[i].code;
    for (const gw_stage_kind *row = gw_stage_kinds; row->name != NULL && count < max; row++)
        words[count++] = row->name;
    for (const gw_chain_key *row = gw_chain_keys; row->key != NULL && count < max; row++)
        words[count++] = row->key;
    for (size_t i = 0; i < GW_TEST_SHAPE_COUNT && count < max; i++)
        words[count++] = gw_test_shapes[i].name;
    return count;
}

/* Explains every entry of that name: `coupling` is a stage kind and a key. */
static bool explain_word(gw_text *out, const char *word) {
    size_t before = out->length;
    for (size_t i = 0; i < GW_READING_COUNT; i++)
        if (gw_word_equal(word, gw_reading_infos[i].key))
            explain_reading(out, &gw_reading_infos[i]);
    for (size_t i = 0; i < GW_FINDING_COUNT; i++)
        if (gw_word_equal(word, gw_finding_infos[i].code))
            explain_finding(out, &gw_finding_infos[i]);
    for (const gw_stage_kind *row = gw_stage_kinds; row->name != NULL; row++)
        if (gw_word_equal(word, row->name))
            explain_stage(out, row);
    for (const gw_chain_key *row = gw_chain_keys; row->key != NULL; row++)
        if (gw_word_equal(word, row->key))
            explain_key(out, row);
    for (size_t i = 0; i < GW_TEST_SHAPE_COUNT; i++)
        if (gw_word_equal(word, gw_test_shapes[i].name))
            explain_shape(out, &gw_test_shapes[i]);
    return out->length > before;
}

static void add_line(gw_text *out, const char *word, const char *meaning) {
    gw_text_printf(out, "  %-20s %s\n", word, meaning);
}

static void explain_all(gw_text *out) {
    gw_text_add(out, "Readings:\n");
    for (size_t i = 0; i < GW_READING_COUNT; i++)
        add_line(out, gw_reading_infos[i].key, gw_reading_infos[i].meaning);
    gw_text_add(out, "\nFindings:\n");
    for (size_t i = 0; i < GW_FINDING_COUNT; i++)
        add_line(out, gw_finding_infos[i].code, gw_finding_infos[i].meaning);
    gw_text_add(out, "\nStage kinds:\n");
    for (const gw_stage_kind *row = gw_stage_kinds; row->name != NULL; row++)
        add_line(out, row->name, row->meaning);
    gw_text_add(out, "\nKeys of the chain file:\n");
    for (const gw_chain_key *row = gw_chain_keys; row->key != NULL; row++)
        add_line(out, row->key, row->meaning);
    gw_text_add(out, "\nTest signals:\n");
    for (size_t i = 0; i < GW_TEST_SHAPE_COUNT; i++)
        add_line(out, gw_test_shapes[i].name, gw_test_shapes[i].meaning);
}

static bool unknown_word(const char *word, gw_error *error) {
    const char *words[WORDS_MAX + 1] = {NULL};
    gw_cli_explain_words(words, WORDS_MAX);
    const char *nearest = gw_word_nearest(word, words);
    if (nearest != NULL)
        return gw_error_set(error, NULL, 0, "nothing is called '%s', did you mean '%s'?", word, nearest);
    return gw_error_set(error, NULL, 0, "nothing is called '%s', 'gainwalk explain' lists all words", word);
}

int gw_cli_explain(const arguments *given) {
    gw_text out = {0};
    gw_error error = {0};
    int status = EXIT_IN_ORDER;
    if (given->count == 0)
        explain_all(&out);
    for (size_t i = 0; i < given->count; i++) {
        if (i > 0)
            gw_text_add_char(&out, '\n');
        gw_error_clear(&error);
        if (!explain_word(&out, given->words[i]) && !unknown_word(given->words[i], &error))
            status = gw_cli_fail(&error);
    }
    if (!gw_cli_print(&out))
        status = EXIT_NOT_DONE;
    gw_text_free(&out);
    return status;
}
