#include "capture/units.h"

#include <string.h>
#include <strings.h>

enum { WORD_MAX = 40 };

typedef struct unit_word {
    const char *word;
    gw_unit_kind kind;
    bool prefixed; /* takes the prefixes p n u m k M G */
} unit_word;

static const unit_word words[] = {
    {"s", GW_UNIT_SECOND, true},           {"sec", GW_UNIT_SECOND, true},
    {"secs", GW_UNIT_SECOND, true},        {"second", GW_UNIT_SECOND, true},
    {"seconds", GW_UNIT_SECOND, true},     {"sekunde", GW_UNIT_SECOND, true},
    {"sekunden", GW_UNIT_SECOND, true},    {"seconde", GW_UNIT_SECOND, true},
    {"secondes", GW_UNIT_SECOND, true},    {"segundo", GW_UNIT_SECOND, true},
    {"segundos", GW_UNIT_SECOND, true},    {"secondo", GW_UNIT_SECOND, true},
    {"secondi", GW_UNIT_SECOND, true},     {"v", GW_UNIT_VOLT, true},
    {"volt", GW_UNIT_VOLT, true},          {"volts", GW_UNIT_VOLT, true},
    {"vdc", GW_UNIT_VOLT, true},           {"a", GW_UNIT_AMPERE, true},
    {"amp", GW_UNIT_AMPERE, true},         {"amps", GW_UNIT_AMPERE, true},
    {"ampere", GW_UNIT_AMPERE, true},      {"amperes", GW_UNIT_AMPERE, true},
    {"hz", GW_UNIT_HERTZ, true},           {"hertz", GW_UNIT_HERTZ, true},
    {"db", GW_UNIT_DECIBEL, false},        {"dbv", GW_UNIT_DECIBEL, false},
    {"dbu", GW_UNIT_DECIBEL, false},       {"dbm", GW_UNIT_DECIBEL, false},
    {"dbfs", GW_UNIT_DECIBEL, false},      {"dbmv", GW_UNIT_DECIBEL, false},
    {"dbuv", GW_UNIT_DECIBEL, false},      {"dbr", GW_UNIT_DECIBEL, false},
    {"dbc", GW_UNIT_DECIBEL, false},       {"decibel", GW_UNIT_DECIBEL, false},
    {"decibels", GW_UNIT_DECIBEL, false},  {"dbspl", GW_UNIT_DECIBEL, false},
    {"div", GW_UNIT_DIVISION, false},      {"divs", GW_UNIT_DIVISION, false},
    {"division", GW_UNIT_DIVISION, false}, {"divisions", GW_UNIT_DIVISION, false},
    {"code", GW_UNIT_CODE, false},         {"codes", GW_UNIT_CODE, false},
    {"count", GW_UNIT_CODE, false},        {"counts", GW_UNIT_CODE, false},
    {"raw", GW_UNIT_CODE, false},          {"lsb", GW_UNIT_CODE, false},
    {"lsbs", GW_UNIT_CODE, false},         {"adc", GW_UNIT_CODE, false},
    {"binary", GW_UNIT_LOGIC, false},      {"logic", GW_UNIT_LOGIC, false},
    {"bool", GW_UNIT_LOGIC, false},        {"sequence", GW_UNIT_INDEX, false},
    {"index", GW_UNIT_INDEX, false},       {"ohm", GW_UNIT_OTHER, true},
    {"ohms", GW_UNIT_OTHER, true},         {"\u03a9", GW_UNIT_OTHER, true},
    {"\u2126", GW_UNIT_OTHER, true},       {"w", GW_UNIT_OTHER, true},
    {"watt", GW_UNIT_OTHER, true},         {"watts", GW_UNIT_OTHER, true},
    {"va", GW_UNIT_OTHER, true},           {"deg", GW_UNIT_OTHER, false},
    {"degree", GW_UNIT_OTHER, false},      {"degrees", GW_UNIT_OTHER, false},
    {"\u00b0", GW_UNIT_OTHER, false},      {"\u00b0c", GW_UNIT_OTHER, false},
    {"\u00b0f", GW_UNIT_OTHER, false},     {"\u2103", GW_UNIT_OTHER, false},
    {"degc", GW_UNIT_OTHER, false},        {"rad", GW_UNIT_OTHER, false},
    {"%", GW_UNIT_OTHER, false},           {"ppm", GW_UNIT_OTHER, false},
    {"bar", GW_UNIT_OTHER, true},          {"rpm", GW_UNIT_OTHER, false},
    {"celsius", GW_UNIT_OTHER, false},     {"kelvin", GW_UNIT_OTHER, false},
    {"vv", GW_UNIT_OTHER, false},          {"v^2", GW_UNIT_OTHER, false},
    {"v\u00b2", GW_UNIT_OTHER, false},
};

