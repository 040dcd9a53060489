/* One chain: every capture read and measured, several at a time, then judged. */
#include "cli.h"

#include <stdlib.h>
#include <string.h>

/* What came of one point or rail. */
typedef struct station {
    const gw_point *point;
    file_stamp capture;    /* before it was read */
    struct station *owner; /* in an earlier job, whose readings these are; NULL where they are its own */
    gw_readings *readings, *reference;
    gw_response *response; /* of a sweep */
    gw_pair pair;          /* from the reference channel; not valid without one */
    gw_error error;        /* set: the capture could not be read */
    char why[800];
} station;

struct job {
    gw_chain *chain;
    station *stations; /* points, then rails */
    gw_probe *probes;  /* likewise */
    size_t count;
    file_stamp own; /* the chain file, before it was loaded */
    bool sine;      /* as the first point told it */
    gw_walk *walk;
};

file_stamp gw_cli_stamp(const char *path) {
    struct stat status;
    if (path == NULL || stat(path, &status) != 0)
        return (file_stamp){0};
    return (file_stamp){.device = status.st_dev,
                        .inode = status.st_ino,
                        .size = status.st_size,
                        .modified = status.st_mtim,
                        .changed = status.st_ctim};
}

static bool same_time(struct timespec a, struct timespec b) {
    return a.tv_sec == b.tv_sec && a.tv_nsec == b.tv_nsec;
}

/* Whether it is the same file with the same content; never where there is none. */
static bool unchanged(const file_stamp *a, const file_stamp *b) {
    return a->inode != 0 && a->device == b->device && a->inode == b->inode && a->size == b->size &&
           same_time(a->modified, b->modified) && same_time(a->changed, b->changed);
}

/* The point's channel: the one it names, else the first that is not the reference. */
static bool choose_channel(const gw_capture *capture, const gw_point *point, const size_t *reference, size_t *channel,
                           gw_error *error) {
    if (point->channel != NULL)
        return gw_capture_channel(capture, point->channel, channel, error);
    *channel = reference != NULL && *reference == 0 && capture->channel_count > 1 ? 1 : 0;
    return true;
}

/* Of a sweep: what came of it at the point, from the file that was played or from the reference channel. */
static bool respond(const gw_capture *capture, const gw_chain *chain, station *at, size_t channel,
                    const size_t *reference) {
    if (chain->stimulus.shape != GW_SHAPE_SWEEP || at->point->rail)
        return true;
    gw_capture *played = NULL;
    bool done = true;
    if (chain->sweep != NULL)
        done = gw_capture_read(chain->sweep, NULL, &played, &at->error) &&
               gw_response_run(played, 0, capture, channel, &at->response, &at->error);
    else if (reference != NULL)
        done = gw_response_run(capture, *reference, capture, channel, &at->response, &at->error);
    else
        done = gw_error_set(&at->error, capture->file, 0,
                            "has no channel '%s', which should hold the sweep that was fed in", chain->reference);
    gw_capture_free(played);
    if (done)
        gw_readings_take_response(at->readings, at->response);
    return done;
}

static bool measure_channels(const gw_capture *capture, const gw_chain *chain, station *at,
                             const gw_measure_options *options) {
    size_t channel = 0, reference = 0;
    gw_error absent = {0};
    bool has_reference = chain->reference != NULL && gw_capture_channel(capture, chain->reference, &reference, &absent);
    if (!choose_channel(capture, at->point, has_reference ? &reference : NULL, &channel, &at->error))
        return false;
    if (!gw_measure_run(capture, channel, options, &at->readings, &at->error) ||
        !respond(capture, chain, at, channel, has_reference ? &reference : NULL))
        return false;
    /* one channel alone cannot be its own reference, unless the chain says so by naming it */
    if (!has_reference || (reference == channel && at->point->channel == NULL))
        return true;
    if (!gw_measure_run(capture, reference, options, &at->reference, &at->error))
        return false;
    if (at->response != NULL)
        gw_readings_take_sweep(at->reference);
    bool lines = chain->stimulus.shape == GW_SHAPE_NOISE || chain->stimulus.shape == GW_SHAPE_TWO_TONE;
    return !lines || gw_measure_pair(capture, reference, channel, &at->pair, &at->error);
}

/* How the stations of a chain are measured. */
typedef struct manner {
    bool sine; /* the stimulus is one, though the chain doesn't say so */
    int jobs;
    gw_measure_kept *kept;
    const job *earlier; /* whose readings may be taken over; NULL */
} manner;

