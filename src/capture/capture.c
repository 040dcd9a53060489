#include "gainwalk/capture.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "capture/room.h"
#include "capture/store.h"

const char *const gw_capture_extensions[] = {".csv", ".txt", ".wav",  ".w64",  ".rf64", ".bw64", ".tsv",
                                             ".dat", ".aif", ".aiff", ".flac", ".caf",  ".au",   NULL};

/* ---- making and freeing ------------------------------------------------------------------------- */

gw_capture *gw_capture_new(const char *path, gw_capture_kind kind, gw_error *error) {
    gw_capture *capture = calloc(1, sizeof *capture);
    gw_capture_store *store = calloc(1, sizeof *store);
    gw_arena *arena = gw_arena_new();
    char *file = arena != NULL ? gw_arena_string(arena, path) : NULL;
    if (capture == NULL || store == NULL || file == NULL) {
        free(capture);
        free(store);
        gw_arena_free(arena);
        gw_error_memory(error);
        return NULL;
    }
    omp_init_lock(&store->fetching);
    store->arena = arena;
    store->scale = 1;
    capture->store = store;
    capture->file = file;
    capture->kind = kind;
    capture->simultaneous = true;
    return capture;
}

bool gw_capture_widen(gw_capture *capture, size_t count, const char *unit, gw_error *error) {
    gw_capture_store *store = capture->store;
    capture->channels = gw_arena_array(store->arena, count, sizeof *capture->channels);
    store->values = gw_arena_array(store->arena, count, sizeof *store->values);
    store->marks = gw_arena_array(store->arena, count, sizeof *store->marks);
    store->packed = gw_arena_array(store->arena, count, sizeof *store->packed);
    if (capture->channels == NULL || store->values == NULL || store->marks == NULL || store->packed == NULL)
        return gw_error_memory(error);
    capture->channel_count = store->channel_count = count;
    for (size_t i = 0; i < count; i++) {
        capture->channels[i].number = (int)i + 1;
        capture->channels[i].unit = unit;
        store->packed[i] = SIZE_MAX;
    }
    return true;
}

void gw_capture_remark(gw_capture *capture, const char *format, ...) {
    char text[512];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    for (size_t i = 0; i < capture->remarks.count; i++)
        if (strcmp(capture->remarks.items[i], text) == 0)
            return;
    gw_strings_add(&capture->remarks, text);
}

static void free_store(gw_capture_store *store) {
    for (size_t i = 0; i < store->channel_count; i++) {
        gw_room_free(store->values[i]);
        gw_room_free(store->marks[i]);
    }
    gw_packs_free(store->packs);
    gw_wave_close(store->wave);
    free(store->block);
    omp_destroy_lock(&store->fetching);
    gw_arena_free(store->arena);
    free(store);
}

void gw_capture_free(gw_capture *capture) {
    if (capture == NULL)
        return;
    gw_strings_free(&capture->ignored);
    gw_strings_free(&capture->remarks);
    free_store(capture->store);
    free(capture);
}

/* ---- reading ------------------------------------------------------------------------------------ */

static bool has_wave_name(const char *path) {
    static const char *const endings[] = {".wav", ".w64", ".rf64", ".bw64", ".wave", NULL};
    const char *dot = strrchr(gw_path_name(path), '.');
    for (size_t i = 0; dot != NULL && endings[i] != NULL; i++)
        if (strcasecmp(dot, endings[i]) == 0)
            return true;
    return false;
}

