/* From a capture to readings. */
#include "gainwalk/measure.h"

#include "measure/crew.h"
#include "measure/lasting.h"
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

/* A capture that is one piece. */
static bool piece_measure(const gw_capture *capture, size_t index, const gw_measure_options *options, gw_readings *out,
                          gw_error *error) {
    size_t count = (size_t)capture->samples;
    gw_desk desk;
    bool done = gw_desk_make(&desk, count, options, error) &&
                gw_capture_fetch(capture, index, 0, count, desk.volts, desk.marks, error);
    gw_block block = gw_desk_block(capture, &capture->channels[index], &desk, count);
    done = done && gw_measure_block(&block, options, out, error) &&
           gw_lasting_of_piece(capture, index, &block, out, error);
    gw_desk_end(&desk);
    return done;
}

static bool thin_tell(const gw_channel *channel, gw_readings *out, gw_error *error) {
    gw_text text = {0};
    gw_text_printf(&text, "channel %d: a value in one row of %llu only, as where channels are taken in turn",
                   channel->number, (unsigned long long)channel->every);
    bool done = gw_strings_add(&out->remarks, gw_text_string(&text)) && !text.failed;
    gw_text_free(&text);
    return done || gw_error_memory(error);
}

/* Those of one piece, each by itself, so many at a time as there are threads. */
static void pieces_measure(const gw_measure_options *options, gw_crew_job *jobs, size_t count) {
    int threads = options && options->jobs > 1 ? options->jobs : 1;
#pragma omp parallel for schedule(dynamic) num_threads(count < (size_t)threads ? (int)count : threads)
    for (size_t k = 0; k < count; k++)
        if (!gw_crew_takes(&jobs[k]))
            piece_measure(jobs[k].capture, jobs[k].index, options, jobs[k].out, &jobs[k].error);
}

static bool job_begin(const gw_capture *capture, size_t index, const gw_measure_options *options, gw_crew_job *job) {
    job->index = index;
    if (!measurable(capture, index, &job->error) || !gw_capture_thin(capture, index, &job->thin, &job->error))
        return false;
    job->capture = job->thin.channels ? &job->thin : capture;
    job->out = gw_readings_new(&job->error);
    if (!job->out)
        return false;
    job->out->dc_hidden = options && options->ac_coupled;
    const gw_channel *channel = &job->capture->channels[index];
    return source_fill(job->capture, channel, job->out, &job->error) &&
           (!job->thin.channels || thin_tell(channel, job->out, &job->error));
}

/* Measures the channels from `first` on: the readings of those before the one that fails first go to `out`. */
static bool channels_measure(const gw_capture *capture, size_t first, size_t count, const gw_measure_options *options,
                             gw_crew_job *jobs, gw_readings **out, gw_error *error) {
    bool done = true;
    for (size_t k = 0; k < count && done; k++)
        done = job_begin(capture, first + k, options, &jobs[k]);
    if (done && capture->samples > GW_SEGMENT_SAMPLES)
        gw_crew_measure(options, jobs, count);
    if (done)
        pieces_measure(options, jobs, count);
    for (size_t k = 0; k < count; k++) {
        if (jobs[k].error.set && error && !error->set)
            *error = jobs[k].error;
        done = done && !jobs[k].error.set;
        if (done)
            out[k] = jobs[k].out;
        else
            gw_readings_free(jobs[k].out);
        gw_capture_thin_free(&jobs[k].thin);
    }
    return done;
}

bool gw_measure_run(const gw_capture *capture, size_t channel, const gw_measure_options *options, gw_readings **out,
                    gw_error *error) {
    gw_crew_job job = {0};
    *out = NULL;
    return channels_measure(capture, channel, 1, options, &job, out, error);
}

bool gw_measure_all(const gw_capture *capture, const gw_measure_options *options, gw_readings **out, gw_error *error) {
    size_t count = capture->channel_count;
    gw_crew_job *jobs = calloc(count + 1, sizeof *jobs);
    for (size_t k = 0; k < count; k++)
        out[k] = NULL;
    if (!jobs)
        return gw_error_memory(error);
    bool done = channels_measure(capture, 0, count, options, jobs, out, error);
    free(jobs);
    return done;
}
