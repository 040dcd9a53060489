/* WAV files written: RIFF chunks, byte by byte, so that the machine's own byte order does not matter. */
#include "gainwalk/capture.h"

#include <math.h>
#include <string.h>

enum { TAG_PCM = 1, TAG_FLOAT = 3, TAG_EXTENSIBLE = 0xFFFE, CHANNELS_MAX = 16 };

typedef struct format_info {
    int bytes; /* of one value */
    unsigned tag;
} format_info;

static const format_info formats[] = {
    [GW_WAV_PCM16] = {2, TAG_PCM}, [GW_WAV_PCM24] = {3, TAG_PCM}, [GW_WAV_FLOAT32] = {4, TAG_FLOAT}};

/* What follows the tag in the identifier of a sub-format: {xxxx0000-0000-0010-8000-00AA00389B71}. */
static const unsigned char guid_rest[14] = {0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xAA, 0, 0x38, 0x9B, 0x71};

static bool extensible(const gw_wav_layout *layout) {
    return layout->channels > 2 || layout->format == GW_WAV_PCM24;
}

static bool has_fact(const gw_wav_layout *layout) {
    return extensible(layout) || layout->format == GW_WAV_FLOAT32;
}

static uint32_t format_size(const gw_wav_layout *layout) {
    return extensible(layout) ? 40 : layout->format == GW_WAV_FLOAT32 ? 18 : 16;
}

static uint32_t frame_size(const gw_wav_layout *layout) {
    return (uint32_t)(layout->channels * formats[layout->format].bytes);
}

uint64_t gw_wav_size(const gw_wav_layout *layout) {
    if (layout->channels < 1 || layout->channels > CHANNELS_MAX || (unsigned)layout->format > GW_WAV_FLOAT32 ||
        layout->frames > UINT32_MAX)
        return 0;
    uint64_t data = layout->frames * frame_size(layout);
    uint64_t header = 12 + 8 + format_size(layout) + (has_fact(layout) ? 12u : 0u) + 8;
    uint64_t size = header + data + data % 2;
    return size - 8 <= UINT32_MAX ? size : 0;
}

static void add_number(gw_text *out, uint32_t value, int bytes) {
    for (int i = 0; i < bytes; i++)
        gw_text_add_char(out, (char)(unsigned char)(value >> (8 * i) & 0xFF));
}

static void add_chunk(gw_text *out, const char *name, uint32_t size) {
    gw_text_add_bytes(out, name, 4);
    add_number(out, size, 4);
}

static void add_format(const gw_wav_layout *layout, gw_text *out) {
    const format_info *info = &formats[layout->format];
    bool wide = extensible(layout);
    uint32_t frame = frame_size(layout), bits = (uint32_t)(8 * info->bytes);
    add_chunk(out, "fmt ", format_size(layout));
    add_number(out, wide ? TAG_EXTENSIBLE : info->tag, 2);
    add_number(out, (uint32_t)layout->channels, 2);
    add_number(out, layout->rate_hz, 4);
    add_number(out, layout->rate_hz * frame, 4);
    add_number(out, frame, 2);
    add_number(out, bits, 2);
    if (wide) {
        add_number(out, 22, 2);
        add_number(out, bits, 2);
        add_number(out, 0, 4); /* no channel stands for a loudspeaker */
        add_number(out, info->tag, 2);
        gw_text_add_bytes(out, (const char *)guid_rest, sizeof guid_rest);
    } else if (info->tag == TAG_FLOAT)
        add_number(out, 0, 2);
}

bool gw_wav_add_header(const gw_wav_layout *layout, gw_text *out, gw_error *error) {
    uint64_t size = gw_wav_size(layout);
    if (size == 0 || layout->rate_hz == 0 || layout->rate_hz > UINT32_MAX / frame_size(layout))
        return gw_error_set(error, NULL, 0, "a WAV file cannot hold that");
    add_chunk(out, "RIFF", (uint32_t)(size - 8));
    gw_text_add_bytes(out, "WAVE", 4);
    add_format(layout, out);
    if (has_fact(layout)) {
        add_chunk(out, "fact", 4);
        add_number(out, (uint32_t)layout->frames, 4);
    }
    add_chunk(out, "data", (uint32_t)layout->frames * frame_size(layout));
    return !out->failed || gw_error_memory(error);
}

static void add_pcm(gw_text *out, double value, int bytes) {
    double full = ldexp(1, 8 * bytes - 1);
    double code = fmin(fmax(floor(value * full + 0.5), -full), full - 1);
    add_number(out, (uint32_t)(int32_t)code, bytes);
}

static void add_float(gw_text *out, double value) {
    float single = (float)value;
    uint32_t bits = 0;
    memcpy(&bits, &single, sizeof bits);
    add_number(out, bits, 4);
}

void gw_wav_add_frames(const gw_wav_layout *layout, const double *values, const double *noise, size_t count,
                       gw_text *out) {
    int bytes = formats[layout->format].bytes;
    double step = ldexp(1, 1 - 8 * bytes);
    for (size_t i = 0; i < count * (size_t)layout->channels; i++)
        if (layout->format == GW_WAV_FLOAT32)
            add_float(out, values[i]);
        else
            add_pcm(out, values[i] + (noise != NULL ? noise[i] * step : 0), bytes);
}

void gw_wav_add_end(const gw_wav_layout *layout, gw_text *out) {
    if (layout->frames * frame_size(layout) % 2 != 0)
        gw_text_add_char(out, '\0');
}
