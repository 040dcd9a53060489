#include "capture/pcm.h"

#include "base/lanes.h"

#include <math.h>
#include <stdint.h>
#include <string.h>

#if defined(__BYTE_ORDER__) && __BYTE_ORDER__ == __ORDER_LITTLE_ENDIAN__
enum { LEAST_FIRST = true };
#else
enum { LEAST_FIRST = false };
#endif

bool gw_pcm_takes(unsigned bytes, bool is_float) {
    return LEAST_FIRST && (is_float ? bytes == 4 : bytes >= 2 && bytes <= 4);
}

GW_WIDE static void decode_2(const unsigned char *from, size_t step, size_t count, double unit,
                             double *restrict values) {
    for (size_t i = 0; i < count; i++, from += step) {
        int16_t sample;
        memcpy(&sample, from, sizeof sample);
        values[i] = sample * unit;
    }
}

GW_WIDE static void decode_4(const unsigned char *from, size_t step, size_t count, double unit,
                             double *restrict values) {
    for (size_t i = 0; i < count; i++, from += step) {
        int32_t sample;
        memcpy(&sample, from, sizeof sample);
        values[i] = sample * unit;
    }
}

GW_WIDE static void decode_float(const unsigned char *from, size_t step, size_t count, double *restrict values) {
    for (size_t i = 0; i < count; i++, from += step) {
        float sample;
        memcpy(&sample, from, sizeof sample);
        values[i] = (double)sample;
    }
}

typedef unsigned char bytes_16 __attribute__((vector_size(16)));
typedef int32_t words_4 __attribute__((vector_size(16)));
typedef double lanes_4 __attribute__((vector_size(32), aligned(8), may_alias));

/* Four samples side by side, each put at the top of a word. Returns how many of `count` were taken. */
GW_WIDE static size_t decode_3_together(const unsigned char *from, size_t count, double unit, double *values) {
    const lanes_4 units = {unit, unit, unit, unit};
    const bytes_16 none = {0};
    size_t i = 0;
    for (; i + 4 <= count; i += 4, from += 12) {
        bytes_16 all;
        memcpy(&all, from, sizeof all);
        words_4 words =
            (words_4)__builtin_shufflevector(all, none, 16, 0, 1, 2, 16, 3, 4, 5, 16, 6, 7, 8, 16, 9, 10, 11);
        *(lanes_4 *)(values + i) = __builtin_convertvector(words, lanes_4) * units;
    }
    return i;
}

/* `unit` is that of a sample at the top of its word. */
static void decode_3(const unsigned char *from, size_t step, size_t count, double unit, double *values) {
    size_t done = step == 3 ? decode_3_together(from, count, unit, values) : 0;
    from += done * step;
    for (size_t i = done; i < count; i++, from += step) {
        uint32_t sample;
        memcpy(&sample, from, sizeof sample);
        values[i] = (int32_t)(sample << 8) * unit;
    }
}

void gw_pcm_decode(const unsigned char *from, unsigned bytes, bool is_float, size_t stride, size_t count, double scale,
                   double *values) {
    size_t step = stride * bytes;
    if (is_float)
        decode_float(from, step, count, values);
    else if (bytes == 2)
        decode_2(from, step, count, ldexp(scale, -15), values);
    else if (bytes == 3)
        decode_3(from, step, count, ldexp(scale, -31), values);
    else
        decode_4(from, step, count, ldexp(scale, -31), values);
}
