#include "capture/script.h"

#include <errno.h>
#include <iconv.h>
#include <stdlib.h>
#include <string.h>

#include "capture/room.h"
#include "capture/wide.h"

enum { PROBE = 4096, WINDOW_FROM = 4 << 20 };

const uint64_t gw_script_size_max = UINT64_C(64) << 30, gw_script_memory_max = UINT64_C(2) << 30;

/* ---- encodings ---------------------------------------------------------------------------------- */

typedef struct encoding {
    const char *name; /* as iconv calls it; NULL: bytes as they are */
    size_t mark;      /* bytes of the mark at the beginning */
    size_t unit;      /* bytes a character takes at least */
} encoding;

/* UTF-16 without a mark: every second byte is 0, and few of the others. */
static bool looks_wide(const unsigned char *bytes, size_t length, size_t zero_at) {
    size_t zeros = 0, others = 0, pairs = length / 2;
    for (size_t i = 0; i + 1 < length; i += 2) {
        zeros += bytes[i + zero_at] == 0;
        others += bytes[i + 1 - zero_at] == 0;
    }
    return pairs >= 2 && zeros * 10 >= pairs * 9 && others * 10 < pairs;
}

static encoding encoding_of(const unsigned char *bytes, size_t length) {
    static const struct {
        unsigned char mark[4];
        size_t length;
        encoding encoding;
    } marks[] = {{{0xFF, 0xFE, 0, 0}, 4, {"UTF-32LE", 4, 4}},
                 {{0, 0, 0xFE, 0xFF}, 4, {"UTF-32BE", 4, 4}},
                 {{0xEF, 0xBB, 0xBF}, 3, {NULL, 3, 1}},
                 {{0xFF, 0xFE}, 2, {"UTF-16LE", 2, 2}},
                 {{0xFE, 0xFF}, 2, {"UTF-16BE", 2, 2}}};
    for (size_t i = 0; i < sizeof marks / sizeof *marks; i++)
        if (length >= marks[i].length && memcmp(bytes, marks[i].mark, marks[i].length) == 0)
            return marks[i].encoding;
    size_t probe = length < PROBE ? length : PROBE;
    while (probe >= 2 && bytes[probe - 1] == 0 && bytes[probe - 2] == 0)
        probe -= 2; /* a damaged tail tells nothing */
    if (looks_wide(bytes, probe, 1))
        return (encoding){"UTF-16LE", 0, 2};
    if (looks_wide(bytes, probe, 0))
        return (encoding){"UTF-16BE", 0, 2};
    return (encoding){NULL, 0, 1};
}

/* Replaces the script's bytes by their UTF-8 form. What makes no sense becomes '?'. */
static bool convert(gw_script *script, encoding from, gw_error *error) {
    size_t in_left = (script->length - from.mark) / from.unit * from.unit;
    size_t room = in_left * 2 + 16, out_left = room;
    char *in = script->bytes + from.mark, *out = gw_room_new(room + GW_SCRIPT_PAD), *to = out;
    iconv_t converter = iconv_open("UTF-8", from.name);
    if (out == NULL || converter == (iconv_t)-1) {
        gw_room_free(out);
        if (converter != (iconv_t)-1)
            iconv_close(converter);
        return out == NULL ? gw_error_memory(error)
                           : gw_error_set(error, script->path, 0, "the system cannot read %s text", from.name);
    }
    while (in_left > 0 && iconv(converter, &in, &in_left, &to, &out_left) == (size_t)-1 && out_left > 8) {
        if (errno == E2BIG || in_left < from.unit)
            break;
        *to++ = '?';
        out_left--;
        in += from.unit;
        in_left -= from.unit;
    }
    iconv_close(converter);
    gw_room_free(script->bytes);
    script->bytes = out;
    script->length = room - out_left;
    return true;
}

/* ---- reading ------------------------------------------------------------------------------------ */

static bool is_line_end(char character) {
    return character == '\n' || character == '\r';
}

