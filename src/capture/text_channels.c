#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "capture/room.h"
#include "capture/summary.h"
#include "capture/text.h"

/* Common practice of instruments that write codes: a screen division is 25 of them. */
enum { CODES_A_DIVISION = 25, RAIL_SAMPLES = 3, RAIL_SPAN = 255 };

/* Values at a time. */
enum { NEAR = 8192 };

/* What becomes of a column's figures. */
typedef struct conversion {
    gw_unit unit;  /* its prefix is taken off first */
    double factor; /* then this is applied */
    bool codes;    /* the figures are a converter's codes */
    const char *name_of_unit;
} conversion;

/* ---- units and factors --------------------------------------------------------------------------- */

static const char *unit_name(gw_unit_kind kind) {
    return kind == GW_UNIT_AMPERE ? "A" : kind == GW_UNIT_DIVISION ? "div" : kind == GW_UNIT_CODE ? "codes" : "V";
}

static bool is_whole(const gw_column *column) {
    return column->decimals_most == 0 && column->units == 0 && column->exponent_least == 0 && column->numbers > 0;
}

/* The preamble's unit for a column that has none of its own. */
static gw_unit preamble_unit(const gw_field *field, size_t index) {
    const char *text = gw_setting_for(&field->settings->value_units, index);
    gw_unit unit = text != NULL ? gw_unit_find(text) : (gw_unit){GW_UNIT_NONE, 0};
    bool known = unit.kind == GW_UNIT_VOLT || unit.kind == GW_UNIT_AMPERE || unit.kind == GW_UNIT_DIVISION ||
                 unit.kind == GW_UNIT_CODE;
    return known ? unit : (gw_unit){GW_UNIT_NONE, 0};
}

/* The place of a column's own cell in the preamble's lines: there the key takes the place of time. */
static size_t setting_index(const gw_page *page, const gw_field *field) {
    return page->vote.beside || page->time != SIZE_MAX ? field->setting_index : field->setting_index + 1;
}

static conversion convert_how(gw_capture *capture, const gw_page *page, const gw_field *field,
                              const gw_column *column) {
    conversion how = {.unit = field->unit, .factor = 1};
    if (how.unit.kind == GW_UNIT_NONE)
        how.unit = preamble_unit(field, setting_index(page, field));
    bool scaled = field->settings->per_division_v.given && is_whole(column);
    bool no_volts = !field->own_unit || how.unit.kind == GW_UNIT_CODE;
    if (page->time == SIZE_MAX && scaled && no_volts) {
        how = (conversion){.unit = {GW_UNIT_VOLT, 0},
                           .factor = field->settings->per_division_v.value / CODES_A_DIVISION,
                           .codes = true};
        gw_capture_remark(capture, "codes are taken as %d a division, counted from ground", (int)CODES_A_DIVISION);
    } else if (how.unit.kind == GW_UNIT_CODE) {
        how.codes = true;
    }
    how.name_of_unit = unit_name(how.unit.kind);
    return how;
}

/* A probe factor from outside, less what the file says its figures hold already. Never applied twice. */
static double probe_for(gw_capture *capture, const gw_page *page, const gw_field *field, double probe) {
    char stated_text[40], probe_text[40];
    const char *text = gw_setting_for(&field->settings->probes, setting_index(page, field));
    double stated = text != NULL ? gw_probe_factor(text) : 0;
    if (probe <= 0 || probe == 1)
        return 1;
    gw_number_print(stated, 6, stated_text, sizeof stated_text);
    gw_number_print(probe, 6, probe_text, sizeof probe_text);
    if (stated <= 0)
        return probe;
    if (stated == probe)
        gw_capture_remark(capture,
                          "the heading states a probe of x%s: its volts hold it, the stated x%s is not applied "
                          "again",
                          stated_text, probe_text);
    else
        gw_capture_remark(capture, "the heading states a probe of x%s: the stated x%s is applied as what is left of it",
                          stated_text, probe_text);
    return probe / stated;
}

