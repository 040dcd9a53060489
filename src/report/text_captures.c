/* Text of `peek` and `measure`. */
#include "report/shown.h"
#include "report/terminal.h"

#include <stdio.h>
#include <string.h>

static void put_remarks(const gw_pen *pen, const gw_strings *remarks) {
    for (size_t i = 0; i < remarks->count; i++)
        gw_pen_wrap(pen, GW_TINT_PLAIN, "  note: ", remarks->items[i]);
}

static void put_refused(const gw_pen *pen, const gw_report_capture *shown) {
    gw_pen_wrap(pen, GW_TINT_BAD, "cannot be read: ", shown->error);
}

/* ---- peek ------------------------------------------------------------------------------------------ */

static void print_range(const gw_channel *channel, char *out, size_t size) {
    char low[48], high[48];
    gw_shown_exact(channel->min, channel->unit, 4, low, sizeof low);
    gw_shown_exact(channel->max, channel->unit, 4, high, sizeof high);
    snprintf(out, size, "%s .. %s", low, high);
}

static void print_first(const gw_channel *channel, gw_text *out) {
    char value[48];
    for (size_t i = 0; i < channel->first_count; i++) {
        bool present = channel->first_marks[i] == GW_SAMPLE_PRESENT;
        gw_text_add(out, i > 0 ? ", " : "");
        gw_text_add(out,
                    present ? gw_shown_exact(channel->first[i], channel->unit, 4, value, sizeof value) : "missing");
    }
}

static void put_channel(const gw_pen *pen, const gw_channel *channel) {
    gw_text line = {0}, first = {0};
    char range[112], step[48];
    print_range(channel, range, sizeof range);
    gw_text_printf(&line, "%s%s%s", channel->name != NULL ? channel->name : "", channel->name != NULL ? ": " : "",
                   channel->has_range ? range : "no sample present");
    if (channel->step > 0)
        gw_text_printf(&line, ", step %s", gw_shown_exact(channel->step, channel->unit, 3, step, sizeof step));
    if (channel->missing > 0)
        gw_text_printf(&line, ", %llu missing", (unsigned long long)channel->missing);
    if (channel->overload > 0)
        gw_text_printf(&line, ", %llu overloaded", (unsigned long long)channel->overload);
    char lead[32];
    snprintf(lead, sizeof lead, "  channel %d  ", channel->number);
    gw_pen_wrap(pen, GW_TINT_PLAIN, lead, gw_text_string(&line));
    print_first(channel, &first);
    gw_pen_wrap(pen, GW_TINT_FAINT, "    begins ", gw_text_string(&first));
    gw_text_part_free(pen->out, &line);
    gw_text_part_free(pen->out, &first);
}

static void put_capture(const gw_pen *pen, const gw_capture *capture) {
    gw_text line = {0};
    char rate[48], length[48];
    gw_text_printf(&line, "%llu samples", (unsigned long long)capture->samples);
    if (capture->rate_hz > 0)
        gw_text_printf(&line, " at %s (%s), %s long", gw_shown_exact(capture->rate_hz, "Hz", 7, rate, sizeof rate),
                       capture->rate_from != NULL ? capture->rate_from : "stated",
                       gw_shown_exact((double)capture->samples / capture->rate_hz, "s", 4, length, sizeof length));
    else
        gw_text_add(&line, ", no sample rate in the file");
    if (capture->has_start)
        gw_text_printf(&line, ", starts at %s", gw_shown_exact(capture->start_s, "s", 4, rate, sizeof rate));
    gw_pen_wrap(pen, GW_TINT_PLAIN, "  ", gw_text_string(&line));
    for (size_t i = 0; i < capture->channel_count; i++)
        put_channel(pen, &capture->channels[i]);
    for (size_t i = 0; i < capture->ignored.count; i++)
        gw_pen_wrap(pen, GW_TINT_PLAIN, "  ignored: ", capture->ignored.items[i]);
    put_remarks(pen, &capture->remarks);
    gw_text_part_free(pen->out, &line);
}

bool gw_report_peek_text(const gw_report_capture *captures, size_t count, const gw_report_options *options,
                         gw_text *out, gw_error *error) {
    gw_pen pen = gw_pen_new(options, out);
    for (size_t i = 0; i < count; i++) {
        gw_text_add(out, i > 0 ? "\n" : "");
        gw_pen_wrap(&pen, GW_TINT_STRONG, "", captures[i].file);
        if (captures[i].capture != NULL)
            put_capture(&pen, captures[i].capture);
        else
            put_refused(&pen, &captures[i]);
    }
    return !out->failed || gw_error_memory(error);
}

/* ---- measure --------------------------------------------------------------------------------------- */

