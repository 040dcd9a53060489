#include "capture/fields.h"

#include <math.h>
#include <string.h>

#include "capture/axis.h"
#include "capture/room.h"

enum { RAMP_ROWS = 3 };

/* ---- names and units ---------------------------------------------------------------------------- */

/* The unit that all figures of a column carry themselves. */
static gw_unit unit_of_cells(const gw_column *column) {
    for (unsigned kind = GW_UNIT_NONE + 1; kind <= GW_UNIT_OTHER; kind++)
        if (column->units == 1U << kind)
            return (gw_unit){(gw_unit_kind)kind, 0};
    return (gw_unit){column->units != 0 ? GW_UNIT_OTHER : GW_UNIT_NONE, 0};
}

static bool label_field(gw_page *page, size_t column) {
    gw_field *field = &page->fields[column];
    gw_unit row = {GW_UNIT_NONE, 0};
    field->label = gw_line_cell(page->heading.names, column);
    field->settings = &page->settings;
    field->setting_index = column;
    if (!gw_unit_split(page->arena, field->label, &field->name, &field->unit))
        return false;
    if (page->heading.units != NULL)
        row = gw_unit_find(gw_line_cell(page->heading.units, column));
    if (row.kind != GW_UNIT_NONE && (field->unit.kind == GW_UNIT_NONE || field->unit.kind == row.kind))
        field->unit = row;
    gw_unit cells = unit_of_cells(&page->table.columns[column]);
    if (cells.kind != GW_UNIT_NONE && (field->unit.kind == GW_UNIT_NONE || cells.kind != field->unit.kind))
        field->unit = cells;
    field->own_unit = field->unit.kind != GW_UNIT_NONE;
    gw_words_split(field->name != NULL ? field->name : "", &field->words);
    return true;
}

/* Where the preamble stands beside the data, each pair of columns has its own. */
static void label_pairs(gw_page *page) {
    size_t pair = 0;
    for (size_t c = 0; c < page->table.width; c++) {
        page->fields[c].role = page->vote.preamble[c] ? GW_ROLE_EMPTY : GW_ROLE_CHANNEL;
        if (page->vote.preamble[c])
            continue;
        page->fields[c].settings = page->fields[c + 1].settings = &page->beside[pair++];
        page->fields[c].setting_index = page->fields[c + 1].setting_index = 0;
        page->fields[c].role = GW_ROLE_TIME;
        page->fields[++c].role = GW_ROLE_CHANNEL;
    }
}

/* ---- look-alikes -------------------------------------------------------------------------------- */

static bool refuse(const gw_page *page, gw_error *error, const char *text) {
    return gw_error_set(error, page->script.path, gw_script_line(&page->script, page->table.start), "%s", text);
}

static bool check_spectrum(const gw_page *page, gw_error *error) {
    bool first = true;
    for (size_t c = 0; c < page->table.width; c++) {
        const gw_field *field = &page->fields[c];
        if (field->role == GW_ROLE_EMPTY)
            continue;
        if (field->unit.kind == GW_UNIT_HERTZ)
            return refuse(page, error, "a spectrum or response, not a waveform: a column is in Hz");
        if (field->unit.kind == GW_UNIT_DECIBEL)
            return refuse(page, error, "levels in dB, not a waveform");
        if (first && gw_words_name_frequency(&field->words))
            return refuse(page, error, "a spectrum or response, not a waveform: its first column is a frequency");
        first = false;
    }
    const char *unit = gw_setting_for(&page->settings.value_units, 1);
    if (page->settings.axis_unit.kind == GW_UNIT_HERTZ)
        return refuse(page, error, "a spectrum, not a waveform: the heading gives an axis in Hz");
    if (unit != NULL && gw_unit_find(unit).kind == GW_UNIT_DECIBEL)
        return refuse(page, error, "a spectrum or levels, not a waveform: the heading gives values in dB");
    return true;
}