static gw_measure_options options_for(const gw_chain *chain, const gw_point *point, const manner *by) {
    gw_measure_options options = {.stimulus = chain->stimulus,
                                  .sine_expected = by->sine,
                                  .mains_hz = chain->mains_hz,
                                  .band_low_hz = chain->band_low_hz,
                                  .band_high_hz = chain->band_high_hz,
                                  .accuracy = point->accuracy,
                                  .zero_v = chain->zero_v,
                                  .ac_coupled = point->ac_coupled,
                                  .jobs = by->jobs,
                                  .kept = by->kept};
    if (point->rail)
        options.stimulus = (gw_stimulus){0};
    return options;
}

/* Takes over what an earlier job measured of the same file in the same way. */
static bool keep(const job *earlier, station *at) {
    for (size_t i = 0; earlier != NULL && i < earlier->count; i++) {
        station *was = &earlier->stations[i];
        if (strcmp(was->point->name, at->point->name) != 0 || was->point->rail != at->point->rail ||
            was->point->full_scale_v != at->point->full_scale_v || was->readings == NULL ||
            !unchanged(&was->capture, &at->capture))
            continue;
        at->owner = was;
        at->readings = was->readings;
        at->reference = was->reference;
        at->pair = was->pair;
        return true;
    }
    return false;
}

static void read_station(const gw_chain *chain, station *at, const manner *by) {
    const gw_point *point = at->point;
    /* NOLINTNEXTLINE(clang-analyzer-core.NullDereference): the error functions always return false */
    if (point->capture == NULL)
        return;
    at->capture = gw_cli_stamp(point->capture);
    if (keep(by->earlier, at))
        return;
    gw_capture_options how = {.probe = point->probe,
                              .full_scale_v = point->full_scale_v,
                              .rate_hz = point->rate_hz,
                              .no_ranges = true,
                              .jobs = by->jobs};
    gw_measure_options options = options_for(chain, point, by);
    gw_capture *capture = NULL;
    if (gw_capture_read(point->capture, &how, &capture, &at->error))
        measure_channels(capture, chain, at, &options);
    gw_capture_free(capture);
    if (at->error.set) {
        gw_readings_free(at->readings);
        at->readings = NULL;
        gw_error_print(&at->error, at->why, sizeof at->why);
    }
}

/* Volts at digital full scale, from the chain's capture of a known level. */
static bool calibrate(const gw_chain *chain, double *full_scale_v, gw_error *error) {
    double probe = chain->point_count > 0 ? chain->points[0].probe : 1;
    gw_capture_options how = {.probe = probe, .no_ranges = true};
    gw_capture *capture = NULL;
    gw_readings *readings = NULL;
    bool done =
        gw_capture_read(chain->calibrate, &how, &capture, error) && gw_measure_run(capture, 0, NULL, &readings, error);
    if (done && strcmp(capture->channels[0].unit, "FS") != 0)
        done = gw_error_set(error, chain->file, chain->calibrate_line,
                            "calibrate needs a capture without a volt scale, '%s' is in '%s'", chain->calibrate,
                            capture->channels[0].unit);
    const gw_reading *level = done ? &readings->values[GW_LEVEL] : NULL;
    if (done && (level->state != GW_READING_VALUE || !(level->value > 0)))
        done = gw_error_set(error, chain->file, chain->calibrate_line, "calibrate: no level in '%s': %s",
                            chain->calibrate, level->why != NULL ? level->why : "silence");
    if (done)
        *full_scale_v = chain->calibrate_v / level->value;
    gw_readings_free(readings);
    gw_capture_free(capture);
    return done;
}

static bool apply_calibration(gw_chain *chain, gw_error *error) {
    double full_scale_v = 0;
    if (chain->calibrate == NULL)
        return true;
    if (!calibrate(chain, &full_scale_v, error))
        return false;
    for (size_t i = 0; i < chain->point_count + chain->rail_count; i++) {
        gw_point *point = i < chain->point_count ? &chain->points[i] : &chain->rails[i - chain->point_count];
        if (point->full_scale_v <= 0)
            point->full_scale_v = full_scale_v;
    }
    return true;
}

static bool is_sine(const station *at) {
    const gw_readings *stimulus = at->reference != NULL ? at->reference : at->readings;
    return stimulus != NULL && stimulus->signal == GW_SIGNAL_SINE;
}

