/* The walk: a chain and the readings at its points, judged. Knows nothing of files and formats. */
#ifndef GAINWALK_WALK_H
#define GAINWALK_WALK_H

#include "gainwalk/chain.h"

#ifdef __cplusplus
extern "C" {
#endif

typedef enum gw_status { GW_UNJUDGED, GW_OK, GW_UNSURE, GW_OFF, GW_UNPROBED, GW_UNREADABLE } gw_status;

/* "unjudged", "ok", "unsure", "off", "unprobed", "unreadable". */
const char *gw_status_name(gw_status status);

/* ---- findings table -------------------------------------------------------------------------------- */

typedef enum gw_finding_code {
    GW_FOUND_SIGNAL_LOST,
    GW_FOUND_LEVEL_LOW,
    GW_FOUND_LEVEL_HIGH,
    GW_FOUND_DC_SHIFT,
    GW_FOUND_DC_PASSED,
    GW_FOUND_CLIPPED,
    GW_FOUND_DISTORTION_ADDED,
    GW_FOUND_NOISE_ADDED,
    GW_FOUND_HUM_ADDED,
    GW_FOUND_TONE_ADDED,
    GW_FOUND_POLARITY_FLIPPED,
    GW_FOUND_CUTS_OUT,
    GW_FOUND_CRACKLE,
    GW_FOUND_HIGHS_LOST,
    GW_FOUND_LOWS_LOST,
    GW_FOUND_PITCH_OFF,
    GW_FOUND_RAIL_OFF,
    GW_FOUND_RIPPLE_HIGH,
    GW_FOUND_ODD_ONE_OUT,
    GW_FOUND_PROBE_SUSPECT,
    GW_FOUND_CAPTURE_POOR,
    GW_FINDING_COUNT
} gw_finding_code;

enum { GW_CAUSES_MAX = 8 };

typedef struct gw_cause_info {
    const char *cause;   /* NULL ends the list */
    const char *confirm; /* the one measurement that would confirm it */
} gw_cause_info;

typedef struct gw_finding_info {
    const char *code;                    /* as in JSON */
    const char *meaning;                 /* one line */
    const char *sentence;                /* for the verdict: what is wrong, to follow "between X and Y" */
    gw_cause_info causes[GW_CAUSES_MAX]; /* likely first */
    const char *lookalikes;              /* what shows alike, and how to tell */
} gw_finding_info;

/* One row a code, indexed by gw_finding_code. */
extern const gw_finding_info gw_finding_infos[GW_FINDING_COUNT];

/* ---- what was captured ----------------------------------------------------------------------------- */

typedef enum gw_probe_state { GW_PROBE_NONE, GW_PROBE_UNREADABLE, GW_PROBE_READ } gw_probe_state;

/* What is known of one point or rail. Everything is borrowed and must outlive the walk. */
typedef struct gw_probe {
    gw_probe_state state;
    const char *why;              /* unreadable: the error's text */
    const gw_readings *readings;  /* READ */
    const gw_readings *reference; /* readings of the reference channel of the same capture; NULL without one */
    const char *same_file;        /* path of the capture: points with equal paths share channel ranges */
    const gw_response *response;  /* of a sweep, from what was fed in; NULL without one */
    const gw_pair *pair;          /* from the reference channel of the same capture to the point: polarity of noise and
                                     of two tones; NULL without one */
} gw_probe;

/* ---- the result ------------------------------------------------------------------------------------ */

/* What a judged figure is, and so how it is shown. */
typedef enum gw_measure_kind {
    GW_JUDGE_GAIN /* ratio, shown in dB */,
    GW_JUDGE_VOLTS,
    GW_JUDGE_PERCENT /* ratio */,
    GW_JUDGE_HERTZ
} gw_measure_kind;

/* One figure against its expectation. Linear inside. */
typedef struct gw_judgement {
    gw_measure_kind kind;
    bool has_value; /* else `why` */
    bool below;     /* value is an upper bound */
    double value, u95;
    bool has_expected;
    double expected, low, high; /* limits; for `< x` limits low is 0 (or -infinity does not occur) and expected 0 */
    gw_status status;
    const char *why; /* why there is no value, or why unsure; NULL */
    const char *how; /* where the expectation comes from; NULL */
} gw_judgement;

/* Against frequency, of a sweep: a twelfth of an octave a line. */
typedef struct gw_walk_line {
    double frequency_hz;
    double value, u95; /* level in volts RMS, or gain as a ratio */
    double expected;   /* 0 unknown */
} gw_walk_line;

typedef struct gw_walk_curve {
    gw_walk_line *lines; /* rising */
    size_t count;        /* 0: no sweep, or nothing of it */
} gw_walk_curve;

typedef struct gw_walk_point {
    const char *name, *what; /* what may be NULL */
    int after;               /* index of the point before; -1 */
    gw_status status;
    const char *why;             /* unreadable or unsure; NULL */
    const gw_readings *readings; /* NULL unless read */
    const gw_readings *reference;
    bool metered;
    double meter_v, meter_u95_v;
    gw_judgement dc, level, frequency, thd, noise, hum,
        ripple; /* status GW_UNJUDGED where nothing was expected of the point itself */
    double expected_level_v, expected_low_v,
        expected_high_v;  /* from the first point's level times the expected gains; 0 unknown */
    gw_walk_curve levels; /* of a sweep */
} gw_walk_point;

typedef enum gw_polarity { GW_POLARITY_UNKNOWN, GW_POLARITY_KEPT, GW_POLARITY_FLIPPED } gw_polarity;

/* From one probed point to the next probed one; `across` stages lie between (1 when adjacent). */
typedef struct gw_walk_stage {
    int from, to; /* indexes of points */
    int across;
    const char *kind; /* stage kind's name of the last; "several" across more than one; NULL where none is stated */
    gw_status status;
    gw_judgement gain, dc, thd_added, noise_added, hum_added;
    gw_polarity polarity;
    gw_status polarity_status;
    const char *note; /* the coupling capacitor in words; corner and settling; NULL */
    /* of a sweep: gain, and where it has fallen by 3.01 dB below that at `middle_hz` (no value: nowhere in the lines;
     * no expectation: nowhere there either) */
    gw_walk_curve response;
    double middle_hz;
    gw_judgement low_corner, high_corner;
} gw_walk_stage;

typedef struct gw_finding {
    gw_finding_code code;
    int from, to, point; /* indexes of points; -1 none */
    int rail;            /* index of a rail; -1 */
    gw_status status;    /* OFF or UNSURE */
    const char *evidence;
    const char *causes[GW_CAUSES_MAX]; /* ranked for this case, ended by NULL if fewer */
    size_t cause_count;
    const char *confirm;
    const char *lookalikes; /* NULL */
    const char *settle;     /* what would settle an unsure one; NULL */
    int follows;            /* index of the finding it follows from; -1 */
} gw_finding;

typedef enum gw_verdict_status {
    GW_VERDICT_CLEAR,
    GW_VERDICT_FAULT,
    GW_VERDICT_UNSURE,
    GW_VERDICT_INCOMPLETE
} gw_verdict_status;

/* "clear", "fault", "unsure", "incomplete". */
const char *gw_verdict_name(gw_verdict_status status);

typedef struct gw_verdict {
    gw_verdict_status status;
    int finding;         /* index of the finding it rests on; -1 */
    int from, to, point; /* -1 none */
    int rail;            /* -1 */
    bool exact;          /* no unprobed point stands between from and to */
    const char *summary; /* one sentence */
} gw_verdict;

typedef struct gw_next {
    int point; /* index; -1 for something outside the chain */
    int rail;  /* index; -1 */
    const char *why;
} gw_next;

typedef struct gw_walk {
    const char *file, *title, *unit, *note; /* NULL where not stated */
    const char *stimulus;                   /* as written; NULL */
    gw_walk_point *points;
    size_t point_count;
    gw_walk_point *rails;
    size_t rail_count;
    gw_walk_stage *stages;
    size_t stage_count;
    gw_finding *findings;
    size_t finding_count;
    gw_verdict verdict;
    gw_next *next;
    size_t next_count;
    double probes_expected; /* further probes to expect until the stage is known; 0 when known */
    gw_strings remarks;     /* of the walk: steady stimulus, conventions */
    gw_strings
        conditions; /* pairs: key, text: stimulus, mains, band, accuracy, probe, coupling; then the chain's free text */
    gw_arena *arena;
} gw_walk;

/* Judges. `points` and `rails` hold one gw_probe for each of the chain's, in its order. The caller frees `*out`; it
 * refers to the readings. */
bool gw_walk_run(const gw_chain *chain, const gw_probe *points, const gw_probe *rails, gw_walk **out, gw_error *error);
void gw_walk_free(gw_walk *walk);

/* Program exit status of one walk: 0 clear, 1 fault, 2 something was unreadable, 3 unsure or incomplete. */
int gw_walk_exit(const gw_walk *walk);

#ifdef __cplusplus
}
#endif
#endif