/* Columns without any value go. A named place without values is what tables for generators have. */
static bool drop_empty(gw_page *page, gw_error *error) {
    for (size_t c = 0; c < page->table.width; c++) {
        gw_field *field = &page->fields[c];
        const gw_column *column = &page->table.columns[c];
        if (column->numbers > 0)
            continue;
        bool all_empty = column->empty == page->table.rows;
        if (c == 0 && all_empty && gw_words_name_place(&field->words) && field->words.count > 0)
            return refuse(page, error,
                          "a table of values without positions (for a generator?), not a waveform: its "
                          "time or position column is empty");
        field->role = all_empty ? GW_ROLE_EMPTY : GW_ROLE_IGNORED;
    }
    return true;
}

/* ---- columns that are no inputs ----------------------------------------------------------------- */

static bool is_volts(const gw_field *field) {
    return field->unit.kind == GW_UNIT_VOLT || field->unit.kind == GW_UNIT_AMPERE;
}

/* A last column of which only the first cell is empty: made from differences. */
static bool is_difference(const gw_page *page, size_t column) {
    const gw_column *values = &page->table.columns[column];
    size_t last = 0;
    for (size_t c = 0; c < page->table.width; c++)
        last = page->fields[c].role != GW_ROLE_EMPTY ? c : last;
    return column == last && column >= 2 && page->table.rows >= RAMP_ROWS && values->missing == 1 &&
           values->empty == 1 && values->marks != NULL && (values->marks[0] & GW_MARK_STATE) == GW_SAMPLE_MISSING;
}

static void drop_others(gw_page *page) {
    for (size_t c = 0; c < page->table.width; c++) {
        gw_field *field = &page->fields[c];
        const gw_words *words = &field->words;
        if (field->role != GW_ROLE_CHANNEL)
            continue;
        bool logic = field->unit.kind == GW_UNIT_LOGIC || (gw_words_name_logic(words) && !is_volts(field));
        bool other = field->unit.kind == GW_UNIT_OTHER || field->unit.kind == GW_UNIT_INDEX;
        bool derived = (gw_words_name_derived(words) && !is_volts(field)) || is_difference(page, c);
        if (logic || other || derived || gw_words_name_envelope(words))
            field->role = GW_ROLE_IGNORED;
    }
}

/* Codes are kept only where nothing is in volts. */
static void drop_codes(gw_page *page) {
    size_t others = 0;
    for (size_t c = 0; c < page->table.width; c++) {
        gw_field *field = &page->fields[c];
        if (field->role == GW_ROLE_CHANNEL && !is_volts(field) && gw_words_name_code(&field->words))
            field->unit.kind = GW_UNIT_CODE;
        others += field->role == GW_ROLE_CHANNEL && field->unit.kind != GW_UNIT_CODE;
    }
    for (size_t c = 0; c < page->table.width && others > 0; c++)
        if (page->fields[c].role == GW_ROLE_CHANNEL && page->fields[c].unit.kind == GW_UNIT_CODE)
            page->fields[c].role = GW_ROLE_IGNORED;
}

/* ---- time --------------------------------------------------------------------------------------- */

static double quantum_of(const gw_page *page, size_t column) {
    const gw_column *values = &page->table.columns[column];
    gw_unit unit = page->fields[column].unit;
    bool own = values->units != 0;
    return pow(10, values->last + (own || unit.kind != GW_UNIT_SECOND ? 0 : unit.power));
}

static gw_times times_of(const gw_page *page, size_t column) {
    return gw_table_times(&page->table, column, pow(10, page->table.columns[column].last), page->script.jobs);
}

static bool find_ramp(const gw_page *page, size_t column, gw_slope *slope) {
    gw_times times = times_of(page, column);
    const gw_column *values = &page->table.columns[column];
    return values->numbers >= RAMP_ROWS && values->overload == 0 && gw_times_fit(&times, 0, times.count, slope) &&
           slope->interval != 0 && gw_slope_is_even(slope, times.quantum) &&
           /* a constant as printed is none */
           fabs(slope->interval) * (double)(times.count - 1) > times.quantum / 2;
}

