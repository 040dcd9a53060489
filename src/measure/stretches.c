#include "measure/stretches.h"

#include "measure/shelf.h"

#include <stdlib.h>

/* How many fitted segments may find none like themselves before the rest of the stretch is fitted whole: what changes
 * all the time is measured all the time. Segments that are looked at together. */
enum { FRUITLESS_MAX = 2, LOOKS = 8 };

bool gw_desk_make(gw_desk *out, size_t count, const gw_measure_options *options, gw_error *error) {
    gw_measure_kept *kept = options ? options->kept : NULL;
    *out = (gw_desk){
        .volts = malloc(count * sizeof *out->volts), .marks = malloc(count), .shelf = gw_kept_take(kept), .kept = kept};
    return (out->volts && out->marks && out->shelf) || gw_error_memory(error);
}

void gw_desk_end(gw_desk *desk) {
    gw_sweepers_end(&desk->sweepers);
    free(desk->volts);
    free(desk->marks);
    gw_kept_return(desk->kept, desk->shelf);
}

gw_block gw_desk_block(const gw_capture *capture, const gw_channel *channel, const gw_desk *desk, size_t count) {
    return (gw_block){.volts = desk->volts,
                      .marks = channel->missing || channel->overload ? desk->marks : NULL,
                      .shelf = desk->shelf,
                      .count = count,
                      .rate_hz = capture->rate_hz,
                      .step = channel->step,
                      .overload = count == capture->samples ? (size_t)channel->overload : 0,
                      .low_end = channel->low_end,
                      .high_end = channel->high_end};
}

/* ---- one segment ------------------------------------------------------------------------------------- */

/* Fewer segments are over too soon: what a second search takes would be most of what waiting does. */
enum { MANY_SEGMENTS = 16 };

uint64_t gw_hinted_from(const gw_track *track) {
    return track->parts < MANY_SEGMENTS ? 1 : 2;
}

static gw_block segment_fetch(const gw_track *track, gw_stretch *s, size_t at, gw_desk *desk, gw_error *error) {
    const gw_channel *channel = &track->capture->channels[track->index];
    uint64_t samples = track->capture->samples, part = s->from + at, from = samples * part / track->parts,
             to = samples * (part + 1) / track->parts;
    size_t count = (size_t)(to - from);
    gw_block block = gw_desk_block(track->capture, channel, desk, count);
    gw_capture_fetch(track->capture, track->index, from, count, desk->volts, block.marks ? desk->marks : NULL, error);
    block.part = true;
    block.hint = part >= gw_hinted_from(track) ? &track->hint : NULL;
    s->segments[at].first = from;
    s->segments[at].count = count;
    if (!error->set && !s->segments[at].course.runs &&
        !gw_course_part_make(&block, from, samples, &s->segments[at].course))
        gw_error_memory(error);
    if (!error->set)
        gw_lasting_parts(&s->segments[at].course, s->segments[at].powers);
    return block;
}

static void segment_look(gw_segment *segment, const gw_block *block, const gw_outline *outline, gw_desk *desk,
                         gw_error *error) {
    gw_course_cell total = gw_course_total(&segment->course);
    double *room = malloc(block->count * sizeof *room); /* not held while anything is fitted */
    if (!room || !gw_glance_make(block, outline, &total, &desk->sweepers, room, &segment->glance))
        gw_error_memory(error);
    free(room);
}

static gw_readings *readings_begin(const gw_track *track, size_t count, gw_error *error) {
    gw_readings *part = gw_readings_new(error);
    if (!part)
        return NULL;
    part->source = track->whole->source;
    part->source.samples = count;
    part->dc_hidden = track->whole->dc_hidden;
    return part;
}

/* The whole fit. */
static void segment_fit(gw_unit *unit, const gw_track *track, gw_stretch *s, gw_desk *desk, gw_hint_known *known,
                        void *to) {
    gw_segment *segment = &s->segments[unit->from];
    gw_block block = segment_fetch(track, s, unit->from, desk, &unit->error);
    gw_modelled modelled;
    segment->part = unit->error.set ? NULL : readings_begin(track, block.count, &unit->error);
    if (!segment->part)
        return;
    segment->like = unit->from;
    segment->weight = 1;
    bool done = gw_segment_model(&block, track->options, &modelled, &unit->error);
    if (done && s->from + unit->from == 0)
        known(to, modelled.hint);
    done = done && gw_segment_read(&modelled, track->options, segment->part, &unit->outline, &unit->error);
    gw_modelled_end(&modelled);
    segment->tone = done && unit->outline.tone;
    if (done && s->count > 1 && unit->outline.usable)
        segment_look(segment, &block, &unit->outline, desk, &unit->error);
}

/* Looks for segments that show what the one fitted last does. */
static void segments_look(gw_unit *unit, const gw_track *track, gw_stretch *s, gw_desk *desk) {
    for (size_t k = unit->from; k < unit->to; k++) {
        if (s->settled[k])
            continue;
        gw_block block = segment_fetch(track, s, k, desk, &unit->error);
        if (!unit->error.set)
            segment_look(&s->segments[k], &block, &s->outline, desk, &unit->error);
        if (unit->error.set)
            return;
        s->settled[k] = gw_glance_alike(&s->segments[s->fitted].glance, &s->segments[k].glance, &s->outline);
        if (s->settled[k])
            s->segments[k].like = s->fitted;
    }
}

