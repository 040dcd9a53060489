#include "capture/chunks.h"

#include <stdio.h>
#include <string.h>

enum { CHUNKS_MAX = 65536, FORMAT_MAX = 40, W64_HEADING = 24 };

/* The last 12 bytes of the 16-byte ids of RIFF-like chunks, and of the first id. */
static const unsigned char w64_riff[16] = {'r',  'i',  'f',  'f',  0x2E, 0x91, 0xCF, 0x11,
                                           0xA5, 0xD6, 0x28, 0xDB, 0x04, 0xC1, 0x00, 0x00};
static const unsigned char w64_tail[12] = {0xF3, 0xAC, 0xD3, 0x11, 0x8C, 0xD1, 0x00, 0xC0, 0x4F, 0x8E, 0xDB, 0x8A};

typedef struct walk {
    gw_input *input;
    gw_chunks *out;
    gw_strings *remarks;
    uint64_t data_64; /* from ds64; 0 where there is none */
    bool wide;        /* RF64 or BW64 */
    bool has_format, has_data, open_end, cut;
    uint64_t announced, data_length; /* bytes */
} walk;

typedef struct chunk {
    char id[5];
    uint64_t at, size; /* of its content */
    uint64_t next;
} chunk;

void gw_put_little(unsigned char *bytes, uint64_t value, size_t count) {
    for (size_t i = 0; i < count; i++)
        bytes[i] = (unsigned char)(value >> (8 * i));
}

uint64_t gw_get_little(const unsigned char *bytes, size_t count) {
    uint64_t value = 0;
    for (size_t i = 0; i < count; i++)
        value |= (uint64_t)bytes[i] << (8 * i);
    return value;
}

static uint64_t get(const walk *w, const unsigned char *bytes, size_t count) {
    if (w->out->family != GW_WAVE_RIFX)
        return gw_get_little(bytes, count);
    uint64_t value = 0;
    for (size_t i = 0; i < count; i++)
        value = value << 8 | bytes[i];
    return value;
}

gw_wave_family gw_wave_family_of(const unsigned char *head, size_t length) {
    static const struct {
        const char *id;
        gw_wave_family family;
    } others[] = {{"FORM", GW_WAVE_OTHER}, {"fLaC", GW_WAVE_OTHER}, {"caff", GW_WAVE_OTHER}, {".snd", GW_WAVE_OTHER}};
    if (length >= 12 && memcmp(head + 8, "WAVE", 4) == 0) {
        if (memcmp(head, "RIFF", 4) == 0 || memcmp(head, "RF64", 4) == 0 || memcmp(head, "BW64", 4) == 0)
            return GW_WAVE_RIFF;
        if (memcmp(head, "RIFX", 4) == 0)
            return GW_WAVE_RIFX;
    }
    if (length >= 16 && memcmp(head, w64_riff, 16) == 0)
        return GW_WAVE_W64;
    for (size_t i = 0; i < sizeof others / sizeof *others; i++)
        if (length >= 12 && memcmp(head, others[i].id, 4) == 0 && (head[0] != 'F' || memcmp(head + 8, "AIF", 3) == 0))
            return others[i].family;
    return GW_WAVE_NONE;
}

static bool is_printable(const char *id) {
    for (int i = 0; i < 4; i++)
        if (id[i] < 0x20 || id[i] > 0x7E)
            return false;
    return true;
}

static bool is_known(const char *id) {
    static const char *const known[] = {"fmt ", "data", "LIST", "fact", "ds64", "bext", "JUNK", "PEAK", "cue ",
                                        "iXML", "smpl", "inst", "axml", "chna", "PAD ", "FLLR", "id3 ", "ID3 "};
    for (size_t i = 0; i < sizeof known / sizeof *known; i++)
        if (memcmp(id, known[i], 4) == 0)
            return true;
    return false;
}

/* The chunk heading at `at`; false at the end of the file, or where no printable id stands. */
static bool chunk_at(const walk *w, uint64_t at, chunk *out) {
    unsigned char head[W64_HEADING];
    bool w64 = w->out->family == GW_WAVE_W64;
    size_t length = w64 ? W64_HEADING : 8;
    if (gw_input_read(w->input, at, head, length) != length)
        return false;
    memcpy(out->id, head, 4);
    out->id[4] = '\0';
    out->at = at + length;
    out->size = get(w, head + length - (w64 ? 8 : 4), w64 ? 8 : 4);
    if (w64)
        out->size = out->size >= W64_HEADING ? out->size - W64_HEADING : 0;
    uint64_t padding = w64 ? (8 - out->size % 8) % 8 : out->size % 2;
    out->next = out->size > w->input->size ? UINT64_MAX : out->at + out->size + padding;
    return w64 ? memcmp(head + 4, w64_tail, 12) == 0 : is_printable(out->id);
}