static void end_last_line(gw_script *script) {
    script->unended = script->length > 0 && !is_line_end(script->bytes[script->length - 1]);
    memset(script->bytes + script->length, 0, GW_SCRIPT_PAD);
    script->bytes[script->length] = '\n';
    if (script->unended)
        script->length++;
}

static bool refuse_binary(const gw_script *script, gw_error *error) {
    return gw_error_set(error, script->path, 0,
                        "binary, not text: zero bytes stand in it, and no known heading of a sound file");
}

static bool cut_remark(const gw_script *script, uint64_t zeros, uint64_t whole, uint64_t length, gw_strings *remarks,
                       gw_error *error) {
    if (whole == 0)
        return gw_error_set(error, script->path, 0,
                            "no rows of numbers: the file is damaged, nothing whole stands before its zero bytes");
    gw_strings_printf(remarks, "damaged: the file ends in %llu zero bytes, cut%s", (unsigned long long)zeros,
                      whole < length ? " with the half line before them" : "");
    return true;
}

/* Cuts a tail of NUL and the line it interrupts; NUL elsewhere is no text. */
static bool cut_tail(gw_script *script, gw_strings *remarks, gw_error *error) {
    size_t length = script->length;
    while (length > 0 && script->bytes[length - 1] == '\0')
        length--;
    if (length > 0 && memchr(script->bytes, '\0', length) != NULL)
        return refuse_binary(script, error);
    size_t zeros = script->length - length;
    if (zeros == 0)
        return true;
    size_t whole = length;
    while (whole > 0 && !is_line_end(script->bytes[whole - 1]))
        whole--;
    script->length = whole;
    return cut_remark(script, zeros, whole, length, remarks, error);
}

/* A long text of one byte a character or UTF-8 is read through a window. */
static bool open_window(gw_script *script, gw_input *input, encoding from, gw_strings *remarks, gw_error *error) {
    uint64_t zeros = gw_window_tail(input), length = input->size;
    char last = '\n';
    if (zeros > 0) {
        uint64_t whole = gw_window_last_line(input, length - zeros);
        if (!cut_remark(script, zeros, whole, length - zeros, remarks, error))
            return false;
        length = whole;
    }
    gw_input_read(input, length - 1, &last, 1);
    script->length = (size_t)(length - from.mark);
    script->window = gw_window_new(input, from.mark, script->length, GW_SCRIPT_PAD);
    if (script->window == NULL)
        return gw_error_memory(error);
    script->bytes = script->window->bytes;
    script->unended = !is_line_end(last);
    script->length += script->unended;
    return true;
}

void gw_script_hold(const gw_script *script, size_t from, size_t to) {
    if (script->window != NULL)
        gw_window_hold(script->window, from, to);
}

bool gw_script_check(const gw_script *script, bool right, gw_error *error) {
    const gw_window *window = script->window;
    if (window == NULL)
        return right;
    if (window->broken)
        return gw_error_set(error, script->path, 0, "the file became shorter while it was read");
    bool sound = right && !window->overlong;
    if (window->zeros || (!sound && gw_window_any_zero(window->input, window->offset + window->length))) {
        gw_error_clear(error);
        return refuse_binary(script, error);
    }
    if (!window->overlong)
        return right;
    gw_error_clear(error);
    return gw_error_set(error, script->path, 0, "a line is too long: up to 64 MiB (67108864 bytes) are read");
}

