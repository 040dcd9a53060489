/* A WAV file made into a capture: one scan for what is told of it, samples kept or left to be streamed. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "capture/cell.h"
#include "capture/room.h"
#include "capture/store.h"
#include "capture/summary.h"

enum { BLOCK_VALUES = 1 << 16, KEPT_VALUES_MAX = 1 << 19, FEW_SAMPLES = 256 };

typedef struct scan {
    gw_capture *capture;
    gw_wave *wave;
    gw_wave_info info;
    double scale;
    bool keep;
    bool ranges; /* are asked for, or needed here */
    double *block, *column;
    unsigned char *marks;
    size_t block_frames;
    gw_levels *levels;  /* of each channel, floating point only */
    uint32_t bits_used; /* of all integer samples */
    bool above_24_bits;
    uint64_t filled; /* samples that are not zero */
} scan;

unsigned char gw_wave_mark(double value, double scale) {
    bool number = fabs(value) < GW_OVERLOAD_LEAST && fabs(value * scale) < GW_OVERLOAD_LEAST;
    return number ? GW_SAMPLE_PRESENT : isnan(value) ? GW_SAMPLE_MISSING : GW_SAMPLE_OVERLOAD;
}

bool gw_wave_whole(bool is_float, double scale) {
    return !is_float && scale < 1e30;
}

/* Integer samples are numbers of 1 at most. */
static void column_whole(const double *block, size_t stride, size_t count, double scale, double *values) {
    if (stride == 1)
        for (size_t i = 0; i < count; i++)
            values[i] = block[i] * scale;
    else
        for (size_t i = 0; i < count; i++)
            values[i] = block[i * stride] * scale;
}

void gw_wave_column(const double *block, size_t stride, size_t index, size_t count, bool is_float, double scale,
                    double *values, unsigned char *marks) {
    if (gw_wave_whole(is_float, scale)) {
        column_whole(block + index, stride, count, scale, values);
        if (marks != NULL)
            memset(marks, GW_SAMPLE_PRESENT, count);
        return;
    }
    for (size_t i = 0; i < count; i++) {
        double value = block[i * stride + index];
        unsigned char mark = gw_wave_mark(value, scale);
        values[i] = mark == GW_SAMPLE_PRESENT ? value * scale : 0;
        if (marks != NULL)
            marks[i] = mark;
    }
}

static bool prepare(scan *s, gw_error *error) {
    size_t channels = s->info.channels;
    s->block_frames = BLOCK_VALUES / channels;
    s->block = malloc(s->block_frames * channels * sizeof *s->block);
    s->column = malloc(s->block_frames * sizeof *s->column);
    s->marks = malloc(s->block_frames);
    s->levels = calloc(channels, sizeof *s->levels);
    if (s->block == NULL || s->column == NULL || s->marks == NULL || s->levels == NULL)
        return gw_error_memory(error);
    for (size_t i = 0; i < channels; i++)
        s->levels[i].finer = 32768 / s->scale; /* floating point is mostly made of 16 bits or is noise of more */
    s->keep = s->info.frames <= KEPT_VALUES_MAX / channels;
    for (size_t i = 0; s->keep && i < channels; i++) {
        s->capture->store->values[i] = gw_room_new((size_t)s->info.frames * sizeof(double));
        if (s->capture->store->values[i] == NULL)
            return gw_error_memory(error);
    }
    return true;
}

/* Whether more samples could tell more of the bits in use: not where the lowest are known to be, and enough were seen.
 */
static bool bits_open(const scan *s) {
    return s->info.bytes > 3 || s->filled < FEW_SAMPLES || (s->bits_used & UINT32_C(1) << (32 - s->info.bits)) == 0;
}

/* Which bits integer samples use: exact, as their values are whole multiples of 2^-31. */
static void look_at_bits(scan *s, size_t count) {
    if (!bits_open(s))
        return;
    for (size_t i = 0; i < count; i++) {
        uint32_t word = (uint32_t)(int32_t)(s->block[i] * 2147483648.0);
        s->bits_used |= word;
        s->filled += word != 0;
        s->above_24_bits = s->above_24_bits || fabs(s->block[i]) > 1.0 / 256;
    }
}

/* Keeps the marks of a channel from the first sample on that is not present. */
static bool keep_marks(scan *s, size_t index, uint64_t first, size_t count, gw_error *error) {
    unsigned char **kept = &s->capture->store->marks[index];
    bool all_present =
        memchr(s->marks, GW_SAMPLE_MISSING, count) == NULL && memchr(s->marks, GW_SAMPLE_OVERLOAD, count) == NULL;
    bool fresh = *kept == NULL;
    if (fresh && all_present)
        return true;
    if (*kept == NULL)
        *kept = gw_room_new((size_t)s->info.frames);
    if (*kept == NULL)
        return gw_error_memory(error);
    if (fresh)
        memset(*kept, GW_SAMPLE_PRESENT, (size_t)s->info.frames);
    memcpy(*kept + first, s->marks, count);
    return true;
}

