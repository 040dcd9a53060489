#include "capture/heading.h"

#include <string.h>

#include "capture/words.h"

const char *gw_line_cell(const gw_line *line, size_t index) {
    return line != NULL && index < line->count ? line->cells[index] : "";
}

static gw_cell_kind kind_of(const char *cell, gw_format format) {
    gw_cell value;
    format.joined = false;
    gw_cell_parse(cell, strlen(cell), format, &value);
    return (gw_cell_kind)value.kind;
}

static size_t filled(const gw_line *line) {
    size_t count = 0;
    for (size_t i = 0; i < line->count; i++)
        count += *line->cells[i] != '\0';
    return count;
}

/* A line that only draws: dashes, stars, dots. */
static bool is_rule(const gw_line *line) {
    for (size_t i = 0; i < line->count; i++)
        if (strspn(line->cells[i], "-=_*~.+| ") != strlen(line->cells[i]))
            return false;
    return true;
}

static bool begins_with_time(const gw_line *line) {
    gw_words words;
    for (size_t i = 0; i < line->count; i++)
        if (*line->cells[i] != '\0') {
            gw_words_split(line->cells[i], &words);
            return gw_words_name_time(&words);
        }
    return false;
}

static bool is_mostly_text(const gw_line *line, gw_format format) {
    size_t text = 0;
    for (size_t i = 0; i < line->count; i++)
        text += *line->cells[i] != '\0' && kind_of(line->cells[i], format) == GW_CELL_TEXT;
    return text * 2 > filled(line);
}

static bool has_units(gw_arena *arena, const gw_line *line) {
    for (size_t i = 0; i < line->count; i++) {
        const char *name;
        gw_unit unit;
        if (gw_unit_split(arena, line->cells[i], &name, &unit) && unit.kind != GW_UNIT_NONE)
            return true;
    }
    return false;
}

/* Where in a row of names the start and the step stand. */
static bool find_axis_cells(const gw_line *line, size_t *start, size_t *step) {
    gw_words words;
    *start = *step = 0;
    for (size_t i = 1; line != NULL && i < line->count; i++) {
        gw_words_split(line->cells[i], &words);
        if (words.count == 0 || words.count > 3)
            continue;
        if (*start == 0 && gw_words_name_start(&words))
            *start = i;
        else if (*step == 0 && gw_words_name_interval(&words))
            *step = i;
    }
    return *step > 0;
}

/* Unit words only; figures may stand under the names of start and step. */
static bool is_unit_row(const gw_line *line, const gw_line *above, size_t width, gw_format format) {
    size_t units = 0, start, step;
    bool axis = find_axis_cells(above, &start, &step);
    if (line->count < width && filled(line) < 2)
        return false;
    if (line->count == 1 && strlen(line->cells[0]) == 1 && strchr("vV", line->cells[0][0]) == NULL)
        return false; /* a channel's letter */
    for (size_t i = 0; i < line->count; i++) {
        if (*line->cells[i] == '\0')
            continue;
        if (gw_unit_find(line->cells[i]).kind != GW_UNIT_NONE)
            units++;
        else if (!axis || (i != start && i != step) || kind_of(line->cells[i], format) != GW_CELL_NUMBER)
            return false;
    }
    return units > 0;
}

/* A key with its value behind a blank: `Rate 48000`. */
static bool is_spoken_setting(const char *cell) {
    gw_words words;
    double value;
    const char *rest, *blank = strchr(cell, ' ');
    while (blank != NULL && !gw_setting_number(blank + 1, '.', &value, &rest))
        blank = strchr(blank + 1, ' ');
    gw_words_split(cell, &words);
    return blank != NULL &&
           (gw_words_name_rate(&words) || gw_words_name_interval(&words) || gw_words_name_count(&words));
}

/* Of two cells below keys and values: a place and a value, a row number and a channel, or two channels. */
static bool names_two_columns(const gw_line *line) {
    gw_words one, other;
    gw_words_split(line->cells[0], &one);
    gw_words_split(line->cells[1], &other);
    return gw_words_name_channels(&one, &other) || (one.count == 1 && gw_words_have(&one, "position pos place x")) ||
           (one.count > 0 && gw_words_name_index(&one) && !gw_words_name_count(&one));
}

/* Whether a line names columns, rather than being the last of the preamble's keys, or a marker. */
static bool is_name_row(gw_arena *arena, const gw_line *line, const gw_line *above, size_t width, bool has_unit_row,
                        gw_format format) {
    size_t start, step;
    bool time = begins_with_time(line), axis = find_axis_cells(line, &start, &step);
    bool settings_above = above != NULL && gw_line_is_setting(above) && above->comment == line->comment;
    if (line->count == 1 && width == 1)
        return kind_of(line->cells[0], format) == GW_CELL_TEXT && !gw_line_is_setting(line) &&
               !is_spoken_setting(line->cells[0]) && (!settings_above || has_unit_row || has_units(arena, line));
    if (line->count < width ? !time || line->count < 2 : line->count < 2)
        return false;
    if (!time && !is_mostly_text(line, format))
        return false;
    if (width == 1)
        return axis || (time && line->count == 1);
    if (width == 2 && !time && !axis && gw_line_is_setting(line) && settings_above)
        return (!has_unit_row && has_units(arena, line)) || names_two_columns(line);
    return true;
}

