#include "base/shortest.h"

#include <math.h>
#include <stdint.h>
#include <string.h>

#ifdef __SIZEOF_INT128__

__extension__ typedef unsigned __int128 wide;

enum { DIGITS = 17, POWER_MAX = 27, MANTISSA_BITS = 53 };

/* Powers of five as far as 64 bits hold them. */
static uint64_t power_of_five(int power) {
    uint64_t out = 1;
    for (; power > 0; power--)
        out *= 5;
    return out;
}

/* A double times 10^power, exactly: product / 2^shift. */
typedef struct scaled {
    wide product;
    uint64_t mantissa, five; /* five: what half the double's last place is in units of the product, twice */
    int shift;
} scaled;

static bool scale(double value, int power, scaled *out) {
    if (power < 0 || power > POWER_MAX)
        return false;
    int exponent;
    uint64_t mantissa = (uint64_t)ldexp(frexp(value, &exponent), MANTISSA_BITS);
    *out = (scaled){.mantissa = mantissa, .five = power_of_five(power)};
    out->product = (wide)mantissa * out->five;
    out->shift = MANTISSA_BITS - exponent - power;
    return out->shift > 0;
}

/* The nearest whole number of units of 100, 10 or 1; of two as near the even one, as printf rounds. */
static uint64_t nearest(const scaled *s, uint64_t unit) {
    uint64_t whole = (uint64_t)(s->product >> s->shift), rest = whole % unit, out = whole / unit;
    wide step = (wide)unit << s->shift, over = ((wide)rest << s->shift) + (s->product - ((wide)whole << s->shift));
    return out + (2 * over > step || (2 * over == step && out % 2 == 1));
}

/* Whether so many units read back as the double: they lie within half its last place, or at its end and it is even, as
 * strtod rounds. */
static bool reads_back(const scaled *s, uint64_t digits, uint64_t unit) {
    wide there = ((wide)digits * unit) << s->shift,
         apart = there > s->product ? there - s->product : s->product - there;
    return 2 * apart < s->five || (2 * apart == s->five && s->mantissa % 2 == 0);
}

static char *put(char *out, const char *from, int count) {
    memcpy(out, from, (size_t)count);
    return out + count;
}

/* `digits` as %g writes them: `count` of them, the first one worth 10^exponent, zeros at the end left off. */
static void lay_out(uint64_t digits, int count, int exponent, char *out) {
    static const char zeros[] = "0000000000000000";
    char text[DIGITS];
    int used = count;
    for (int k = count; k-- > 0; digits /= 10)
        text[k] = (char)('0' + digits % 10);
    while (used > 1 && text[used - 1] == '0')
        used--;
    int before = exponent < -4 ? 1 : exponent < 0 ? 0 : exponent + 1; /* the point */
    if (before == 0)
        out = put(put(out, "0.", 2), zeros, -exponent - 1);
    out = put(out, text, used < before ? used : before);
    if (used < before)
        out = put(out, zeros, before - used);
    if (before > 0 && used > before)
        *out++ = '.';
    if (used > before)
        out = put(out, text + before, used - before);
    if (exponent < -4) {
        out = put(out, "e-", 2);
        *out++ = (char)('0' + -exponent / 10);
        *out++ = (char)('0' + -exponent % 10);
    }
    *out = '\0';
}

/* As gw_shortest_print. */
static bool settle(double value, char *out) {
    scaled s;
    double size = fabs(value);
    if (!(size >= 1e-11 && size < 1e15))
        return false;
    int exponent = (int)floor(log10(size)); /* one off at a power of ten: the digits then tell */
    /* a power of two has another half place below than above */
    if (!scale(size, DIGITS - 1 - exponent, &s) || s.mantissa == UINT64_C(1) << (MANTISSA_BITS - 1))
        return false;
    uint64_t unit = 100, digits, least = UINT64_C(100000000000000); /* 10^14 */
    for (int count = 15; count <= DIGITS; count++, unit /= 10, least *= 10) {
        digits = nearest(&s, unit);
        if (digits < least || digits >= 10 * least)
            return false;
        if (count == DIGITS || reads_back(&s, digits, unit)) {
            if (value < 0)
                *out++ = '-';
            lay_out(digits, count, exponent, out);
            return true;
        }
    }
    return false;
}

#else

static bool settle(double value, char *out) {
    (void)value, (void)out;
    return false;
}

#endif

bool gw_shortest_print(double value, char *out) {
    return settle(value, out);
}
