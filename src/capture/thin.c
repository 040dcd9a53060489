/* Channels that have values in every so many rows only. */
#include "gainwalk/capture.h"

#include <stdlib.h>
#include <string.h>

/* Rows looked at together; values such a channel has at least. */
enum { ROWS = 4096, VALUES_MIN = 3 };

typedef struct pattern {
    uint64_t first, values, every; /* `every` 0: fewer than two values so far */
} pattern;

static uint64_t common_divisor(uint64_t one, uint64_t other) {
    while (other != 0) {
        uint64_t rest = one % other;
        one = other;
        other = rest;
    }
    return one;
}

static void pattern_add(pattern *to, uint64_t row) {
    if (to->values++ == 0)
        to->first = row;
    else
        to->every = common_divisor(row - to->first, to->every);
}

/* Up to where the values are known to stand in no such pattern. */
static bool pattern_find(const gw_capture *capture, size_t index, pattern *out, gw_error *error) {
    double values[ROWS];
    unsigned char marks[ROWS];
    *out = (pattern){.every = 0};
    for (uint64_t from = 0; from < capture->samples && out->every != 1; from += ROWS) {
        size_t count = capture->samples - from < ROWS ? (size_t)(capture->samples - from) : ROWS;
        if (!gw_capture_fetch(capture, index, from, count, values, marks, error))
            return false;
        for (size_t i = 0; i < count && out->every != 1; i++)
            if (marks[i] != GW_SAMPLE_MISSING)
                pattern_add(out, from + i);
    }
    return true;
}

static bool thin_make(const gw_capture *capture, size_t index, const pattern *found, gw_capture *out, gw_error *error) {
    gw_channel *channels = malloc(capture->channel_count * sizeof *channels);
    if (!channels)
        return gw_error_memory(error);
    memcpy(channels, capture->channels, capture->channel_count * sizeof *channels);
    *out = *capture;
    out->channels = channels;
    gw_channel *channel = &channels[index];
    channel->every = found->every;
    channel->offset = found->first % found->every;
    out->samples = (capture->samples - channel->offset + found->every - 1) / found->every;
    channel->missing -= capture->samples - out->samples;
    if (out->has_start && capture->rate_hz > 0)
        out->start_s += (double)channel->offset / capture->rate_hz;
    out->rate_hz /= (double)found->every;
    return true;
}

bool gw_capture_thin(const gw_capture *capture, size_t index, gw_capture *out, gw_error *error) {
    *out = (gw_capture){.channels = NULL};
    pattern found;
    if (index >= capture->channel_count || capture->channels[index].missing < capture->samples / 2)
        return true;
    if (!pattern_find(capture, index, &found, error))
        return false;
    return found.every < 2 || found.values < VALUES_MIN || thin_make(capture, index, &found, out, error);
}

void gw_capture_thin_free(gw_capture *thin) {
    free(thin->channels);
    *thin = (gw_capture){.channels = NULL};
}