/* The first point's capture tells whether the stimulus is a sine, where the chain doesn't. So it comes first, the rest
 * side by side. */
static void read_all(job *of, const job *earlier, int jobs) {
    progress state = gw_cli_progress_begin(of->count, false);
    const gw_chain *chain = of->chain;
    manner how = {.jobs = jobs, .kept = gw_measure_kept_new(), .earlier = earlier};
    read_station(chain, &of->stations[0], &how);
    gw_cli_progress_step(&state);
    of->sine = chain->stimulus.shape == GW_SHAPE_UNKNOWN && is_sine(&of->stations[0]);
    int wide = gw_cli_side_by_side(of->count - 1, jobs);
    how.sine = of->sine;
    how.jobs = jobs / wide;
    if (how.jobs > 1)
        gw_cli_memory_share();
    if (earlier != NULL && earlier->sine != of->sine)
        how.earlier = NULL;
#pragma omp parallel for schedule(dynamic) num_threads(wide)
    for (size_t i = 1; i < of->count; i++) {
        read_station(chain, &of->stations[i], &how);
#pragma omp critical(progress)
        gw_cli_progress_step(&state);
    }
    gw_cli_progress_end(&state);
    gw_measure_kept_free(how.kept);
}

static gw_probe probe_of(const station *at) {
    gw_probe probe = {.same_file = at->point->capture,
                      .readings = at->readings,
                      .reference = at->reference,
                      .response = at->response,
                      .pair = at->pair.valid ? &at->pair : NULL};
    if (at->error.set) {
        probe.state = GW_PROBE_UNREADABLE;
        probe.why = at->why;
    } else if (at->readings != NULL)
        probe.state = GW_PROBE_READ;
    return probe;
}

static bool prepare(job *of, gw_error *error) {
    const gw_chain *chain = of->chain;
    of->count = chain->point_count + chain->rail_count;
    of->stations = calloc(of->count + 1, sizeof *of->stations);
    of->probes = calloc(of->count + 1, sizeof *of->probes);
    if (of->stations == NULL || of->probes == NULL)
        return gw_error_memory(error);
    for (size_t i = 0; i < of->count; i++)
        of->stations[i].point = i < chain->point_count ? &chain->points[i] : &chain->rails[i - chain->point_count];
    return true;
}

/* What was borrowed becomes the job's own. */
static void take_over(job *of) {
    for (size_t i = 0; i < of->count; i++) {
        station *at = &of->stations[i];
        if (at->owner != NULL)
            at->owner->readings = at->owner->reference = NULL;
        at->owner = NULL;
    }
}

bool gw_cli_job_again(gw_chain *chain, const file_stamp *own, job *earlier, int jobs, job **out, gw_error *error) {
    job *made = calloc(1, sizeof *made);
    *out = NULL;
    if (made == NULL) {
        gw_chain_free(chain);
        return gw_error_memory(error);
    }
    made->chain = chain;
    made->own = *own;
    /* a sweep's response rests on a third file too */
    bool keeps = earlier != NULL && unchanged(&earlier->own, own) && chain->stimulus.shape != GW_SHAPE_SWEEP;
    bool done = apply_calibration(chain, error) && prepare(made, error);
    if (done && made->count > 0)
        read_all(made, keeps ? earlier : NULL, jobs);
    for (size_t i = 0; done && i < made->count; i++)
        made->probes[i] = probe_of(&made->stations[i]);
    done = done && gw_walk_run(chain, made->probes, made->probes + chain->point_count, &made->walk, error);
    if (!done) {
        gw_cli_job_free(made);
        return false;
    }
    take_over(made);
    gw_cli_job_free(earlier);
    *out = made;
    return true;
}

bool gw_cli_job_run(gw_chain *chain, int jobs, job **out, gw_error *error) {
    return gw_cli_job_again(chain, &(file_stamp){0}, NULL, jobs, out, error);
}

void gw_cli_job_free(job *done) {
    if (done == NULL)
        return;
    gw_walk_free(done->walk);
    for (size_t i = 0; done->stations != NULL && i < done->count; i++) {
        if (done->stations[i].owner != NULL)
            continue;
        gw_readings_free(done->stations[i].readings);
        gw_readings_free(done->stations[i].reference);
        gw_response_free(done->stations[i].response);
    }
    free(done->stations);
    free(done->probes);
    gw_chain_free(done->chain);
    free(done);
}

const gw_walk *gw_cli_job_walk(const job *done) {
    return done->walk;
}