/* Where the chunk behind `current` begins: at the even place, or one byte earlier where a writer left out the pad. */
static bool next_chunk(const walk *w, const chunk *behind, chunk *out) {
    const chunk copy = *behind, *current = &copy;
    if (current->next > w->input->size)
        return false;
    bool padded = chunk_at(w, current->next, out);
    if (w->out->family == GW_WAVE_W64 || current->size % 2 == 0 || (padded && is_known(out->id)))
        return padded;
    chunk early;
    if (chunk_at(w, current->next - 1, &early) && (!padded || is_known(early.id))) {
        *out = early;
        return true;
    }
    return padded;
}

/* Whether whole chunks with printable ids stand from `at` to the end of the file. */
static bool only_chunks_follow(const walk *w, const chunk *data) {
    chunk next;
    if (data->at >= w->input->size || !chunk_at(w, data->at, &next))
        return data->at >= w->input->size;
    for (int count = 0; count < CHUNKS_MAX; count++) {
        if (next.next >= w->input->size)
            return next.at + next.size <= w->input->size;
        if (!next_chunk(w, &next, &next))
            return false;
    }
    return false;
}

/* Sizes that streaming writers leave in place of one they cannot know yet. */
static bool is_placeholder(uint64_t size) {
    return (size >= 0x7FFFF000U && size <= 0x80000000U) || (size >= 0xFFFFF000U && size <= 0xFFFFFFFFU) ||
           size >= (UINT64_C(1) << 62);
}

static void take_data(walk *w, chunk *data) {
    uint64_t there = w->input->size - data->at, size = data->size;
    if (w->wide && size == 0xFFFFFFFFU && w->data_64 > 0)
        size = w->data_64;
    bool nothing = size == 0 && there > 0 && !only_chunks_follow(w, data);
    w->announced = size;
    w->open_end = nothing || size > there;
    w->cut = size > there && !is_placeholder(size);
    w->out->data_at = data->at;
    w->data_length = w->open_end ? there : size;
    w->has_data = w->data_length > 0;
    data->size = w->data_length;
    data->next =
        w->open_end ? UINT64_MAX : data->at + size + (w->out->family == GW_WAVE_W64 ? (8 - size % 8) % 8 : size % 2);
    if (nothing)
        gw_strings_add(w->remarks, "the heading gives the data a size of zero (an unfinished recording): read to the "
                                   "end of the file");
}

static bool take_format(walk *w, const chunk *format, gw_error *error) {
    unsigned char bytes[FORMAT_MAX] = {0};
    size_t length = format->size < FORMAT_MAX ? (size_t)format->size : FORMAT_MAX;
    if (length < 16 || gw_input_read(w->input, format->at, bytes, length) != length)
        return gw_error_set(error, w->input->path, 0, "broken WAV: its format chunk holds %zu bytes, 16 are needed",
                            length);
    gw_wave_format *f = &w->out->format;
    f->tag = (unsigned)get(w, bytes, 2);
    f->channels = (unsigned)get(w, bytes + 2, 2);
    f->rate_hz = (uint32_t)get(w, bytes + 4, 4);
    uint64_t byte_rate = get(w, bytes + 8, 4);
    unsigned block = (unsigned)get(w, bytes + 12, 2);
    f->bits = (unsigned)get(w, bytes + 14, 2);
    f->bytes = (f->bits + 7) / 8;
    /* a container wider than its bits, where all three figures agree on it */
    unsigned container = f->channels > 0 && block % f->channels == 0 ? block / f->channels : 0;
    if (container > f->bytes && container <= 8 && byte_rate == (uint64_t)block * f->rate_hz)
        f->bytes = container;
    if (f->tag == 0xFFFE && length == FORMAT_MAX) {
        unsigned valid = (unsigned)get(w, bytes + 18, 2);
        if (valid > 0 && valid < f->bits)
            f->bits = valid;
        f->tag = (unsigned)get(w, bytes + 24, 4) & 0xFFFF;
    }
    w->has_format = true;
    return true;
}

