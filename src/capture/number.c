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

enum { EXACT_POWER = 22, EXACT_LONG_POWER = 27, DIGITS_MAX = 19, SLOW_MAX = 512 };

static const double powers_of_ten[EXACT_POWER + 1] = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                                      1e8,  1e9,  1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
                                                      1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};

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

static inline unsigned digit_of(char character) {
    return (unsigned)(unsigned char)character - '0';
}

/* Eight digits at once, if eight stand there: three multiplications (Lemire 2019, "Number parsing at a gigabyte per
 * second", section 4, after Langdale). */
static inline bool eight_digits(const char *text, uint64_t *digits) {
#if defined(__BYTE_ORDER__) && __BYTE_ORDER__ == __ORDER_LITTLE_ENDIAN__
    uint64_t word;
    memcpy(&word, text, sizeof word);
    if (((word & 0xF0F0F0F0F0F0F0F0U) | (((word + 0x0606060606060606U) & 0xF0F0F0F0F0F0F0F0U) >> 4)) !=
        0x3333333333333333U)
        return false;
    word = (word & 0x0F0F0F0F0F0F0F0FU) * 2561 >> 8;
    word = (word & 0x00FF00FF00FF00FFU) * 6553601 >> 16;
    *digits = *digits * 100000000 + ((word & 0x0000FFFF0000FFFFU) * 42949672960001U >> 32);
    return true;
#else
    (void)text, (void)digits;
    return false;
#endif
}

static inline const char *take_digits(const char *at, uint64_t *digits) {
    while (digit_of(*at) <= 9)
        *digits = *digits * 10 + digit_of(*at++);
    return at;
}

static inline const char *take_exponent(const char *at, scanned *s) {
    const char *from = at + 1;
    bool negative = *from == '-';
    if (*from == '-' || *from == '+')
        from++;
    if (digit_of(*from) > 9)
        return at;
    long value = 0;
    const char *first = from;
    for (; digit_of(*from) <= 9; from++)
        value = value < 100000 ? value * 10 + (long)digit_of(*from) : value;
    s->exponent = from - first < 1000 ? (int)(from - first) : 1000;
    s->power += negative ? -value : value;
    return from;
}

static inline bool scan(const char *at, char decimal, scanned *s) {
    s->start = at;
    s->negative = *at == '-';
    at += *at == '-' || *at == '+';
    const char *first = at;
    at = take_digits(at, &s->digits);
    size_t all = (size_t)(at - first);
    if (*at == decimal) {
        const char *fraction = ++at;
        if (eight_digits(at, &s->digits))
            at += 8;
        at = take_digits(at, &s->digits);
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
    if (s.digits < (UINT64_C(1) << 53) && s.power >= -EXACT_POWER && s.power <= EXACT_POWER) {
        value = (double)s.digits;
        value = s.power < 0 ? value / powers_of_ten[-s.power] : value * powers_of_ten[s.power];
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
