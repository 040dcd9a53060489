/* Chains: what each stage should do, from stated figures or from component values. Knows nothing of captures. */
#ifndef GAINWALK_CHAIN_H
#define GAINWALK_CHAIN_H

#include "gainwalk/measure.h"

#ifdef __cplusplus
extern "C" {
#endif

/* ---- stage kinds --------------------------------------------------------------------------------- */

enum { GW_STAGE_PARTS = 8 };

typedef enum gw_dc_path {
    GW_DC_PASSES,  /* with the DC gain of the stage */
    GW_DC_UNKNOWN, /* passes, but its sign or size can't be told (amp) */
    GW_DC_BLOCKED,
} gw_dc_path;

typedef struct gw_part_info {
    const char *name;       /* "rf" */
    gw_dimension dimension; /* of its value */
    bool required;
    double fallback; /* value where it is not required and not stated; SI */
    bool toleranced; /* counts in the spread */
    const char *meaning;
    const char *const *words; /* the words it may be, its value their index; NULL for a figure */
    double least, most;       /* limits of its value, `most` 0 for none; a value must be above `least`, or equal to it
                                 where `least_allowed` */
    bool least_allowed;
} gw_part_info;

typedef struct gw_stage gw_stage;

/* A gain as magnitude and phase. `phase_rad` is -pi..pi. */
typedef struct gw_gain {
    double magnitude, phase_rad;
} gw_gain;

typedef struct gw_stage_kind {
    const char *name;
    const char *meaning; /* one line */
    const char *formula; /* as people write it */
    const char *source;
    gw_part_info parts[GW_STAGE_PARTS]; /* ended by a NULL name; `mix` takes several r */
    gw_dc_path dc;
    int polarity;                                                /* +1 keeps, -1 flips, 0 not told by the kind */
    double suspect;                                              /* default weight as a suspect; 1 is an op-amp stage */
    gw_gain (*gain)(const gw_stage *stage, double frequency_hz); /* NULL where gain must be stated */
    double (*noise_gain)(const gw_stage *stage);                 /* at DC, for offset; NULL: |DC gain| */
    void (*corners)(const gw_stage *stage, double *low_hz, double *high_hz); /* NULL: none */
    double (*usual_db)(const gw_stage *stage); /* the trade's usual tolerance, decibels either way; NULL: 1 dB */
} gw_stage_kind;

/* The one table, ended by a NULL name. */
extern const gw_stage_kind gw_stage_kinds[];
const gw_stage_kind *gw_stage_kind_find(const char *name);

struct gw_stage {
    const gw_stage_kind *kind;
    double parts[GW_STAGE_PARTS]; /* SI, indexed as the kind's parts; the fallback where not stated */
    bool stated[GW_STAGE_PARTS];
    double tolerance[GW_STAGE_PARTS]; /* relative, either way */
    double mix_r[GW_STAGE_PARTS];     /* `mix`: the inputs' resistors */
    size_t mix_count;
    bool blocks_dc;   /* `amp blocks-dc` */
    const char *text; /* as written */
};

/* Gain at a frequency (0 for DC) from nominal values. The kind must have a gain function. */
gw_gain gw_stage_gain(const gw_stage *stage, double frequency_hz);

/* Lowest and highest magnitude that the parts' tolerances allow: worst case for two toleranced parts or fewer, root sum
 * of squares of the single worst cases above; `*worst_case` says which. */
void gw_stage_spread(const gw_stage *stage, double frequency_hz, double *low, double *high, bool *worst_case);

/* The same with every part at that end of its tolerance that moves the gain most: what no healthy stage goes beyond. */
void gw_stage_worst(const gw_stage *stage, double frequency_hz, double *low, double *high);

/* +1 where the stage keeps polarity, -1 where it flips it, 0 where the kind doesn't tell. */
int gw_stage_polarity(const gw_stage *stage);

/* What happens to DC, the stage's own `blocks-dc` included. */
gw_dc_path gw_stage_dc(const gw_stage *stage);

/* Gain from the input's offset to the output at DC: noise gain (1 for a passive stage); 0 where DC is blocked. */
double gw_stage_noise_gain(const gw_stage *stage);

/* -3 dB corners re the mid-band gain, hertz; 0 where there is none. */
void gw_stage_corners(const gw_stage *stage, double *low_hz, double *high_hz);

/* Seconds until a DC step has settled to 1 % (4.605 time constants); 0 where nothing has to settle. */
double gw_stage_settling(const gw_stage *stage);

/* ---- expectations -------------------------------------------------------------------------------- */

typedef enum gw_origin { GW_ORIGIN_NONE, GW_ORIGIN_STATED, GW_ORIGIN_COMPUTED, GW_ORIGIN_DEFAULT } gw_origin;

/* An expected figure with its limits, linear SI (gains: magnitude ratios; low <= value <= high). */
typedef struct gw_expected {
    gw_origin origin; /* NONE: nothing is expected */
    double value, low, high;
    const char *how; /* "stated", "1 + rf/rg, worst case of 5 % parts" … */
    long line;
} gw_expected;

/* `< x`. */
typedef struct gw_limit {
    bool stated;
    double limit; /* volts RMS or ratio */
    long line;
} gw_limit;

typedef enum gw_reach { GW_REACH_EASY, GW_REACH_AWKWARD, GW_REACH_HARD } gw_reach;

typedef struct gw_point {
    const char *name, *what; /* what: NULL where not stated */
    long line;
    bool rail;
    int after; /* index of the point before it; -1 for the first of the chain, and for rails */
    /* where its capture is */
    const char *capture; /* path as to be opened, relative to where the program runs; NULL: search by name in the
                            captures folder */
    bool capture_stated;
    const char *channel; /* NULL: the first (but never the reference) */
    double probe;        /* factor; 1 by default */
    double full_scale_v; /* 0 unknown */
    double accuracy;     /* ratio; negative: by the kind of file */
    double rate_hz;      /* for a file that gives no rate; 0 unknown */
    bool ac_coupled;
    /* a meter's reading instead of a capture */
    bool metered;
    double meter_v, meter_u95_v;
    /* the stage that leads here */
    bool has_stage;
    gw_stage stage;
    gw_expected gain, dc, level, frequency; /* as stated or computed; gain of the stage at the stimulus frequency,
                                               mid-band where that is not stated */
    int polarity;                           /* expected from the point before: +1 kept, -1 flipped, 0 not told */
    gw_limit thd, noise, hum, ripple;
    double flat_low_hz, flat_high_hz; /* where the stage should stay within 3 dB of its gain; 0 not stated */
    gw_reach reach;
    double suspect;    /* weight; the kind's where not stated */
    const char *group; /* NULL */
} gw_point;

typedef struct gw_chain {
    const char *file;                /* NULL where there is no chain file */
    const char *folder;              /* of captures; "" is the current one */
    const char *title, *unit, *note; /* NULL where not stated */
    gw_stimulus stimulus;
    const char *stimulus_text;        /* as written; NULL */
    double mains_hz;                  /* 0 not stated */
    double band_low_hz, band_high_hz; /* 0 not stated */
    double accuracy;                  /* negative: by the kind of file */
    double zero_v;
    const char *reference; /* channel that holds the stimulus; NULL */
    const char *sweep;     /* the file that was played, path as to be opened; NULL */
    double reference_probe;
    /* a capture of a known level, taken through the same probe or pad, that gives the volts at digital full scale to
     * points that have none stated; path as to be opened; NULL */
    const char *calibrate;
    double calibrate_v; /* RMS level that it holds */
    long calibrate_line;
    bool simple_decision;
    gw_point *points;
    size_t point_count;
    gw_point *rails;
    size_t rail_count;
    gw_strings conditions; /* pairs: key, text: free-text keys for the job sheet (complaint, found, confirmed, parts,
                              customer …) */
    gw_arena *arena;
} gw_chain;

/* Bytes of a chain file, at most. */
enum { GW_CHAIN_TEXT_MAX = 4 << 20 };

/* Loads a chain file. All of `*out` belongs to the caller (gw_chain_free). On failure the error has file and line and,
 * for a word not known, the nearest known one. */
bool gw_chain_load(const char *path, gw_chain **out, gw_error *error);

/* Parses a chain file's text (tests, fuzzing, records); `file` is used in errors and to find the captures folder. */
bool gw_chain_parse(const char *text, size_t length, const char *file, gw_chain **out, gw_error *error);

/* Options of a chain without a file. Zeroed but for `accuracy` (negative: by kind) . */
typedef struct gw_chain_plain {
    const char *const *captures; /* paths, successive points */
    size_t count;
    const char *gains; /* "0dB,20dB,x0.5", one fewer than captures or as many (the first is then the source's); NULL */
    const char *stimulus; /* "sine 1kHz 100mV"; NULL */
    const char *channel;  /* NULL */
    const char *mains;    /* "50 Hz"; NULL */
    const char *probe;    /* "x10"; NULL */
    const char *accuracy; /* "3 %"; NULL */
} gw_chain_plain;

/* A chain whose points are the captures, named after the files without folder and extension (made unlike by a number
 * where alike). */
bool gw_chain_from_files(const gw_chain_plain *plain, gw_chain **out, gw_error *error);

void gw_chain_free(gw_chain *chain);

/* Looks in the captures folder for files named after the points and rails whose capture is not stated (any extension of
 * gw_capture_extensions, in that order; the extension's case doesn't matter). gw_chain_load has done so already; this
 * is for a folder that fills while the program runs. A missing folder is no error. False only when memory is out. */
bool gw_chain_find_captures(gw_chain *chain, gw_error *error);

/* The gain expected of a point's stage at another frequency than the stimulus's: a computed gain is computed again, a
 * stated one stays. `frequency_hz` 0 gives the mid-band. The texts are the point's own. */
gw_expected gw_point_gain_at(const gw_point *point, double frequency_hz);

/* Reads what is fed in, `sine 1 kHz 100 mV`: shape, frequency (two for two-tone), RMS level; what is left out stays 0.
 */
bool gw_stimulus_parse(const char *text, gw_stimulus *out, const char *file, long line, gw_error *error);

struct gw_chain_draft; /* private to src/chain/ */

/* The keys a section takes: one table for parser, help and manual; ended by a NULL key. */
typedef struct gw_chain_key {
    const char *section; /* "chain", "instrument", "point", "rail" (point and rail: "point rail") */
    const char *key;
    const char *example;
    const char *meaning;
    bool (*set)(struct gw_chain_draft *draft, const char *text); /* the parser's; not for others */
} gw_chain_key;
extern const gw_chain_key gw_chain_keys[];

#ifdef __cplusplus
}
#endif
#endif
