/* Quantities as a schematic or a service sheet writes them. Letter codes: IEC 60062 (`4k7`, `2R2`, `100n`). */
#include "gainwalk/base.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

typedef struct prefix {
    const char *sign;
    int exponent; /* of ten */
} prefix;

/* SI prefixes as they are typed; both micro signs of Unicode, and Latin-1's byte. */
static const prefix prefixes[] = {
    {"p", -12}, {"n", -9}, {"u", -6}, {"\xC2\xB5", -6}, {"\xCE\xBC", -6}, {"\xB5", -6},
    {"m", -3},  {"k", 3},  {"K", 3},  {"M", 6},         {"G", 9},
};

/* Letters that stand for the decimal sign in IEC 60062 codes, beside the prefixes. */
static const prefix code_letters[] = {{"R", 0}, {"r", 0}, {"F", 0}, {"L", -3}, {"V", 0}};

typedef struct unit {
    const char *sign;
    gw_dimension dimension;
    bool prefixed; /* takes an SI prefix */
    double factor; /* to SI */
    bool peak_to_peak;
    double decibel_base; /* not 0: the figure is in decibels above this many volts RMS */
} unit;

static const unit units[] = {
    {"Vrms", GW_DIM_VOLT, true, 1, false, 0},        {"Vpp", GW_DIM_VOLT, true, 1, true, 0},
    {"Vp", GW_DIM_VOLT, true, 2, true, 0},           {"V", GW_DIM_VOLT, true, 1, false, 0},
    {"dBV", GW_DIM_VOLT, false, 1, false, 1},        {"dBu", GW_DIM_VOLT, false, 1, false, 0.7745966692414834},
    {"dB", GW_DIM_DECIBEL, false, 1, false, 0},      {"Hz", GW_DIM_HERTZ, true, 1, false, 0},
    {"s", GW_DIM_SECOND, true, 1, false, 0},         {"\xCE\xA9", GW_DIM_OHM, true, 1, false, 0},
    {"\xE2\x84\xA6", GW_DIM_OHM, true, 1, false, 0}, {"ohm", GW_DIM_OHM, true, 1, false, 0},
    {"ohms", GW_DIM_OHM, true, 1, false, 0},         {"R", GW_DIM_OHM, true, 1, false, 0},
    {"F", GW_DIM_FARAD, true, 1, false, 0},          {"H", GW_DIM_HENRY, true, 1, false, 0},
    {"A", GW_DIM_AMPERE, true, 1, false, 0},         {"%", GW_DIM_PERCENT, false, 0.01, false, 0},
    {"x", GW_DIM_NONE, false, 1, false, 0},          {"", GW_DIM_NONE, true, 1, false, 0},
};

enum { PREFIXES = sizeof prefixes / sizeof *prefixes, LETTERS = sizeof code_letters / sizeof *code_letters };
enum { UNITS = sizeof units / sizeof *units };

static bool is_blank(char character) {
    return character == ' ' || character == '\t';
}

static bool is_digit(char character) {
    return character >= '0' && character <= '9';
}

static void trim(const char **text, size_t *length) {
    while (*length > 0 && is_blank(**text)) {
        (*text)++;
        (*length)--;
    }
    while (*length > 0 && is_blank((*text)[*length - 1]))
        (*length)--;
}

static bool begins(const char *text, size_t length, const char *with, size_t *used) {
    *used = strlen(with);
    return *used <= length && memcmp(text, with, *used) == 0;
}

static const unit *find_unit(const char *text, size_t length) {
    for (size_t i = 0; i < UNITS; i++)
        if (strlen(units[i].sign) == length && memcmp(units[i].sign, text, length) == 0)
            return &units[i];
    return NULL;
}

/* A unit with or without prefix that fills the text. */
static const unit *read_unit(const char *text, size_t length, int *exponent) {
    *exponent = 0;
    const unit *found = find_unit(text, length);
    if (found != NULL)
        return found;
    for (size_t i = 0; i < PREFIXES; i++) {
        size_t used = 0;
        if (!begins(text, length, prefixes[i].sign, &used))
            continue;
        const unit *rest = find_unit(text + used, length - used);
        if (rest != NULL && rest->prefixed) {
            *exponent = prefixes[i].exponent;
            return rest;
        }
    }
    return NULL;
}

static bool letter_exponent(const char *text, size_t length, int *exponent, size_t *used) {
    for (size_t i = 0; i < PREFIXES + LETTERS; i++) {
        const prefix *letter = i < PREFIXES ? &prefixes[i] : &code_letters[i - PREFIXES];
        if (begins(text, length, letter->sign, used)) {
            *exponent = letter->exponent;
            return true;
        }
    }
    return false;
}

