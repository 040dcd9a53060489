/* A double is a whole number times a power of two, and 17 digits of most are that number times a power of five,
 * shifted: in 128 bits an exact product. So is what tells which digits are nearest, and whether they read back the
 * same. Very large and very small values go to the C library. */
#include "base/shortest.h"

#include "gainwalk/base.h"

#include <float.h>
#include <math.h>
#include <string.h>

enum { DIGITS_LEAST = 15, DIGITS_MOST = 17 };

static void slowly(double value, char *out) {
    double back = 0;
    for (int digits = DIGITS_LEAST; digits <= DIGITS_MOST; digits++) {
        gw_number_print(value, digits, out, GW_SHORTEST_SIZE);
        if (gw_number_parse(out, strlen(out), &back) && back == value)
            break;
    }
}

#ifdef __SIZEOF_INT128__
__extension__ typedef unsigned __int128 wide;

/* Of these the product fits, and digits behind the point are left. */
static const double least = 1e-10, most = 1e15;

enum { POWER_MAX = 26 };
static const uint64_t fives[POWER_MAX + 1] = {1,
                                              5,
                                              25,
                                              125,
                                              625,
                                              3125,
                                              15625,
                                              78125,
                                              390625,
                                              1953125,
                                              9765625,
                                              48828125,
                                              244140625,
                                              1220703125,
                                              6103515625,
                                              30517578125,
                                              152587890625,
                                              762939453125,
                                              3814697265625,
                                              19073486328125,
                                              95367431640625,
                                              476837158203125,
                                              2384185791015625,
                                              11920928955078125,
                                              59604644775390625,
                                              298023223876953125,
                                              1490116119384765625};

static const uint64_t first17 = UINT64_C(10000000000000000), first18 = UINT64_C(100000000000000000);

/* The multiple of `unit` that is nearest to a value in parts of 2^-shift, of two the even one; `*off` by how much. */
static uint64_t nearest(wide value, int shift, uint64_t unit, wide *off) {
    uint64_t digits = (uint64_t)(value >> shift) / unit;
    wide rest = value - ((wide)(digits * unit) << shift), all = (wide)unit << shift;
    bool up = 2 * rest > all || (2 * rest == all && digits % 2 != 0);
    *off = up ? all - rest : rest;
    return (digits + up) * unit;
}

/* 17 digits of a magnitude, the last ones 0 where fewer do, and the power of ten of the first. False for magnitudes
 * that are not taken. */
static bool digits_find(double magnitude, uint64_t *digits, int *first) {
    if (!(magnitude >= least && magnitude < most))
        return false;
    int exponent;
    double mantissa = frexp(magnitude, &exponent);
    uint64_t number = (uint64_t)ldexp(mantissa, DBL_MANT_DIG);
    *first = (int)floor(log10(magnitude));
    int power = DIGITS_MOST - 1 - *first, shift = DBL_MANT_DIG - exponent - power;
    /* below a power of two doubles lie closer than above */
    if (mantissa == 0.5 || shift < 1 || power > POWER_MAX)
        return false;
    wide value = (wide)number * fives[power], off;
    if (value >> shift < first17 || value >> shift >= first18)
        return false;
    bool same = false;
    for (uint64_t unit = 100; !same; unit /= 10) {
        *digits = nearest(value, shift, unit, &off);
        same = unit == 1 || 2 * off < fives[power] || (2 * off == fives[power] && number % 2 == 0);
    }
    if (*digits == first18) {
        *digits = first17;
        ++*first;
    }
    return true;
}

#else

static bool digits_find(double magnitude, uint64_t *digits, int *first) {
    (void)magnitude, (void)digits, (void)first;
    return false;
}

#endif

/* As C's %g: with an exponent below 1e-4. */
static void digits_put(uint64_t digits, int first, char *out) {
    char text[DIGITS_MOST];
    for (int i = DIGITS_MOST; i-- > 0; digits /= 10)
        text[i] = (char)('0' + digits % 10);
    int count = DIGITS_MOST, whole = first < -4 ? 1 : first + 1; /* digits before the point */
    while (count > 1 && text[count - 1] == '0')
        count--;
    if (whole <= 0) {
        *out++ = '0';
        *out++ = '.';
        for (; whole < 0; whole++)
            *out++ = '0';
        memcpy(out, text, (size_t)count);
        out[count] = '\0';
        return;
    }
    for (int i = 0; i < count || i < whole; i++) {
        if (i == whole)
            *out++ = '.';
        *out++ = text[i];
    }
    if (first < -4) {
        *out++ = 'e';
        *out++ = '-';
        *out++ = (char)('0' + -first / 10);
        *out++ = (char)('0' + -first % 10);
    }
    *out = '\0';
}

void gw_number_shortest(double value, char out[GW_SHORTEST_SIZE]) {
    uint64_t digits;
    int first;
    if (!digits_find(fabs(value), &digits, &first)) {
        slowly(value, out);
        return;
    }
    *out = '-';
    digits_put(digits, first, out + (value < 0));
}