static bool check_format(const walk *w, gw_error *error) {
    static const struct {
        unsigned tag;
        const char *name;
    } compressed[] = {{0x0002, "ADPCM"}, {0x0006, "A-law"}, {0x0007, "mu-law"}, {0x0011, "IMA ADPCM"},
                      {0x0031, "GSM"},   {0x0055, "MPEG"},  {0x0161, "WMA"}};
    const gw_wave_format *f = &w->out->format;
    const char *path = w->input->path;
    if (f->tag != GW_WAVE_PCM && f->tag != GW_WAVE_FLOAT) {
        const char *name = "unknown to this program";
        for (size_t i = 0; i < sizeof compressed / sizeof *compressed; i++)
            if (compressed[i].tag == f->tag)
                name = compressed[i].name;
        return gw_error_set(error, path, 0,
                            "compressed WAV (format 0x%04x, %s): only plain integers and floating "
                            "point are samples to measure",
                            f->tag, name);
    }
    if (f->channels == 0 || f->channels > GW_WAVE_CHANNELS_MAX)
        return gw_error_set(error, path, 0, "broken WAV: %u channels, 1 to %d are read", f->channels,
                            (int)GW_WAVE_CHANNELS_MAX);
    bool right = f->tag == GW_WAVE_PCM ? f->bytes >= 1 && f->bytes <= 4 && f->bits >= 1
                                       : (f->bits == 32 || f->bits == 64) && f->bytes * 8 == f->bits;
    if (!right)
        return gw_error_set(error, path, 0, "WAV format not read: %s samples of %u bits in %u bytes",
                            f->tag == GW_WAVE_PCM ? "integer" : "floating point", f->bits, f->bytes);
    return true;
}

static void take_sizes(walk *w, const chunk *sizes) {
    unsigned char bytes[24];
    if (sizes->size >= 24 && gw_input_read(w->input, sizes->at, bytes, 24) == 24)
        w->data_64 = gw_get_little(bytes + 8, 8);
}

static bool walk_chunks(walk *w, gw_error *error) {
    chunk current = {.next = w->out->family == GW_WAVE_W64 ? 40 : 12};
    for (int count = 0; next_chunk(w, &current, &current); count++) {
        if (count >= CHUNKS_MAX)
            return gw_error_set(error, w->input->path, 0, "broken WAV: more than %d chunks", (int)CHUNKS_MAX);
        if (memcmp(current.id, "fmt ", 4) == 0 && !w->has_format) {
            if (!take_format(w, &current, error))
                return false;
        } else if (memcmp(current.id, "data", 4) == 0 && !w->has_data) {
            take_data(w, &current);
        } else if (memcmp(current.id, "ds64", 4) == 0) {
            take_sizes(w, &current);
        }
    }
    return true;
}

/* Whole frames only, and a word where some are lacking. */
static bool count_frames(walk *w, gw_error *error) {
    uint64_t frame = (uint64_t)w->out->format.channels * w->out->format.bytes;
    w->out->frames = w->data_length / frame;
    if (w->out->frames == 0)
        return gw_error_set(error, w->input->path, 0, "no samples: the WAV holds a heading only");
    if (w->cut)
        gw_strings_printf(w->remarks, "cut: the heading announces %llu samples, the file holds %llu",
                          (unsigned long long)(w->announced / frame), (unsigned long long)w->out->frames);
    else if (w->data_length % frame != 0)
        gw_strings_printf(w->remarks, "%u stray bytes after the last whole sample are left out",
                          (unsigned)(w->data_length % frame));
    return true;
}

bool gw_chunks_read(gw_input *input, gw_chunks *out, gw_strings *remarks, gw_error *error) {
    unsigned char head[24] = {0};
    size_t length = gw_input_read(input, 0, head, sizeof head);
    *out = (gw_chunks){.family = gw_wave_family_of(head, length)};
    walk w = {.input = input, .out = out, .remarks = remarks};
    w.wide = head[0] == 'B' || head[1] == 'F';
    if (!walk_chunks(&w, error))
        return false;
    if (!w.has_format)
        return gw_error_set(error, input->path, 0, "broken WAV: no format chunk in it");
    if (!check_format(&w, error))
        return false;
    if (!w.has_data)
        return gw_error_set(error, input->path, 0, "no samples: the WAV has no data chunk, or an empty one");
    return count_frames(&w, error);
}
