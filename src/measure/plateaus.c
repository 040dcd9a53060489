#include "measure/plateaus.h"

#include "measure/events.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Of the power that goes: what is there a window before it goes at once, as a contact or a switch makes it go. */
static const double at_once = 0.81;
/* Samples that a window holds at least. */
enum { WINDOW_LEAST = 32 };

typedef struct teller {
    const gw_capture *capture;
    size_t index;
    double window; /* samples: whole periods */
    gw_readings *out;
    gw_error *error;
} teller;

/* Where the signal goes or comes, in samples; `sharp`: at once. */
typedef struct edge {
    double at;
    bool sharp;
} edge;

/* Power about the mean of `window` samples from each on, in place of the samples. Returns how many windows there are.
 */
static size_t windowed(double *volts, size_t count, size_t window) {
    double sum = 0, squares = 0, first = count ? volts[0] : 0, w = (double)window;
    for (size_t i = 0; i < count && i < window; i++) {
        sum += volts[i] - first;
        squares += (volts[i] - first) * (volts[i] - first);
    }
    for (size_t i = 0; i + window < count; i++) {
        double in = volts[i + window] - first, gone = volts[i] - first;
        volts[i] = fmax(squares / w - (sum / w) * (sum / w), 0);
        sum += in - gone;
        squares += in * in - gone * gone;
    }
    return count > window ? count - window : 0;
}

static void reverse(double *values, size_t count) {
    for (size_t i = 0; i < count / 2; i++) {
        double other = values[i];
        values[i] = values[count - 1 - i];
        values[count - 1 - i] = other;
    }
}

static double power_of(const gw_plateau *p) {
    return p->power / (double)p->parts;
}

static uint64_t part_of(const gw_plateau *p) {
    return (p->end - p->first) / p->parts;
}

/* The window whose power first is nearer to that of the quiet side, seen from the loud one. */
static edge edge_in(double *volts, size_t count, double loud, double quiet, size_t window) {
    size_t windows = windowed(volts, count, window), at = 0, lead = window + window / 4;
    while (at < windows && volts[at] > 0.5 * (loud + quiet))
        at++;
    size_t before = at + window / 2;
    return (edge){.at = (double)at + 0.5 * (double)window,
                  .sharp = before >= lead && before - lead < windows &&
                           volts[before - lead] - quiet > at_once * (loud - quiet)};
}

/* Between the end of one plateau and the begin of the next, and a part of either. False after an error. */
static bool edge_find(const teller *t, const gw_plateau *one, const gw_plateau *next, edge *out) {
    bool falls = power_of(one) > power_of(next);
    uint64_t from = one->end - part_of(one), to = next->first + part_of(next);
    size_t count = (size_t)(to - from);
    double *volts = malloc(count * sizeof *volts);
    if (!volts)
        return gw_error_memory(t->error);
    bool done = gw_capture_fetch(t->capture, t->index, from, count, volts, NULL, t->error);
    if (done) {
        if (!falls)
            reverse(volts, count);
        *out = edge_in(volts, count, fmax(power_of(one), power_of(next)), fmin(power_of(one), power_of(next)),
                       (size_t)t->window);
        out->at = falls ? (double)from + out->at : (double)to - out->at;
    }
    free(volts);
    return done;
}

/* ---- events ------------------------------------------------------------------------------------------ */

/* What single segments showed of it goes. */
static void events_within(teller *t, double start_s, double end_s) {
    gw_readings *out = t->out;
    size_t kept = 0;
    for (size_t k = 0; k < out->event_count; k++) {
        const gw_event *event = &out->events[k];
        if (event->start_s > end_s || event->start_s + event->length_s < start_s) {
            out->events[kept++] = *event;
            continue;
        }
        out->values[GW_DROPOUTS].value -= event->kind == GW_EVENT_DROPOUT;
        out->clues.crackle_count -= event->kind == GW_EVENT_CRACKLE;
        out->clues.step_count -= event->kind == GW_EVENT_STEP;
    }
    out->event_count = kept;
    out->values[GW_DROPOUTS].value = fmax(out->values[GW_DROPOUTS].value, 0);
}

/* In order of time. */
static bool event_insert(teller *t, const gw_event *event) {
    gw_readings *out = t->out;
    gw_event *events = gw_arena_array(out->arena, out->event_count + 1, sizeof *events);
    if (!events)
        return gw_error_memory(t->error);
    size_t at = 0;
    while (at < out->event_count && out->events[at].start_s < event->start_s)
        at++;
    for (size_t k = 0; k < out->event_count; k++)
        events[k < at ? k : k + 1] = out->events[k];
    events[at] = *event;
    out->events = events;
    out->event_count++;
    out->values[GW_DROPOUTS].value++;
    return true;
}

static bool remark_add(teller *t, const char *text) {
    for (size_t k = 0; k < t->out->remarks.count; k++)
        if (strcmp(t->out->remarks.items[k], text) == 0)
            return true;
    return gw_strings_add(&t->out->remarks, text) || gw_error_memory(t->error);
}

/* Gone from sample `from` to `to`. */
static bool gone_tell(teller *t, double from, double to) {
    double rate = t->capture->rate_hz, near = t->window / rate;
    gw_event event = {.kind = GW_EVENT_DROPOUT, .start_s = from / rate, .length_s = (to - from) / rate};
    events_within(t, event.start_s - near, event.start_s + event.length_s + near);
    return event_insert(t, &event) && remark_add(t, gw_events_remark_gone);
}

/* Silence from `from` to `to` at one end of the record, up to an edge: it is told where the signal begins or ends at
 * once. One that swells or dies down is no event, and no impulse of the segment that shows little of it. */
