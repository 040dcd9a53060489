#include "capture/cell.h"

#include <math.h>
#include <string.h>
#include <strings.h>

#include "capture/script.h"

enum { CELL_MAX = 120 };

/* A cell as plain ASCII: signs, blanks and infinity in one spelling each, quotes off. */
typedef struct plain {
    char text[CELL_MAX + GW_SCRIPT_PAD];
    size_t length;
    bool quoted, right;
} plain;

static const struct {
    const char *word;
    gw_cell_kind kind;
} marks[] = {
    {"inf", GW_CELL_OVERLOAD},      {"infinity", GW_CELL_OVERLOAD},  {"infinite", GW_CELL_OVERLOAD},
    {"ol", GW_CELL_OVERLOAD},       {"over", GW_CELL_OVERLOAD},      {"ovl", GW_CELL_OVERLOAD},
    {"ovld", GW_CELL_OVERLOAD},     {"ovf", GW_CELL_OVERLOAD},       {"overflow", GW_CELL_OVERLOAD},
    {"overload", GW_CELL_OVERLOAD}, {"overrange", GW_CELL_OVERLOAD}, {"over range", GW_CELL_OVERLOAD},
    {"1.#inf", GW_CELL_OVERLOAD},   {"o.l", GW_CELL_OVERLOAD},       {"o.l.", GW_CELL_OVERLOAD},
    {"nan", GW_CELL_MISSING},       {"n/a", GW_CELL_MISSING},        {"na", GW_CELL_MISSING},
    {"#n/a", GW_CELL_MISSING},      {"null", GW_CELL_MISSING},       {"none", GW_CELL_MISSING},
    {"1.#qnan", GW_CELL_MISSING},   {"1.#ind", GW_CELL_MISSING},     {"qnan", GW_CELL_MISSING},
    {"missing", GW_CELL_MISSING},
};

/* The ASCII form of a character; 0 where there is none and it stays as it is. */
static char ascii_of(unsigned long c) {
    if (c == 0x2212 || (c >= 0x2010 && c <= 0x2015) || c == 0xFE63 || c == 0xFF0D || c == 0x96)
        return '-';
    if (gw_is_blank(c))
        return ' ';
    return c < 0x80 ? (char)c : '\0';
}

static void append(plain *p, const char *text, size_t length) {
    if (p->length + length > CELL_MAX) {
        p->right = false;
        return;
    }
    memcpy(p->text + p->length, text, length);
    p->length += length;
}

static void trim(const char **text, const char **end) {
    while (*text < *end) {
        const char *next = *text;
        if (!gw_is_blank(gw_next_character(&next, *end)))
            break;
        *text = next;
    }
    while (*text < *end && ((*end)[-1] == ' ' || (*end)[-1] == '\t'))
        (*end)--;
}

/* A leading "'" keeps table tools from reading a cell: it belongs to none. */
static void unquote(plain *p, const char **text, const char **end) {
    trim(text, end);
    char first = **text;
    p->quoted = *end - *text >= 2 && (first == '"' || first == '\'') && (*end)[-1] == first;
    if (!p->quoted)
        return;
    ++*text;
    --*end;
    trim(text, end);
}

static void make_plain(plain *p, const char *text, const char *end) {
    p->length = 0;
    p->right = true;
    p->quoted = false;
    if (text < end)
        unquote(p, &text, &end);
    while (text < end && p->right) {
        const char *from = text;
        unsigned long c = gw_next_character(&text, end);
        char ascii = ascii_of(c);
        if (ascii != '\0')
            append(p, &ascii, 1);
        else if (c == 0x221E)
            append(p, "inf", 3);
        else if (c == 0xB5 || c == 0x3BC)
            append(p, "u", 1);
        else
            append(p, from, (size_t)(text - from));
    }
    while (p->length > 0 && p->text[p->length - 1] == ' ')
        p->length--;
    memset(p->text + p->length, 0, GW_SCRIPT_PAD);
}

static bool is_digit(char character) {
    return character >= '0' && character <= '9';
}

