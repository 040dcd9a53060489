#include "capture/settings.h"

#include <math.h>
#include <string.h>
#include <strings.h>

#include "capture/words.h"

enum { VALUE_MAX = 100 };

/* A key with its values, and what the key itself says of their unit. */
typedef struct pair {
    const char *key;
    char **cells; /* the line's, for values by column; the first is the key's */
    size_t count;
    const char *value;  /* the first filled one */
    const char *second; /* the cell behind it; "" where there is none */
    gw_words words;
    gw_format format;
} pair;

/* ---- values ------------------------------------------------------------------------------------- */

bool gw_setting_number(const char *text, char decimal, double *value, const char **rest) {
    char copy[VALUE_MAX];
    size_t length = 0, used = 0;
    bool minus = strncmp(text, "\u2212", 3) == 0, exponent = false;
    const char *from = text + (minus ? 3 : 0);
    if (minus)
        copy[length++] = '-';
    for (size_t i = 0; from[i] != '\0' && length + 1 < sizeof copy; i++) {
        bool comma = from[i] == ',' && (decimal == ',' || strchr(from, '.') == NULL);
        exponent = exponent || from[i] == 'e' || from[i] == 'E';
        copy[length++] = comma && !exponent ? '.' : from[i];
    }
    copy[length] = '\0';
    if (!gw_number_prefix(copy, length, value, &used))
        return false;
    *rest = from + used - (minus ? 1 : 0);
    *rest += strspn(*rest, " \t");
    return true;
}

/* Skips a channel's tag: `IN1:0.000002`, `Analog:140000`. A clock and a ratio are none. */
static const char *skip_tag(const char *value) {
    const char *colon = strrchr(value, ':');
    if (colon == NULL || strspn(value, "0123456789.: -") >= (size_t)(colon - value))
        return value;
    return colon + 1 + strspn(colon + 1, " \t");
}

/* The unit of a value: glued to it, in the next cell, or in the key's brackets. */
static gw_unit unit_of(const pair *p, const char *rest, gw_unit (*find)(const char *)) {
    gw_unit unit = {GW_UNIT_NONE, 0};
    const char *open = strpbrk(p->key, "([{");
    if (*rest != '\0')
        return find(rest);
    if (*p->second != '\0')
        unit = find(p->second);
    if (unit.kind == GW_UNIT_NONE && open != NULL)
        unit = find(open);
    return unit;
}

/* A number in the unit wanted, or without one. */
static void take_stated(const pair *p, gw_unit_kind kind, gw_unit (*find)(const char *), gw_stated *out) {
    double value;
    const char *rest;
    if (out->given || !gw_setting_number(skip_tag(p->value), p->format.decimal, &value, &rest))
        return;
    gw_unit unit = unit_of(p, rest, find);
    if ((unit.kind == GW_UNIT_NONE && *rest != '\0') || (unit.kind != GW_UNIT_NONE && unit.kind != kind))
        return;
    *out = (gw_stated){true, gw_unit_apply(unit, value), unit.kind == kind};
}

static void take_positive(const pair *p, gw_unit_kind kind, gw_unit (*find)(const char *), gw_stated *out) {
    take_stated(p, kind, find, out);
    if (!(out->value > 0) || !isfinite(out->value))
        *out = (gw_stated){0};
}

/* A whole number of samples, perhaps as `1e+07`, `14M`, `2500 pts`. */
static void take_count(const pair *p, gw_settings *settings) {
    static const struct {
        const char *word;
        double factor;
    } units[] = {{"", 1},           {"pts", 1},        {"points", 1}, {"samples", 1}, {"sa", 1},    {"cnt", 1},
                 {"k", 1e3},        {"m", 1e6},        {"kpts", 1e3}, {"mpts", 1e6},  {"ksa", 1e3}, {"msa", 1e6},
                 {"k points", 1e3}, {"m points", 1e6}, {"rows", 1},   {"values", 1},  {"s", 1}};
    double value;
    const char *rest;
    if (settings->count_count == GW_COUNTS_MAX ||
        !gw_setting_number(skip_tag(p->value), p->format.decimal, &value, &rest))
        return;
    for (size_t i = 0; i < sizeof units / sizeof *units; i++) {
        if (strcasecmp(rest, units[i].word) != 0)
            continue;
        value *= units[i].factor;
        if (value >= 1 && value < 1e15 && value == floor(value))
            settings->counts[settings->count_count++] = (uint64_t)value;
        return;
    }
}

