#include "capture/wav.h"

#include "capture/pcm.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <dlfcn.h>
#include <sndfile.h>

enum { HEADING_MAX = 128, W64_RIFF = 40, W64_CHUNK = 24, PIECE = 48 << 10 };

/* ---- the library ----------------------------------------------------------------------------------
 *
 * It brings seven others with it, whose loading takes longer than all else that a start does, and most captures are
 * read without it. So it is loaded when a file asks for it, and stays. */

#define LIBRARY "libsndfile.so.1" /* the name of its interface, the same since its first stable version */

typedef struct sound_library {
    SNDFILE *(*open)(SF_VIRTUAL_IO *, int, SF_INFO *, void *);
    sf_count_t (*seek)(SNDFILE *, sf_count_t, int);
    sf_count_t (*read)(SNDFILE *, double *, sf_count_t);
    const char *(*fault)(SNDFILE *);
    int (*close)(SNDFILE *);
} sound_library;

static bool find_functions(void *handle, sound_library *library) {
    const struct {
        const char *name;
        void *place;
    } wanted[] = {{"sf_open_virtual", &library->open},
                  {"sf_seek", &library->seek},
                  {"sf_readf_double", &library->read},
                  {"sf_strerror", &library->fault},
                  {"sf_close", &library->close}};
    for (size_t i = 0; i < sizeof wanted / sizeof *wanted; i++) {
        void *found = dlsym(handle, wanted[i].name);
        if (found == NULL)
            return false;
        memcpy(wanted[i].place, &found, sizeof found); /* as POSIX has it: the language knows no cast for it */
    }
    return true;
}

static bool load_library(sound_library *library, const char *path, gw_error *error) {
    void *handle = dlopen(LIBRARY, RTLD_NOW | RTLD_LOCAL | RTLD_NODELETE);
    bool found = handle != NULL && find_functions(handle, library);
    if (handle != NULL)
        dlclose(handle); /* it stays all the same: the next file finds it there */
    return found || gw_error_set(error, path, 0, "cannot read this kind of audio file: '%s' cannot be loaded", LIBRARY);
}

/* ---- what the library sees ------------------------------------------------------------------------ */

/* A heading of ours, then the bytes of the file from `data_at` on. */
struct gw_wave {
    gw_input input;
    gw_wave_info info;
    sound_library library; /* where the file is not plain */
    SNDFILE *file;
    unsigned char heading[HEADING_MAX];
    size_t heading_length;
    uint64_t data_at, data_length;
    sf_count_t position; /* of the library, in the bytes it sees */
    uint64_t next_frame;
    bool plain; /* decoded here */
};

static sf_count_t seen_length(void *user) {
    const gw_wave *wave = user;
    return (sf_count_t)(wave->heading_length + wave->data_length);
}

static sf_count_t seen_seek(sf_count_t offset, int whence, void *user) {
    gw_wave *wave = user;
    sf_count_t from = whence == SEEK_CUR ? wave->position : whence == SEEK_END ? seen_length(user) : 0;
    if (offset < -from)
        return -1;
    wave->position = from + offset;
    return wave->position;
}

static sf_count_t seen_tell(void *user) {
    return ((gw_wave *)user)->position;
}

static sf_count_t seen_read(void *bytes, sf_count_t count, void *user) {
    gw_wave *wave = user;
    sf_count_t done = 0;
    if (count < 0 || wave->position >= seen_length(user))
        return 0;
    if (count > seen_length(user) - wave->position)
        count = seen_length(user) - wave->position;
    if ((size_t)wave->position < wave->heading_length) {
        size_t left = wave->heading_length - (size_t)wave->position;
        done = count < (sf_count_t)left ? count : (sf_count_t)left;
        memcpy(bytes, wave->heading + wave->position, (size_t)done);
    }
    uint64_t from = (uint64_t)(wave->position + done) - wave->heading_length;
    if (done < count)
        done +=
            (sf_count_t)gw_input_read(&wave->input, wave->data_at + from, (char *)bytes + done, (size_t)(count - done));
    wave->position += done;
    return done;
}

static sf_count_t seen_write(const void *bytes, sf_count_t count, void *user) {
    (void)bytes, (void)count, (void)user;
    return 0;
}

/* ---- the heading that the library gets ---------------------------------------------------------- */

typedef struct writer {
    unsigned char *bytes;
    size_t length;
    bool big;
} writer;

static void put(writer *w, uint64_t value, size_t count) {
    gw_put_little(w->bytes + w->length, value, count);
    for (size_t i = 0; w->big && i < count / 2; i++) {
        unsigned char *at = w->bytes + w->length, swapped = at[i];
        at[i] = at[count - 1 - i];
        at[count - 1 - i] = swapped;
    }
    w->length += count;
}

static void put_id(writer *w, const char *id) {
    memcpy(w->bytes + w->length, id, 4);
    w->length += 4;
}

