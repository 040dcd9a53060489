#include "base/unicode.h"

enum { REPLACEMENT = 0xFFFD };

typedef struct range {
    uint32_t first, last;
} range;

static bool within(const range *ranges, size_t count, uint32_t code) {
    for (size_t i = 0; i < count; i++)
        if (code >= ranges[i].first && code <= ranges[i].last)
            return true;
    return false;
}

/* Length of the sequence that `lead` begins, with the bits it holds and the smallest code that may use it. */
static int sequence(unsigned char lead, uint32_t *bits, uint32_t *least) {
    if (lead >= 0xF0 && lead < 0xF5)
        return *bits = lead & 0x07U, *least = 0x10000, 4;
    if (lead >= 0xE0 && lead < 0xF0)
        return *bits = lead & 0x0FU, *least = 0x800, 3;
    if (lead >= 0xC2 && lead < 0xE0)
        return *bits = lead & 0x1FU, *least = 0x80, 2;
    return 0;
}

uint32_t gw_unicode_next(const char **text) {
    const unsigned char *at = (const unsigned char *)*text;
    if (at[0] == 0)
        return 0;
    (*text)++;
    if (at[0] < 0x80)
        return at[0];
    uint32_t code = 0, least = 0;
    int length = sequence(at[0], &code, &least);
    if (length == 0)
        return REPLACEMENT;
    for (int i = 1; i < length; i++) {
        if ((at[i] & 0xC0) != 0x80)
            return REPLACEMENT;
        code = code << 6 | (at[i] & 0x3FU);
    }
    if (code < least || code > 0x10FFFF || (code >= 0xD800 && code <= 0xDFFF))
        return REPLACEMENT;
    *text += length - 1;
    return code;
}

size_t gw_unicode_put(uint32_t code, char out[5]) {
    size_t length = code < 0x80 ? 1 : code < 0x800 ? 2 : code < 0x10000 ? 3 : 4;
    static const unsigned char leads[] = {0, 0, 0xC0, 0xE0, 0xF0};
    for (size_t i = length; i > 1; i--) {
        out[i - 1] = (char)(0x80U | (code & 0x3FU));
        code >>= 6;
    }
    out[0] = (char)(leads[length] | code);
    out[length] = '\0';
    return length;
}

bool gw_unicode_steers(uint32_t code) {
    static const range ranges[] = {
        {0x00, 0x1F},     {0x7F, 0x9F},     {0x61C, 0x61C},   {0x200B, 0x200B},   {0x200E, 0x200F},   {0x2028, 0x202E},
        {0x2060, 0x206F}, {0xFEFF, 0xFEFF}, {0xFFF9, 0xFFFB}, {0xE0000, 0xE0FFF}, {0x1D173, 0x1D17A}, {0xAD, 0xAD},
    };
    return within(ranges, sizeof ranges / sizeof *ranges, code);
}

int gw_unicode_columns(uint32_t code) {
    static const range combining[] = {{0x300, 0x36F},   {0x483, 0x489},   {0x591, 0x5BD},   {0x610, 0x61A},
                                      {0x64B, 0x65F},   {0x1AB0, 0x1AFF}, {0x1DC0, 0x1DFF}, {0x200C, 0x200D},
                                      {0x20D0, 0x20FF}, {0xFE00, 0xFE0F}, {0xFE20, 0xFE2F}, {0xE0100, 0xE01EF}};
    static const range wide[] = {{0x1100, 0x115F},   {0x2E80, 0x303E},   {0x3041, 0xA4CF},  {0xAC00, 0xD7A3},
                                 {0xF900, 0xFAFF},   {0xFE30, 0xFE6F},   {0xFF00, 0xFF60},  {0xFFE0, 0xFFE6},
                                 {0x1F300, 0x1F64F}, {0x1F900, 0x1F9FF}, {0x20000, 0x3FFFD}};
    if (within(combining, sizeof combining / sizeof *combining, code))
        return 0;
    return within(wide, sizeof wide / sizeof *wide, code) ? 2 : 1;
}