static void take_unit(const pair *p, gw_settings *settings) {
    const char *text = skip_tag(p->value);
    gw_unit unit = gw_unit_find(text);
    if (gw_words_have(&p->words, "rate frequency freq sample samples sampling trigger trig bandwidth filter"))
        return;
    if (unit.kind == GW_UNIT_SECOND || unit.kind == GW_UNIT_HERTZ) {
        if (settings->axis_unit.kind == GW_UNIT_NONE)
            settings->axis_unit = unit;
    } else if (unit.kind != GW_UNIT_NONE && unit.kind != GW_UNIT_INDEX && settings->value_units.cells == NULL) {
        settings->value_units = (gw_setting){p->cells, p->count};
    }
}

static bool is_probe_key(const gw_words *words) {
    return gw_words_have(words, "probe probes attenuation tastkopf") &&
           !gw_words_have(words, "offset unit units skew type model delay id");
}

static bool is_coupling_key(const gw_words *words) {
    return gw_words_have(words, "coupling") && !gw_words_have(words, "trigger trig");
}

static bool is_source_value(const char *value) {
    static const char *const others[] = {"ac", "dc", "gnd", "on", "off", "yes", "no", NULL};
    for (size_t i = 0; others[i] != NULL; i++)
        if (strcasecmp(value, others[i]) == 0)
            return false;
    double number;
    const char *rest;
    return !gw_setting_number(value, '.', &number, &rest) || *rest == '\0';
}

/* Volts a division, with whatever prefix. */
static gw_unit find_volts(const char *text) {
    char word[VALUE_MAX];
    size_t length = strcspn(text, "/");
    if (length >= sizeof word)
        return (gw_unit){GW_UNIT_NONE, 0};
    memcpy(word, text, length);
    word[length] = '\0';
    return gw_unit_find(word);
}

/* The keys that are used, the first that fits. */
static void take_pair(const pair *p, gw_settings *s) {
    const gw_words *words = &p->words;
    s->key_rows++;
    if (gw_words_have(words, "unit units"))
        take_unit(p, s);
    else if (gw_words_name_per_division(words))
        take_positive(p, GW_UNIT_VOLT, find_volts, &s->per_division_v);
    else if (gw_words_name_interval(words))
        take_positive(p, GW_UNIT_SECOND, gw_unit_find, &s->interval_s);
    else if (gw_words_name_rate(words))
        take_positive(p, GW_UNIT_HERTZ, gw_unit_find_rate, &s->rate_hz);
    else if (gw_words_name_start(words))
        take_stated(p, GW_UNIT_SECOND, gw_unit_find, &s->start_s);
    else if (gw_words_name_count(words))
        take_count(p, s);
    else if (gw_words_name_source(words) && is_source_value(p->value) && s->names.cells == NULL)
        s->names = (gw_setting){p->cells, p->count};
    else if (is_probe_key(words) && s->probes.cells == NULL)
        s->probes = (gw_setting){p->cells, p->count};
    else if (is_coupling_key(words) && s->couplings.cells == NULL)
        s->couplings = (gw_setting){p->cells, p->count};
}

/* ---- rows --------------------------------------------------------------------------------------- */

static const char *filled(const gw_line *line, size_t from, size_t *at) {
    for (*at = from; *at < line->count; (*at)++)
        if (*line->cells[*at] != '\0')
            return line->cells[*at];
    return NULL;
}

/* `key: value` or `key = value` in one cell; the new cells go to `out`. */
static bool split_cell(gw_arena *arena, const char *cell, gw_line *out) {
    const char *sign = strpbrk(cell, ":=");
    if (sign == NULL || sign == cell || sign[1] == '\0')
        return false;
    char **cells = gw_arena_array(arena, 2, sizeof *cells);
    const char *value = sign + 1 + strspn(sign + 1, " \t=");
    if (cells == NULL || *value == '\0')
        return false;
    cells[0] = gw_arena_copy(arena, cell, (size_t)(sign - cell));
    cells[1] = gw_arena_string(arena, value);
    *out = (gw_line){.cells = cells, .count = 2};
    return cells[0] != NULL && cells[1] != NULL;
}