static void put_format(writer *w, const gw_wave_format *f) {
    unsigned block = f->channels * f->bytes;
    put(w, f->tag, 2);
    put(w, f->channels, 2);
    put(w, 48000, 4); /* the rate is ours to know: the library would refuse odd ones */
    put(w, UINT64_C(48000) * block, 4);
    put(w, block, 2);
    put(w, UINT64_C(8) * f->bytes, 2);
}

static void put_w64_id(writer *w, const char *id, uint64_t size) {
    static const unsigned char tail[12] = {0xF3, 0xAC, 0xD3, 0x11, 0x8C, 0xD1, 0x00, 0xC0, 0x4F, 0x8E, 0xDB, 0x8A};
    put_id(w, id);
    memcpy(w->bytes + w->length, tail, sizeof tail);
    w->length += sizeof tail;
    put(w, size, 8);
}

/* A heading with 32-bit sizes where they suffice, else one with 64-bit sizes. */
static void write_heading(gw_wave *wave, const gw_chunks *chunks) {
    static const unsigned char w64_riff[16] = {'r',  'i',  'f',  'f',  0x2E, 0x91, 0xCF, 0x11,
                                               0xA5, 0xD6, 0x28, 0xDB, 0x04, 0xC1, 0x00, 0x00};
    writer w = {.bytes = wave->heading, .big = chunks->family == GW_WAVE_RIFX};
    if (wave->data_length < 0x7FFF0000U || w.big) {
        put_id(&w, w.big ? "RIFX" : "RIFF");
        put(&w, 36 + wave->data_length, 4);
        put_id(&w, "WAVE");
        put_id(&w, "fmt ");
        put(&w, 16, 4);
        put_format(&w, &chunks->format);
        put_id(&w, "data");
        put(&w, wave->data_length, 4);
    } else {
        memcpy(w.bytes, w64_riff, sizeof w64_riff);
        w.length = sizeof w64_riff;
        put(&w, W64_RIFF + W64_CHUNK + 16 + W64_CHUNK + wave->data_length, 8);
        put_w64_id(&w, "wave", 0);
        w.length -= 8; /* this id has no size */
        put_w64_id(&w, "fmt ", W64_CHUNK + 16);
        put_format(&w, &chunks->format);
        put_w64_id(&w, "data", W64_CHUNK + wave->data_length);
    }
    wave->heading_length = w.length;
}

/* ---- opening ------------------------------------------------------------------------------------ */

/* From the chunk list: the library is told what to see. */
static bool prepare_chunks(gw_wave *wave, gw_strings *remarks, gw_error *error) {
    gw_chunks chunks;
    if (!gw_chunks_read(&wave->input, &chunks, remarks, error))
        return false;
    const gw_wave_format *f = &chunks.format;
    wave->info = (gw_wave_info){.channels = f->channels,
                                .frames = chunks.frames,
                                .rate_hz = f->rate_hz,
                                .bits = f->bits,
                                .bytes = f->bytes,
                                .is_float = f->tag == GW_WAVE_FLOAT};
    wave->data_at = chunks.data_at;
    wave->data_length = chunks.frames * f->channels * f->bytes;
    if (chunks.family == GW_WAVE_RIFX && wave->data_length > 0xFFFF0000U)
        return gw_error_set(error, wave->input.path, 0, "broken WAV: more data than its sizes can tell");
    wave->plain = chunks.family != GW_WAVE_RIFX && gw_pcm_takes(f->bytes, wave->info.is_float);
    write_heading(wave, &chunks);
    return true;
}

/* From the library's own look at another container: plain samples only. */
static bool take_library_info(gw_wave *wave, const SF_INFO *info, gw_error *error) {
    static const struct {
        int subtype;
        unsigned bits;
        bool is_float;
    } plain[] = {{SF_FORMAT_PCM_S8, 8, false},  {SF_FORMAT_PCM_U8, 8, false},  {SF_FORMAT_PCM_16, 16, false},
                 {SF_FORMAT_PCM_24, 24, false}, {SF_FORMAT_PCM_32, 32, false}, {SF_FORMAT_FLOAT, 32, true},
                 {SF_FORMAT_DOUBLE, 64, true},  {SF_FORMAT_ALAC_16, 16, false}};
    const char *path = wave->input.path;
    for (size_t i = 0; i < sizeof plain / sizeof *plain; i++) {
        if ((info->format & SF_FORMAT_SUBMASK) != plain[i].subtype)
            continue;
        if (info->frames <= 0 || info->channels < 1 || info->channels > GW_WAVE_CHANNELS_MAX)
            return gw_error_set(error, path, 0, "no samples in the audio file");
        wave->info = (gw_wave_info){.channels = (unsigned)info->channels,
                                    .frames = (uint64_t)info->frames,
                                    .rate_hz = info->samplerate,
                                    .bits = plain[i].bits,
                                    .bytes = plain[i].bits / 8,
                                    .is_float = plain[i].is_float};
        return true;
    }
    return gw_error_set(error, path, 0,
                        "compressed audio: only plain integers and floating point are samples to measure");
}

