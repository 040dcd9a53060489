/* What was learnt, put into the text of the chain file. */
#include "gainwalk/record.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

typedef struct figure {
    const char *key;
    size_t offset; /* of its gw_learnt in a point */
    bool upper;
    bool of_rails;
    void (*print)(const gw_learnt *learnt, gw_text *out);
} figure;

/* `value` rounded up to some digits, so that a limit never becomes tighter by being written. */
static double round_up(double value, int digits) {
    if (!(value > 0))
        return value;
    double unit = pow(10, floor(log10(value)) + 1 - digits);
    return ceil(value / unit - 1e-9) * unit;
}

static void print_gain(const gw_learnt *learnt, gw_text *out) {
    char text[2][32];
    double nominal = gw_db_from_ratio(learnt->value), width = gw_db_from_ratio(learnt->high) - nominal;
    gw_text_printf(out, "%s dB ± %s dB", gw_number_fixed(nominal, 2, text[0], sizeof text[0]),
                   gw_number_fixed(ceil(100 * width - 1e-6) / 100, 2, text[1], sizeof text[1]));
}

static void print_dc(const gw_learnt *learnt, gw_text *out) {
    char text[2][32];
    double width = round_up(fmax(0.5 * (learnt->high - learnt->low), 1e-6), 3);
    /* the middle as fine as a hundredth of the width */
    double unit = pow(10, floor(log10(width)) - 2);
    double middle = floor(learnt->value / unit + 0.5) * unit;
    bool volts = fabs(middle) >= 1;
    double scale = volts ? 1 : 1000;
    const char *name = volts ? "V" : "mV";
    gw_text_printf(out, "%s %s ± %s %s", gw_number_print(scale * middle, 9, text[0], sizeof text[0]), name,
                   gw_number_print(scale * width, 9, text[1], sizeof text[1]), name);
}

static void print_thd(const gw_learnt *learnt, gw_text *out) {
    char text[32];
    gw_text_printf(out, "< %s %%", gw_number_print(round_up(100 * learnt->high, 2), 9, text, sizeof text));
}

static void print_noise(const gw_learnt *learnt, gw_text *out) {
    char text[32];
    gw_text_printf(out, "< %s µV", gw_number_print(round_up(1e6 * learnt->high, 2), 9, text, sizeof text));
}

static const figure figures[] = {
    {"gain", offsetof(gw_learnt_point, gain), false, false, print_gain},
    {"dc", offsetof(gw_learnt_point, dc), false, true, print_dc},
    {"thd", offsetof(gw_learnt_point, thd), true, false, print_thd},
    {"noise", offsetof(gw_learnt_point, noise), true, false, print_noise},
};
enum { FIGURES = sizeof figures / sizeof *figures };

static const gw_learnt *learnt_of(const gw_learnt_point *point, size_t index) {
    return (const gw_learnt *)(const void *)((const char *)point + figures[index].offset);
}

static void add_basis(const gw_learnt *learnt, gw_text *out) {
    gw_text_printf(out, "learnt from %zu unit%s", learnt->units, learnt->units == 1 ? "" : "s");
    if (learnt->samples != learnt->units)
        gw_text_printf(out, ", %zu samples", learnt->samples);
    if (learnt->why != NULL)
        gw_text_printf(out, "; %s", learnt->why);
}

static void add_line(const gw_learnt_point *point, size_t index, gw_text *out) {
    const gw_learnt *learnt = learnt_of(point, index);
    gw_text value = {0};
    figures[index].print(learnt, &value);
    gw_text_printf(out, "%-7s = %-24s # ", figures[index].key, gw_text_string(&value));
    add_basis(learnt, out);
    gw_text_add_char(out, '\n');
    gw_text_part_free(out, &value);
}

/* What could not be learnt though something was seen. */
static void add_reason(const gw_learnt_point *point, size_t index, gw_text *out) {
    const gw_learnt *learnt = learnt_of(point, index);
    if (!learnt->has && learnt->samples > 0 && learnt->why != NULL)
        gw_text_printf(out, "# %s: %s\n", figures[index].key, learnt->why);
}

