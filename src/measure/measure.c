/* From a capture to readings. */
#include "gainwalk/measure.h"

#include "measure/block.h"
#include "measure/segments.h"
#include "measure/shelf.h"

#include <math.h>
#include <omp.h>
#include <stdlib.h>
#include <string.h>

static bool source_fill(const gw_capture *capture, const gw_channel *channel, gw_readings *out, gw_error *error) {
    gw_source *source = &out->source;
    source->file = gw_arena_string(out->arena, capture->file ? capture->file : "");
    source->unit = gw_arena_string(out->arena, channel->unit ? channel->unit : "V");
    source->channel_name = channel->name ? gw_arena_string(out->arena, channel->name) : NULL;
    if (!source->file || !source->unit || (channel->name && !source->channel_name))
        return gw_error_memory(error);
    source->channel = channel->number;
    source->rate_hz = capture->rate_hz;
    source->samples = capture->samples;
    source->duration_s = (double)capture->samples / capture->rate_hz;
    source->step = channel->step;
    source->start_s = capture->has_start ? capture->start_s : 0;
    source->wav = capture->kind == GW_CAPTURE_WAV;
    out->dc_hidden = out->dc_hidden || source->wav || channel->ac_coupled;
    for (size_t k = 0; k < capture->remarks.count; k++)
        if (!gw_strings_add(&out->remarks, capture->remarks.items[k]))
            return gw_error_memory(error);
    return true;
}

static bool measurable(const gw_capture *capture, size_t channel, gw_error *error) {
    if (channel >= capture->channel_count)
        return gw_error_set(error, capture->file, 0, "no channel %zu, only %zu", channel + 1, capture->channel_count);
    if (!(capture->rate_hz > 0))
        return gw_error_set(error, capture->file, 0, "no sample rate: it must be given");
    if (capture->samples < 3)
        return gw_error_set(error, capture->file, 0, "too few samples to measure: %llu",
                            (unsigned long long)capture->samples);
    return true;
}

/* What one thread works with. */
typedef struct buffer {
    double *volts;
    unsigned char *marks;
    gw_shelf *shelf;
    gw_measure_kept *kept; /* where the shelf goes back */
} buffer;

static gw_block block_of(const gw_capture *capture, const gw_channel *channel, const buffer *room, size_t count) {
    return (gw_block){.volts = room->volts,
                      .marks = channel->missing || channel->overload ? room->marks : NULL,
                      .shelf = room->shelf,
                      .count = count,
                      .rate_hz = capture->rate_hz,
                      .step = channel->step,
                      .overload = count == capture->samples ? (size_t)channel->overload : 0,
                      .low_end = channel->low_end,
                      .high_end = channel->high_end};
}

static bool buffer_make(buffer *out, size_t count, const gw_measure_options *options, gw_error *error) {
    gw_measure_kept *kept = options ? options->kept : NULL;
    *out = (buffer){
        .volts = malloc(count * sizeof *out->volts), .marks = malloc(count), .shelf = gw_kept_take(kept), .kept = kept};
    return (out->volts && out->marks && out->shelf) || gw_error_memory(error);
}

static void buffer_free(buffer *of) {
    free(of->volts);
    free(of->marks);
    gw_kept_return(of->kept, of->shelf);
}

/* A long capture that is measured by several threads. */
typedef struct shared {
    const gw_capture *capture;
    size_t index;
    const gw_measure_options *options;
    const gw_readings *whole;
    uint64_t parts;
    gw_hint hint;        /* what the first segment was found to hold */
    omp_lock_t fetching; /* a capture is read by one at a time */
} shared;

static gw_block segment_fetch(shared *s, uint64_t part, const buffer *room, gw_error *error) {
    uint64_t from = s->capture->samples * part / s->parts, to = s->capture->samples * (part + 1) / s->parts;
    omp_set_lock(&s->fetching);
    gw_capture_fetch(s->capture, s->index, from, (size_t)(to - from), room->volts, room->marks, error);
    omp_unset_lock(&s->fetching);
    gw_block block = block_of(s->capture, &s->capture->channels[s->index], room, (size_t)(to - from));
    block.part = true;
    block.hint = part > 0 ? &s->hint : NULL;
    return block;
}

