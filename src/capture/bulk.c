#include "capture/bulk.h"

#include <string.h>

#include "base/lanes.h"
#include "capture/digits.h"
#include "capture/packs.h"

enum { PLACES_MAX = 19, EXPONENT_MAX = 3 };

static const uint64_t places[PLACES_MAX + 1] = {1U,
                                                10U,
                                                100U,
                                                1000U,
                                                10000U,
                                                100000U,
                                                1000000U,
                                                10000000U,
                                                100000000U,
                                                1000000000U,
                                                10000000000U,
                                                100000000000U,
                                                1000000000000U,
                                                10000000000000U,
                                                100000000000000U,
                                                1000000000000000U,
                                                10000000000000000U,
                                                100000000000000000U,
                                                1000000000000000000U,
                                                10000000000000000000U};

void gw_bulk_begin(gw_bulk *bulk, const gw_table *table, gw_format format) {
    bulk->width = table->width;
    bulk->separator = format.separator;
    bulk->decimal = format.decimal;
    for (size_t c = 0; c < table->width; c++) {
        const gw_column *from = &table->columns[c];
        bulk->columns[c] = (gw_bulk_column){.values = from->values + table->rows,
                                            .most = from->digits <= PLACES_MAX ? places[from->digits] : UINT64_MAX,
                                            .many = from->digits > PLACES_MAX ? UINT64_MAX
                                                    : from->digits > 0        ? places[from->digits - 1]
                                                                              : 0,
                                            .last = from->last,
                                            .decimals_least = from->decimals_least,
                                            .decimals_most = from->decimals_most,
                                            .exponent_least = from->exponent_least};
    }
}

static inline bool is_line_end(char character) {
    return character == '\n' || character == '\r';
}

/* Blanks around a cell. */
static inline const char *skip_blanks(const gw_bulk *bulk, const char *at) {
    while (*at == ' ' || (*at == '\t' && bulk->separator != '\t'))
        at++;
    return at;
}

/* Sign and digits behind an `e`; NULL for more than is common. */
static inline const char *exponent_take(const char *at, int *places_taken, int *power) {
    bool negative = *at == '-';
    at += *at == '-' || *at == '+';
    const char *first = at;
    int value = 0;
    for (; gw_digit_of(*at) <= 9 && at - first <= EXPONENT_MAX; at++)
        value = value * 10 + (int)gw_digit_of(*at);
    *places_taken = (int)(at - first);
    *power += negative ? -value : value;
    return at == first || at - first > EXPONENT_MAX ? NULL : at;
}

/* One number, exact by one operation on two doubles that hold its digits and a power of ten (Clinger 1990). NULL where
 * that does not do, or it tells something new of its column. */
static inline GW_WITHIN const char *number_take(const char *at, char decimal, const gw_bulk_column *column, size_t row,
                                                bool apart) {
    uint64_t digits = 0;
    int decimals = 0, exponent = 0;
    bool negative = *at == '-';
    at += *at == '-' || *at == '+';
    const char *first = at;
    at = gw_take_digits(at, &digits);
    ptrdiff_t count = at - first;
    if (*at == decimal) {
        const char *fraction = ++at;
        if (gw_eight_digits(at, &digits))
            at += 8;
        else if (gw_four_digits(at, &digits))
            at += 4;
        at = gw_take_digits(at, &digits);
        decimals = (int)(at - fraction);
        count += at - fraction;
        if (decimals == 0)
            return NULL;
    }
    int power = -decimals;
    if ((*at | 0x20) == 'e' && (at = exponent_take(at + 1, &exponent, &power)) == NULL)
        return NULL;
    if (count == 0 || count > PLACES_MAX || digits >= UINT64_C(1) << 53 || power < -GW_EXACT_POWER ||
        power > GW_EXACT_POWER)
        return NULL;
    bool told = digits >= column->most || (power > column->last && digits >= column->many) ||
                decimals < column->decimals_least || decimals > column->decimals_most ||
                exponent < column->exponent_least;
    if (told)
        return NULL;
    double value = (double)digits;
    if (apart)
        column->powers[row] = (signed char)(negative && digits == 0 ? GW_POWER_MINUS_ZERO : power);
    else
        value = power < 0 ? value / gw_powers_of_ten[-power] : value * gw_powers_of_ten[power];
    column->values[row] = negative ? -value : value;
    return at;
}

/* One row; its end, or NULL. */
static inline GW_WITHIN const char *row_take(const gw_bulk *bulk, const char *at, size_t row, bool apart) {
    for (size_t c = 0;;) {
        at = number_take(skip_blanks(bulk, at), bulk->decimal, &bulk->columns[c], row, apart);
        if (at == NULL)
            return NULL;
        at = skip_blanks(bulk, at);
        if (++c == bulk->width)
            return is_line_end(*at) ? at : NULL;
        if (*at++ != bulk->separator)
            return NULL;
    }
}

static inline GW_WITHIN size_t rows_take(const gw_bulk *bulk, const char **at, const char *end, size_t most,
                                         bool apart) {
    size_t count = 0;
    while (count < most) {
        const char *from = *at;
        while (from < end && is_line_end(*from))
            from++;
        const char *to = from < end ? row_take(bulk, from, count, apart) : NULL;
        if (to == NULL) /* also half of a last line: it has fewer cells or decimals than any */
            break;
        *at = to;
        count++;
    }
    return count;
}

size_t gw_bulk_rows(const gw_bulk *bulk, const char **at, const char *end, size_t most) {
    return rows_take(bulk, at, end, most, false);
}

size_t gw_bulk_printed(const gw_bulk *bulk, const char **at, const char *end, size_t most) {
    return rows_take(bulk, at, end, most, true);
}
