/* Lines of a chain file, by inih.
 *
 * inih keeps sections apart and splits keys from values; its own line buffer is short, it knows comments after ';'
 * only, takes an indented line for more of the value above, and says nothing of a section without keys. So the reader
 * here gives it one clean line at a time (no comment, no blanks around it) and, behind each section, a line that
 * announces it; values are taken from the whole line, whatever its length. */
#include "draft.h"

#include <ini.h>
#include <stdlib.h>
#include <string.h>

/* inih keeps this much of a section's name (MAX_SECTION less its end). */
enum { SECTION_MAX = 49 };

typedef struct lines {
    gw_chain_draft *draft;
    const char *at, *end; /* of the text */
    gw_text line;         /* the current one, clean */
    long number;
    bool announce; /* a section was just read: tell the handler next */
    bool pending;  /* a line was given that the handler has not seen: it has no key */
} lines;

static bool is_blank(char character) {
    return character == ' ' || character == '\t' || character == '\f' || character == '\v';
}

/* Where the comment of a line begins, or its end. */
static const char *comment_start(const char *from, const char *end) {
    for (const char *at = from; at < end; at++)
        if ((*at == '#' || *at == ';') && (at == from || is_blank(at[-1])))
            return at;
    return end;
}

static bool control_character(const lines *now) {
    for (const char *at = gw_text_string(&now->line); *at != '\0'; at++)
        if (((unsigned char)*at < 0x20 && *at != '\t') || *at == 0x7f)
            return true;
    return false;
}

static bool stop(lines *now) {
    now->at = now->end;
    return false;
}

/* The next line without comment and blanks; false at the end. Lines end in LF, CR LF or CR. */
static bool next_line(lines *now) {
    if (now->at >= now->end)
        return false;
    const char *from = now->at, *end = from;
    while (end < now->end && *end != '\n' && *end != '\r')
        end++;
    now->at = end < now->end ? end + 1 : end;
    if (end + 1 < now->end && end[0] == '\r' && end[1] == '\n')
        now->at = end + 2;
    now->draft->line = ++now->number;
    end = comment_start(from, end);
    while (from < end && is_blank(*from))
        from++;
    while (end > from && is_blank(end[-1]))
        end--;
    now->line.length = 0;
    gw_text_add_bytes(&now->line, from, (size_t)(end - from));
    if (now->line.failed)
        return gw_error_memory(now->draft->error);
    if (control_character(now)) {
        gw_draft_fail(now->draft, "a control character stands in this line");
        return stop(now);
    }
    return true;
}

/* A section's header must be whole, and short enough for inih to keep it so. */
static bool check_section(lines *now) {
    const char *text = gw_text_string(&now->line);
    size_t length = now->line.length;
    if (text[length - 1] != ']' || strcspn(text, "]") != length - 1)
        return gw_draft_fail(now->draft, "a section is not closed by ']' at the end of its line: '%.80s'", text);
    if (length - 2 > SECTION_MAX)
        return gw_draft_fail(now->draft, "the name of a section is longer than %d bytes: '%.80s…'", SECTION_MAX, text);
    now->announce = true;
    return true;
}

static char *give(char *to, int size, const char *text) {
    size_t length = strlen(text);
    if (length >= (size_t)size)
        length = (size_t)size - 1;
    memcpy(to, text, length);
    to[length] = '\0';
    return to;
}

static bool check_pending(const lines *now) {
    return !now->pending ||
           gw_draft_fail(now->draft, "neither a [section] nor 'key = value': '%.80s'", gw_text_string(&now->line));
}

static char *read_line(char *to, int size, void *user) {
    lines *now = user;
    if (!check_pending(now))
        return NULL;
    if (now->announce)
        return give(to, size, "= ");
    if (now->draft->error->set || !next_line(now))
        return NULL;
    const char *text = gw_text_string(&now->line);
    if (text[0] == '[' && !check_section(now))
        return NULL;
    now->pending = text[0] != '\0' && text[0] != '[';
    return give(to, size, text);
}

/* The value in the whole line: what stands behind its first '=' or ':', where inih parts it too. */
static const char *whole_value(const lines *now) {
    const char *text = gw_text_string(&now->line);
    text += strcspn(text, "=:");
    if (*text != '\0')
        text++;
    while (is_blank(*text))
        text++;
    return text;
}

static int take(void *user, const char *section, const char *key, const char *value) {
    lines *now = user;
    (void)value;
    now->pending = false;
    if (now->draft->error->set)
        return 0;
    if (now->announce) {
        now->announce = false;
        return gw_draft_open_section(now->draft, section, now->number);
    }
    return gw_draft_set_key(now->draft, key, whole_value(now));
}

/* ---- the whole file -------------------------------------------------------------------------------- */

/* A NUL means that this is no text, or text of two bytes a character. */
static bool check_nul(gw_chain_draft *draft, const char *text, size_t length) {
    const char *nul = memchr(text, '\0', length);
    if (nul == NULL)
        return true;
    draft->line = 1;
    for (const char *at = text; at < nul; at++)
        draft->line += *at == '\n';
    return gw_draft_fail(draft, "a NUL byte stands in this line: not a text file, or not UTF-8");
}

bool gw_draft_read(gw_chain_draft *draft, const char *text, size_t length) {
    if (length == 0)
        return gw_draft_fail(draft, "an empty chain file");
    if (!check_nul(draft, text, length))
        return false;
    if (length >= 3 && memcmp(text, "\xEF\xBB\xBF", 3) == 0) {
        text += 3;
        length -= 3;
    }
    gw_text clean = {0};
    if (gw_utf8_is(text, length))
        gw_text_add_bytes(&clean, text, length);
    else
        gw_utf8_from_latin1(&clean, text, length);
    lines now = {.draft = draft, .at = gw_text_string(&clean)};
    now.end = now.at + clean.length;
    int bad_line = clean.failed ? -2 : ini_parse_stream(read_line, &now, take, &now);
    bool good = check_pending(&now);
    if (bad_line < 0)
        gw_error_memory(draft->error);
    gw_text_free(&now.line);
    gw_text_free(&clean);
    return good && !draft->error->set;
}
