#include "measure/stretches.h"

#include "measure/segments.h"
#include "measure/shelf.h"

#include <stdlib.h>

/* Segments of a stretch, of which one is fitted at least; and how many fitted ones may find none like themselves before
 * the rest of the stretch is fitted whole: what changes all the time is measured all the time. */
enum { STRETCH_MAX = 128, FRUITLESS_MAX = 2 };

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

/* ---- one stretch -------------------------------------------------------------------------------------- */

/* A long capture that is measured by several threads. */
typedef struct shared {
    const gw_capture *capture;
    size_t index;
    const gw_measure_options *options;
    const gw_readings *whole;
    uint64_t parts;
    gw_hint hint; /* what the first segment was found to hold */
} shared;

typedef struct stretch {
    shared *of;
    gw_desk *desk;
    uint64_t from; /* its first segment */
    size_t count;
    gw_segment *segments;
    bool settled[STRETCH_MAX];
    gw_error *error;
} stretch;

/* The first segments are stretches of their own; then they grow with what lies before them. */
static size_t stretch_length(uint64_t from) {
    size_t length = 1;
    while (length < STRETCH_MAX && 2 * length <= from)
        length *= 2;
    return length;
}

static gw_block segment_fetch(stretch *s, size_t at) {
    const shared *of = s->of;
    const gw_channel *channel = &of->capture->channels[of->index];
    uint64_t part = s->from + at, from = of->capture->samples * part / of->parts,
             to = of->capture->samples * (part + 1) / of->parts;
    size_t count = (size_t)(to - from);
    gw_block block = gw_desk_block(of->capture, channel, s->desk, count);
    gw_capture_fetch(of->capture, of->index, from, count, s->desk->volts, block.marks ? s->desk->marks : NULL,
                     s->error);
    block.part = true;
    block.hint = part > 0 ? &of->hint : NULL;
    s->segments[at].first = from;
    s->segments[at].count = count;
    if (!s->error->set && !s->segments[at].course.runs &&
        !gw_course_part_make(&block, from, of->capture->samples, &s->segments[at].course))
        gw_error_memory(s->error);
    return block;
}

static void segment_look(stretch *s, size_t at, const gw_block *block, const gw_outline *outline) {
    gw_course_cell total = gw_course_total(&s->segments[at].course);
    double *room = malloc(block->count * sizeof *room); /* not held while anything is fitted */
    if (!room || !gw_glance_make(block, outline, &total, &s->desk->sweepers, room, &s->segments[at].glance))
        gw_error_memory(s->error);
    free(room);
}

/* The whole fit. False after an error. */
static bool segment_fit(stretch *s, size_t at, gw_legacy *legacy) {
    gw_segment *segment = &s->segments[at];
    gw_block block = segment_fetch(s, at);
    gw_readings *part = s->error->set ? NULL : gw_readings_new(s->error);
    if (!part)
        return false;
    segment->part = part;
    segment->like = at;
    segment->weight = 1;
    s->settled[at] = true;
    part->source = s->of->whole->source;
    part->source.samples = block.count;
    part->dc_hidden = s->of->whole->dc_hidden;
    if (!gw_measure_segment(&block, s->of->options, part, legacy, s->error))
        return false;
    segment->tone = legacy->outline.tone;
    if (s->count > 1 && legacy->outline.usable)
        segment_look(s, at, &block, &legacy->outline);
    return true;
}

/* Finds the segments that show what the one just fitted does. Returns how many. */
static size_t likes_find(stretch *s, size_t fitted, const gw_outline *outline) {
    size_t found = 0;
    for (size_t k = fitted + 1; k < s->count && !s->error->set; k++) {
        if (s->settled[k])
            continue;
        gw_block block = segment_fetch(s, k);
        if (s->error->set)
            break;
        segment_look(s, k, &block, outline);
        if (!gw_glance_alike(&s->segments[fitted].glance, &s->segments[k].glance, outline))
            continue;
        s->settled[k] = true;
        s->segments[k].like = fitted;
        s->segments[fitted].weight++;
        found++;
    }
    return found;
}

static void stretch_run(stretch *s) {
    size_t fruitless = 0;
    for (size_t k = 0; k < s->count && !s->error->set; k++) {
        gw_legacy legacy;
        if (s->settled[k] || !segment_fit(s, k, &legacy) || fruitless >= FRUITLESS_MAX)
            continue;
        bool found = legacy.outline.usable && likes_find(s, k, &legacy.outline) > 0;
        fruitless = found ? 0 : fruitless + 1;
    }
}

/* In their order, so that nothing depends on which thread was first. */
static void stretch_gather(stretch *s, gw_segments *all) {
    for (size_t k = 0; k < s->count && !s->error->set; k++) {
        if (gw_segments_wants(all, &s->segments[k])) {
            gw_block block = segment_fetch(s, k);
            if (!s->error->set && !gw_segments_picture(&block, s->segments[k].part))
                gw_error_memory(s->error);
        }
        if (!s->error->set)
            gw_segments_take(all, s->segments, k, s->error);
    }
}

static void stretch_end(stretch *s) {
    for (size_t k = 0; s->segments && k < s->count; k++)
        gw_segment_end(&s->segments[k]);
    free(s->segments);
}