/* What stands beside a value: the note that a pitch is counted from, the band that noise is of. */
static void note_print(gw_reading_key key, const gw_readings *readings, char *out, size_t size) {
    char name[8], low[48], high[48];
    if (key == GW_PITCH)
        snprintf(out, size, "from %s (A4 = 440 Hz)",
                 gw_shown_note(readings->values[GW_FREQUENCY].value, name, sizeof name));
    if ((key == GW_THD_N || key == GW_NOISE || key == GW_NOISE_A) && readings->band_high_hz > readings->band_low_hz)
        snprintf(out, size, "in %s .. %s", gw_shown_exact(readings->band_low_hz, "Hz", 3, low, sizeof low),
                 gw_shown_exact(readings->band_high_hz, "Hz", 3, high, sizeof high));
}

static void add_reading(gw_listing *table, gw_reading_key key, const gw_readings *readings) {
    const gw_reading *reading = &readings->values[key];
    gw_shown shown = gw_shown_reading(key, reading, readings->source.unit);
    gw_cell *row = gw_listing_row(table);
    char figure[80] = "", u95[64] = "", note[80] = "";
    if (row == NULL)
        return;
    gw_shown_print(&shown, 7, figure, sizeof figure);
    if (shown.state == GW_READING_VALUE && shown.u95 > 0)
        gw_quantity_print(shown.u95, 0, shown.unit, 2, u95, sizeof u95);
    if (shown.state == GW_READING_VALUE)
        note_print(key, readings, note, sizeof note);
    gw_cell_set(table, &row[0], gw_reading_infos[key].name, GW_TINT_PLAIN);
    gw_cell_set(table, &row[1], shown.state == GW_READING_NONE ? "-" : figure,
                shown.state == GW_READING_VALUE ? GW_TINT_STRONG : GW_TINT_PLAIN);
    gw_cell_set(table, &row[2], u95, GW_TINT_FAINT);
    gw_cell_set(table, &row[3], shown.state == GW_READING_VALUE ? note : shown.why, GW_TINT_FAINT);
}

static void put_tones(const gw_pen *pen, const gw_readings *readings) {
    for (size_t i = 0; i < readings->tone_count; i++) {
        const gw_tone *tone = &readings->tones[i];
        char frequency[48], level[48], line[160];
        gw_quantity_print(tone->frequency_hz, 0, "Hz", 4, frequency, sizeof frequency);
        gw_quantity_print(tone->rms, tone->u95, gw_reading_unit(GW_AC_RMS, readings->source.unit), 3, level,
                          sizeof level);
        snprintf(line, sizeof line, "%s, %s RMS (%s)", frequency, level, gw_tone_kind_name(tone->kind));
        gw_pen_wrap(pen, GW_TINT_PLAIN, "  tone: ", line);
    }
}

enum { EVENTS_TOLD = 8, HARMONICS_TOLD = 30 };

static void put_events(const gw_pen *pen, const gw_readings *readings) {
    const char *unit = gw_reading_unit(GW_AC_RMS, readings->source.unit);
    char start[48], extent[48], line[160];
    for (size_t i = 0; i < readings->event_count && i < EVENTS_TOLD; i++) {
        const gw_event *event = &readings->events[i];
        bool gap = event->kind == GW_EVENT_DROPOUT;
        gw_quantity_print(event->start_s, 0, "s", 4, start, sizeof start);
        gw_quantity_print(gap ? event->length_s : event->size_v, 0, gap ? "s" : unit, 3, extent, sizeof extent);
        snprintf(line, sizeof line, "%s at %s, %s %s", gw_event_kind_name(event->kind), start, gap ? "for" : "by",
                 extent);
        gw_pen_wrap(pen, GW_TINT_PLAIN, "  event: ", line);
    }
    if (readings->event_count > EVENTS_TOLD) {
        snprintf(line, sizeof line, "%zu more", readings->event_count - EVENTS_TOLD);
        gw_pen_wrap(pen, GW_TINT_PLAIN, "  event: ", line);
    }
}

static void put_harmonics(const gw_pen *pen, const gw_readings *readings) {
    gw_text line = {0};
    size_t told = 0;
    for (size_t i = 0; i < readings->harmonic_count; i++) {
        const gw_harmonic *harmonic = &readings->harmonics[i];
        char level[48];
        if (!harmonic->resolved || told++ >= HARMONICS_TOLD)
            continue;
        gw_quantity_print(harmonic->rms, harmonic->u95, gw_reading_unit(GW_AC_RMS, readings->source.unit), 3, level,
                          sizeof level);
        gw_text_printf(&line, "%s%d: %s", line.length > 0 ? ", " : "", harmonic->order, level);
    }
    if (told > HARMONICS_TOLD)
        gw_text_printf(&line, "; %zu more", told - HARMONICS_TOLD);
    if (line.length > 0)
        gw_pen_wrap(pen, GW_TINT_PLAIN, "  harmonics (RMS): ", gw_text_string(&line));
    gw_text_part_free(pen->out, &line);
}

