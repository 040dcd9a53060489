/* gainwalk watch: which point a file belongs to, and the chain judged again. */
#include "watch.h"

#include <stdlib.h>
#include <string.h>

/* How often a steady file that cannot be read is tried again before that is believed. */
enum { TRIES = 3 };
static const double steady_s = 0.4;

static gw_point *point_at(const gw_chain *chain, size_t index) {
    return index < chain->point_count ? &chain->points[index] : &chain->rails[index - chain->point_count];
}

static size_t point_total(const gw_chain *chain) {
    return chain->point_count + chain->rail_count;
}

static gw_point *find_point(const gw_chain *chain, const char *name) {
    for (size_t i = 0; i < point_total(chain); i++)
        if (strcmp(point_at(chain, i)->name, name) == 0)
            return point_at(chain, i);
    return NULL;
}

/* Captures that the chain states are looked at wherever they are. */
static bool look_at_stated(watch *of, const gw_chain *chain, gw_error *error) {
    for (size_t i = 0; i < point_total(chain); i++) {
        const gw_point *at = point_at(chain, i);
        if (at->capture != NULL && at->capture_stated && !gw_folder_add(&of->files, at->capture, error))
            return false;
    }
    return true;
}

/* The chain as it is now, with what was assigned. */
static bool load(watch *of, gw_chain **out, gw_error *error) {
    if (!gw_chain_load(of->chain_path, out, error))
        return false;
    bool fine = look_at_stated(of, *out, error);
    for (size_t i = 0; fine && i < of->assigned_count; i++) {
        gw_point *point = find_point(*out, of->assigned[i].point);
        if (point == NULL)
            continue;
        point->capture = gw_arena_string((*out)->arena, of->assigned[i].path);
        fine = point->capture != NULL || gw_error_memory(error);
    }
    if (!fine) {
        gw_chain_free(*out);
        *out = NULL;
    }
    return fine;
}

/* A capture that is not there yet, or not complete, is a point not probed yet. */
static void leave_out_unfinished(const watch *of, gw_chain *chain) {
    for (size_t i = 0; i < point_total(chain); i++) {
        gw_point *point = point_at(chain, i);
        const folder_file *file = point->capture != NULL ? gw_folder_find(&of->files, point->capture) : NULL;
        if (file == NULL || !file->judged)
            point->capture = NULL;
    }
}

bool gw_cli_watch_judge(watch *of, gw_error *error) {
    gw_chain *chain = NULL;
    job *judged = NULL;
    file_stamp own = gw_cli_stamp(of->chain_path);
    if (!load(of, &chain, error))
        return false;
    leave_out_unfinished(of, chain);
    if (!gw_cli_job_again(chain, &own, of->judged, of->jobs, &judged, error))
        return false;
    of->judged = judged;
    return true;
}

/* Name of the point or rail that a file is the capture of; NULL if there is none. */
static const char *owner(const watch *of, const gw_chain *chain, const folder_file *file) {
    for (size_t i = 0; i < point_total(chain); i++) {
        const gw_point *at = point_at(chain, i);
        if (at->capture != NULL && gw_folder_find(&of->files, at->capture) == file)
            return at->name;
    }
    return NULL;
}

bool gw_cli_watch_begin(watch *of, gw_error *error) {
    gw_chain *chain = NULL;
    if (!load(of, &chain, error) || !gw_folder_look(&of->files, 0, error)) {
        gw_chain_free(chain);
        return false;
    }
    for (size_t i = 0; i < of->files.count; i++) {
        folder_file *at = &of->files.files[i];
        bool ours = owner(of, chain, at) != NULL || gw_folder_find(&of->files, of->chain_path) == at;
        at->judged = at->used = ours && at->size > 0;
    }
    gw_chain_free(chain);
    return gw_cli_watch_judge(of, error);
}

/* Whether a file is a capture. One that can't be read may still be on its way: it gets a few more chances. */
static bool readable(folder_file *file, double now_s, bool *again, gw_error *error) {
    gw_capture *capture = NULL;
    bool read = gw_capture_read(file->path, NULL, &capture, error);
    gw_capture_free(capture);
    *again = !read && ++file->tries < TRIES;
    if (*again) {
        file->judged = false;
        file->since_s = now_s;
    }
    return read;
}

static bool assign(watch *of, const char *point, const char *path, gw_error *error) {
    for (size_t i = 0; i < of->assigned_count; i++)
        if (strcmp(of->assigned[i].point, point) == 0) {
            char *copy = strdup(path);
            if (copy == NULL)
                return gw_error_memory(error);
            free(of->assigned[i].path);
            of->assigned[i].path = copy;
            return true;
        }
    if (!GW_GROW(of->assigned, of->assigned_count, of->assigned_capacity))
        return gw_error_memory(error);
    assignment made = {.point = strdup(point), .path = strdup(path)};
    if (made.point == NULL || made.path == NULL) {
        free(made.point);
        free(made.path);
        return gw_error_memory(error);
    }
    of->assigned[of->assigned_count++] = made;
    return true;
}