static void add_point(const gw_learnt_point *point, gw_text *out) {
    for (size_t i = 0; i < FIGURES; i++) {
        if (point->rail && !figures[i].of_rails)
            continue;
        if (learnt_of(point, i)->has)
            add_line(point, i, out);
        else
            add_reason(point, i, out);
    }
}

typedef struct line {
    const char *text;
    size_t length;
    long number;
} line;

/* Lines end in LF, CR LF or CR. */
static bool next_line(const char **at, const char *end, line *out) {
    if (*at >= end)
        return false;
    out->text = *at;
    while (*at < end && **at != '\n' && **at != '\r')
        ++*at;
    out->length = (size_t)(*at - out->text);
    out->number++;
    if (*at < end)
        *at += (*at + 1 < end && (*at)[0] == '\r' && (*at)[1] == '\n') ? 2 : 1;
    return true;
}

static const gw_learnt_point *point_of_line(const gw_lesson *lesson, long number) {
    for (size_t i = 0; i < lesson->count; i++)
        if (lesson->points[i].line == number)
            return &lesson->points[i];
    return NULL;
}

/* Whether a line states `key`. */
static bool states(const line *at, const char *key) {
    size_t skip = 0, length = strlen(key);
    while (skip < at->length && (at->text[skip] == ' ' || at->text[skip] == '\t'))
        skip++;
    size_t end = skip + length;
    if (end > at->length || strncmp(at->text + skip, key, length) != 0)
        return false;
    while (end < at->length && (at->text[end] == ' ' || at->text[end] == '\t'))
        end++;
    return end < at->length && (at->text[end] == '=' || at->text[end] == ':');
}

/* Whether a line says what was learnt anew. A meter's reading belongs to the unit it was taken at, and the new file is
 * for others. */
static bool replaced(const gw_learnt_point *point, const line *at) {
    for (size_t i = 0; i < FIGURES; i++)
        if (learnt_of(point, i)->has && (!point->rail || figures[i].of_rails) && states(at, figures[i].key))
            return true;
    return point->dc.has && states(at, "reading");
}

static void add_head(const char *from, gw_text *out) {
    char text[2][32];
    gw_text_printf(
        out,
        "# Expectations learnt from known-good units%s%s.\n"
        "# Limits from two samples or more hold %s %% of such units with %s %% confidence (normal tolerance\n"
        "# intervals, ISO 16269-6), and are no tighter than twice the measurement's uncertainty.\n\n",
        from != NULL ? ": " : "", from != NULL ? from : "",
        gw_number_print(100 * gw_learn_content, 4, text[0], sizeof text[0]),
        gw_number_print(100 * gw_learn_confidence, 4, text[1], sizeof text[1]));
}

bool gw_lesson_write(const gw_lesson *lesson, const char *text, size_t length, const char *from, gw_text *out,
                     gw_error *error) {
    static const char mark[] = "\xEF\xBB\xBF"; /* of UTF-8; has no place in the middle */
    const char *at = text, *end = text + length;
    const gw_learnt_point *inside = NULL;
    line now = {0};
    if (length >= 3 && memcmp(text, mark, 3) == 0)
        at += 3;
    add_head(from, out);
    while (next_line(&at, end, &now)) {
        size_t blank = 0;
        while (blank < now.length && (now.text[blank] == ' ' || now.text[blank] == '\t'))
            blank++;
        bool section = blank < now.length && now.text[blank] == '[';
        if (section)
            inside = NULL;
        if (inside != NULL && replaced(inside, &now))
            gw_text_add(out, "# was: ");
        gw_text_add_bytes(out, now.text, now.length);
        gw_text_add_char(out, '\n');
        if (section && (inside = point_of_line(lesson, now.number)) != NULL)
            add_point(inside, out);
    }
    return !out->failed || gw_error_memory(error);
}
