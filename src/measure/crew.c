#include "measure/crew.h"

#include "measure/shelf.h"
#include "measure/stretches.h"

#include <pthread.h>
#include <stdlib.h>

/* One channel on its way. */
typedef struct channel {
    gw_track track;
    gw_crew_job *job;
    gw_segments *all;
    uint64_t *ends;
    gw_stretch *stretches;
    size_t count, begun, gathered; /* stretches */
    bool known;                    /* the hint */
    bool gathering;                /* by one thread at a time */
} channel;

/* All of them; the lock is held by whoever reads or changes this, but for what a unit in hand is of. */
typedef struct crew {
    pthread_mutex_t lock;
    pthread_cond_t changed;
    channel *channels;
    size_t count, open, open_most; /* open: stretches begun and not gathered */
    const gw_measure_options *options;
    gw_error failed; /* memory that is out: all ends */
} crew;

/* What a thread does next: a unit of a stretch, or stretches to gather, up to `to`. */
typedef struct task {
    crew *of;
    channel *channel;
    gw_stretch *stretch; /* NULL: gather */
    size_t to;
    gw_unit unit;
} task;

/* ---- what to do next ---------------------------------------------------------------------------------- */

static bool all_done(const crew *c) {
    for (size_t k = 0; k < c->count; k++)
        if (c->channels[k].gathered < c->channels[k].count)
            return false;
    return true;
}

static bool take_gathering(channel *w, task *out) {
    size_t to = w->gathered;
    while (to < w->begun && w->stretches[to].phase == GW_STRETCH_DONE)
        to++;
    if (w->gathering || to == w->gathered)
        return false;
    w->gathering = true;
    out->channel = w;
    out->stretch = NULL;
    out->to = to;
    return true;
}

static bool take_unit(channel *w, bool fits, task *out) {
    for (size_t k = w->gathered; k < w->begun; k++)
        if (gw_stretch_fits(&w->stretches[k]) == fits && gw_stretch_give(&w->stretches[k], &out->unit)) {
            out->channel = w;
            out->stretch = &w->stretches[k];
            return true;
        }
    return false;
}

/* The first stretch is the first segment, which those wait for that begin from what it holds. */
static bool take_new(crew *c, channel *w, task *out) {
    uint64_t from = w->begun > 0 ? w->ends[w->begun - 1] : 0;
    if (w->begun == w->count || (from >= gw_hinted_from(&w->track) && !w->known) || c->open == c->open_most)
        return false;
    if (!gw_stretch_begin(&w->stretches[w->begun], from, w->ends[w->begun], &c->failed))
        return false;
    w->begun++;
    c->open++;
    return take_unit(w, true, out);
}

static bool take_any(crew *c, task *out) {
    for (size_t k = 0; k < c->count; k++)
        if (take_gathering(&c->channels[k], out))
            return true;
    for (size_t k = 0; k < c->count; k++)
        if (take_unit(&c->channels[k], true, out))
            return true;
    for (size_t k = 0; k < c->count; k++)
        if (take_new(c, &c->channels[k], out))
            return true;
    for (size_t k = 0; k < c->count; k++)
        if (take_unit(&c->channels[k], false, out))
            return true;
    return false;
}

/* ---- doing it ----------------------------------------------------------------------------------------- */

static void hint_known(void *to, gw_hint hint) {
    task *t = to;
    pthread_mutex_lock(&t->of->lock);
    t->channel->track.hint = hint;
    t->channel->known = true;
    pthread_cond_broadcast(&t->of->changed);
    pthread_mutex_unlock(&t->of->lock);
}

static void gather(task *t, gw_desk *desk) {
    channel *w = t->channel;
    gw_error *error = &w->job->error;
    for (size_t k = w->gathered; k < t->to; k++) {
        if (!error->set)
            gw_stretch_gather(&w->stretches[k], &w->track, desk, w->all, error);
        gw_stretch_end(&w->stretches[k]);
    }
    if (t->to == w->count && !error->set && gw_segments_finish(w->all, w->track.whole, error))
        gw_lasting_tell(w->track.capture, w->track.index, gw_segments_lasting(w->all), w->track.whole, error);
}

static void gathered(task *t) {
    channel *w = t->channel;
    t->of->open -= t->to - w->gathered;
    w->gathered = t->to;
    w->gathering = false;
    if (w->job->error.set) /* what is not begun need not be */
        w->count = w->begun;
}

/* What a search prepared is large, and most of those to come need none. */
static void shelf_renew(const channel *w, gw_desk *desk) {
    if (w->track.parts <= (size_t)2 * GW_STRETCH_MAX)
        return;
    gw_shelf_free(desk->shelf);
    desk->shelf = gw_shelf_new();
}