/* ---- codes --------------------------------------------------------------------------------------- */

/* Samples on the rails of an 8-bit converter: the record spans all its codes, and stands at both ends. */
static uint64_t count_on_rails(const double *values, const unsigned char *marks, size_t count, double *low_end,
                               double *high_end) {
    double low = INFINITY, high = -INFINITY;
    uint64_t at_low = 0, at_high = 0;
    for (size_t i = 0; i < count; i++) {
        gw_room_passed(values, sizeof *values, i);
        if (marks != NULL && (marks[i] & GW_MARK_STATE) != GW_SAMPLE_PRESENT)
            continue;
        if (values[i] < low)
            at_low = 0;
        if (values[i] > high)
            at_high = 0;
        low = fmin(low, values[i]);
        high = fmax(high, values[i]);
        at_low += values[i] == low;
        at_high += values[i] == high;
    }
    *low_end = low;
    *high_end = high;
    return high - low == RAIL_SPAN && at_low >= RAIL_SAMPLES && at_high >= RAIL_SAMPLES ? at_low + at_high : 0;
}

static void take_rails(gw_capture *capture, gw_channel *channel, conversion *how, const gw_page *page,
                       const gw_field *field, const double *values, const unsigned char *marks, uint64_t *on_rails) {
    const gw_column *column = &page->table.columns[field - page->fields];
    bool bare = page->time == SIZE_MAX && !field->own_unit && how->unit.kind == GW_UNIT_NONE;
    if (!is_whole(column) || (!how->codes && !bare))
        return;
    double low, high;
    *on_rails = count_on_rails(values, marks, (size_t)capture->samples, &low, &high);
    if (*on_rails == 0)
        return;
    if (!how->codes) { /* volts do not span 255 whole ones, and stand still at both ends */
        how->codes = true;
        how->unit.kind = GW_UNIT_CODE;
        how->name_of_unit = "codes";
    }
    channel->low_end = low * how->factor;
    channel->high_end = high * how->factor;
    gw_capture_remark(capture, "channel %d: %llu samples stand on the converter's rails, 255 codes apart: overload",
                      channel->number, (unsigned long long)*on_rails);
}

/* ---- values -------------------------------------------------------------------------------------- */

static void scale_values(double *values, unsigned char *marks, size_t count, const conversion *how) {
    gw_unit none = {how->unit.kind, 0};
    for (size_t i = 0; i < count; i++) {
        bool own = marks != NULL && (marks[i] & GW_MARK_OWN_UNIT);
        values[i] = gw_unit_apply(own ? none : how->unit, values[i]) * how->factor;
        gw_room_passed(values, sizeof *values, i);
    }
}

static bool is_scaled(const conversion *how) {
    return how->factor != 1 || how->unit.power != 0;
}

static void clear_flags(unsigned char *marks, size_t count, bool *all_present) {
    unsigned char any = 0;
    for (size_t i = 0; i < count; i++) {
        marks[i] &= GW_MARK_STATE;
        any |= marks[i];
        gw_room_passed(marks, 1, i);
    }
    *all_present = any == 0;
}

/* Moves the rows that are used to the front and hands them to the store; those that need not be touched stay packed. */
static void hand_over(gw_capture *capture, const gw_table *table, size_t c, size_t index, gw_extent extent,
                      const conversion *how) {
    gw_capture_store *store = capture->store;
    gw_column *column = &table->columns[c];
    if (extent.first > 0 || is_whole(column) || is_scaled(how))
        gw_column_unpack(table, c);
    store->packed[index] = column->packed ? c : SIZE_MAX;
    for (size_t i = 0; extent.first > 0 && i < extent.count; i++) {
        column->values[i] = column->values[extent.first + i];
        if (column->marks != NULL)
            column->marks[i] = column->marks[extent.first + i];
        gw_room_passed(column->values, sizeof *column->values, extent.first + i);
    }
    store->values[index] = column->values;
    store->marks[index] = column->marks;
    column->values = NULL;
    column->marks = NULL;
}