/* Letters that name a unit in brackets, and anything else without them. */
static const char *const bracket_only[] = {"c", "k", "n", "g", "f", "h", "j", "m", "pa", "t", "wb", "x", NULL};

static const unit_word rate_words[] = {
    {"hz", GW_UNIT_HERTZ, true},        {"hertz", GW_UNIT_HERTZ, true},       {"s/s", GW_UNIT_HERTZ, true},
    {"sa/s", GW_UNIT_HERTZ, true},      {"sps", GW_UNIT_HERTZ, true},         {"sample/s", GW_UNIT_HERTZ, true},
    {"samples/s", GW_UNIT_HERTZ, true}, {"samples/sec", GW_UNIT_HERTZ, true}, {"samples/second", GW_UNIT_HERTZ, true},
    {"sa/sec", GW_UNIT_HERTZ, true},    {"1/s", GW_UNIT_HERTZ, true},         {"pts/s", GW_UNIT_HERTZ, true},
};

static const struct {
    const char *word;
    int power;
} prefixes[] = {{"milli", -3}, {"micro", -6}, {"nano", -9}, {"pico", -12}, {"kilo", 3},    {"mega", 6},
                {"giga", 9},   {"m", -3},     {"M", 6},     {"u", -6},     {"\u00b5", -6}, {"\u03bc", -6},
                {"n", -9},     {"p", -12},    {"k", 3},     {"g", 9},      {"f", -15}};

static gw_unit find_word(const char *text, const unit_word *table, size_t count, bool prefixed) {
    for (size_t i = 0; i < count; i++)
        if ((!prefixed || table[i].prefixed) && strcasecmp(text, table[i].word) == 0)
            return (gw_unit){table[i].kind, 0};
    return (gw_unit){GW_UNIT_NONE, 0};
}

/* A unit word, alone or behind a prefix. Only m and M differ by case. */
static gw_unit find_in(const char *text, const unit_word *table, size_t count) {
    gw_unit unit = find_word(text, table, count, false);
    for (size_t i = 0; unit.kind == GW_UNIT_NONE && i < sizeof prefixes / sizeof *prefixes; i++) {
        size_t length = strlen(prefixes[i].word);
        bool same = strcasecmp(prefixes[i].word, "m") == 0 ? text[0] == prefixes[i].word[0]
                                                           : strncasecmp(text, prefixes[i].word, length) == 0;
        if (!same || text[length] == '\0')
            continue;
        unit = find_word(text + length, table, count, true);
        unit.power = prefixes[i].power;
    }
    return unit;
}

/* Copies `text` without blanks and the brackets around it; false when it is too long for a unit. */
static bool bare_word(const char *text, char *out, bool *bracketed) {
    static const char opening[] = "([{<", closing[] = ")]}>";
    size_t length = 0;
    for (const char *at = text; *at != '\0'; at++) {
        if (*at == ' ' || *at == '\t' || ((unsigned char)*at == 0xC2 && (unsigned char)at[1] == 0xA0 && *++at))
            continue;
        if (length + 1 >= WORD_MAX)
            return false;
        out[length++] = *at;
    }
    out[length] = '\0';
    const char *open = length >= 2 ? strchr(opening, out[0]) : NULL;
    *bracketed = open != NULL && out[length - 1] == closing[open - opening];
    if (*bracketed) {
        memmove(out, out + 1, length - 2);
        length -= 2;
    }
    if (length > 1 && out[length - 1] == '.')
        length--; /* an abbreviation */
    out[length] = '\0';
    return length > 0;
}

gw_unit gw_unit_find(const char *text) {
    char word[WORD_MAX];
    bool bracketed;
    if (!bare_word(text, word, &bracketed))
        return (gw_unit){GW_UNIT_NONE, 0};
    if (strcmp(word, "Pa") == 0)
        return (gw_unit){GW_UNIT_OTHER, 0};
    gw_unit unit = find_in(word, words, sizeof words / sizeof *words);
    for (size_t i = 0; bracketed && unit.kind == GW_UNIT_NONE && bracket_only[i] != NULL; i++)
        if (strcasecmp(word, bracket_only[i]) == 0)
            unit.kind = GW_UNIT_OTHER;
    return unit;
}