/* What happened in a round: points with news, their files. */
typedef struct news {
    gw_strings points, paths;
    bool any;
} news;

static void tell(watch *of, news *what) {
    gw_text lines = {0};
    gw_error error = {0};
    if (!what->any)
        return;
    if (gw_cli_watch_judge(of, &error)) {
        for (size_t i = 0; i < what->points.count && i < what->paths.count; i++)
            gw_cli_watch_point(gw_cli_job_walk(of->judged), what->points.items[i], what->paths.items[i], &lines);
        gw_cli_watch_verdict(of, &lines);
    } else
        gw_cli_fail(&error);
    gw_text_free(&lines);
    gw_strings_free(&what->points);
    gw_strings_free(&what->paths);
    *what = (news){0};
}

static void add_news(news *to, const char *point, const char *path) {
    to->any = true;
    gw_strings_add(&to->points, point);
    gw_strings_add(&to->paths, path);
}

/* The point that was suggested; NULL where none is. */
static const char *suggested(const watch *of) {
    const gw_walk *walk = gw_cli_job_walk(of->judged);
    for (size_t i = 0; i < walk->next_count; i++)
        if (walk->next[i].point >= 0 || walk->next[i].rail >= 0)
            return walk->next[i].point >= 0 ? walk->points[walk->next[i].point].name
                                            : walk->rails[walk->next[i].rail].name;
    return NULL;
}

static bool is_capture_name(const char *path) {
    const char *dot = strrchr(gw_path_name(path), '.');
    for (size_t i = 0; dot != NULL && gw_capture_extensions[i] != NULL; i++)
        if (gw_word_equal(dot, gw_capture_extensions[i]))
            return true;
    return false;
}

/* A file that bears no point's name. */
static void take_stranger(watch *of, folder_file *file, news *what, double now_s) {
    gw_error error = {0};
    bool again = false;
    if (!of->by_order || file->early) {
        if (is_capture_name(file->path))
            gw_cli_note("belongs to no point: ", file->path);
        return;
    }
    if (!readable(file, now_s, &again, &error)) {
        if (!again && is_capture_name(file->path))
            gw_cli_fail(&error);
        return;
    }
    tell(of, what); /* the suggestion has to be the newest */
    const char *point = suggested(of);
    error = (gw_error){0};
    if (point == NULL)
        gw_cli_note("no point waits for it: ", file->path);
    else if (!assign(of, point, file->path, &error))
        gw_cli_fail(&error);
    else {
        file->used = true;
        add_news(what, point, file->path);
        tell(of, what);
    }
}

static void take(watch *of, const gw_chain *chain, folder_file *file, news *what, double now_s) {
    gw_error error = {0};
    bool again = false;
    file->judged = true;
    if (!file->there) {
        file->used = false;
        what->any = true;
        gw_cli_note("gone: ", file->path);
        return;
    }
    if (gw_folder_find(&of->files, of->chain_path) == file) {
        what->any = true;
        return;
    }
    const char *point = owner(of, chain, file);
    if (point == NULL)
        take_stranger(of, file, what, now_s);
    else if (readable(file, now_s, &again, &error) || !again) {
        file->used = true;
        add_news(what, point, file->path);
    }
}

void gw_cli_watch_round(watch *of, double now_s) {
    gw_error error = {0};
    gw_chain *chain = NULL;
    news what = {0};
    if (!gw_folder_look(&of->files, now_s, &error)) {
        gw_cli_fail(&error);
        return;
    }
    folder_file *file = gw_folder_complete(&of->files, now_s, steady_s);
    if (file == NULL)
        return;
    if (!load(of, &chain, &error)) {
        /* a chain file being edited: said once, tried again when it has changed */
        folder_file *own = gw_folder_find(&of->files, of->chain_path);
        if (own != NULL && !own->judged) {
            gw_cli_fail(&error);
            own->judged = true;
        }
        return;
    }
    for (; file != NULL; file = gw_folder_complete(&of->files, now_s, steady_s))
        take(of, chain, file, &what, now_s);
    tell(of, &what);
    gw_chain_free(chain);
}

void gw_cli_watch_free(watch *of) {
    for (size_t i = 0; i < of->assigned_count; i++) {
        free(of->assigned[i].point);
        free(of->assigned[i].path);
    }
    free(of->assigned);
    gw_folder_free(&of->files);
    gw_cli_job_free(of->judged);
}
