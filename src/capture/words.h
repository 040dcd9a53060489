/* The words of headings and preamble keys, without regard to case, blanks and underscores. */
#ifndef GAINWALK_CAPTURE_WORDS_H
#define GAINWALK_CAPTURE_WORDS_H

#include "gainwalk/base.h"

enum { GW_WORDS_MAX = 24 };

typedef struct gw_words {
    char text[256];
    size_t at[GW_WORDS_MAX]; /* where each begins in text */
    size_t count;
} gw_words;

/* Takes a heading apart at blanks, signs, changes of case and, where it is written in one, between known words. A
 * stroke becomes `per`. What does not fit is left out. */
void gw_words_split(const char *text, gw_words *words);

/* Whether any of the words of `list` (blank between them) is among `words`. */
bool gw_words_have(const gw_words *words, const char *list);

const char *gw_words_item(const gw_words *words, size_t index);

/* What heading words name. */
bool gw_words_name_time(const gw_words *words);
bool gw_words_name_index(const gw_words *words);
bool gw_words_name_envelope(const gw_words *words);
bool gw_words_name_code(const gw_words *words);
bool gw_words_name_logic(const gw_words *words);
bool gw_words_name_derived(const gw_words *words);
bool gw_words_name_frequency(const gw_words *words);
bool gw_words_name_place(const gw_words *words); /* a position along an axis */

/* What preamble keys, and headings beyond the columns, name. */
bool gw_words_name_interval(const gw_words *words);
bool gw_words_name_rate(const gw_words *words);
bool gw_words_name_start(const gw_words *words);
bool gw_words_name_count(const gw_words *words);
bool gw_words_name_per_division(const gw_words *words);
bool gw_words_name_source(const gw_words *words);

/* Whether two headings are names of two channels, rather than a key and its value. */
bool gw_words_name_channels(const gw_words *one, const gw_words *other);

#endif