/* The double nearest to a written number times a power of ten: 2.2 n is 2.2e-9 to the last bit. */
static bool parse_scaled(const char *number, size_t length, int exponent, double *value) {
    char text[64];
    bool plain = memchr(number, 'e', length) == NULL && memchr(number, 'E', length) == NULL;
    if (exponent == 0 || !plain || length + 8 > sizeof text) {
        if (!gw_number_parse(number, length, value))
            return false;
        *value *= pow(10.0, exponent);
        return true;
    }
    int written = snprintf(text, sizeof text, "%.*se%d", (int)length, number, exponent);
    return gw_number_parse(text, (size_t)written, value);
}

/* `4k7`, `R47`: digits, a letter in the place of the decimal sign, digits. `*used` tells what it took. */
static bool read_code(const char *text, size_t length, double *value, size_t *used) {
    size_t whole = 0, letter = 0;
    while (whole < length && is_digit(text[whole]))
        whole++;
    int exponent = 0;
    if (!letter_exponent(text + whole, length - whole, &exponent, &letter))
        return false;
    size_t from = whole + letter, end = from;
    while (end < length && is_digit(text[end]))
        end++;
    if (end == from || (end - from) + whole > 17)
        return false;
    char digits[32];
    int written = snprintf(digits, sizeof digits, "%.*s.%.*s", (int)whole, text, (int)(end - from), text + from);
    *used = end;
    return parse_scaled(digits, (size_t)written, exponent, value);
}

static double in_volts(double decibels, double base) {
    return base * gw_ratio_from_db(decibels);
}

static bool refuse(const char *text, size_t length, const char *file, long line, gw_error *error) {
    return gw_error_set(error, file, line, "not a quantity: '%.*s'", (int)(length > 80 ? 80 : length), text);
}

static bool read_quantity(const char *text, size_t length, gw_quantity *out, const char *file, long line,
                          gw_error *error) {
    trim(&text, &length);
    size_t used = 0, mark = 0;
    bool ratio = begins(text, length, "x", &mark) || begins(text, length, "\xC3\x97", &mark);
    size_t from = ratio ? mark : 0;
    while (ratio && from < length && is_blank(text[from]))
        from++;
    double value = 0;
    bool code = read_code(text + from, length - from, &value, &used);
    if (!code && !gw_number_prefix(text + from, length - from, &value, &used))
        return refuse(text, length, file, line, error);
    const char *rest = text + from + used;
    size_t left = length - from - used;
    trim(&rest, &left);
    int exponent = 0;
    const unit *found = read_unit(rest, left, &exponent);
    if (found == NULL)
        return gw_error_set(error, file, line, "unknown unit '%.*s' in '%.*s'", (int)(left > 40 ? 40 : left), rest,
                            (int)(length > 80 ? 80 : length), text);
    if ((ratio && left > 0) || (code && exponent != 0))
        return refuse(text, length, file, line, error);
    if (!code && !parse_scaled(text + from, used, exponent, &value))
        return refuse(text, length, file, line, error);
    value = found->dimension == GW_DIM_PERCENT ? value / 100 : value * found->factor;
    if (found->decibel_base > 0)
        value = in_volts(value, found->decibel_base);
    if (!isfinite(value))
        return refuse(text, length, file, line, error);
    *out = (gw_quantity){.value = value, .dimension = found->dimension, .peak_to_peak = found->peak_to_peak};
    return true;
}

bool gw_quantity_parse(const char *text, gw_quantity *out, const char *file, long line, gw_error *error) {
    return read_quantity(text, strlen(text), out, file, line, error);
}

bool gw_tolerance_parse(const char *text, gw_tolerance *out, const char *file, long line, gw_error *error) {
    static const char *const signs[] = {"\xC2\xB1", "+/-", "+-", "\xB1"};
    gw_tolerance read = {0};
    const char *at = NULL;
    size_t sign = 0;
    for (; sign < sizeof signs / sizeof *signs && at == NULL; sign++)
        at = strstr(text, signs[sign]);
    size_t length = at != NULL ? (size_t)(at - text) : strlen(text);
    if (!read_quantity(text, length, &read.nominal, file, line, error))
        return false;
    if (at != NULL) {
        const char *rest = at + strlen(signs[sign - 1]);
        if (!read_quantity(rest, strlen(rest), &read.tolerance, file, line, error))
            return false;
        if (read.tolerance.value < 0)
            return gw_error_set(error, file, line, "negative tolerance in '%s'", text);
        read.has_tolerance = true;
    }
    *out = read;
    return true;
}