/* Content before name; but what is named as WAV and is none is never tried as text. */
static bool read_open(gw_input *input, const char *path, const gw_capture_options *options, gw_capture **out,
                      gw_error *error) {
    unsigned char head[24];
    size_t length = gw_input_read(input, 0, head, sizeof head);
    gw_wave_family family = gw_wave_family_of(head, length);
    if (input->size == 0)
        return gw_error_set(error, path, 0, "an empty file, no samples");
    if (family == GW_WAVE_NONE && has_wave_name(path))
        return gw_error_set(error, path, 0, "named like a WAV file, but it is none: no RIFF heading");
    *out = gw_capture_new(path, family == GW_WAVE_NONE ? GW_CAPTURE_TEXT : GW_CAPTURE_WAV, error);
    if (*out == NULL)
        return false;
    input->path = (*out)->file;
    return family == GW_WAVE_NONE ? gw_capture_read_text(*out, input, options, error)
                                  : gw_capture_read_wave(*out, input, family, options, error);
}

/* Whether something to be told, or a step, was lost on the way. */
static bool lacks_memory(const gw_capture *capture) {
    /* NOLINTNEXTLINE(clang-analyzer-core.NullDereference): the error functions always return false */
    return capture->remarks.failed || capture->ignored.failed || capture->store->short_of_memory ||
           gw_arena_failed(capture->store->arena);
}

bool gw_capture_read(const char *path, const gw_capture_options *options, gw_capture **out, gw_error *error) {
    static const gw_capture_options nothing;
    gw_input input;
    *out = NULL;
    if (!gw_input_open(&input, path, error))
        return false;
    bool right = read_open(&input, path, options != NULL ? options : &nothing, out, error);
    right = gw_input_good(&input, error) && right;
    gw_input_close(&input);
    if (right && !lacks_memory(*out))
        return true;
    if (right)
        gw_error_memory(error);
    gw_capture_free(*out);
    *out = NULL;
    return false;
}

/* ---- samples ------------------------------------------------------------------------------------ */

/* One channel of a file that is read by itself. */
static bool fetch_plain(const gw_capture_store *store, size_t index, uint64_t first, size_t count, double *values,
                        unsigned char *marks, gw_error *error) {
    bool is_float = gw_wave_about(store->wave)->is_float;
    if (!gw_wave_read_channel(store->wave, index, first, count, is_float ? 1 : store->scale, values, error))
        return false;
    if (is_float)
        gw_wave_column(values, 1, 0, count, true, store->scale, values, marks);
    else if (marks != NULL)
        memset(marks, GW_SAMPLE_PRESENT, count);
    return true;
}

/* By the library: it stands at one place of the file, and so does the block. */
static bool fetch_streamed(const gw_capture *capture, size_t index, uint64_t first, size_t count, double *values,
                           unsigned char *marks, gw_error *error) {
    gw_capture_store *store = capture->store;
    size_t stride = store->channel_count;
    while (count > 0) {
        size_t now = count < store->block_frames ? count : store->block_frames;
        if (!gw_wave_read(store->wave, first, now, store->block, error))
            return false;
        gw_wave_column(store->block, stride, index, now, gw_wave_about(store->wave)->is_float, store->scale, values,
                       marks);
        values += now;
        marks = marks != NULL ? marks + now : NULL;
        first += now;
        count -= now;
    }
    return true;
}

const double *gw_store_look(const gw_capture_store *store, size_t index, size_t first, size_t count, double *room) {
    if (store->packed[index] == SIZE_MAX)
        return store->values[index] + first;
    gw_packs_fetch(store->packs, store->packed[index], store->values[index], first, count, room);
    return room;
}

/* Rows as they stand in the file. */
static bool fetch_rows(const gw_capture *capture, size_t index, uint64_t first, size_t count, double *values,
                       unsigned char *marks, gw_error *error) {
    const gw_capture_store *store = capture->store;
    if (store->wave != NULL && gw_wave_is_plain(store->wave))
        return fetch_plain(store, index, first, count, values, marks, error);
    if (store->wave != NULL) {
        omp_set_lock(&capture->store->fetching);
        bool done = fetch_streamed(capture, index, first, count, values, marks, error);
        omp_unset_lock(&capture->store->fetching);
        return done;
    }
    const double *from = gw_store_look(store, index, (size_t)first, count, values);
    if (from != values) {
        memcpy(values, from, count * sizeof *values);
        gw_room_forget(store->values[index], (size_t)first * sizeof *values, count * sizeof *values);
    }
    if (marks != NULL && store->marks[index] != NULL)
        memcpy(marks, store->marks[index] + first, count);
    else if (marks != NULL)
        memset(marks, GW_SAMPLE_PRESENT, count);
    gw_room_forget(store->marks[index], (size_t)first, count);
    return gw_packs_good(store->packs, error);
}

