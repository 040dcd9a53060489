/* Stages as they are written: a kind, then parts. Blanks around '=' and before a unit are fine. */
#include "draft.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Ranges that no real part leaves. */
static const double ohm_most = 1e13, farad_most = 1e3, ratio_most = 1e4;

static bool is_blank(char character) {
    return character == ' ' || character == '\t';
}

/* ---- words ---------------------------------------------------------------------------------------- */

/* Takes the blanks around each '=' out, so that blanks part words only. In place. */
static void join_equals(char *text) {
    char *to = text;
    for (const char *from = text; *from != '\0'; from++) {
        if (*from == '=') {
            while (to > text && is_blank(to[-1]))
                to--;
            *to++ = '=';
            while (is_blank(from[1]))
                from++;
        } else {
            *to++ = *from;
        }
    }
    *to = '\0';
}

/* Cuts the next blank-parted word off `*rest`; NULL at the end. */
static char *next_word(char **rest) {
    while (is_blank(**rest))
        (*rest)++;
    if (**rest == '\0')
        return NULL;
    char *word = *rest;
    while (**rest != '\0' && !is_blank(**rest))
        (*rest)++;
    if (**rest != '\0')
        *(*rest)++ = '\0';
    return word;
}

/* ---- parts ---------------------------------------------------------------------------------------- */

/* A stage on its way in. */
typedef struct reading {
    const gw_chain_draft *draft;
    gw_stage *stage;
    double common_tolerance; /* tol=; negative: not stated */
    bool own_tolerance[GW_STAGE_PARTS];
} reading;

static bool is_mix(const gw_stage_kind *kind) {
    return strcmp(kind->name, "mix") == 0;
}

static const char *const *known_words(const gw_stage_kind *kind, const char *words[GW_STAGE_PARTS + 4]) {
    size_t count = 0;
    for (size_t i = 0; i < GW_STAGE_PARTS && kind->parts[i].name != NULL; i++)
        words[count++] = kind->parts[i].name;
    words[count++] = "tol";
    words[count++] = "blocks-dc";
    words[count] = NULL;
    return words;
}

static bool refuse_word(const reading *now, const char *word) {
    const char *known[GW_STAGE_PARTS + 4];
    char hint[64];
    gw_text list = {0};
    known_words(now->stage->kind, known);
    for (size_t i = 0; known[i] != NULL; i++)
        gw_text_printf(&list, "%s%s", i > 0 ? ", " : "", known[i]);
    gw_draft_fail(now->draft, "unknown part '%.60s' of stage '%s', which takes %s%s", word, now->stage->kind->name,
                  gw_text_string(&list), gw_draft_hint(word, known, hint, sizeof hint));
    gw_text_free(&list);
    return false;
}

static const char *example(const gw_part_info *part) {
    if (part->dimension == GW_DIM_FARAD)
        return "10u";
    if (part->dimension == GW_DIM_PERCENT)
        return "50 %";
    return part->dimension == GW_DIM_OHM ? "4k7" : "0.5";
}

static gw_value_rule part_rule(const gw_part_info *part) {
    gw_value_rule rule = {.dimension = part->dimension, .bare = true, .least = part->least, .most = part->most};
    rule.least_allowed = part->least_allowed;
    rule.example = example(part);
    if (rule.most == 0)
        rule.most = part->dimension == GW_DIM_OHM     ? ohm_most
                    : part->dimension == GW_DIM_FARAD ? farad_most
                                                      : ratio_most;
    return rule;
}

/* A part's value, perhaps with a tolerance of its own. */
static bool read_value(reading *now, size_t index, const char *text, double *out) {
    const gw_part_info *part = &now->stage->kind->parts[index];
    if (part->words != NULL) {
        size_t word = 0;
        if (!gw_draft_word(now->draft, part->name, text, part->words, &word))
            return false;
        *out = (double)word;
        return true;
    }
    gw_value_rule rule = part_rule(part);
    gw_stated stated = {0};
    if (!gw_draft_stated(now->draft, part->name, text, &rule, false, &stated))
        return false;
    *out = stated.value;
    if (stated.has_tolerance && stated.value > 0) {
        now->stage->tolerance[index] = (stated.high - stated.value) / stated.value;
        now->own_tolerance[index] = true;
    }
    return true;
}

static bool set_part(reading *now, size_t index, const char *text) {
    gw_stage *stage = now->stage;
    bool several = is_mix(stage->kind) && index == 0;
    if (stage->stated[index] && !several)
        return gw_draft_fail(now->draft, "part '%s' is stated twice", stage->kind->parts[index].name);
    double value = 0;
    if (!read_value(now, index, text, &value))
        return false;
    if (several) {
        if (stage->mix_count == GW_STAGE_PARTS)
            return gw_draft_fail(now->draft, "more than %d resistors in stage 'mix'", GW_STAGE_PARTS);
        stage->mix_r[stage->mix_count++] = value;
    }
    if (!several || stage->mix_count == 1)
        stage->parts[index] = value;
    stage->stated[index] = true;
    return true;
}

/* Tolerance letters of IEC 60062:2016, clause 5 (F and K confirmed; the others and the clause from memory). */
static const struct {
    const char *letter;
    double tolerance;
} tolerance_letters[] = {{"B", 0.001}, {"C", 0.0025}, {"D", 0.005}, {"F", 0.01},
                         {"G", 0.02},  {"J", 0.05},   {"K", 0.1},   {"M", 0.2}};

