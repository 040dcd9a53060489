/* From a capture to readings. */
#include "gainwalk/measure.h"

#include "measure/segments.h"
#include "measure/stretches.h"

#include <stdlib.h>

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

static bool samples_measure(const gw_capture *capture, size_t index, const gw_measure_options *options,
                            gw_readings *out, gw_error *error) {
    if (capture->samples > GW_SEGMENT_SAMPLES)
        return gw_stretches_measure(capture, index, options, out, error);
    size_t count = (size_t)capture->samples;
    gw_desk desk;
    bool done = gw_desk_make(&desk, count, options, error) &&
                gw_capture_fetch(capture, index, 0, count, desk.volts, desk.marks, error);
    gw_block block = gw_desk_block(capture, &capture->channels[index], &desk, count);
    done = done && gw_measure_block(&block, options, out, error);
    gw_desk_end(&desk);
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