/* Rows of a channel that are looked at together for those that hold its values. */
enum { THIN_ROWS = 4096 };

static bool fetch_thin(const gw_capture *capture, size_t index, uint64_t first, size_t count, double *values,
                       unsigned char *marks, gw_error *error) {
    const gw_channel *channel = &capture->channels[index];
    size_t every = (size_t)channel->every, at_once = every < THIN_ROWS ? THIN_ROWS / every : 1;
    double rows[THIN_ROWS] = {0};
    unsigned char row_marks[THIN_ROWS] = {0};
    for (size_t done = 0, some; done < count; done += some) {
        some = count - done < at_once ? count - done : at_once;
        uint64_t row = channel->offset + (first + done) * channel->every;
        if (!fetch_rows(capture, index, row, (some - 1) * every + 1, rows, marks ? row_marks : NULL, error))
            return false;
        for (size_t k = 0; k < some; k++) {
            values[done + k] = rows[k * every];
            if (marks)
                marks[done + k] = row_marks[k * every];
        }
    }
    return true;
}

bool gw_capture_fetch(const gw_capture *capture, size_t index, uint64_t first, size_t count, double *values,
                      unsigned char *marks, gw_error *error) {
    if (index >= capture->channel_count || first > capture->samples || count > capture->samples - first)
        return gw_error_set(error, capture->file, 0,
                            "samples %llu to %llu of channel %zu asked for, there are %llu of "
                            "%zu channels",
                            (unsigned long long)first, (unsigned long long)(first + count), index + 1,
                            (unsigned long long)capture->samples, capture->channel_count);
    if (capture->channels[index].every > 1)
        return fetch_thin(capture, index, first, count, values, marks, error);
    return fetch_rows(capture, index, first, count, values, marks, error);
}

/* ---- channels by name --------------------------------------------------------------------------- */

static bool find_channel(const gw_capture *capture, const char *which, size_t *index) {
    for (int round = 0; round < 2; round++)
        for (size_t i = 0; i < capture->channel_count; i++) {
            const char *name = capture->channels[i].name;
            if (name != NULL && (round == 0 ? strcmp(name, which) == 0 : strcasecmp(name, which) == 0)) {
                *index = i;
                return true;
            }
        }
    return false;
}

/* Fills the error with the channels there are. */
static bool no_such_channel(const gw_capture *capture, const char *which, gw_error *error) {
    gw_text list = {0};
    for (size_t i = 0; i < capture->channel_count && list.length < 300; i++) {
        const gw_channel *channel = &capture->channels[i];
        gw_text_printf(&list, "%s%d", i > 0 ? ", " : "", channel->number);
        if (channel->name != NULL)
            gw_text_printf(&list, " '%s'", channel->name);
    }
    gw_error_set(error, capture->file, 0, "no channel '%s'; there %s %s", which,
                 capture->channel_count == 1 ? "is only" : "are", gw_text_string(&list));
    gw_text_free(&list);
    return false;
}

bool gw_capture_channel(const gw_capture *capture, const char *which, size_t *index, gw_error *error) {
    *index = 0;
    if (which == NULL || *which == '\0')
        return true;
    /* a number is a channel's place, even where the heading has numbers for names */
    if (strspn(which, "0123456789") == strlen(which) && strlen(which) < 10) {
        unsigned long number = strtoul(which, NULL, 10);
        if (number >= 1 && number <= capture->channel_count) {
            *index = number - 1;
            return true;
        }
    }
    return find_channel(capture, which, index) || no_such_channel(capture, which, error);
}