gw_unit gw_unit_find_rate(const char *text) {
    char word[WORD_MAX];
    bool bracketed;
    if (!bare_word(text, word, &bracketed))
        return (gw_unit){GW_UNIT_NONE, 0};
    return find_in(word, rate_words, sizeof rate_words / sizeof *rate_words);
}

/* ---- headings ----------------------------------------------------------------------------------- */

static bool set_name(gw_arena *arena, const char *text, size_t length, const char **name) {
    static const char loose[] = " \t,:-/_";
    while (length > 0 && strchr(loose, text[length - 1]) != NULL)
        length--;
    *name = length > 0 ? gw_arena_copy(arena, text, length) : NULL;
    return length == 0 || *name != NULL;
}

/* A unit behind the last of `marks` in the cell. Single letters are too often names: only s and V count there, unless
 * `letters`. */
static bool split_behind(const char *cell, const char *mark, bool letters, size_t *name_length, gw_unit *unit) {
    const char *at = NULL;
    for (const char *next = strstr(cell, mark); next != NULL; next = strstr(next + 1, mark))
        at = next;
    if (at == NULL || (at == cell && mark[0] != ' '))
        return false;
    const char *text = at + strlen(mark);
    bool letter = strlen(text) == 1 && strchr("sSvV", text[0]) == NULL;
    gw_unit found = gw_unit_find(text);
    if (found.kind == GW_UNIT_NONE || (letter && !letters) || found.kind == GW_UNIT_INDEX)
        return false;
    *unit = found;
    *name_length = (size_t)(at - cell);
    return true;
}

/* `Name (unit)`, with any brackets. */
static bool split_brackets(const char *cell, size_t *name_length, gw_unit *unit) {
    static const char opening[] = "([{<";
    size_t length = strlen(cell);
    for (size_t at = length; length > 1 && strchr(")]}>", cell[length - 1]) != NULL && at-- > 0;) {
        if (strchr(opening, cell[at]) == NULL)
            continue;
        *unit = gw_unit_find(cell + at);
        *name_length = at;
        return unit->kind != GW_UNIT_NONE;
    }
    return false;
}

/* A unit word that begins the name: `Volts A` is A, in volts; `Volt1` keeps its name. */
static size_t leading_unit(const char *name, gw_unit *unit) {
    size_t length = strcspn(name, " _0123456789");
    char word[WORD_MAX];
    if (length < 2 || length >= sizeof word || name[length] == '\0')
        return 0;
    memcpy(word, name, length);
    word[length] = '\0';
    gw_unit found = gw_unit_find(word);
    if (strcasecmp(word, "voltage") == 0 && unit->kind == GW_UNIT_NONE)
        unit->kind = GW_UNIT_VOLT;
    if (found.kind != GW_UNIT_VOLT && found.kind != GW_UNIT_AMPERE)
        return 0;
    if (unit->kind == GW_UNIT_NONE)
        *unit = found;
    return name[length] == ' ' || name[length] == '_' ? length + 1 : 0;
}

bool gw_unit_split(gw_arena *arena, const char *cell, const char **name, gw_unit *unit) {
    size_t length = strlen(cell);
    *unit = (gw_unit){GW_UNIT_NONE, 0};
    *name = NULL;
    gw_unit whole = gw_unit_find(cell);
    if (whole.kind != GW_UNIT_NONE && whole.kind != GW_UNIT_INDEX && length > 1) {
        *unit = whole;
        return true;
    }
    if (strncasecmp(cell, "in ", 3) == 0 && strchr("([{<", cell[3]) == NULL &&
        gw_unit_find(cell + 3).kind != GW_UNIT_NONE) {
        *unit = gw_unit_find(cell + 3);
        return true;
    }
    if (!split_brackets(cell, &length, unit) && !split_behind(cell, " in ", true, &length, unit) &&
        !split_behind(cell, "/", true, &length, unit) && !split_behind(cell, ",", true, &length, unit) &&
        !split_behind(cell, "_", false, &length, unit))
        split_behind(cell, " ", false, &length, unit);
    if (!set_name(arena, cell, length, name) || *name == NULL)
        return *name != NULL || length == 0 || strspn(cell, " \t,:-/_") >= length;
    *name += leading_unit(*name, unit);
    return true;
}

double gw_unit_apply(gw_unit unit, double value) {
    double factor = 1;
    for (int power = unit.power < 0 ? -unit.power : unit.power; power > 0; power--)
        factor *= 10;
    return unit.power < 0 ? value / factor : value * factor;
}