/* 0, 1, 2 … or 1, 2, 3 … */
static bool counts_rows(const gw_page *page, size_t column) {
    gw_slope slope;
    const gw_column *values = &page->table.columns[column];
    return values->decimals_most == 0 && values->units == 0 && find_ramp(page, column, &slope) &&
           fabs(slope.interval - 1) < 1e-9 && slope.residual < 1e-6 &&
           (values->values[0] == 0 || values->values[0] == 1);
}

/* An interval, in seconds, that is given elsewhere than in a column; 0 where there is none. */
static double stated_interval(const gw_page *page) {
    const gw_settings *s = &page->settings;
    return page->heading.step.given ? page->heading.step.value
           : s->interval_s.given    ? s->interval_s.value
           : s->rate_hz.given       ? 1 / s->rate_hz.value
                                    : 0;
}

static bool has_interval(const gw_page *page) {
    return stated_interval(page) > 0 || page->rate_stated_hz > 0 || page->beside_file != NULL;
}

static bool may_be_time(const gw_field *field) {
    return field->role == GW_ROLE_CHANNEL && (field->unit.kind == GW_UNIT_SECOND ||
                                              (field->unit.kind == GW_UNIT_NONE && gw_words_name_time(&field->words)));
}

/* By unit or word; a clock only where nothing better is. */
static size_t find_named_time(const gw_page *page) {
    size_t found = SIZE_MAX;
    for (size_t c = page->table.width; c-- > 0;) {
        const gw_field *field = &page->fields[c];
        bool clock = page->table.columns[c].clocks > 0;
        if (!may_be_time(field) || (page->heading.step.given && counts_rows(page, c)))
            continue;
        if (found == SIZE_MAX || !clock || page->table.columns[found].clocks > 0)
            found = c;
    }
    return found;
}

/* The first column that is left, if it is an even ramp beside others. */
static size_t find_ramp_time(gw_page *page) {
    size_t first = SIZE_MAX, second = SIZE_MAX, left = 0;
    for (size_t c = 0; c < page->table.width; c++)
        if (page->fields[c].role == GW_ROLE_CHANNEL) {
            second = left == 1 ? c : second;
            first = left == 0 ? c : first;
            left++;
        }
    gw_slope slope, next;
    if (left < 2 || page->heading.step.given || page->fields[first].unit.kind != GW_UNIT_NONE ||
        !find_ramp(page, first, &slope))
        return SIZE_MAX;
    bool named = *page->fields[first].label != '\0', index = counts_rows(page, first);
    double stated = stated_interval(page);
    if (index && left > 2 && find_ramp(page, second, &next) && page->fields[second].unit.kind == GW_UNIT_NONE)
        return second;
    if (index && has_interval(page) && fabs(stated - 1) > 1e-9) {
        page->fields[first].role = GW_ROLE_IGNORED;
        return SIZE_MAX;
    }
    bool codes = page->settings.per_division_v.given && page->table.columns[first].decimals_most == 0;
    if ((named || codes) && stated > 0 && fabs(fabs(slope.interval) - stated) > 0.1 * stated)
        return SIZE_MAX;
    page->counts_rows = index;
    return first;
}

/* Row numbers: under their own word always, nameless or under a time word where something else tells the time. */
static void drop_index(gw_page *page) {
    for (size_t c = 0; c < page->table.width; c++) {
        gw_field *field = &page->fields[c];
        if (field->role != GW_ROLE_CHANNEL || field->unit.kind != GW_UNIT_NONE || c == page->time)
            continue;
        bool known = page->time != SIZE_MAX || (page->heading.step.given && gw_words_name_time(&field->words));
        bool named = field->words.count > 0 && gw_words_name_index(&field->words);
        bool nameless = field->words.count == 0 && *field->label == '\0' && c == 0;
        if ((named || (known && (nameless || gw_words_name_time(&field->words)))) && counts_rows(page, c))
            field->role = GW_ROLE_IGNORED;
    }
}

