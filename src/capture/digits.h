/* Digits of numbers as they stand in a text. */
#ifndef GAINWALK_CAPTURE_DIGITS_H
#define GAINWALK_CAPTURE_DIGITS_H

#include <stdbool.h>
#include <stdint.h>
#include <string.h>

/* Powers of ten that are doubles. */
enum { GW_EXACT_POWER = 22 };
static const double gw_powers_of_ten[GW_EXACT_POWER + 1] = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                                            1e8,  1e9,  1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
                                                            1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};

static inline unsigned gw_digit_of(char character) {
    return (unsigned)(unsigned char)character - '0';
}

/* Eight digits at once, if eight stand there: three multiplications (Lemire 2019, "Number parsing at a gigabyte per
 * second", section 4, after Langdale). */
static inline bool gw_eight_digits(const char *text, uint64_t *digits) {
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

/* Four likewise. */
static inline bool gw_four_digits(const char *text, uint64_t *digits) {
#if defined(__BYTE_ORDER__) && __BYTE_ORDER__ == __ORDER_LITTLE_ENDIAN__
    uint32_t word;
    memcpy(&word, text, sizeof word);
    if (((word & 0xF0F0F0F0U) | (((word + 0x06060606U) & 0xF0F0F0F0U) >> 4)) != 0x33333333U)
        return false;
    word = (word & 0x0F0F0F0FU) * 2561 >> 8;
    *digits = *digits * 10000 + ((word & 0x00FF00FFU) * 6553601 >> 16);
    return true;
#else
    (void)text, (void)digits;
    return false;
#endif
}

static inline const char *gw_take_digits(const char *at, uint64_t *digits) {
    while (gw_digit_of(*at) <= 9)
        *digits = *digits * 10 + gw_digit_of(*at++);
    return at;
}

#endif