/* NULL after an error. */
static gw_readings *segment_measure(const shared *s, const gw_block *block, gw_hint *hint, gw_error *error) {
    gw_readings *part = error->set ? NULL : gw_readings_new(error);
    if (!part)
        return NULL;
    part->source = s->whole->source;
    part->source.samples = block->count;
    part->dc_hidden = s->whole->dc_hidden;
    if (gw_measure_first(block, s->options, part, hint, error))
        return part;
    gw_readings_free(part);
    return NULL;
}

/* The first segment, before all others: these begin from what it holds, whichever thread measures them. */
static void first_measure(shared *s, gw_segments *all, gw_error *failed) {
    buffer room;
    gw_block block = {0};
    gw_hint hint = {0};
    if (buffer_make(&room, GW_SEGMENT_SAMPLES, s->options, failed))
        block = segment_fetch(s, 0, &room, failed);
    gw_readings *part = segment_measure(s, &block, &hint, failed);
    if (part)
        gw_segments_add(all, &block, part, failed);
    s->hint = hint;
    buffer_free(&room);
}

/* Every segment that falls to this thread; they are gathered in their order, so that nothing depends on who was first.
 * `*failed` is the first error met; what comes after it is left out. */
static void segments_share(shared *s, gw_segments *all, gw_error *failed) {
    gw_error memory = {0};
    buffer room;
    bool ready = buffer_make(&room, GW_SEGMENT_SAMPLES, s->options, &memory);
#pragma omp for ordered schedule(dynamic)
    for (uint64_t k = 1; k < s->parts; k++) {
        gw_error error = memory;
        gw_block block = {0};
        gw_hint own;
        if (ready)
            block = segment_fetch(s, k, &room, &error);
        gw_readings *part = segment_measure(s, &block, &own, &error);
#pragma omp ordered
        {
            if (!failed->set && part)
                gw_segments_add(all, &block, part, &error);
            else
                gw_readings_free(part);
            if (!failed->set && error.set)
                *failed = error;
        }
    }
    buffer_free(&room);
}

/* Segments of equal length, so that no short rest is left. */
static bool segments_measure(const gw_capture *capture, size_t index, const gw_measure_options *options,
                             gw_readings *out, gw_error *error) {
    shared s = {.capture = capture,
                .index = index,
                .options = options,
                .whole = out,
                .parts = (capture->samples + GW_SEGMENT_SAMPLES - 1) / GW_SEGMENT_SAMPLES};
    gw_segments *all = gw_segments_new(capture->samples, capture->rate_hz, error);
    gw_error failed = {0};
    int jobs = options && options->jobs > 1 ? options->jobs : 1;
    if (!all)
        return false;
    omp_init_lock(&s.fetching);
    first_measure(&s, all, &failed);
    if (!failed.set) {
#pragma omp parallel num_threads(jobs)
        segments_share(&s, all, &failed);
    }
    omp_destroy_lock(&s.fetching);
    if (failed.set && error && !error->set)
        *error = failed;
    bool done = !failed.set && gw_segments_finish(all, out, error);
    gw_segments_free(all);
    return done;
}

static bool samples_measure(const gw_capture *capture, size_t index, const gw_measure_options *options,
                            gw_readings *out, gw_error *error) {
    if (capture->samples > GW_SEGMENT_SAMPLES)
        return segments_measure(capture, index, options, out, error);
    size_t count = (size_t)capture->samples;
    buffer room;
    bool done = buffer_make(&room, count, options, error) &&
                gw_capture_fetch(capture, index, 0, count, room.volts, room.marks, error);
    gw_block block = block_of(capture, &capture->channels[index], &room, count);
    done = done && gw_measure_block(&block, options, out, error);
    buffer_free(&room);
    return done;
}

bool gw_measure_run(const gw_capture *capture, size_t channel, const gw_measure_options *options, gw_readings **out,
                    gw_error *error) {
    *out = NULL;
    if (!measurable(capture, channel, error))
        return false;
    gw_readings *readings = gw_readings_new(error);
    if (!readings)
        return false;
    readings->dc_hidden = options && options->ac_coupled;
    if (!source_fill(capture, &capture->channels[channel], readings, error) ||
        !samples_measure(capture, channel, options, readings, error)) {
        gw_readings_free(readings);
        return false;
    }
    *out = readings;
    return true;
}