/* Seconds in place of what is printed. */
static void make_seconds(gw_page *page, size_t column) {
    gw_column *values = &page->table.columns[column];
    gw_unit unit = page->fields[column].unit;
    double days = 0, before = 0, first = 0;
    bool any = false;
    if (values->marks == NULL && unit.power == 0)
        return;
    gw_column_unpack(&page->table, column);
    for (size_t i = 0; i < page->table.rows; i++) {
        unsigned char mark = values->marks != NULL ? values->marks[i] : GW_SAMPLE_PRESENT;
        if ((mark & GW_MARK_STATE) != GW_SAMPLE_PRESENT)
            continue;
        double time = values->values[i];
        gw_room_passed(i > 0 ? values->values : NULL, sizeof time, i - 1);
        if (unit.kind == GW_UNIT_SECOND && !(mark & GW_MARK_OWN_UNIT))
            time = gw_unit_apply(unit, time);
        if (values->clocks > 0) {
            days += any && time + days < before - 43200 ? 86400 : 0;
            first = any ? first : time;
            before = time + days;
            time = before - first;
            any = true;
        }
        values->values[i] = time;
        if (values->marks != NULL)
            values->marks[i] |= GW_MARK_OWN_UNIT;
    }
    if (values->marks == NULL && unit.kind == GW_UNIT_SECOND)
        page->fields[column].unit.power = 0;
}

/* Whether two time columns, in seconds, are the same as far as they are printed. */
static bool same_times(const gw_page *page, size_t one, size_t other, double quantum) {
    const gw_column *a = &page->table.columns[one], *b = &page->table.columns[other];
    gw_column_unpack(&page->table, one);
    gw_column_unpack(&page->table, other);
    for (size_t i = 0; i < page->table.rows; i++) {
        bool present = (a->marks == NULL || (a->marks[i] & GW_MARK_STATE) == GW_SAMPLE_PRESENT) &&
                       (b->marks == NULL || (b->marks[i] & GW_MARK_STATE) == GW_SAMPLE_PRESENT);
        if (present && fabs(a->values[i] - b->values[i]) > quantum + 2.4e-7 * fabs(a->values[i]))
            return false;
        gw_room_passed(a->values, sizeof *a->values, i);
        gw_room_passed(b->values, sizeof *b->values, i);
    }
    return true;
}

/* Time columns besides the first: like it, they are ignored; unlike it, the channels cannot be paired. */
static bool check_other_times(gw_page *page, gw_error *error) {
    for (size_t c = 0; c < page->table.width; c++) {
        gw_field *field = &page->fields[c];
        bool pair = page->vote.beside && field->role == GW_ROLE_TIME;
        gw_slope slope;
        if (c == page->time || (!pair && !may_be_time(field)))
            continue;
        double other = quantum_of(page, c);
        bool clock = page->table.columns[c].clocks > 0;
        bool ramp = find_ramp(page, c, &slope);
        make_seconds(page, c);
        if (!clock && (ramp || pair) && !same_times(page, page->time, c, page->quantum + other))
            return refuse(page, error, "two time columns that differ: their channels do not share their instants");
        field->role = clock || ramp || pair ? GW_ROLE_OTHER_TIME : GW_ROLE_IGNORED;
    }
    return true;
}

static bool choose_time(gw_page *page, gw_error *error) {
    page->time = find_named_time(page);
    for (size_t c = 0; page->vote.beside && c < page->table.width && page->time == SIZE_MAX; c++)
        page->time = page->fields[c].role == GW_ROLE_TIME ? c : SIZE_MAX;
    drop_index(page);
    if (page->time == SIZE_MAX) {
        page->time = find_ramp_time(page);
        drop_index(page);
    }
    if (page->time == SIZE_MAX)
        return true;
    gw_field *field = &page->fields[page->time];
    field->role = GW_ROLE_TIME;
    if (field->unit.kind == GW_UNIT_NONE && page->table.columns[page->time].units == 0)
        field->unit = field->settings->axis_unit;
    page->counts_rows = page->counts_rows && field->unit.kind == GW_UNIT_NONE;
    page->quantum = quantum_of(page, page->time);
    make_seconds(page, page->time);
    return check_other_times(page, error);
}