static void task_do(task *t, gw_desk *desk) {
    if (t->stretch == NULL) {
        gather(t, desk);
        return;
    }
    gw_unit_do(&t->unit, &t->channel->track, t->stretch, desk, hint_known, t);
    if (t->stretch->from < gw_hinted_from(&t->channel->track))
        shelf_renew(t->channel, desk);
}

static void task_end(task *t) {
    if (t->stretch == NULL)
        gathered(t);
    else
        gw_stretch_take(t->stretch, &t->unit);
    pthread_cond_broadcast(&t->of->changed);
}

/* Any channel of several segments. */
static const gw_track *track_of(const crew *c) {
    size_t k = 0;
    while (c->channels[k].track.parts == 0)
        k++;
    return &c->channels[k].track;
}

/* Nothing is to be done until others are: once, what the first fit will ask for is prepared meanwhile. */
static void wait_busy(crew *c, gw_desk *desk, bool *prepared) {
    const gw_track *track = track_of(c);
    if (*prepared) {
        pthread_cond_wait(&c->changed, &c->lock);
        return;
    }
    *prepared = true;
    pthread_mutex_unlock(&c->lock);
    gw_psd_prepare(desk->shelf, (size_t)(track->capture->samples / track->parts));
    pthread_mutex_lock(&c->lock);
}

/* One thread's share. */
static void work_along(crew *c) {
    gw_error memory = {0};
    bool prepared = false;
    gw_desk desk;
    gw_desk_make(&desk, GW_SEGMENT_SAMPLES, c->options, &memory);
    pthread_mutex_lock(&c->lock);
    if (memory.set)
        c->failed = memory;
    while (!c->failed.set && !all_done(c)) {
        task t = {.of = c};
        if (!take_any(c, &t)) {
            if (!c->failed.set)
                wait_busy(c, &desk, &prepared);
            continue;
        }
        prepared = true; /* or it will be, by this */
        pthread_mutex_unlock(&c->lock);
        task_do(&t, &desk);
        pthread_mutex_lock(&c->lock);
        task_end(&t);
    }
    pthread_cond_broadcast(&c->changed);
    pthread_mutex_unlock(&c->lock);
    gw_desk_end(&desk);
}

/* ---- all of it ---------------------------------------------------------------------------------------- */

bool gw_crew_takes(const gw_crew_job *job) {
    return job->capture->samples > GW_SEGMENT_SAMPLES;
}

/* A channel of one piece has no stretches: it is done. */
static bool channel_begin(channel *w, const gw_measure_options *options, gw_crew_job *job) {
    const gw_capture *capture = job->capture;
    uint64_t parts = (capture->samples + GW_SEGMENT_SAMPLES - 1) / GW_SEGMENT_SAMPLES;
    *w = (channel){.job = job};
    if (!gw_crew_takes(job))
        return true;
    w->track =
        (gw_track){.capture = capture, .index = job->index, .options = options, .whole = job->out, .parts = parts};
    w->all = gw_segments_new(capture->samples, capture->rate_hz, &job->error);
    w->ends = gw_stretch_ends(parts, &w->count);
    w->stretches = w->ends ? calloc(w->count, sizeof *w->stretches) : NULL;
    return (w->all && w->stretches) || gw_error_memory(&job->error);
}

static void channel_end(channel *w) {
    for (size_t k = w->gathered; k < w->begun; k++)
        gw_stretch_end(&w->stretches[k]);
    gw_segments_free(w->all);
    free(w->stretches);
    free(w->ends);
}

static bool measure(crew *c, gw_crew_job *jobs, size_t count) {
    int threads = c->options && c->options->jobs > 1 ? c->options->jobs : 1;
    bool done = true;
    /* alone, a thread does one stretch after the other: what its looks share is made once */
    c->open_most = threads > 1 ? 2 * (size_t)threads + 4 : 1;
    for (; c->count < count && done; c->count++)
        done = channel_begin(&c->channels[c->count], c->options, &jobs[c->count]);
    if (done) {
#pragma omp parallel num_threads(threads)
        work_along(c);
    }
    for (size_t k = 0; k < c->count; k++) {
        if (c->failed.set && !jobs[k].error.set)
            jobs[k].error = c->failed;
        done = done && !jobs[k].error.set;
        channel_end(&c->channels[k]);
    }
    return done;
}

bool gw_crew_measure(const gw_measure_options *options, gw_crew_job *jobs, size_t count) {
    crew c = {.lock = PTHREAD_MUTEX_INITIALIZER,
              .changed = PTHREAD_COND_INITIALIZER,
              .channels = calloc(count, sizeof *c.channels),
              .options = options};
    if (!c.channels)
        return gw_error_memory(&jobs[0].error);
    bool done = measure(&c, jobs, count);
    free(c.channels);
    return done;
}
