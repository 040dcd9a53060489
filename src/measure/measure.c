/* From a capture to readings. */
#include "gainwalk/measure.h"

#include "measure/block.h"

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

static bool block_measure(const gw_capture *capture, size_t index, const gw_measure_options *options, gw_readings *out,
                          gw_error *error) {
    const gw_channel *channel = &capture->channels[index];
    size_t count = (size_t)capture->samples;
    double *volts = malloc(count * sizeof *volts);
    unsigned char *marks = malloc(count);
    bool done = (volts && marks) || gw_error_memory(error);
    if (done)
        done = gw_capture_fetch(capture, index, 0, count, volts, marks, error);
    if (done) {
        gw_block block = {.volts = volts,
                          .marks = channel->missing || channel->overload ? marks : NULL,
                          .count = count,
                          .rate_hz = capture->rate_hz,
                          .step = channel->step,
                          .overload = (size_t)channel->overload,
                          .low_end = channel->low_end,
                          .high_end = channel->high_end};
        done = gw_measure_block(&block, options, out, error);
    }
    free(volts);
    free(marks);
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
        !block_measure(capture, channel, options, readings, error)) {
        gw_readings_free(readings);
        return false;
    }
    *out = readings;
    return true;
}
