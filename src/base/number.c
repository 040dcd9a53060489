/* Numbers in and out, the same in every locale.
 *
 * Reading: up to 19 digits are gathered as an integer; where digits and power of ten are both exact as doubles, one
 * multiplication or division gives the nearest double (Clinger 1990, "How to Read Floating Point Numbers
 * Accurately"). All else goes to the C library's strtod with the decimal sign put in as the locale wants it. */
#include "gainwalk/base.h"

#include <locale.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { EXACT_POWER = 22, LONGEST = 1024 };

static const double powers_of_ten[EXACT_POWER + 1] = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                                      1e8,  1e9,  1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
                                                      1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};

/* A number taken apart: its shape checked, its digits gathered as far as they fit. */
typedef struct parts {
    bool negative, exact; /* exact: all significant digits are in `digits` */
    uint64_t digits;
    long power;
    size_t length; /* characters it takes; 0 when there is no number */
} parts;

static bool is_digit(char character) {
    return character >= '0' && character <= '9';
}

/* Adds a run of digits from `text[at..)`; returns where it ends. `*count` counts significant digits taken. */
static size_t take_digits(const char *text, size_t length, size_t at, parts *out, int *count, bool fraction) {
    for (; at < length && is_digit(text[at]); at++) {
        if (*count < 19) {
            out->digits = out->digits * 10 + (uint64_t)(text[at] - '0');
            if (out->digits > 0)
                (*count)++;
            out->power -= fraction;
        } else {
            out->exact = out->exact && text[at] == '0';
            out->power += !fraction;
        }
    }
    return at;
}

/* Reads `e-12` at `at`; returns where it ends, or `at` itself when it is no exponent. */
static size_t take_exponent(const char *text, size_t length, size_t at, long *power) {
    size_t from = at + 1;
    bool negative = from < length && text[from] == '-';
    if (from < length && (text[from] == '-' || text[from] == '+'))
        from++;
    if (from >= length || !is_digit(text[from]))
        return at;
    long value = 0;
    for (; from < length && is_digit(text[from]); from++)
        value = value < 100000 ? value * 10 + (text[from] - '0') : value;
    *power += negative ? -value : value;
    return from;
}

static parts take_apart(const char *text, size_t length) {
    parts out = {.exact = true};
    size_t at = 0;
    if (at < length && (text[at] == '-' || text[at] == '+'))
        out.negative = text[at++] == '-';
    int count = 0;
    size_t whole = at;
    at = take_digits(text, length, at, &out, &count, false);
    size_t digits = at - whole;
    if (at < length && text[at] == '.') {
        size_t end = take_digits(text, length, at + 1, &out, &count, true);
        digits += end - at - 1;
        at = end;
    }
    if (digits == 0)
        return out;
    if (at < length && (text[at] == 'e' || text[at] == 'E'))
        at = take_exponent(text, length, at, &out.power);
    out.length = at;
    return out;
}

/* The general case: a copy for strtod, with the locale's own decimal sign. */
static bool parse_slowly(const char *text, size_t length, double *out) {
    const char *sign = localeconv()->decimal_point;
    size_t sign_length = strlen(sign);
    if (length > SIZE_MAX / 8)
        return false;
    char small[LONGEST];
    size_t needed = length + sign_length + 1;
    char *copy = needed <= sizeof small ? small : malloc(needed);
    if (copy == NULL)
        return false;
    size_t used = 0;
    for (size_t i = 0; i < length; i++) {
        if (text[i] == '.') {
            memcpy(copy + used, sign, sign_length);
            used += sign_length;
        } else {
            copy[used++] = text[i];
        }
    }
    copy[used] = '\0';
    *out = strtod(copy, NULL);
    if (copy != small)
        free(copy);
    return isfinite(*out);
}

bool gw_number_prefix(const char *text, size_t length, double *out, size_t *used) {
    parts number = take_apart(text, length);
    *used = number.length;
    if (number.length == 0)
        return false;
    bool small = number.exact && number.digits < (UINT64_C(1) << 53);
    if (small && number.digits == 0) {
        *out = number.negative ? -0.0 : 0.0;
        return true;
    }
    if (small && number.power >= -EXACT_POWER && number.power <= EXACT_POWER) {
        double value = (double)number.digits;
        value = number.power < 0 ? value / powers_of_ten[-number.power] : value * powers_of_ten[number.power];
        *out = number.negative ? -value : value;
        return true;
    }
    return parse_slowly(text, number.length, out);
}

bool gw_number_parse(const char *text, size_t length, double *out) {
    size_t used = 0;
    double value = 0;
    if (length == 0 || !gw_number_prefix(text, length, &value, &used) || used != length)
        return false;
    *out = value;
    return true;
}

/* Replaces the locale's decimal sign by a point, in place. */
static void put_point(char *text) {
    const char *sign = localeconv()->decimal_point;
    size_t length = strlen(sign);
    char *at = length > 0 && strcmp(sign, ".") != 0 ? strstr(text, sign) : NULL;
    if (at == NULL)
        return;
    *at = '.';
    memmove(at + 1, at + length, strlen(at + length) + 1);
}

/* A whole number below 1e10 that was written with an exponent, since it has more places than digits, is written out:
 * nobody reads 1.9e+02. */
static void write_out(char *text, size_t size) {
    double rounded = 0;
    if (strstr(text, "e+0") != NULL && gw_number_parse(text, strlen(text), &rounded))
        snprintf(text, size, "%.0f", rounded);
}

char *gw_number_print(double value, int digits, char *out, size_t size) {
    if (isnan(value) || isinf(value)) {
        snprintf(out, size, "%s", isnan(value) ? "nan" : value < 0 ? "-inf" : "inf");
        return out;
    }
    digits = digits < 1 ? 1 : digits > 17 ? 17 : digits;
    snprintf(out, size, "%.*g", digits, value == 0 ? 0.0 : value);
    put_point(out);
    write_out(out, size);
    return out;
}

char *gw_number_fixed(double value, int decimals, char *out, size_t size) {
    if (isnan(value) || isinf(value))
        return gw_number_print(value, 1, out, size);
    snprintf(out, size, "%.*f", decimals, value);
    put_point(out);
    /* a negative number that rounds to nothing is nothing */
    if (out[0] == '-' && strspn(out + 1, "0.") == strlen(out + 1))
        memmove(out, out + 1, strlen(out));
    return out;
}