bool gw_script_read(gw_script *script, gw_input *input, gw_strings *remarks, gw_error *error) {
    *script = (gw_script){.path = input->path};
    if (input->size > gw_script_size_max)
        return gw_error_set(error, input->path, 0, "too large: text captures of up to 64 GiB are read");
    if (input->size >= WINDOW_FROM) {
        unsigned char probe[PROBE];
        size_t got = gw_input_read(input, 0, probe, sizeof probe);
        encoding own = encoding_of(probe, got);
        if (own.name == NULL)
            return open_window(script, input, own, remarks, error);
        if (input->size > gw_script_memory_max)
            return gw_error_set(error, input->path, 0,
                                "too large: text of two or four bytes a character is read up to 2 GiB");
        if (!gw_wide_keep(input, own.name, own.mark, own.unit, &script->utf8, error))
            return false;
        if (script->utf8.size > 0)
            return open_window(script, &script->utf8, (encoding){NULL, 0, 1}, remarks, error);
    }
    script->bytes = gw_room_new((size_t)input->size + GW_SCRIPT_PAD);
    if (script->bytes == NULL)
        return gw_error_memory(error);
    script->length = gw_input_read(input, 0, script->bytes, (size_t)input->size);
    encoding from = encoding_of((const unsigned char *)script->bytes, script->length);
    if (from.name != NULL && !convert(script, from, error))
        return false;
    if (from.name == NULL && from.mark > 0) {
        script->length -= from.mark;
        memmove(script->bytes, script->bytes + from.mark, script->length);
    }
    if (!cut_tail(script, remarks, error))
        return false;
    end_last_line(script);
    return true;
}

void gw_script_free(gw_script *script) {
    if (script->window == NULL)
        gw_room_free(script->bytes);
    gw_window_free(script->window);
    if (script->utf8.path != NULL)
        gw_input_close(&script->utf8);
    *script = (gw_script){0};
}

long gw_script_line(const gw_script *script, size_t at) {
    long line = 1;
    for (size_t i = 0; i < at && i < script->length; i++) {
        gw_script_need(script, i);
        bool returns = script->bytes[i] == '\r' && script->bytes[i + 1] != '\r' && script->bytes[i + 1] != '\n';
        line += script->bytes[i] == '\n' || returns;
    }
    return line;
}

/* ---- characters --------------------------------------------------------------------------------- */

unsigned long gw_next_character(const char **at, const char *end) {
    const unsigned char *p = (const unsigned char *)*at;
    size_t left = (size_t)(end - *at), more = p[0] >= 0xF0 ? 3 : p[0] >= 0xE0 ? 2 : p[0] >= 0xC2 ? 1 : 0;
    unsigned long character = p[0];
    *at += 1;
    if (p[0] < 0xC2 || p[0] > 0xF4 || more >= left)
        return character;
    unsigned long value = p[0] & (0x3FU >> more);
    for (size_t i = 1; i <= more; i++) {
        if ((p[i] & 0xC0) != 0x80)
            return character;
        value = value << 6 | (p[i] & 0x3FU);
    }
    *at += more;
    return value;
}

bool gw_is_blank(unsigned long character) {
    return character == ' ' || character == '\t' || character == 0xA0 || (character >= 0x2000 && character <= 0x200B) ||
           character == 0x202F || character == 0x205F || character == 0x3000 || character == 0xFEFF;
}

/* Adds a character as UTF-8; micro signs become one, odd control characters a blank. */
static size_t put_character(char *out, unsigned long c) {
    c = c == 0x3BC ? 0xB5 : c < 0x20 ? ' ' : c;
    if (c < 0x80) {
        out[0] = (char)c;
        return 1;
    }
    if (c < 0x800) {
        out[0] = (char)(0xC0 | c >> 6);
        out[1] = (char)(0x80 | (c & 0x3F));
        return 2;
    }
    size_t length = c < 0x10000 ? 3 : 4;
    for (size_t i = length - 1; i > 0; i--, c >>= 6)
        out[i] = (char)(0x80 | (c & 0x3F));
    out[0] = (char)((length == 3 ? 0xE0 : 0xF0) | c);
    return length;
}

/* ---- cells -------------------------------------------------------------------------------------- */

