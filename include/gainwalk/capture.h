/* Captures: a waveform file made into volts over time, and everything that was odd about the file.
 *
 * Volts are made in one place, here: units from the file, the probe's factor and the digital full scale are applied
 * once, after overload marks were counted. Knows nothing of frequencies and chains. */
#ifndef GAINWALK_CAPTURE_H
#define GAINWALK_CAPTURE_H

#include "gainwalk/base.h"

#ifdef __cplusplus
extern "C" {
#endif

typedef enum gw_capture_kind { GW_CAPTURE_TEXT, GW_CAPTURE_WAV } gw_capture_kind;

/* What became of one sample. Only present ones have a meaningful value. */
enum { GW_SAMPLE_PRESENT = 0, GW_SAMPLE_MISSING = 1, GW_SAMPLE_OVERLOAD = 2 };

enum { GW_FIRST_MAX = 8 };

/* One channel. All values are in `unit`, with probe factor and full scale applied. */
typedef struct gw_channel {
    int number;       /* as it stands in the file, from 1 */
    const char *name; /* NULL where the file gives none */
    const char *unit; /* "V", "A", "FS" (digital full scale is 1), "div", "codes" */
    double step; /* smallest gap between distinct values, the converter's or the print's (the print's where they are
                  * two levels of one waveform); 0 where unknown */
    double low_end, high_end; /* the converter's ends, in unit; both 0 where unknown (most text files) */
    double first[GW_FIRST_MAX];
    unsigned char first_marks[GW_FIRST_MAX];
    size_t first_count;
    bool has_range; /* false when no sample is present, or not asked for: min and max are then 0 */
    double min, max;
    /* `overload` counts marked samples, and those that stand on a converter's rails found in the record: these keep
     * their value and are marked present. */
    uint64_t missing, overload;
    bool ac_coupled; /* the file says that this input blocked DC: the capture cannot show it */
    /* Of gw_capture_thin: its values stand in every so many rows, from row `offset` on; 0 and 1: in all. */
    uint64_t every, offset;
} gw_channel;

typedef struct gw_capture_store gw_capture_store; /* where the samples are; private to src/capture/ */

typedef struct gw_capture {
    const char *file; /* as it was named */
    gw_capture_kind kind;
    double rate_hz;        /* 0 where the file gives none */
    const char *rate_from; /* how the rate was found, a phrase; NULL without a rate */
    double rate_u95;       /* relative expanded uncertainty of the rate by the file's own printing; 0 where exact */
    uint64_t samples;      /* rows or frames used, every channel alike */
    bool has_start;
    double start_s;    /* time of the first sample where the file gives it */
    bool simultaneous; /* the channels share their sampling instants (always, but for refused files) */
    gw_channel *channels;
    size_t channel_count;
    gw_strings ignored; /* columns and such that are no inputs */
    gw_strings remarks; /* all that a technician would want to know before trusting it */
    gw_capture_store *store;
} gw_capture;

/* What is known from outside the file. Zeroed: nothing is known. */
typedef struct gw_capture_options {
    double probe;        /* factor to apply to volts the file does not hold already; 0 means 1 */
    double full_scale_v; /* volts (peak) at digital full scale, for WAV; 0 leaves the unit FS */
    double rate_hz;      /* for files that give no rate; 0 unknown */
    bool no_ranges;      /* nobody asks for min and max: a pass over all samples that is left out */
    int jobs;            /* threads at most; 0 is 1. The same comes of it whatever their number */
} gw_capture_options;

/* Limits, each with an error of its own: text files up to 64 GiB (2 GiB where a character takes two or four bytes) and
 * 1024 columns (or one line of any number of values), lines of up to 64 MiB, 2 MiB of text above the numbers, sound
 * files of any length and up to 256 channels; regular files only. Memory is bounded whatever the length, but for time
 * columns with gaps.
 *
 * Reads a capture by its content, never by its name. `options` may be NULL. On success `*out` is owned by the
 * caller (gw_capture_free). On failure `error` says in one sentence what the file seems to be, `*out` is NULL. */
bool gw_capture_read(const char *path, const gw_capture_options *options, gw_capture **out, gw_error *error);

void gw_capture_free(gw_capture *capture);

/* Copies samples `first` to `first + count` of channel `index` (from 0) to `values`, and their marks to `marks` where
 * that is not NULL (missing and overloaded samples have the value 0). The range must lie within the capture. Blocks of
 * any length may be fetched in any order, by several threads at a time; ascending order is fast. */
bool gw_capture_fetch(const gw_capture *capture, size_t index, uint64_t first, size_t count, double *values,
                      unsigned char *marks, gw_error *error);

/* A channel that has values in every second, third … row only, as where a recorder takes its channels in turn: between
 * them nothing was sampled, and at the file's rate it could be told neither from its aliases nor from what beats with
 * the rows. `*out` is then the same capture as that channel has it, with the rows that hold its values, their rate and
 * start; it borrows from `capture`, and gw_capture_thin_free frees what is its own. Of all other channels
 * `out->channels` is NULL. False on an error in reading. */
bool gw_capture_thin(const gw_capture *capture, size_t index, gw_capture *out, gw_error *error);
void gw_capture_thin_free(gw_capture *thin);

/* Index of the channel that `which` names: a number ("2"), or a heading name (exact first, then without regard to
 * case). NULL or "" is the first channel. On failure the error names the channels there are. */
bool gw_capture_channel(const gw_capture *capture, const char *which, size_t *index, gw_error *error);

/* The file names that a capture without a stated name may have, a list ended by NULL: ".csv", ".wav" … */
extern const char *const gw_capture_extensions[];

/* ---- writing WAV ----------------------------------------------------------------------------------- */

typedef enum gw_wav_format { GW_WAV_PCM16, GW_WAV_PCM24, GW_WAV_FLOAT32 } gw_wav_format;

typedef struct gw_wav_layout {
    gw_wav_format format;
    uint32_t rate_hz;
    int channels; /* 1..16 */
    uint64_t frames;
} gw_wav_layout;

/* Bytes of the whole file; 0 where that is more than a RIFF file can hold. */
uint64_t gw_wav_size(const gw_wav_layout *layout);

/* Adds the header of a WAV file (RIFF, little-endian whatever the machine; WAVE_FORMAT_EXTENSIBLE for more than 16 bits
 * or two channels, as the format's definition asks). False for a layout that can't be written. */
bool gw_wav_add_header(const gw_wav_layout *layout, gw_text *out, gw_error *error);

/* Adds `count` frames, `channels` values each, full scale 1. PCM: `noise` (NULL or one value for each of `values`, in
 * steps) is added before rounding; the result is held at the ends of the scale. Float ignores it. */
void gw_wav_add_frames(const gw_wav_layout *layout, const double *values, const double *noise, size_t count,
                       gw_text *out);

/* Adds the pad byte that a data chunk of odd length needs. Once, behind the last frame. */
void gw_wav_add_end(const gw_wav_layout *layout, gw_text *out);

#ifdef __cplusplus
}
#endif
#endif