/* ---- all of them -------------------------------------------------------------------------------------- */

static void stretch_begin(shared *s, gw_desk *desk, uint64_t from, uint64_t to, gw_error *error, stretch *out) {
    *out = (stretch){.of = s, .desk = desk, .from = from, .count = (size_t)(to - from), .error = error};
    out->segments = calloc(out->count, sizeof *out->segments);
    if (!out->segments)
        gw_error_memory(error);
}

/* A stretch and what came of it. */
typedef struct turn {
    stretch own;
    gw_error error;
    bool done;
} turn;

/* The first segment, before all others: these begin from what it holds, whichever thread measures them. */
static void first_measure(shared *s, turn *out) {
    gw_desk desk;
    gw_legacy legacy = {0};
    if (gw_desk_make(&desk, GW_SEGMENT_SAMPLES, s->options, &out->error))
        stretch_begin(s, &desk, 0, 1, &out->error, &out->own);
    if (!out->error.set)
        segment_fit(&out->own, 0, &legacy);
    s->hint = legacy.hint;
    out->done = true;
    /* what a search prepared is large, and most of those to come need none */
    if (s->parts > (size_t)2 * STRETCH_MAX)
        desk.kept = NULL;
    gw_desk_end(&desk);
}

/* Gathers every stretch that is done and whose turn it is: no thread waits for another. `*failed` is the first error
 * met; what comes after it is left out. */
static void turns_gather(turn *turns, size_t count, size_t *next, gw_desk *desk, gw_segments *all, gw_error *failed) {
    for (; *next < count && turns[*next].done; ++*next) {
        turn *t = &turns[*next];
        t->own.desk = desk;
        if (!failed->set && !t->error.set)
            stretch_gather(&t->own, all);
        if (!failed->set && t->error.set)
            *failed = t->error;
        stretch_end(&t->own);
    }
}

/* The order that stretches are begun in: of some together the last, longest, first, so that threads come to their end
 * together. */
enum { TOGETHER = 16 };

static size_t begun_as(size_t k, size_t count) {
    size_t from = k / TOGETHER * TOGETHER, to = count - from < TOGETHER ? count : from + TOGETHER;
    return from + to - 1 - k;
}

/* Every stretch that falls to this thread. The first of all is done. */
static void stretches_share(shared *s, const uint64_t *ends, turn *turns, size_t count, size_t *next, gw_segments *all,
                            gw_error *failed) {
    gw_error memory = {0};
    gw_desk desk;
    gw_desk_make(&desk, GW_SEGMENT_SAMPLES, s->options, &memory);
#pragma omp for schedule(dynamic)
    for (size_t k = 1; k < count; k++) {
        size_t at = 1 + begun_as(k - 1, count - 1);
        turn *t = &turns[at];
        t->error = memory;
        if (!t->error.set)
            stretch_begin(s, &desk, ends[at - 1], ends[at], &t->error, &t->own);
        if (!t->error.set)
            stretch_run(&t->own);
#pragma omp critical(gw_stretches)
        {
            t->done = true;
            turns_gather(turns, count, next, &desk, all, failed);
        }
    }
    gw_desk_end(&desk);
}

/* Where each stretch ends; NULL when memory is out. */
static uint64_t *ends_make(uint64_t parts, size_t *count) {
    uint64_t *ends = NULL;
    size_t capacity = 0;
    *count = 0;
    for (uint64_t at = 0; at < parts;) {
        uint64_t length = stretch_length(at);
        at = length < parts - at ? at + length : parts;
        if (!GW_GROW(ends, *count, capacity)) {
            free(ends);
            return NULL;
        }
        ends[(*count)++] = at;
    }
    return ends;
}

static void all_measure(shared *s, gw_segments *all, gw_error *failed) {
    size_t count, next = 0; /* the first stretch is the first segment */
    uint64_t *ends = ends_make(s->parts, &count);
    turn *turns = ends ? calloc(count, sizeof *turns) : NULL;
    int jobs = s->options && s->options->jobs > 1 ? s->options->jobs : 1;
    if (turns)
        first_measure(s, &turns[0]);
    else
        gw_error_memory(failed);
    if (turns && turns[0].error.set) {
        *failed = turns[0].error;
        stretch_end(&turns[0].own);
    } else if (turns) {
#pragma omp parallel num_threads(jobs)
        stretches_share(s, ends, turns, count, &next, all, failed);
    }
    free(turns);
    free(ends);
}

bool gw_stretches_measure(const gw_capture *capture, size_t index, const gw_measure_options *options, gw_readings *out,
                          gw_error *error) {
    shared s = {.capture = capture,
                .index = index,
                .options = options,
                .whole = out,
                .parts = (capture->samples + GW_SEGMENT_SAMPLES - 1) / GW_SEGMENT_SAMPLES};
    gw_segments *all = gw_segments_new(capture->samples, capture->rate_hz, error);
    gw_error failed = {0};
    if (!all)
        return false;
    all_measure(&s, all, &failed);
    if (failed.set && error && !error->set)
        *error = failed;
    bool done = !failed.set && gw_segments_finish(all, out, error);
    gw_segments_free(all);
    return done;
}