static void put_source(const gw_pen *pen, const gw_readings *readings) {
    const gw_source *source = &readings->source;
    char rate[48], length[48];
    gw_text line = {0};
    gw_text_printf(&line, "%s, channel %d%s%s%s: %s, %llu samples at %s, %s long", source->file, source->channel,
                   source->channel_name != NULL ? " (" : "", source->channel_name != NULL ? source->channel_name : "",
                   source->channel_name != NULL ? ")" : "", gw_signal_name(readings->signal),
                   (unsigned long long)source->samples, gw_shown_exact(source->rate_hz, "Hz", 7, rate, sizeof rate),
                   gw_shown_exact(source->duration_s, "s", 4, length, sizeof length));
    gw_pen_wrap(pen, GW_TINT_STRONG, "", gw_text_string(&line));
    gw_text_part_free(pen->out, &line);
}

static void put_danger(const gw_pen *pen, const gw_readings *readings) {
    double volts = 0;
    bool ac = false;
    if (gw_shown_readings_dangerous(readings, &volts, &ac))
        gw_pen_wrap(pen, GW_TINT_BAD, "  DANGER: ", "above extra-low voltage (50 V AC, 120 V DC; IEC 61140)");
}

static void put_readings(const gw_pen *pen, const gw_readings *readings) {
    static const gw_listing_column columns[] = {
        {"reading", false, 26}, {"value", true, 16}, {"\xC2\xB1 (95 %)", true, 17}, {"", false, 0}};
    gw_listing table = {.columns = columns, .column_count = 4};
    put_source(pen, readings);
    put_danger(pen, readings);
    for (int key = 0; key < GW_READING_COUNT; key++)
        if (!gw_shown_again((gw_reading_key)key, readings->source.unit))
            add_reading(&table, (gw_reading_key)key, readings);
    gw_listing_write(&table, pen);
    gw_listing_free(&table);
    put_harmonics(pen, readings);
    put_tones(pen, readings);
    put_events(pen, readings);
    put_remarks(pen, &readings->remarks);
}

/* `gain 20.8 dB ± 0.1 dB, delay 33 µs, polarity kept, coherence 0.999, phase -12.1° at 1 kHz` */
static void put_pair(const gw_pen *pen, const gw_pair *pair, int reference) {
    char lead[48], gain[64], u95[48], phase[48], delay[48], coherence[48], at[48];
    gw_text line = {0};
    gw_shown_pair shown = gw_shown_from_pair(pair);
    snprintf(lead, sizeof lead, "  from channel %d: ", reference);
    if (shown.why == NULL) {
        gw_quantity_print(shown.gain_db, shown.gain_u95_db, "dB", 4, gain, sizeof gain);
        gw_quantity_print(shown.gain_u95_db, 0, "dB", 2, u95, sizeof u95);
        gw_text_printf(&line, "gain %s \xC2\xB1 %s, delay %s, polarity %s, coherence %s", gain, u95,
                       gw_shown_exact(pair->delay_s, "s", 3, delay, sizeof delay), shown.polarity,
                       gw_number_print(pair->coherence, 4, coherence, sizeof coherence));
        if (pair->frequency_hz > 0)
            gw_text_printf(&line, ", phase %s\xC2\xB0 at %s", gw_number_print(shown.phase_deg, 4, phase, sizeof phase),
                           gw_shown_exact(pair->frequency_hz, "Hz", 5, at, sizeof at));
        else
            gw_text_add(&line, ", over the whole programme");
    } else
        gw_text_add(&line, shown.why);
    gw_pen_wrap(pen, GW_TINT_PLAIN, lead, gw_text_string(&line));
    gw_text_part_free(pen->out, &line);
}

bool gw_report_measure_text(const gw_report_capture *captures, size_t count, const gw_report_options *options,
                            gw_text *out, gw_error *error) {
    gw_pen pen = gw_pen_new(options, out);
    for (size_t i = 0; i < count; i++) {
        if (captures[i].error != NULL) {
            gw_text_add(out, out->length > 0 ? "\n" : "");
            gw_pen_wrap(&pen, GW_TINT_STRONG, "", captures[i].file);
            put_refused(&pen, &captures[i]);
        }
        for (size_t k = 0; k < captures[i].readings_count; k++) {
            gw_text_add(out, out->length > 0 ? "\n" : "");
            put_readings(&pen, captures[i].readings[k]);
            if (captures[i].pairs != NULL && captures[i].readings[k]->source.channel != captures[i].reference)
                put_pair(&pen, &captures[i].pairs[k], captures[i].reference);
        }
    }
    return !out->failed || gw_error_memory(error);
}