/* Is the record a waveform of two levels, whose gap is no step of a converter's? */
static bool is_two_level(gw_capture_store *store, size_t index, size_t count) {
    const unsigned char *marks = store->marks[index];
    double room[NEAR];
    gw_runs runs = {0};
    for (size_t i = 0; i < count; i += NEAR) {
        size_t some = count - i < NEAR ? count - i : NEAR;
        const double *values = gw_store_look(store, index, i, some, room);
        gw_runs_take(&runs, values, marks != NULL ? marks + i : NULL, some);
        gw_room_passed(values != room ? store->values[index] : NULL, sizeof *values, i + some - 1);
        gw_room_passed(marks, 1, i + some - 1);
    }
    return gw_runs_are_even(&runs);
}

static void summarise(gw_channel *channel, gw_capture_store *store, size_t index, size_t count, double printed,
                      bool ranges) {
    unsigned char *marks = store->marks[index];
    double room[NEAR];
    bool all_present = true;
    if (marks != NULL)
        clear_flags(marks, count, &all_present);
    if (marks != NULL && all_present) {
        gw_room_free(marks);
        store->marks[index] = marks = NULL;
    }
    gw_levels levels = {.finer = 1 / printed};
    for (size_t i = 0; i < count; i += NEAR) {
        size_t some = count - i < NEAR ? count - i : NEAR;
        const unsigned char *own = marks != NULL ? marks + i : NULL;
        const double *values = gw_store_look(store, index, i, some, room);
        if (ranges || own != NULL || i == 0)
            gw_channel_take(channel, values, 1, own, some);
        gw_levels_take(&levels, values, own, some);
        gw_room_passed(values != room ? store->values[index] : NULL, sizeof *values, i + some - 1);
        gw_room_passed(marks, 1, i + some - 1);
    }
    if (!ranges)
        gw_channel_unrange(channel);
    channel->step = gw_levels_step(&levels, printed / 2);
    if (levels.count == 2 && is_two_level(store, index, count))
        channel->step = printed < channel->step ? printed : 0;
    if (levels.failed)
#pragma omp atomic write
        store->short_of_memory = true;
    gw_levels_free(&levels);
}

static void name_channel(gw_capture *capture, const gw_page *page, const gw_field *field, gw_channel *channel) {
    const char *name = field->name;
    size_t index = setting_index(page, field);
    const gw_setting *names = &field->settings->names;
    bool alone = page->channels == 1 || page->vote.beside;
    if (name == NULL && names->cells != NULL && (alone || (index < names->count && *names->cells[index] != '\0')))
        name = gw_setting_for(names, index);
    channel->name = name != NULL && *name != '\0' ? gw_arena_string(capture->store->arena, name) : NULL;
    const char *coupling = gw_setting_for(&field->settings->couplings, index);
    channel->ac_coupled = coupling != NULL && strncasecmp(coupling, "ac", 2) == 0;
}

/* What is left to do for a channel when it is known what its figures are. */
typedef struct channel_rest {
    conversion how;
    double printed; /* the last printed digit, in the channel's unit */
} channel_rest;

static void make_channel(gw_capture *capture, gw_page *page, size_t c, size_t index, double probe, gw_extent extent,
                         channel_rest *rest) {
    gw_field *field = &page->fields[c];
    gw_column *column = &page->table.columns[c];
    gw_channel *channel = &capture->channels[index];
    conversion how = convert_how(capture, page, field, column);
    uint64_t on_rails = 0;
    double printed = pow(10, column->last);
    if (how.unit.kind != GW_UNIT_AMPERE)
        how.factor *= probe_for(capture, page, field, probe);
    hand_over(capture, &page->table, c, index, extent, &how);
    take_rails(capture, channel, &how, page, field, capture->store->values[index], capture->store->marks[index],
               &on_rails);
    name_channel(capture, page, field, channel);
    channel->unit = how.name_of_unit;
    channel->overload = on_rails;
    gw_unit printed_unit = column->units != 0 ? (gw_unit){how.unit.kind, 0} : how.unit;
    *rest = (channel_rest){how, gw_unit_apply(printed_unit, printed) * fabs(how.factor)};
}

