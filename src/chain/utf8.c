/* Characters of a chain file: UTF-8, or one byte each. */
#include "draft.h"

#include <string.h>

/* Bytes of the UTF-8 character at `at`, 0 where there is none (RFC 3629: no surrogates, nothing over-long). */
static size_t character_length(const unsigned char *at, size_t left) {
    static const struct {
        unsigned char first_low, first_high, second_low, second_high, length;
    } rows[] = {{0xC2, 0xDF, 0x80, 0xBF, 2}, {0xE0, 0xE0, 0xA0, 0xBF, 3}, {0xE1, 0xEC, 0x80, 0xBF, 3},
                {0xED, 0xED, 0x80, 0x9F, 3}, {0xEE, 0xEF, 0x80, 0xBF, 3}, {0xF0, 0xF0, 0x90, 0xBF, 4},
                {0xF1, 0xF3, 0x80, 0xBF, 4}, {0xF4, 0xF4, 0x80, 0x8F, 4}};
    if (at[0] < 0x80)
        return 1;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        if (at[0] < rows[i].first_low || at[0] > rows[i].first_high || rows[i].length > left)
            continue;
        bool good = at[1] >= rows[i].second_low && at[1] <= rows[i].second_high;
        for (size_t k = 2; good && k < rows[i].length; k++)
            good = (at[k] & 0xC0) == 0x80;
        return good ? rows[i].length : 0;
    }
    return 0;
}

bool gw_utf8_is(const char *text, size_t length) {
    for (size_t at = 0, used; at < length; at += used) {
        used = character_length((const unsigned char *)text + at, length - at);
        if (used == 0)
            return false;
    }
    return true;
}

void gw_utf8_from_latin1(gw_text *out, const char *text, size_t length) {
    for (size_t i = 0; i < length; i++) {
        unsigned byte = (unsigned char)text[i];
        if (byte >= 0x80)
            gw_text_add_char(out, (char)(0xC0 | byte >> 6));
        gw_text_add_char(out, (char)(byte >= 0x80 ? 0x80 | (byte & 0x3F) : byte));
    }
}

void gw_utf8_clean(char *text) {
    size_t left = strlen(text);
    char *to = text;
    for (const char *from = text; left > 0;) {
        size_t used = character_length((const unsigned char *)from, left);
        memmove(to, from, used);
        to += used;
        from += used > 0 ? used : 1;
        left -= used > 0 ? used : 1;
    }
    *to = '\0';
}