static bool end_tell(teller *t, double from, double to, bool sharp) {
    if (sharp)
        return gone_tell(t, from, to);
    events_within(t, from / t->capture->rate_hz, to / t->capture->rate_hz);
    return true;
}

static bool ends_tell(teller *t, const gw_lasting *all) {
    const gw_plateau *silent, *signal;
    edge at = {0};
    if (gw_silent_begin(all, &silent, &signal) &&
        !(edge_find(t, silent, signal, &at) && end_tell(t, 0, at.at, at.sharp)))
        return false;
    return !gw_silent_end(all, &silent, &signal) ||
           (edge_find(t, signal, silent, &at) && end_tell(t, at.at, (double)t->capture->samples, at.sharp));
}

static bool gaps_tell(teller *t, const gw_lasting *all) {
    gw_gap gap = {0};
    bool done = true;
    while (done && gw_gap_next(all, &gap)) {
        edge goes = {0}, comes = {0};
        done = edge_find(t, gap.before, gap.first, &goes) && edge_find(t, gap.last, gap.after, &comes);
        if (done && goes.sharp)
            done = gone_tell(t, goes.at, comes.at);
    }
    return done;
}

/* ---- a level that changes once and for all -------------------------------------------------------------- */

static bool change_tell(teller *t, const gw_plateau *before, const gw_plateau *after) {
    edge at = {0};
    double rate = t->capture->rate_hz, was = sqrt(power_of(before)), is = sqrt(power_of(after));
    if (!edge_find(t, before, after, &at))
        return false;
    if (!at.sharp)
        return true;
    const char *unit = gw_reading_unit(GW_AC_RMS, t->out->source.unit);
    char first[48], then[48], when[48], ratio[48];
    gw_quantity_print(was, 0, unit, 3, first, sizeof first);
    gw_quantity_print(is, 0, unit, 3, then, sizeof then);
    gw_quantity_print(at.at / rate, 0, "s", 4, when, sizeof when);
    events_within(t, (at.at - t->window) / rate, (at.at + t->window) / rate);
    const char *told =
        gw_arena_printf(t->out->arena, "the level goes from %s RMS to %s (%s dB) at %s and stays so", first, then,
                        gw_number_print(20 * log10(is / was), 3, ratio, sizeof ratio), when);
    return told ? remark_add(t, told) : gw_error_memory(t->error);
}

/* Of a sine or a periodic signal whose parts hold some of its windows; false where there is nothing to be told. */
static bool teller_make(const gw_capture *capture, size_t index, const gw_lasting *all, gw_readings *out,
                        gw_error *error, teller *t) {
    const gw_reading *frequency = &out->values[GW_FREQUENCY];
    if ((out->signal != GW_SIGNAL_SINE && out->signal != GW_SIGNAL_PERIODIC) || all->wavers || all->count < 2 ||
        frequency->state != GW_READING_VALUE || out->values[GW_DROPOUTS].state != GW_READING_VALUE)
        return false;
    double period = capture->rate_hz / frequency->value;
    *t = (teller){.capture = capture, .index = index, .out = out, .error = error};
    t->window = round(ceil(WINDOW_LEAST / period) * period);
    return 2 * t->window <= (double)part_of(&all->plateaus[0]);
}

bool gw_lasting_tell(const gw_capture *capture, size_t index, const gw_lasting *all, gw_readings *out,
                     gw_error *error) {
    const gw_plateau *before, *after;
    teller t;
    if (!teller_make(capture, index, all, out, error, &t))
        return true;
    if (!gaps_tell(&t, all) || !ends_tell(&t, all))
        return false;
    return !gw_change_find(all, &before, &after) || gw_lasting_gone(all) || change_tell(&t, before, after);
}

/* The level lies between both: its u95 reaches to either. */
static void level_reach(gw_readings *out, double was, double is) {
    gw_reading *level = &out->values[GW_LEVEL];
    if (level->state != GW_READING_VALUE || !(level->value > 0))
        return;
    double off = fmax(fabs(was - level->value), fabs(is - level->value)), lowest = fmin(was, is);
    double decibels = fmax(fabs(20 * log10(lowest / level->value)), fabs(20 * log10(fmax(was, is) / level->value)));
    const gw_reading_key keys[] = {GW_LEVEL, GW_LEVEL_DBV, GW_LEVEL_DBU};
    for (size_t k = 0; k < sizeof keys / sizeof *keys; k++) {
        gw_reading *reading = &out->values[keys[k]];
        reading->u_random = fmax(reading->u_random, 0.5 * (k == 0 ? off : decibels));
        reading->u95 = 2 * hypot(reading->u_random, reading->u_scale);
    }
}

/* As which it is begun, a piece has runs for its parts alone: of so many samples it is within one cell. */
static const uint64_t far_longer = UINT64_C(1) << 40;

bool gw_lasting_of_piece(const gw_capture *capture, size_t index, const gw_block *block, gw_readings *out,
                         gw_error *error) {
    double powers[GW_LASTING_PARTS];
    gw_lasting all = {0};
    const gw_plateau *before, *after;
    teller t;
    if (out->values[GW_DROPOUTS].value > 0 || block->count < GW_LASTING_PARTS)
        return true;
    gw_course_part course;
    if (!gw_course_part_make(block, 0, far_longer, &course))
        return gw_error_memory(error);
    gw_lasting_parts(&course, powers);
    gw_course_part_end(&course);
    gw_lasting_add(&all, 0, block->count, powers);
    if (!teller_make(capture, index, &all, out, error, &t) || !gw_change_find(&all, &before, &after))
        return true;
    size_t remarks = out->remarks.count;
    if (!change_tell(&t, before, after))
        return false;
    if (out->remarks.count > remarks)
        level_reach(out, sqrt(power_of(before)), sqrt(power_of(after)));
    return true;
}