static bool set_tolerance(reading *now, const char *text) {
    static const gw_value_rule rule = {
        .dimension = GW_DIM_PERCENT, .most = 0.9, .least_allowed = true, .example = "5 %"};
    gw_quantity read = {0};
    if (now->common_tolerance >= 0)
        return gw_draft_fail(now->draft, "part 'tol' is stated twice");
    for (size_t i = 0; i < sizeof tolerance_letters / sizeof *tolerance_letters; i++)
        if (strcmp(tolerance_letters[i].letter, text) == 0) {
            now->common_tolerance = tolerance_letters[i].tolerance;
            return true;
        }
    if (!gw_draft_quantity(now->draft, "tol", text, &rule, &read))
        return false;
    now->common_tolerance = read.value;
    return true;
}

/* `mix r1=10k r2=22k` is as good as `r=10k r=22k`. */
static bool same_part(const reading *now, size_t index, const char *name) {
    const char *known = now->stage->kind->parts[index].name;
    if (strcmp(known, name) == 0)
        return true;
    return is_mix(now->stage->kind) && index == 0 && name[0] == 'r' && name[1] >= '1' && name[1] <= '9' &&
           name[2] == '\0';
}

/* `mix r=10k,10k,22k`: each value by itself. */
static bool set_list(reading *now, size_t index, char *text) {
    for (char *comma = strchr(text, ','); comma != NULL && is_mix(now->stage->kind); comma = strchr(text, ',')) {
        *comma = '\0';
        if (!set_part(now, index, text))
            return false;
        text = comma + 1;
    }
    return set_part(now, index, text);
}

static bool set_named(reading *now, const char *name, char *text) {
    if (strcmp(name, "tol") == 0)
        return set_tolerance(now, text);
    for (size_t i = 0; i < GW_STAGE_PARTS && now->stage->kind->parts[i].name != NULL; i++)
        if (same_part(now, i, name))
            return set_list(now, i, text);
    return refuse_word(now, name);
}

/* ---- a whole stage -------------------------------------------------------------------------------- */

static bool refuse_kind(const gw_chain_draft *draft, const char *word) {
    const char *known[32];
    size_t count = 0;
    gw_text list = {0};
    char hint[64];
    for (; count < 31 && gw_stage_kinds[count].name != NULL; count++) {
        known[count] = gw_stage_kinds[count].name;
        gw_text_printf(&list, "%s%s", count > 0 ? ", " : "", known[count]);
    }
    known[count] = NULL;
    gw_draft_hint(word, known, hint, sizeof hint);
    gw_draft_fail(draft, "unknown stage kind '%.60s'%s%s%s", word, hint, hint[0] == '\0' ? "; kinds are " : "",
                  hint[0] == '\0' ? gw_text_string(&list) : "");
    gw_text_free(&list);
    return false;
}

static bool finish_stage(reading *now) {
    gw_stage *stage = now->stage;
    for (size_t i = 0; i < GW_STAGE_PARTS && stage->kind->parts[i].name != NULL; i++) {
        const gw_part_info *part = &stage->kind->parts[i];
        if (part->required && !stage->stated[i])
            return gw_draft_fail(now->draft, "stage '%s' needs '%s': %s", stage->kind->name, part->name, part->meaning);
        if (!stage->stated[i])
            stage->parts[i] = part->fallback;
        if (part->toleranced && !now->own_tolerance[i] && now->common_tolerance > 0)
            stage->tolerance[i] = now->common_tolerance;
    }
    return true;
}

/* Reads `name=value` beginning with `word`; words without '=' that follow belong to the value ("50 %", "10 uF"). */
static bool read_named(reading *now, char *word, char **rest) {
    char *equals = strchr(word, '=');
    *equals = '\0';
    gw_text value = {0};
    gw_text_add(&value, equals + 1);
    for (;;) {
        char *ahead = *rest, *end;
        while (is_blank(*ahead))
            ahead++;
        for (end = ahead; *end != '\0' && !is_blank(*end) && *end != '=';)
            end++;
        bool flag = strncmp(ahead, "blocks-dc", 9) == 0;
        if (end == ahead || *end == '=' || flag)
            break;
        gw_text_add_char(&value, ' ');
        gw_text_add(&value, next_word(rest));
    }
    char *text = value.data;
    bool good = !value.failed && text != NULL ? set_named(now, word, text) : gw_error_memory(now->draft->error);
    gw_text_free(&value);
    return good;
}

static bool read_parts(reading *now, char *rest) {
    for (char *word = next_word(&rest); word != NULL; word = next_word(&rest)) {
        if (strcmp(word, "blocks-dc") == 0)
            now->stage->blocks_dc = true;
        else if (strchr(word, '=') == NULL || word[0] == '=')
            return refuse_word(now, word);
        else if (!read_named(now, word, &rest))
            return false;
    }
    return finish_stage(now);
}

bool gw_draft_stage(const gw_chain_draft *draft, const char *text, gw_stage *out) {
    char *copy = gw_arena_string(draft->arena, text);
    *out = (gw_stage){.text = gw_draft_copy(draft, text)};
    if (copy == NULL || out->text == NULL)
        return gw_error_memory(draft->error);
    join_equals(copy);
    char *rest = copy;
    const char *kind = next_word(&rest);
    if (kind == NULL)
        return gw_draft_fail(draft, "'stage' is empty");
    out->kind = gw_stage_kind_find(kind);
    if (out->kind == NULL)
        return refuse_kind(draft, kind);
    reading now = {.draft = draft, .stage = out, .common_tolerance = -1};
    return read_parts(&now, rest);
}