void gw_unit_do(gw_unit *unit, const gw_track *track, gw_stretch *stretch, gw_desk *desk, gw_hint_known *known,
                void *to) {
    if (unit->fit)
        segment_fit(unit, track, stretch, desk, known, to);
    else
        segments_look(unit, track, stretch, desk);
}

/* ---- one stretch ------------------------------------------------------------------------------------- */

uint64_t *gw_stretch_ends(uint64_t parts, size_t *count) {
    uint64_t *ends = NULL;
    size_t capacity = 0;
    *count = 0;
    for (uint64_t at = 0; at < parts;) {
        uint64_t length = 1;
        while (length < GW_STRETCH_MAX && 2 * length <= at)
            length *= 2;
        at = length < parts - at ? at + length : parts;
        if (!GW_GROW(ends, *count, capacity)) {
            free(ends);
            return NULL;
        }
        ends[(*count)++] = at;
    }
    return ends;
}

bool gw_stretch_begin(gw_stretch *out, uint64_t from, uint64_t to, gw_error *error) {
    *out = (gw_stretch){.from = from, .count = (size_t)(to - from)};
    out->segments = calloc(out->count, sizeof *out->segments);
    return out->segments || gw_error_memory(error);
}

void gw_stretch_end(gw_stretch *stretch) {
    for (size_t k = 0; stretch->segments && k < stretch->count; k++)
        gw_segment_end(&stretch->segments[k]);
    free(stretch->segments);
    stretch->segments = NULL;
}

/* The first segment from `at` on that is neither fitted nor like one that is; all behind `at` are at hand. */
static size_t unsettled(const gw_stretch *s, size_t at) {
    while (at < s->count && s->settled[at])
        at++;
    return at;
}

/* Whether all of this phase was handed out. */
static bool given_out(const gw_stretch *s) {
    return s->error.set || s->next >= s->count;
}

bool gw_stretch_fits(const gw_stretch *s) {
    return !given_out(s) && s->phase != GW_STRETCH_LOOK;
}

bool gw_stretch_give(gw_stretch *s, gw_unit *out) {
    if (given_out(s))
        return false;
    bool fit = gw_stretch_fits(s);
    size_t from = s->next, to = s->count - from < LOOKS ? s->count : from + LOOKS;
    *out = (gw_unit){.fit = fit, .from = from, .to = fit ? from + 1 : to};
    if (fit)
        s->settled[from] = true;
    s->next = s->phase == GW_STRETCH_FIT ? s->count : unsettled(s, out->to);
    s->away++;
    return true;
}

/* To the next segment that has to be fitted. */
static void go_on(gw_stretch *s) {
    s->next = s->fitted = unsettled(s, s->fitted + 1);
    s->phase = s->next == s->count ? GW_STRETCH_DONE : s->fruitless >= FRUITLESS_MAX ? GW_STRETCH_REST : GW_STRETCH_FIT;
}

static void looks_end(gw_stretch *s) {
    size_t found = 0;
    for (size_t k = s->fitted + 1; k < s->count; k++)
        found += s->settled[k] && s->segments[k].like == s->fitted;
    s->segments[s->fitted].weight += found;
    s->fruitless = found > 0 ? 0 : s->fruitless + 1;
    go_on(s);
}

/* What follows when all of a phase is back. */
static void phase_end(gw_stretch *s) {
    if (s->error.set || s->phase == GW_STRETCH_REST) {
        s->phase = GW_STRETCH_DONE;
    } else if (s->phase == GW_STRETCH_FIT && s->outline.usable) {
        s->phase = GW_STRETCH_LOOK;
        s->next = unsettled(s, s->fitted + 1);
        if (given_out(s))
            looks_end(s);
    } else {
        looks_end(s); /* where nothing can be held against it none is like it */
    }
}

void gw_stretch_take(gw_stretch *s, const gw_unit *unit) {
    s->away--;
    if (unit->error.set && (!s->error.set || unit->from < s->error_at)) {
        s->error = unit->error;
        s->error_at = unit->from;
    }
    if (s->phase == GW_STRETCH_FIT)
        s->outline = unit->outline;
    if (s->away == 0 && given_out(s))
        phase_end(s);
}

bool gw_stretch_gather(gw_stretch *s, const gw_track *track, gw_desk *desk, gw_segments *all, gw_error *error) {
    if (s->error.set)
        *error = s->error;
    for (size_t k = 0; k < s->count && !error->set; k++) {
        if (gw_segments_wants(all, &s->segments[k])) {
            gw_block block = segment_fetch(track, s, k, desk, error);
            if (!error->set && !gw_segments_picture(&block, s->segments[k].part))
                gw_error_memory(error);
        }
        if (!error->set)
            gw_segments_take(all, s->segments, k, error);
    }
    return !error->set;
}
