/* Readings: what a capture's volts say, each figure with its uncertainty or the reason why there is none.
 *
 * Inside everything is linear SI: volts, hertz, seconds, ratios. The table gw_reading_infos says how a figure is shown.
 * Definitions: DEVELOPERS.md, and the `source` of each row. Knows nothing of chains and files. */
#ifndef GAINWALK_MEASURE_H
#define GAINWALK_MEASURE_H

#include "gainwalk/capture.h"

#ifdef __cplusplus
extern "C" {
#endif

/* ---- what is fed in ------------------------------------------------------------------------------ */

typedef enum gw_shape {
    GW_SHAPE_UNKNOWN,
    GW_SHAPE_SINE,
    GW_SHAPE_PERIODIC,
    GW_SHAPE_TWO_TONE,
    GW_SHAPE_NOISE,
    GW_SHAPE_NONE, /* nothing is fed in */
    GW_SHAPE_SWEEP,
} gw_shape;

typedef struct gw_stimulus {
    gw_shape shape;
    double frequency_hz; /* 0 unknown; of two tones the lower */
    double second_hz;    /* the upper of two tones; 0 unknown */
    double level_v;      /* RMS; 0 unknown */
} gw_stimulus;

/* ---- readings ------------------------------------------------------------------------------------ */

typedef enum gw_reading_key {
    GW_DC,
    GW_AC_RMS,
    GW_TOTAL_RMS,
    GW_PEAK_HIGH,
    GW_PEAK_LOW,
    GW_PEAK_TO_PEAK,
    GW_CREST,
    GW_FREQUENCY,
    GW_PITCH,
    GW_LEVEL,
    GW_LEVEL_DBV,
    GW_LEVEL_DBU,
    GW_THD,
    GW_THD_N,
    GW_SINAD,
    GW_NOISE,
    GW_NOISE_A,
    GW_NOISE_DENSITY,
    GW_HUM,
    GW_SNR,
    GW_CLIP_HIGH,
    GW_CLIP_LOW,
    GW_DROPOUTS,
    GW_DRIFT,
    GW_READING_COUNT
} gw_reading_key;

/* How a figure, linear inside, is shown to people and in JSON. */
typedef enum gw_show {
    GW_SHOW_PLAIN,   /* as it is, in `unit` */
    GW_SHOW_VOLTS,   /* as it is; unit V, or what the capture is in (FS, A, div) */
    GW_SHOW_DENSITY, /* V/√Hz, or FS/√Hz */
    GW_SHOW_SLOPE,   /* V/s, or FS/s */
    GW_SHOW_PERCENT, /* a ratio, times 100 */
    GW_SHOW_DB,      /* a ratio, 20 lg */
    GW_SHOW_DBV,     /* volts RMS, 20 lg re 1 V; dBFS (re a full-scale sine) where the capture has no volts */
    GW_SHOW_DBU,     /* volts RMS, 20 lg re sqrt(0.6) V; dBFS where the capture has no volts */
} gw_show;

typedef struct gw_reading_info {
    const char *key;  /* as in JSON */
    const char *name; /* for people */
    const char *unit; /* of the shown figure where `show` does not decide it */
    gw_show show;
    const char *meaning; /* one line */
    const char *source;  /* of the definition */
} gw_reading_info;

/* One row a reading, indexed by gw_reading_key. */
extern const gw_reading_info gw_reading_infos[GW_READING_COUNT];

typedef enum gw_reading_state {
    GW_READING_NONE,  /* `why` says why not */
    GW_READING_VALUE, /* `value` and its uncertainty */
    GW_READING_BELOW, /* `value` is an upper bound, `why` says what limits it */
} gw_reading_state;

/* One figure. Uncertainties are absolute, in the unit of `value`. For figures shown in decibels they are those of the
 * linear value. */
typedef struct gw_reading {
    gw_reading_state state;
    double value;
    double u95;      /* expanded, coverage 95 %: everything together */
    double u_random; /* standard: the fit's covariance, noise, resolution */
    double u_scale;  /* standard: the instrument's stated accuracy (rectangular, a/sqrt 3), common to one range of one
                        channel */
    const char *why; /* NULL with a plain value */
} gw_reading;

/* A reading as shown: converted by its row. False where there is none (state NONE). `*unit` is static text.
 * `*u95` is in the shown unit (dB for ratios: 20 lg (1 + u95/value)). `capture_unit` is "V", "FS" … */
bool gw_reading_shown(gw_reading_key key, const gw_reading *reading, const char *capture_unit, double *value,
                      double *u95);
const char *gw_reading_unit(gw_reading_key key, const char *capture_unit);

typedef enum gw_signal {
    GW_SIGNAL_NONE,
    GW_SIGNAL_DC,
    GW_SIGNAL_SINE,
    GW_SIGNAL_PERIODIC,
    GW_SIGNAL_TWO_TONE,
    GW_SIGNAL_NOISE,
    GW_SIGNAL_SWEEP /* never told by measuring alone: see gw_readings_take_response */
} gw_signal;

/* "none", "dc", "sine", "periodic", "two-tone", "noise", "sweep". */
const char *gw_signal_name(gw_signal signal);

typedef struct gw_harmonic {
    int order; /* 1 is the fundamental */
    double frequency_hz;
    double rms, u95;
    double u_random;
    double phase_rad; /* of the cosine, at the first sample */
    bool resolved;    /* above what resolution and noise could fake */
} gw_harmonic;

typedef enum gw_tone_kind {
    GW_TONE_MAINS,    /* mains or a multiple of it */
    GW_TONE_STIMULUS, /* one of two tones fed in */
    GW_TONE_PRODUCT,  /* intermodulation product of two tones */
    GW_TONE_OTHER,    /* a discrete tone above the floor, not in the stimulus */
} gw_tone_kind;

/* "mains", "stimulus", "product", "tone". */
const char *gw_tone_kind_name(gw_tone_kind kind);

typedef struct gw_tone {
    double frequency_hz, rms, u95;
    gw_tone_kind kind;
    int order; /* multiple of the mains; order of a product; else 0 */
} gw_tone;

typedef enum gw_event_kind { GW_EVENT_DROPOUT, GW_EVENT_CRACKLE, GW_EVENT_STEP } gw_event_kind;

/* "dropout", "crackle", "step". */
const char *gw_event_kind_name(gw_event_kind kind);

typedef struct gw_event {
    gw_event_kind kind;
    double start_s, length_s; /* from the first sample */
    double size_v;            /* peak of an impulse, height of a step; 0 for a dropout */
} gw_event;

/* A flat run at one polarity: where the signal stands still although it should not. */
typedef struct gw_flat {
    double share;   /* of the record, 0..1 */
    double level_v; /* where it stands */
    bool clipped;   /* more than a healthy crest of this shape would give */
    bool recorder;  /* at the converter's end: the recorder's doing, not the circuit's */
} gw_flat;

/* What the shape shows beside the readings, for whoever judges. */
typedef struct gw_clues {
    gw_flat high, low;
    bool crossover;                 /* a flat spot at the zero crossing */
    bool slew_limited;              /* constant slope through zero, steeper sine expected */
    double hum_mains_v;             /* RMS at the mains frequency itself */
    double hum_twice_v;             /* RMS at twice the mains */
    double hum_rest_v;              /* RMS of the other multiples */
    double mains_hz;                /* found or stated; 0 where none was found */
    double crackle_count;           /* impulses above the residual */
    double step_count;              /* steps of DC */
    double imd_second, imd_third;   /* of two tones, ratios: SMPTE RP 120 (upper tone at least 4 times the lower) or
                                       difference-frequency distortion of IEC 60268-3; 0 without two tones */
    double wobble_hz, wobble_depth; /* slow amplitude modulation 1..20 Hz: frequency and depth (0..1); 0 none */
    double cycles;                  /* of the fundamental in the record; 0 without one */
    double codes;                   /* peak to peak in steps; 0 unknown */
    bool too_short, too_coarse, overloaded, gappy; /* why the capture is poor */
    bool dc_exactly_zero; /* |dc| under what any DC-coupled front end would show: suspect AC coupling */
} gw_clues;

/* A picture of a curve with peaks kept: `count` columns, each with the lowest and the highest value in it. */
typedef struct gw_trace {
    size_t count;
    double start, end; /* of the x axis: seconds, or hertz (columns are spaced logarithmically when `log_x`) */
    bool log_x;
    double *low, *high; /* volts; for spectra RMS volts a line, `low` NULL */
} gw_trace;

/* Level against time, for records longer than one segment. */
typedef struct gw_level_point {
    double time_s, rms_v, dc_v;
} gw_level_point;

/* What the readings were made from. */
typedef struct gw_source {
    const char *file;
    int channel;
    const char *channel_name; /* NULL where the file gives none */
    const char *unit;         /* "V", "FS", … */
    double rate_hz, duration_s, step, start_s;
    uint64_t samples;
    bool wav;           /* of a sound card or recorder: DC is not measurable */
    const char *sha256; /* hexadecimal; NULL until someone filled it */
} gw_source;

typedef struct gw_readings {
    gw_source source;
    gw_signal signal;
    gw_reading values[GW_READING_COUNT];
    gw_harmonic *harmonics;
    size_t harmonic_count;
    gw_tone *tones;
    size_t tone_count;
    gw_event *events;
    size_t event_count;
    gw_level_point *levels;
    size_t level_count;
    gw_clues clues;
    gw_trace waveform, spectrum;
    double band_low_hz, band_high_hz; /* of noise and THD+N, as far as the record can show */
    double noise_floor_v;             /* standard deviation of the residual, in the whole bandwidth */
    const char *note;                 /* name of the note that pitch counts from, "A4"; NULL without a pitch */
    bool dc_hidden;                   /* AC-coupled or a sound card: DC is not judged */
    gw_strings remarks;               /* of the capture, then of the measuring */
    gw_arena *arena;                  /* owns all above */
} gw_readings;

/* ---- measuring ----------------------------------------------------------------------------------- */

/* Transforms that were prepared for one capture and serve for the next of the same length: for any number of threads at
 * a time. The readings are the same without. NULL when memory is out; gw_measure_kept_free (NULL is fine) when no
 * measuring uses it any more. */
typedef struct gw_measure_kept gw_measure_kept;
gw_measure_kept *gw_measure_kept_new(void);
void gw_measure_kept_free(gw_measure_kept *kept);

typedef struct gw_measure_options {
    gw_stimulus stimulus;
    bool sine_expected; /* the first point's capture is a sine: THD has a meaning even if none is stated */
    double mains_hz;    /* 0: find out whether it is 50 or 60 */
    double band_low_hz, band_high_hz; /* 0: 20 Hz, 20 kHz */
    double accuracy; /* the instrument's vertical accuracy, either way, as a ratio; negative: 3 % for text files, 0 for
                        WAV */
    double zero_v;   /* the instrument's own DC error, either way */
    bool ac_coupled; /* the capture hides DC */
    bool figures_only;     /* no `waveform` and `spectrum` of a capture that is measured in one piece */
    int jobs;              /* threads: channels, and segments of a long capture, at a time (0: 1) */
    gw_measure_kept *kept; /* borrowed; NULL: everything is prepared anew */
} gw_measure_options;

/* Measures one channel (index from 0). `options` may be NULL. The caller frees `*out` with gw_readings_free.
 * Fails only for what is no waveform at all: no rate, fewer than 3 samples, unit that is no amplitude; a poor capture
 * gives readings with reasons. */
bool gw_measure_run(const gw_capture *capture, size_t channel, const gw_measure_options *options, gw_readings **out,
                    gw_error *error);

/* Measures every channel, as gw_measure_run does one, options->jobs threads together: `out` has room for each. Where
 * one fails, it and those behind it are NULL. */
bool gw_measure_all(const gw_capture *capture, const gw_measure_options *options, gw_readings **out, gw_error *error);
void gw_readings_free(gw_readings *readings);

/* From one channel of a capture to another of the same capture. */
typedef struct gw_pair {
    bool valid;
    double gain; /* |to/from| at `frequency_hz`, or over the band weighted by the power of `from` */
    double gain_u95;
    double phase_rad;    /* to minus from, -pi..pi */
    double delay_s;      /* of the best fitting straight phase */
    int polarity;        /* +1 kept, -1 flipped, 0 not to be told */
    double coherence;    /* 0..1, weighted by power */
    double frequency_hz; /* where gain and phase were taken; 0 for programme */
} gw_pair;

/* Gain, phase, delay and polarity by the cross-spectrum (H1 estimate; Bendat & Piersol). Works with any programme. */
bool gw_measure_pair(const gw_capture *capture, size_t from, size_t to, gw_pair *out, gw_error *error);

/* ---- test signals to feed in ---------------------------------------------------------------------- */

typedef enum gw_test_shape {
    GW_TEST_SINE,
    GW_TEST_SAW,
    GW_TEST_SQUARE,
    GW_TEST_TWO_TONE,
    GW_TEST_DIFFERENCE,
    GW_TEST_SWEEP,
    GW_TEST_STEPS,
    GW_TEST_PINK,
    GW_TEST_WHITE,
    GW_TEST_SILENCE,
    GW_TEST_SHAPE_COUNT
} gw_test_shape;

typedef struct gw_test_shape_info {
    const char *name;
    const char *meaning;            /* one line */
    const char *source;             /* of its definition; NULL where it needs none */
    double frequency_hz, second_hz; /* what it takes unless told otherwise; 0 where it has none */
    double share;                   /* of the first of two tones in the sum of their amplitudes */
} gw_test_shape_info;

/* One row a shape, indexed by gw_test_shape. */
extern const gw_test_shape_info gw_test_shapes[GW_TEST_SHAPE_COUNT];

/* What to generate. Digital full scale is 1. */
typedef struct gw_test_signal {
    gw_test_shape shape;
    double rate_hz;
    uint64_t samples;
    double frequency_hz, second_hz; /* of a sweep: its ends. 0: the shape's own */
    double rms;                     /* of the signal without its fades, full scale 1; of `steps` the highest step's */
    double fade_s;                  /* raised cosine at the start and at the end */
    int steps;                      /* of `steps`: how many, the quietest first */
    double step_ratio;              /* of `steps`: from one to the next, above 1 */
    uint64_t seed;                  /* of noise */
} gw_test_signal;

typedef struct gw_generator gw_generator;

/* Makes ready to generate. Fails where the frequencies don't fit the rate, the fades are longer than the signal, or a
 * peak would exceed full scale. Noise is generated once here, so that its RMS over the whole length is exact. The same
 * signal gives the same samples. The caller frees with gw_generator_free. */
bool gw_generator_new(const gw_test_signal *signal, gw_generator **out, gw_error *error);

/* The next `count` samples; zeros past the end. */
void gw_generator_next(gw_generator *generator, double *values, size_t count);
void gw_generator_free(gw_generator *generator);

/* Uniform in [0, 1), the value numbered `index` of the series that `seed` names: SplitMix64 (Steele, Lea & Flood 2014)
 * entered at any place. */
double gw_random_uniform(uint64_t seed, uint64_t index);

/* ---- response against frequency ----------------------------------------------------------------------- */

typedef struct gw_response_line {
    double frequency_hz; /* middle of its band, a twelfth of an octave wide */
    double gain;         /* |to/from| */
    double coherence;    /* 0..1: share of `to` that `from` explains */
    double u95;          /* of the gain, as a share of it: what noise and distortion leave open (Bendat & Piersol) */
} gw_response_line;

typedef struct gw_response {
    gw_response_line *lines; /* rising; only where the stimulus has power and explains what comes out */
    size_t count;
    double middle_hz, middle_gain; /* at 1 kHz where that is covered, else in the middle of the lines */
    double low_hz, high_hz;        /* where the gain has fallen by 3.01 dB re the middle; 0: nowhere in the lines */
    double delay_s;                /* of `to` behind `from` by their cross-correlation; 0 within one capture */
    double stimulus_rms;           /* of what was fed in, while it lasted, without DC; in the unit of `from` */
    gw_arena *arena;
} gw_response;

/* Response from one channel to another: of one capture, or of two whose clocks agree (the stimulus's own file and what
 * was recorded; the delay is found, and taken out). Meant for a sweep or noise. H1 estimate, summed over bands (Bendat
 * & Piersol). Where the output has nothing in common with the stimulus, `count` is 0 and all else too. Fails where the
 * rates differ, the records are longer than 2^23 samples, or samples are missing. The caller frees with
 * gw_response_free. */
bool gw_response_run(const gw_capture *stimulus, size_t from, const gw_capture *capture, size_t to, gw_response **out,
                     gw_error *error);
void gw_response_free(gw_response *response);

/* The response from one point to the next, from both points' responses to one stimulus: the lines that both have,
 * divided. `count` is 0 where fewer than two are left. The caller frees. */
bool gw_response_between(const gw_response *from, const gw_response *to, gw_response **out, gw_error *error);

/* Turns the readings of a capture into those of a sweep, by its response to what was fed in: the level is that at the
 * response's middle (the RMS of the sweep there); what can only be told of steady signals keeps a reason. Where the
 * response has no lines, the level is below what there is at all. */
void gw_readings_take_response(gw_readings *readings, const gw_response *response);
/* The same for the capture of the sweep as it was fed in. */
void gw_readings_take_sweep(gw_readings *readings);

#ifdef __cplusplus
}
#endif
#endif