/* ---- is it a waveform at all -------------------------------------------------------------------- */

/* One column without a heading, all values low and far spread: levels. */
static bool looks_like_levels(const gw_page *page, size_t column) {
    const gw_field *field = &page->fields[column];
    const gw_column *values = &page->table.columns[column];
    double low = INFINITY, high = -INFINITY;
    if (page->time != SIZE_MAX || *field->label != '\0' || field->unit.kind != GW_UNIT_NONE || page->channels != 1 ||
        page->settings.key_rows > 0)
        return false;
    gw_column_unpack(&page->table, column);
    for (size_t i = 0; i < page->table.rows; i++) {
        if (values->marks != NULL && (values->marks[i] & GW_MARK_STATE) != GW_SAMPLE_PRESENT)
            continue;
        low = fmin(low, values->values[i]);
        high = fmax(high, values->values[i]);
        gw_room_passed(values->values, sizeof low, i);
    }
    return high < -10 && high - low > 10;
}

/* Two bare columns of whole numbers may be one of numbers with decimal commas. */
static bool may_be_one_column(const gw_page *page) {
    const gw_table *table = &page->table;
    const gw_format *format = &page->vote.format;
    if (table->width != 2 || format->separator != ',' || format->decimal != '.' || page->time != SIZE_MAX ||
        page->heading.names != NULL || page->settings.per_division_v.given || page->channels != 2)
        return false;
    const gw_column *tail = &table->columns[1];
    bool whole = table->columns[0].decimals_most == 0 && tail->decimals_most == 0 && tail->numbers == table->rows;
    if (whole)
        gw_column_unpack(table, 1);
    for (size_t i = 0; whole && i < table->rows; i++) {
        whole = tail->values[i] >= 0;
        gw_room_passed(tail->values, sizeof *tail->values, i);
    }
    return whole;
}

static bool check_channels(gw_page *page, gw_error *error) {
    bool envelope = false, volts = false, levels = false;
    page->channels = 0;
    for (size_t c = 0; c < page->table.width; c++)
        page->channels += page->fields[c].role == GW_ROLE_CHANNEL;
    for (size_t c = 0; c < page->table.width; c++) {
        const gw_field *field = &page->fields[c];
        envelope = envelope || (field->role == GW_ROLE_IGNORED && gw_words_name_envelope(&field->words));
        volts = volts || (field->role == GW_ROLE_CHANNEL && is_volts(field));
        levels = levels || (field->role == GW_ROLE_CHANNEL && looks_like_levels(page, c));
    }
    if (page->channels == 0 && envelope)
        return refuse(page, error, "an envelope (minimum and maximum), not a waveform");
    if (page->channels == 0)
        return refuse(page, error, "no column of volts among the numbers");
    if (levels)
        return refuse(page, error, "one bare column of low values far apart: levels in dB, it seems, not a waveform");
    if (may_be_one_column(page))
        return refuse(page, error, "commas that may be decimal signs or separators: the fields cannot be told apart");
    if (page->time == SIZE_MAX && page->channels > 1 && !volts && !has_interval(page))
        return refuse(page, error,
                      "a table of results, it seems, not a waveform: several columns without time, and no "
                      "rate or interval given");
    return true;
}

bool gw_fields_judge(gw_page *page, gw_error *error) {
    page->time = SIZE_MAX;
    page->fields = gw_arena_array(page->arena, page->table.width + 1, sizeof *page->fields);
    if (page->fields == NULL)
        return gw_error_memory(error);
    for (size_t c = 0; c < page->table.width; c++)
        if (!label_field(page, c))
            return gw_error_memory(error);
    if (page->vote.beside)
        label_pairs(page);
    if (!check_spectrum(page, error) || !drop_empty(page, error))
        return false;
    drop_others(page);
    if (!choose_time(page, error))
        return false;
    drop_codes(page);
    return check_channels(page, error);
}
