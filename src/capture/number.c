/* The fast path for plain numbers.
 *
 * Up to 19 digits are gathered as an integer. Where that and the power of ten are exact doubles, one operation gives
 * the nearest double (Clinger 1990, "How to Read Floating Point Numbers Accurately"). Where the machine's long double
 * holds 64 bits, one operation in it is exact to half a unit of its last bit, which settles the double unless the
 * spare bits stand next to a tie. The rest goes to gw_number_parse. */
#include <float.h>
#include <math.h>
#include <string.h>

#include "capture/cell.h"
#include "capture/digits.h"

enum { EXACT_LONG_POWER = 27, DIGITS_MAX = 19, SLOW_MAX = 512 };

typedef struct scanned {
    const char *start, *end;
    uint64_t digits;
    int count;    /* significant digits */
    int decimals; /* behind the decimal sign */
    int exponent; /* digits of the exponent */
    long power;
    bool negative;
} scanned;

#if LDBL_MANT_DIG == 64
static const long double long_powers[EXACT_LONG_POWER + 1] = {
    1e0L,  1e1L,  1e2L,  1e3L,  1e4L,  1e5L,  1e6L,  1e7L,  1e8L,  1e9L,  1e10L, 1e11L, 1e12L, 1e13L,
    1e14L, 1e15L, 1e16L, 1e17L, 1e18L, 1e19L, 1e20L, 1e21L, 1e22L, 1e23L, 1e24L, 1e25L, 1e26L, 1e27L};

/* One rounding to 64 bits, then one to 53: right unless the 11 bits between are within one of a tie. */
static bool by_long_double(uint64_t digits, long power, double *out) {
    if (power < -EXACT_LONG_POWER || power > EXACT_LONG_POWER)
        return false;
    long double value = (long double)digits;
    value = power < 0 ? value / long_powers[-power] : value * long_powers[power];
    uint64_t mantissa;
    memcpy(&mantissa, &value, sizeof mantissa);
    unsigned spare = (unsigned)(mantissa & 0x7FF);
    if (spare >= 0x3FF && spare <= 0x401)
        return false;
    *out = (double)value;
    return true;
}
#else
static bool by_long_double(uint64_t digits, long power, double *out) {
    (void)digits, (void)power, (void)out;
    return false;
}
#endif

static bool slowly(const scanned *s, char decimal, double *out) {
    char copy[SLOW_MAX];
    size_t length = (size_t)(s->end - s->start);
    if (decimal == '.')
        return gw_number_parse(s->start, length, out);
    if (length > sizeof copy)
        return false;
    for (size_t i = 0; i < length; i++)
        copy[i] = s->start[i] == decimal ? '.' : s->start[i];
    return gw_number_parse(copy, length, out);
}

static inline const char *take_exponent(const char *at, scanned *s) {
    const char *from = at + 1;
    bool negative = *from == '-';
    if (*from == '-' || *from == '+')
        from++;
    if (gw_digit_of(*from) > 9)
        return at;
    long value = 0;
    const char *first = from;
    for (; gw_digit_of(*from) <= 9; from++)
        value = value < 100000 ? value * 10 + (long)gw_digit_of(*from) : value;
    s->exponent = from - first < 1000 ? (int)(from - first) : 1000;
    s->power += negative ? -value : value;
    return from;
}

static inline bool scan(const char *at, char decimal, scanned *s) {
    s->start = at;
    s->negative = *at == '-';
    at += *at == '-' || *at == '+';
    const char *first = at;
    at = gw_take_digits(at, &s->digits);
    size_t all = (size_t)(at - first);
    if (*at == decimal) {
        const char *fraction = ++at;
        if (gw_eight_digits(at, &s->digits))
            at += 8;
        at = gw_take_digits(at, &s->digits);
        s->decimals = (int)(at - fraction);
        s->power = -(long)(at - fraction);
        all += (size_t)(at - fraction);
        if (at == fraction && decimal == ',')
            return false;
    }
    /* leading zeros are no digits; 19 always fit */
    if (all == 0 || all > DIGITS_MAX + 20)
        return false;
    while (all > 0 && (*first == '0' || *first == decimal))
        all -= *first++ == '0';
    s->count = (int)all;
    if ((*at | 0x20) == 'e')
        at = take_exponent(at, s);
    s->end = at;
    return all <= DIGITS_MAX && s->exponent <= 6;
}

const char *gw_cell_number(const char *text, char decimal, gw_cell *out) {
    scanned s = {0};
    if (!scan(text, decimal, &s))
        return NULL;
    double value;
    if (s.digits < (UINT64_C(1) << 53) && s.power >= -GW_EXACT_POWER && s.power <= GW_EXACT_POWER) {
        value = (double)s.digits;
        value = s.power < 0 ? value / gw_powers_of_ten[-s.power] : value * gw_powers_of_ten[s.power];
        value = s.negative ? -value : value;
    } else if (by_long_double(s.digits, s.power, &value)) {
        value = s.negative ? -value : value;
    } else if (!slowly(&s, decimal, &value)) {
        return NULL;
    }
    *out = (gw_cell){.value = value,
                     .digits = (short)s.count,
                     .last = (short)(s.power < -30000  ? -30000
                                     : s.power > 30000 ? 30000
                                                       : s.power),
                     .decimals = (short)s.decimals,
                     .exponent = (short)s.exponent,
                     .kind = fabs(value) >= GW_OVERLOAD_LEAST ? GW_CELL_OVERLOAD : GW_CELL_NUMBER};
    return s.end;
}
