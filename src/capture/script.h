/* The text of a capture file: its characters, lines and cells. */
#ifndef GAINWALK_CAPTURE_SCRIPT_H
#define GAINWALK_CAPTURE_SCRIPT_H

#include "capture/window.h"

/* The text in memory: all of it, or, of a long one, the part that gw_script_need asked for. Every line ends: a line end
 * stands behind the last one even where the file has none, and GW_SCRIPT_PAD bytes may be read behind the text. */
typedef struct gw_script {
    const char *path; /* not copied */
    char *bytes;
    size_t length;
    bool unended;      /* the file's last line has no end of its own */
    gw_window *window; /* NULL: all is there */
    int jobs;          /* threads that may read it; set by whoever has it read */
    gw_input utf8;     /* of wide characters: what the window looks at */
} gw_script;

enum { GW_SCRIPT_PAD = 32 };

/* Text files beyond this size, in bytes, are refused; those that must be in memory as a whole beyond the other. */
extern const uint64_t gw_script_size_max, gw_script_memory_max;

/* Reads the file and makes UTF-8, or one byte a character, of it. A tail of NUL is cut with the line it interrupts,
 * which goes to `remarks`. False for files that are no text. Of a long text `input` must stay open. */
bool gw_script_read(gw_script *script, gw_input *input, gw_strings *remarks, gw_error *error);
void gw_script_free(gw_script *script);

/* Makes sure that the line at byte `at` is in memory, from there to its end. Lines before it may then be gone. */
static inline void gw_script_need(const gw_script *script, size_t at) {
    if (script->window != NULL && (at >= script->window->safe || at < script->window->from))
        gw_window_move(script->window, at);
}

/* Whether a line was met that is longer than GW_LINE_MAX: nothing more is to be read. */
static inline bool gw_script_stopped(const gw_script *script) {
    return script->window != NULL && script->window->overlong;
}

/* Makes sure that bytes `from` to `to` are in memory together, and the line that they end in. */
void gw_script_hold(const gw_script *script, size_t from, size_t to);

/* What is only known of a long text when it was read: `right`, unless the file turned out shorter than it was, no
 * text, or with too long a line; that goes before any other error. */
bool gw_script_check(const gw_script *script, bool right, gw_error *error);

/* The number, from 1, of the line that holds byte `at`. */
long gw_script_line(const gw_script *script, size_t at);

/* The next character of a UTF-8 text; bytes that are none stand for themselves (ISO 8859-1). Moves `*at`. */
unsigned long gw_next_character(const char **at, const char *end);

/* Whether a character is a blank of any width. */
bool gw_is_blank(unsigned long character);

/* ---- lines taken apart, outside the block of numbers --------------------------------------------- */

typedef struct gw_line {
    char **cells; /* trimmed, without quotes, UTF-8; micro signs are all µ */
    size_t count; /* without empty cells at the end */
    size_t at;    /* byte in the text */
    bool comment; /* a comment mark was taken off */
} gw_line;

/* The cells of the line from `text` to `end`. `separator` is '\t', ';', ',' or ' ' (runs of blanks). */
bool gw_line_split(gw_arena *arena, const char *text, const char *end, char separator, gw_line *out);

/* The lines of bytes `from` to `to` that are not blank, at most `most` of them, the last ones. */
bool gw_lines_split(gw_arena *arena, const gw_script *script, size_t from, size_t to, char separator, size_t most,
                    gw_line **out, size_t *count);

#endif