/* A mark of overload or of a missing sample, perhaps with a sign. */
static gw_cell_kind find_mark(const char *text) {
    size_t length = strlen(text);
    if (length > 0 && (strspn(text, "-") == length || strspn(text, "?") == length))
        return GW_CELL_MISSING;
    if (length > 1 && strspn(text, "*") == length)
        return GW_CELL_OVERLOAD;
    text += *text == '-' || *text == '+' || *text == '>' || *text == '<';
    while (*text == ' ')
        text++;
    if (is_digit(*text) && strncmp(text, "1.#", 3) != 0) /* most cells: no mark but these begins with a digit */
        return GW_CELL_TEXT;
    for (size_t i = 0; i < sizeof marks / sizeof *marks; i++)
        if (strcasecmp(text, marks[i].word) == 0)
            return marks[i].kind;
    return GW_CELL_TEXT;
}

/* Takes the marks of thousands out of a quoted number; false when they stand in wrong places. */
static bool join_thousands(char *text, char decimal) {
    char mark = decimal == '.' ? ',' : '.';
    char *at = text + (*text == '-' || *text == '+');
    size_t group = strspn(at, "0123456789");
    if (at[group] != mark || group == 0 || group > 3 || *at == '0')
        return false;
    char *out = at + group;
    for (at = out; *at == mark; at += 4) {
        if (strspn(at + 1, "0123456789") < 3)
            return false;
        memmove(out, at + 1, 3);
        out += 3;
    }
    if (is_digit(*at))
        return false;
    memmove(out, at, strlen(at) + 1);
    return true;
}

/* Gathers a number with loose signs and exponents in the form that gw_cell_number takes; returns where the rest of the
 * cell begins, or NULL. */
static const char *tidy_number(const char *text, char decimal, char *out) {
    size_t length = 0;
    if (*text == '-' || *text == '+')
        out[length++] = *text++;
    while (*text == ' ')
        text++;
    bool any = false;
    for (bool fraction = false; is_digit(*text) || (*text == decimal && !fraction); text++) {
        any = any || is_digit(*text);
        fraction = fraction || *text == decimal;
        out[length++] = *text;
    }
    if (!any)
        return NULL;
    const char *exponent = text;
    if (*text != '\0' && strchr("eEdD", *text) != NULL) {
        text++;
        size_t kept = length;
        out[length++] = 'e';
        if (*text == '-' || *text == '+')
            out[length++] = *text++;
        if (!is_digit(*text)) {
            length = kept;
            text = exponent;
        }
        while (is_digit(*text))
            out[length++] = *text++;
    }
    out[length] = '\0';
    memset(out + length, 0, GW_SCRIPT_PAD);
    return text;
}

/* A number of more digits than the quick way takes. */
static bool long_number(const char *text, char decimal, gw_cell *out) {
    char copy[CELL_MAX + GW_SCRIPT_PAD];
    size_t length = strlen(text);
    for (size_t i = 0; i <= length; i++)
        copy[i] = text[i] == decimal ? '.' : text[i];
    const char *point = strchr(copy, '.');
    int decimals = point != NULL ? (int)strspn(point + 1, "0123456789") : 0;
    if (!gw_number_parse(copy, length, &out->value)) {
        out->kind = GW_CELL_OVERLOAD; /* checked by its form already: too large for a double */
        return true;
    }
    out->kind = fabs(out->value) >= GW_OVERLOAD_LEAST ? GW_CELL_OVERLOAD : GW_CELL_NUMBER;
    out->digits = 20;
    out->decimals = (short)decimals;
    out->last = (short)-decimals;
    const char *exponent = strchr(copy, 'e');
    if (exponent != NULL) {
        out->exponent = (short)strspn(exponent + 2, "0123456789");
        out->last = (short)(out->value != 0 ? (int)floor(log10(fabs(out->value))) - 19 : 0);
    }
    return true;
}