static bool take_channel(scan *s, size_t index, uint64_t first, size_t count, gw_error *error) {
    gw_wave_column(s->block, s->info.channels, index, count, s->info.is_float, s->scale, s->column, s->marks);
    bool whole = gw_wave_whole(s->info.is_float, s->scale);
    gw_channel_take(&s->capture->channels[index], s->column, 1, whole ? NULL : s->marks, count);
    if (s->info.is_float)
        gw_levels_take(&s->levels[index], s->column, s->marks, count);
    if (!s->keep)
        return true;
    memcpy(s->capture->store->values[index] + first, s->column, count * sizeof *s->column);
    return whole || keep_marks(s, index, first, count, error);
}

static size_t frames_from(const scan *s, uint64_t first) {
    uint64_t left = s->info.frames - first;
    return left < s->block_frames ? (size_t)left : s->block_frames;
}

/* One block after the other, from the first on; with `bits` only as long as these are open. Returns where it ended. */
static uint64_t scan_along(scan *s, bool bits, gw_error *error) {
    uint64_t first = 0;
    while (first < s->info.frames && !(bits && first > 0 && !bits_open(s))) {
        size_t count = frames_from(s, first);
        if (!gw_wave_read(s->wave, first, count, s->block, error))
            break;
        if (!s->info.is_float)
            look_at_bits(s, count * s->info.channels);
        for (size_t i = 0; i < s->info.channels && !error->set; i++)
            take_channel(s, i, first, count, error);
        if (error->set)
            break;
        first += count;
    }
    return first;
}

/* What one thread has seen. */
typedef struct seen {
    double *block, *column;
    gw_channel *channels;
    uint64_t first; /* of the block in hand */
    gw_error error;
} seen;

static void seen_begin(const scan *s, seen *own) {
    *own = (seen){.block = malloc(s->block_frames * s->info.channels * sizeof *own->block),
                  .column = malloc(s->block_frames * sizeof *own->column),
                  .channels = calloc(s->info.channels, sizeof *own->channels)};
    if (own->block == NULL || own->column == NULL || own->channels == NULL)
        gw_error_memory(&own->error);
    for (size_t i = 0; own->channels != NULL && i < s->info.channels; i++)
        own->channels[i].first_count = GW_FIRST_MAX; /* the first block had them */
}

/* A block of integers whose bits are known. */
static void seen_take(const scan *s, seen *own) {
    size_t count = frames_from(s, own->first), stride = s->info.channels;
    if (stride > 1 && !gw_wave_read(s->wave, own->first, count, own->block, &own->error))
        return;
    for (size_t i = 0; i < stride; i++) {
        double *to = s->keep ? s->capture->store->values[i] + own->first : own->column;
        if (stride > 1)
            gw_wave_column(own->block, stride, i, count, false, s->scale, to, NULL);
        else if (!gw_wave_read_channel(s->wave, 0, own->first, count, s->scale, to, &own->error))
            return;
        if (s->ranges)
            gw_channel_take(&own->channels[i], to, 1, NULL, count);
    }
}

/* The earliest failure is told; `*failed_at` is where. */
static void seen_end(scan *s, seen *own, uint64_t *failed_at, gw_error *error) {
    if (own->error.set && own->first <= *failed_at) {
        *failed_at = own->first;
        *error = own->error;
    }
    for (size_t i = 0; !own->error.set && i < s->info.channels; i++)
        gw_channel_join(&s->capture->channels[i], &own->channels[i]);
    free(own->block);
    free(own->column);
    free(own->channels);
}

/* The blocks from `from` on, in any order. */
static void scan_apart(scan *s, uint64_t from, int jobs, gw_error *error) {
    uint64_t failed_at = UINT64_MAX, blocks = (s->info.frames - from + s->block_frames - 1) / s->block_frames;
    jobs = blocks < (uint64_t)jobs ? (int)blocks : jobs;
#pragma omp parallel num_threads(jobs)
    {
        seen own;
        seen_begin(s, &own);
#pragma omp for schedule(static)
        for (uint64_t k = 0; k < blocks; k++)
            if (!own.error.set) {
                own.first = from + k * s->block_frames;
                seen_take(s, &own);
            }
#pragma omp critical(gw_wave_seen)
        seen_end(s, &own, &failed_at, error);
    }
}

/* As long as its bits are open, the order of the samples matters; floating point has levels, and marks. Of integers
 * nothing else is to be seen but their range, unless they are kept. */