/* The last word is the value where it is a number: `Rate 48000`. Or another separator than the data's holds. */
static bool split_otherwise(gw_arena *arena, const char *cell, gw_line *out) {
    static const char separators[] = "\t;,";
    const char *end = cell + strlen(cell);
    for (size_t i = 0; separators[i] != '\0'; i++)
        if (strchr(cell, separators[i]) != NULL && gw_line_split(arena, cell, end, separators[i], out) &&
            out->count > 1)
            return true;
    const char *blank = strrchr(cell, ' ');
    double value;
    const char *rest;
    if (blank == NULL || !gw_setting_number(blank + 1, '.', &value, &rest))
        return false;
    char **cells = gw_arena_array(arena, 2, sizeof *cells);
    if (cells == NULL)
        return false;
    cells[0] = gw_arena_copy(arena, cell, (size_t)(blank - cell));
    cells[1] = gw_arena_string(arena, blank + 1);
    *out = (gw_line){.cells = cells, .count = 2};
    return cells[0] != NULL && cells[1] != NULL;
}

static void take_line(gw_settings *settings, const gw_line *line, gw_format format) {
    size_t key_at, at;
    const char *key = filled(line, 0, &key_at), *value = key != NULL ? filled(line, key_at + 1, &at) : NULL;
    if (value == NULL || key_at > 0)
        return;
    pair p = {.key = key, .cells = line->cells, .count = line->count, .value = value, .format = format};
    p.second = at + 1 < line->count ? line->cells[at + 1] : "";
    gw_words_split(key, &p.words);
    if (p.words.count > 0)
        take_pair(&p, settings);
}

bool gw_settings_take(gw_settings *settings, gw_arena *arena, const gw_line *lines, size_t count, gw_format format,
                      size_t from, size_t to) {
    for (size_t i = 0; i < count; i++) {
        if (from >= lines[i].count)
            continue;
        gw_line line = {.cells = lines[i].cells + from, .count = (lines[i].count < to ? lines[i].count : to) - from};
        while (line.count > 0 && *line.cells[line.count - 1] == '\0')
            line.count--;
        for (; from > 0 && line.count > 0 && *line.cells[0] == '\0'; line.count--)
            line.cells++;
        gw_line split;
        bool pairs = false;
        /* pairs within cells: each on its own */
        for (size_t c = 0; c < line.count; c++)
            if ((c == 0 || pairs || line.count == 1) && split_cell(arena, line.cells[c], &split)) {
                take_line(settings, &split, format);
                pairs = true;
            }
        if (pairs)
            continue;
        if (line.count == 1 && split_otherwise(arena, line.cells[0], &split))
            line = split;
        take_line(settings, &line, format);
    }
    return true;
}

const char *gw_setting_for(const gw_setting *setting, size_t index) {
    if (setting->cells == NULL)
        return NULL;
    if (index > 0 && index < setting->count && *setting->cells[index] != '\0')
        return skip_tag(setting->cells[index]);
    for (size_t i = 1; i < setting->count; i++)
        if (*setting->cells[i] != '\0')
            return skip_tag(setting->cells[i]);
    return NULL;
}

bool gw_line_is_setting(const gw_line *line) {
    size_t filled_cells = 0;
    for (size_t i = 0; i < line->count; i++)
        filled_cells += *line->cells[i] != '\0';
    if (line->count > 0 && strpbrk(line->cells[0], ":=") != NULL)
        return true;
    return filled_cells >= 2 && filled_cells <= 3 && *line->cells[0] != '\0';
}

double gw_probe_factor(const char *text) {
    double one = 0, other = 0;
    const char *rest;
    text += *text == 'x' || *text == 'X';
    if (!gw_setting_number(text, '.', &one, &rest) || !(one > 0))
        return 0;
    if (*rest == ':' && gw_setting_number(rest + 1, '.', &other, &rest) && other > 0)
        return one > other ? one / other : other / one;
    return *rest == '\0' || strcasecmp(rest, "x") == 0 ? one : 0;
}