/* A number, perhaps with a unit. */
static void take_number(plain *p, gw_format format, gw_cell *out) {
    char decimal = format.quoted_comma && p->quoted ? ',' : format.decimal;
    char tidy[CELL_MAX + GW_SCRIPT_PAD];
    if (p->quoted)
        join_thousands(p->text, decimal);
    const char *rest = tidy_number(p->text, decimal, tidy);
    if (rest == NULL)
        return;
    gw_unit unit = {GW_UNIT_NONE, 0};
    while (*rest == ' ')
        rest++;
    if (*rest != '\0' && strchr(",;\t.", *rest) != NULL) /* another cell, or a number of another kind: no unit */
        return;
    if (*rest != '\0') {
        unit = gw_unit_find(rest);
        if (unit.kind == GW_UNIT_NONE || unit.kind == GW_UNIT_INDEX)
            return;
    }
    gw_cell number = {0};
    const char *end = gw_cell_number(tidy, decimal, &number);
    size_t decimal_at = strcspn(tidy, ",");
    if (decimal == ',' && tidy[decimal_at] == ',' && !is_digit(tidy[decimal_at + 1]))
        return;
    if ((end == NULL || *end != '\0') && !long_number(tidy, decimal, &number))
        return;
    *out = number;
    out->unit = (unsigned char)unit.kind;
    out->value = gw_unit_apply(unit, number.value);
    out->last = (short)(number.last + unit.power);
}

/* Digits of a clock's part; returns their number. */
static size_t take_part(const char **at, int *out) {
    size_t length = strspn(*at, "0123456789");
    *out = 0;
    for (size_t i = 0; i < length && i < 4; i++)
        *out = *out * 10 + ((*at)[i] - '0');
    *at += length;
    return length;
}

/* What stands before the clock: a date of three parts, then blanks or a T. */
static const char *skip_date(const char *text) {
    const char *at = text;
    int part;
    for (int i = 0; i < 3; i++) {
        size_t length = take_part(&at, &part);
        if (length == 0 || length > 4 || (i < 2 && (*at == '\0' || strchr("-/.", *at++) == NULL)))
            return text;
    }
    while (*at == ' ' || *at == 'T' || *at == ',')
        at++;
    return is_digit(*at) ? at : text;
}

/* `23:59:59.9998` after an optional date; seconds since midnight. */
static bool take_clock(const char *text, gw_cell *out) {
    const char *at = skip_date(text);
    int hours, minutes, seconds;
    if (take_part(&at, &hours) - 1 > 1 || *at++ != ':' || take_part(&at, &minutes) != 2)
        return false;
    bool short_form = *at != ':'; /* minutes and seconds */
    if (!short_form && (at++, take_part(&at, &seconds) != 2))
        return false;
    if (short_form) {
        seconds = minutes;
        minutes = hours;
        hours = 0;
    }
    if (hours > 24 || minutes > 59 || seconds > 60 || (short_form && *at != '.' && *at != ','))
        return false;
    char fraction[CELL_MAX + GW_SCRIPT_PAD] = "0";
    size_t decimals = *at == '.' || *at == ',' ? strspn(at + 1, "0123456789") : 0;
    if (decimals > 15 || (decimals == 0 && (*at == '.' || *at == ',')))
        return false;
    if (decimals > 0) {
        fraction[1] = '.';
        memcpy(fraction + 2, at + 1, decimals);
        at += decimals + 1;
    }
    while (*at == ' ' || *at == 'Z')
        at++;
    double value = 0;
    if (*at != '\0' || !gw_number_parse(fraction, strlen(fraction), &value))
        return false;
    *out = (gw_cell){.value = (hours * 60.0 + minutes) * 60.0 + seconds + value,
                     .digits = (short)(6 + decimals),
                     .last = (short)-(int)decimals,
                     .decimals = (short)decimals,
                     .kind = GW_CELL_NUMBER,
                     .unit = GW_UNIT_SECOND,
                     .is_clock = true};
    return true;
}

void gw_cell_parse(const char *text, size_t length, gw_format format, gw_cell *out) {
    plain p;
    *out = (gw_cell){.kind = GW_CELL_TEXT};
    make_plain(&p, text, text + length);
    if (p.right && format.joined) {
        /* the comma between the two fields is the decimal sign */
        format.decimal = ',';
    }
    if (!p.right)
        return;
    if (p.length == 0) {
        out->kind = GW_CELL_EMPTY;
        return;
    }
    out->kind = (unsigned char)find_mark(p.text);
    if (out->kind == GW_CELL_TEXT && memchr(p.text, ':', p.length) != NULL)
        take_clock(p.text, out);
    else if (out->kind == GW_CELL_TEXT)
        take_number(&p, format, out);
}