/* Passes over the samples of a channel, which no other channel's rest on. */
static void finish_channel(gw_capture *capture, size_t index, size_t count, const channel_rest *rest, bool ranges) {
    gw_capture_store *store = capture->store;
    if (is_scaled(&rest->how))
        scale_values(store->values[index], store->marks[index], count, &rest->how);
    summarise(&capture->channels[index], store, index, count, rest->printed, ranges);
}

/* ---- what is told -------------------------------------------------------------------------------- */

static void tell_channel(gw_capture *capture, const gw_channel *channel, uint64_t marked) {
    if (channel->missing > 0)
        gw_capture_remark(capture, "channel %d: %llu sample%s missing", channel->number,
                          (unsigned long long)channel->missing, channel->missing == 1 ? "" : "s");
    if (marked > 0)
        gw_capture_remark(capture, "channel %d: %llu sample%s overloaded, beyond the instrument's range",
                          channel->number, (unsigned long long)marked, marked == 1 ? "" : "s");
    if (strcmp(channel->unit, "div") == 0)
        gw_capture_remark(capture, "channel %d is in screen divisions, not volts: a scale must be given",
                          channel->number);
    if (strcmp(channel->unit, "codes") == 0)
        gw_capture_remark(capture, "channel %d is in codes, not volts: a scale must be given", channel->number);
    if (channel->ac_coupled)
        gw_capture_remark(capture, "channel %d: the heading says AC coupling, so DC is not in this capture",
                          channel->number);
}

static void list_ignored(gw_capture *capture, const gw_page *page) {
    for (size_t c = 0; c < page->table.width; c++) {
        const gw_field *field = &page->fields[c];
        if (field->role != GW_ROLE_IGNORED && field->role != GW_ROLE_OTHER_TIME)
            continue;
        if (*field->label != '\0')
            gw_strings_add(&capture->ignored, field->label);
        else
            gw_strings_printf(&capture->ignored, "column %zu%s", c + 1,
                              field->role == GW_ROLE_OTHER_TIME ? " (time again)" : "");
    }
}

bool gw_text_make_channels(gw_capture *capture, gw_page *page, const gw_capture_options *options, gw_extent extent,
                           gw_error *error) {
    size_t index = 0;
    list_ignored(capture, page);
    channel_rest *rests = gw_arena_array(page->arena, page->channels + 1, sizeof *rests);
    if (rests == NULL || !gw_capture_widen(capture, page->channels, "V", error))
        return gw_error_memory(error);
    for (size_t c = 0; c < page->table.width; c++)
        if (page->fields[c].role == GW_ROLE_CHANNEL) {
            make_channel(capture, page, c, index, options->probe, extent, &rests[index]);
            index++;
        }
    capture->store->packs = page->table.packs;
    page->table.packs = NULL;
#pragma omp parallel for schedule(dynamic) num_threads(options->jobs > 1 ? options->jobs : 1)
    for (size_t i = 0; i < index; i++)
        finish_channel(capture, i, extent.count, &rests[i], !options->no_ranges);
    for (size_t i = 0; i < index; i++) {
        const unsigned char *marks = capture->store->marks[i];
        uint64_t marked = 0;
        for (size_t row = 0; marks != NULL && row < extent.count; row++)
            marked += marks[row] == GW_SAMPLE_OVERLOAD;
        tell_channel(capture, &capture->channels[i], marked);
    }
    return true;
}
