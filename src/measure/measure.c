/* From a capture to readings. */
#include "gainwalk/measure.h"

#include "measure/block.h"
#include "measure/segments.h"

#include <math.h>
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

static gw_block block_of(const gw_capture *capture, const gw_channel *channel, const double *volts,
                         const unsigned char *marks, size_t count) {
    return (gw_block){.volts = volts,
                      .marks = channel->missing || channel->overload ? marks : NULL,
                      .count = count,
                      .rate_hz = capture->rate_hz,
                      .step = channel->step,
                      .overload = count == capture->samples ? (size_t)channel->overload : 0,
                      .low_end = channel->low_end,
                      .high_end = channel->high_end};
}

typedef struct buffer {
    double *volts;
    unsigned char *marks;
} buffer;

static bool segment_measure(const gw_block *block, const gw_measure_options *options, const gw_readings *whole,
                            gw_segments *all, gw_error *error) {
    gw_readings *part = gw_readings_new(error);
    if (!part)
        return false;
    part->source = whole->source;
    part->source.samples = block->count;
    part->dc_hidden = whole->dc_hidden;
    if (!gw_measure_block(block, options, part, error)) {
        gw_readings_free(part);
        return false;
    }
    return gw_segments_add(all, block, part, error);
}

/* Segments of equal length, so that no short rest is left. */
static bool segments_measure(const gw_capture *capture, size_t index, const gw_measure_options *options, buffer room,
                             gw_readings *out, gw_error *error) {
    uint64_t parts = (capture->samples + GW_SEGMENT_SAMPLES - 1) / GW_SEGMENT_SAMPLES;
    gw_segments *all = gw_segments_new(capture->samples, capture->rate_hz, error);
    bool done = all != NULL;
    for (uint64_t k = 0; k < parts && done; k++) {
        uint64_t from = capture->samples * k / parts, to = capture->samples * (k + 1) / parts;
        size_t count = (size_t)(to - from);
        done = gw_capture_fetch(capture, index, from, count, room.volts, room.marks, error);
        gw_block block = block_of(capture, &capture->channels[index], room.volts, room.marks, count);
        done = done && segment_measure(&block, options, out, all, error);
    }
    done = done && gw_segments_finish(all, out, error);
    gw_segments_free(all);
    return done;
}

static bool samples_measure(const gw_capture *capture, size_t index, const gw_measure_options *options,
                            gw_readings *out, gw_error *error) {
    bool whole = capture->samples <= GW_SEGMENT_SAMPLES;
    size_t count = whole ? (size_t)capture->samples : GW_SEGMENT_SAMPLES;
    buffer room = {.volts = malloc(count * sizeof *room.volts), .marks = malloc(count)};
    bool done = (room.volts && room.marks) || gw_error_memory(error);
    if (done && !whole) {
        done = segments_measure(capture, index, options, room, out, error);
    } else if (done) {
        done = gw_capture_fetch(capture, index, 0, count, room.volts, room.marks, error);
        gw_block block = block_of(capture, &capture->channels[index], room.volts, room.marks, count);
        done = done && gw_measure_block(&block, options, out, error);
    }
    free(room.volts);
    free(room.marks);
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