static bool scan_all(scan *s, int jobs, gw_error *error) {
    gw_error failed = {0};
    bool apart = gw_wave_is_plain(s->wave) && gw_wave_whole(s->info.is_float, s->scale);
    uint64_t done = scan_along(s, apart, &failed);
    s->ranges = s->ranges || !apart;
    if (!failed.set && done < s->info.frames && (s->ranges || s->keep))
        scan_apart(s, done, jobs > 1 ? jobs : 1, &failed);
    for (size_t i = 0; i < s->info.channels && !s->ranges; i++)
        gw_channel_unrange(&s->capture->channels[i]);
    if (failed.set && error != NULL && !error->set)
        *error = failed;
    return !failed.set;
}

/* The bits that samples really have: whole low bytes that no sample uses are padding. */
static unsigned bits_in_use(const scan *s) {
    unsigned bits = s->info.bits;
    if (s->info.bytes == 4 && (s->bits_used & 0xFF) != 0)
        return 32;
    while (bits > 16 && s->filled >= FEW_SAMPLES && (s->bits_used & ((UINT32_C(1) << (40 - bits)) - 1)) == 0)
        bits -= 8;
    return bits;
}

static void tell_steps(scan *s) {
    for (size_t i = 0; i < s->info.channels; i++) {
        gw_channel *channel = &s->capture->channels[i];
        s->capture->store->short_of_memory |= s->levels[i].failed;
        if (s->info.is_float) {
            channel->step = s->levels[i].full ? 0 : gw_levels_step(&s->levels[i], 0);
            if (fabs(channel->min) > s->scale || fabs(channel->max) > s->scale)
                continue; /* the converter's ends are not known */
        } else {
            channel->step = ldexp(s->scale, 1 - (int)bits_in_use(s));
        }
        channel->low_end = -s->scale;
        channel->high_end = s->info.is_float ? s->scale : s->scale - channel->step;
    }
}

static void tell_marks(gw_capture *capture) {
    for (size_t i = 0; i < capture->channel_count; i++) {
        const gw_channel *channel = &capture->channels[i];
        if (channel->missing > 0)
            gw_capture_remark(capture, "channel %d: %llu samples missing (not a number)", channel->number,
                              (unsigned long long)channel->missing);
        if (channel->overload > 0)
            gw_capture_remark(capture, "channel %d: %llu samples overloaded (infinite)", channel->number,
                              (unsigned long long)channel->overload);
    }
}

static void tell(scan *s, const gw_capture_options *options) {
    gw_capture *capture = s->capture;
    bool low = s->info.bytes == 4 && s->info.bits == 24 && !s->info.is_float && !s->above_24_bits &&
               (s->bits_used & 0xFF) != 0;
    if (low)
        gw_capture_remark(capture, "the 24 bits may stand at the right end of their 32: then all levels are 48.16 dB "
                                   "too low");
    capture->rate_hz = s->info.rate_hz;
    capture->rate_from = "the file's heading";
    if (capture->rate_hz <= 0 && options->rate_hz > 0) {
        capture->rate_hz = options->rate_hz;
        capture->rate_from = "as stated with the capture";
    } else if (capture->rate_hz <= 0) {
        capture->rate_from = NULL;
        gw_capture_remark(capture, "the heading gives no rate: one must be given");
    }
    char rate[48];
    if (capture->rate_hz > 0 && capture->rate_hz < 1000)
        gw_capture_remark(capture, "a rate of %s is doubtful in a sound file",
                          gw_quantity_print(capture->rate_hz, 0, "Hz", 6, rate, sizeof rate));
    tell_marks(capture);
    tell_steps(s);
}

/* Streamed captures keep their file and a block; the others close it. */
static void settle(scan *s) {
    gw_capture_store *store = s->capture->store;
    if (s->keep) {
        gw_wave_close(s->wave);
        return;
    }
    store->wave = s->wave;
    store->scale = s->scale;
    store->block = s->block;
    store->block_frames = s->block_frames;
    s->block = NULL;
}

static void clean(scan *s) {
    for (size_t i = 0; s->levels != NULL && i < s->info.channels; i++)
        gw_levels_free(&s->levels[i]);
    free(s->levels);
    free(s->block);
    free(s->column);
    free(s->marks);
}

bool gw_capture_read_wave(gw_capture *capture, gw_input *input, gw_wave_family family,
                          const gw_capture_options *options, gw_error *error) {
    gw_input taken = *input;
    input->descriptor = -1;
    scan s = {.capture = capture, .wave = gw_wave_open(&taken, family, &capture->remarks, error)};
    if (s.wave == NULL)
        return false;
    s.info = *gw_wave_about(s.wave);
    s.ranges = !options->no_ranges;
    s.scale = (options->full_scale_v > 0 ? options->full_scale_v : 1) * (options->probe > 0 ? options->probe : 1);
    capture->samples = s.info.frames;
    bool right = gw_capture_widen(capture, s.info.channels, options->full_scale_v > 0 ? "V" : "FS", error) &&
                 prepare(&s, error) && scan_all(&s, options->jobs, error);
    if (right) {
        tell(&s, options);
        settle(&s);
    } else {
        gw_wave_close(s.wave);
    }
    clean(&s);
    return right;
}