static bool open_library(gw_wave *wave, gw_wave_family family, gw_error *error) {
    SF_VIRTUAL_IO io = {seen_length, seen_seek, seen_read, seen_write, seen_tell};
    SF_INFO info = {0};
    if (!load_library(&wave->library, wave->input.path, error))
        return false;
    wave->file = wave->library.open(&io, SFM_READ, &info, wave);
    if (wave->file == NULL)
        return gw_error_set(error, wave->input.path, 0, "cannot read audio file: %.200s", wave->library.fault(NULL));
    if (family == GW_WAVE_OTHER)
        return take_library_info(wave, &info, error);
    if ((unsigned)info.channels != wave->info.channels || (uint64_t)info.frames != wave->info.frames)
        return gw_error_set(error, wave->input.path, 0,
                            "cannot read WAV: %u channels of %llu samples expected, the "
                            "library finds %d of %lld",
                            wave->info.channels, (unsigned long long)wave->info.frames, info.channels,
                            (long long)info.frames);
    return true;
}

gw_wave *gw_wave_open(gw_input *input, gw_wave_family family, gw_strings *remarks, gw_error *error) {
    gw_wave *wave = calloc(1, sizeof *wave);
    if (wave == NULL) {
        gw_error_memory(error);
        gw_input_close(input);
        return NULL;
    }
    wave->input = *input;
    wave->data_length = input->size;
    bool right = family == GW_WAVE_OTHER || prepare_chunks(wave, remarks, error);
    right = right && (wave->plain || open_library(wave, family, error));
    if (!gw_input_good(&wave->input, error) || !right) {
        gw_wave_close(wave);
        return NULL;
    }
    return wave;
}

void gw_wave_close(gw_wave *wave) {
    if (wave == NULL)
        return;
    if (wave->file != NULL)
        wave->library.close(wave->file);
    gw_input_close(&wave->input);
    free(wave);
}

const gw_wave_info *gw_wave_about(const gw_wave *wave) {
    return &wave->info;
}

static bool too_short(const gw_wave *wave, uint64_t end, gw_error *error) {
    return gw_error_set(error, wave->input.path, 0,
                        "the file ends at sample %llu, %llu were promised (was it shortened "
                        "while being read?)",
                        (unsigned long long)end, (unsigned long long)wave->info.frames);
}

/* ---- plain samples -------------------------------------------------------------------------------- */

bool gw_wave_is_plain(const gw_wave *wave) {
    return wave->plain;
}

/* Every `stride`-th sample of the frames from channel `index` on. */
static bool read_plain(const gw_wave *wave, size_t index, size_t stride, uint64_t first, size_t count, double scale,
                       double *values, gw_error *error) {
    unsigned char piece[PIECE + GW_PCM_PAD];
    gw_input input = wave->input; /* its own note of a failure: others may be reading */
    size_t bytes = wave->info.bytes, frame = bytes * wave->info.channels, samples = wave->info.channels / stride;
    while (count > 0) {
        size_t frames = count < PIECE / frame ? count : PIECE / frame;
        size_t got = gw_input_read(&input, wave->data_at + first * frame, piece, frames * frame) / frame;
        if (!gw_input_good(&input, error))
            return false;
        if (got < frames)
            return too_short(wave, first + got, error);
        gw_pcm_decode(piece + index * bytes, (unsigned)bytes, wave->info.is_float, stride, frames * samples, scale,
                      values);
        values += frames * samples;
        first += frames;
        count -= frames;
    }
    return true;
}

bool gw_wave_read_channel(const gw_wave *wave, size_t index, uint64_t first, size_t count, double scale, double *values,
                          gw_error *error) {
    return read_plain(wave, index, wave->info.channels, first, count, scale, values, error);
}

/* ---- by the library ------------------------------------------------------------------------------- */

bool gw_wave_read(gw_wave *wave, uint64_t first, size_t count, double *values, gw_error *error) {
    if (wave->plain)
        return read_plain(wave, 0, 1, first, count, 1, values, error);
    if (first != wave->next_frame && wave->library.seek(wave->file, (sf_count_t)first, SEEK_SET) != (sf_count_t)first)
        return gw_error_set(error, wave->input.path, 0, "cannot go to sample %llu: %.200s", (unsigned long long)first,
                            wave->library.fault(wave->file));
    sf_count_t got = wave->library.read(wave->file, values, (sf_count_t)count);
    wave->next_frame = got > 0 ? first + (uint64_t)got : UINT64_MAX;
    if (!gw_input_good(&wave->input, error))
        return false;
    return got == (sf_count_t)count || too_short(wave, first + (uint64_t)(got > 0 ? got : 0), error);
}