/* A trimmed copy of a cell without its quotes, as UTF-8. */
static char *copy_cell(gw_arena *arena, const char *text, const char *end) {
    char *out = gw_arena_take(arena, (size_t)(end - text) * 2 + 1);
    if (out == NULL)
        return NULL;
    size_t length = 0, kept = 0;
    for (bool quoted = false; text < end;) {
        unsigned long c = gw_next_character(&text, end);
        if (c == '"' && !(quoted && text < end && *text == '"')) {
            quoted = !quoted;
            continue;
        }
        if (c == '"')
            text++; /* a doubled quote is one */
        if (length == 0 && gw_is_blank(c))
            continue;
        length += put_character(out + length, c);
        kept = gw_is_blank(c) ? kept : length;
    }
    out[kept] = '\0';
    return out;
}

static const char *cell_end(const char *text, const char *end, char separator) {
    bool quoted = false;
    for (; text < end; text++) {
        if (*text == '"')
            quoted = !quoted;
        else if (!quoted && (*text == separator || (separator == ' ' && *text == '\t')))
            break;
    }
    return text;
}

/* Takes off the marks that begin a comment; a semicolon is one only where it separates nothing. */
static const char *skip_comment(const char *text, const char *end, char separator, bool *found) {
    const char *at = text;
    while (at < end && (*at == ' ' || (*at == '\t' && separator != '\t')))
        at++;
    const char *mark = at;
    while (at < end && (*at == '#' || *at == '%' || (*at == ';' && separator != ';') ||
                        (*at == '/' && end - at > 1 && (at[1] == '/' || (at > mark && at[-1] == '/')))))
        at++;
    *found = at > mark;
    return *found ? at : text;
}

bool gw_line_split(gw_arena *arena, const char *text, const char *end, char separator, gw_line *out) {
    *out = (gw_line){0};
    text = skip_comment(text, end, separator, &out->comment);
    size_t capacity = 0, count = 0;
    for (bool more = true; more;) {
        while (separator == ' ' && text < end && (*text == ' ' || *text == '\t'))
            text++;
        const char *stop = cell_end(text, end, separator);
        if (count == capacity) {
            size_t wider = capacity == 0 ? 8 : capacity * 2;
            char **cells = gw_arena_array(arena, wider, sizeof *cells);
            if (cells == NULL)
                return false;
            if (count > 0)
                memcpy(cells, out->cells, count * sizeof *cells);
            out->cells = cells;
            capacity = wider;
        }
        out->cells[count] = copy_cell(arena, text, stop);
        if (out->cells[count] == NULL)
            return false;
        if (*out->cells[count++] != '\0')
            out->count = count;
        more = stop < end;
        text = stop + 1;
    }
    return true;
}

/* In a file of commas, a line whose key ends in a semicolon is taken apart there. */
static char separator_of_line(const char *text, const char *end, char separator) {
    size_t length = (size_t)(end - text);
    const char *at = text + strspn(text, " \t;#"), *comma = memchr(text, ',', length);
    const char *other = at < end ? memchr(at, ';', (size_t)(end - at)) : NULL;
    if (separator == ',' && other != NULL && (comma == NULL || other < comma))
        return ';';
    return separator;
}

bool gw_lines_split(gw_arena *arena, const gw_script *script, size_t from, size_t to, char separator, size_t most,
                    gw_line **out, size_t *count) {
    const char *bytes = script->bytes;
    size_t start = to, found = 0;
    /* backwards to where the wanted lines begin */
    while (start > from && found <= most) {
        start--;
        found += is_line_end(bytes[start]) && start + 1 < to && !is_line_end(bytes[start + 1]);
    }
    *count = 0;
    *out = gw_arena_array(arena, most + 2, sizeof **out);
    if (*out == NULL)
        return false;
    for (size_t at = start; at < to && *count < most;) {
        size_t end = at;
        while (end < to && !is_line_end(bytes[end]))
            end++;
        gw_line *line = &(*out)[*count];
        char own = separator_of_line(bytes + at, bytes + end, separator);
        if (end > at && !gw_line_split(arena, bytes + at, bytes + end, own, line))
            return false;
        line->at = at;
        *count += end > at && line->count > 0;
        at = end + 1;
    }
    return true;
}