static void take_axis_cells(gw_heading *h, gw_format format) {
    size_t start, step;
    double value;
    const char *rest;
    if (!find_axis_cells(h->names, &start, &step) || h->units == NULL)
        return;
    if (gw_setting_number(gw_line_cell(h->units, step), format.decimal, &value, &rest) && value > 0)
        h->step = (gw_stated){true, gw_unit_apply(gw_unit_find(rest), value), *rest != '\0'};
    if (start > 0 && gw_setting_number(gw_line_cell(h->units, start), format.decimal, &value, &rest))
        h->start = (gw_stated){true, gw_unit_apply(gw_unit_find(rest), value), *rest != '\0'};
}

/* ---- headings that are written otherwise than the data ------------------------------------------ */

/* Joins `Time (s)` that blanks took apart. */
static void join_brackets(gw_arena *arena, gw_line *line) {
    size_t count = 0;
    for (size_t i = 0; i < line->count; i++) {
        char *cell = line->cells[i];
        bool unit = count > 0 && strchr("([{", cell[0]) != NULL && gw_unit_find(cell).kind != GW_UNIT_NONE;
        char *joined = unit ? gw_arena_printf(arena, "%s %s", line->cells[count - 1], cell) : NULL;
        if (joined != NULL)
            line->cells[count - 1] = joined;
        else
            line->cells[count++] = cell;
    }
    line->count = count;
}

/* Runs of two blanks and more, or tabs, split; single blanks belong to a name. */
static bool split_wide_blanks(gw_arena *arena, const char *text, const char *end, gw_line *out) {
    char *copy = gw_arena_copy(arena, text, (size_t)(end - text));
    if (copy == NULL)
        return false;
    char *to = copy;
    for (char *at = copy; *at != '\0';) {
        size_t blanks = strspn(at, " \t");
        bool wide = blanks > 1 || *at == '\t';
        if (wide && to > copy)
            *to++ = '\t';
        if (wide)
            at += blanks;
        else
            *to++ = *at++;
    }
    return gw_line_split(arena, copy, to, '\t', out);
}

/* A line split as fits the number of columns: by the data's separator, or by another that gives just as many. */
static bool split_again(gw_arena *arena, const gw_script *script, gw_line *line, size_t width, char separator) {
    static const char others[] = "\t;,";
    const char *text = script->bytes + line->at, *end = text + strcspn(text, "\r\n");
    gw_line split;
    size_t at = line->at;
    bool found = false;
    if (width < 2 || (separator != ' ' && line->count > 1))
        return true;
    if (separator == ' ') {
        if (!gw_line_split(arena, text, end, ' ', &split))
            return false;
        join_brackets(arena, &split);
        if (split.count != width && !split_wide_blanks(arena, text, end, &split))
            return false;
        found = split.count == width;
    }
    for (size_t i = 0; !found && others[i] != '\0'; i++) {
        if (others[i] != separator && !gw_line_split(arena, text, end, others[i], &split))
            return false;
        found = others[i] != separator && split.count == width;
    }
    if (found) {
        *line = split;
        line->at = at;
    }
    return true;
}

bool gw_heading_find(gw_heading *heading, gw_arena *arena, const gw_script *script, gw_line *lines, size_t count,
                     size_t width, gw_format format) {
    *heading = (gw_heading){0};
    while (count > 0 && is_rule(&lines[count - 1]))
        count--;
    heading->preamble = count;
    if (count == 0)
        return true;
    size_t above = count - 1;
    while (above > 0 && is_rule(&lines[above - 1]))
        above--;
    gw_line *last = &lines[count - 1], *before = above > 0 ? &lines[above - 1] : NULL;
    if (!split_again(arena, script, last, width, format.separator) ||
        (before != NULL && !split_again(arena, script, before, width, format.separator)))
        return false;
    if (is_unit_row(last, before, width, format)) {
        heading->units = last;
        heading->preamble = above;
        const gw_line *over = above > 1 ? &lines[above - 2] : NULL;
        if (before != NULL && is_name_row(arena, before, over, width, true, format)) {
            heading->names = before;
            heading->preamble = above - 1;
        }
    } else if (is_name_row(arena, last, before, width, false, format)) {
        heading->names = last;
        heading->preamble = above;
    } else {
        heading->half = last->count >= 2 && last->count * 2 == width && is_mostly_text(last, format);
    }
    if (heading->names != NULL && heading->names->count >= 2 && heading->names->count * 2 == width)
        heading->half = true;
    take_axis_cells(heading, format);
    return true;
}
