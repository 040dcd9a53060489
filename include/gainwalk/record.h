/* Records: walks kept, and two of them compared. */
#ifndef GAINWALK_RECORD_H
#define GAINWALK_RECORD_H

#include "gainwalk/walk.h"

#ifdef __cplusplus
extern "C" {
#endif

/* ---- records --------------------------------------------------------------------------------------- */

enum { GW_RECORD_VERSION = 2, GW_SHA256_SIZE = 65 };

/* The chain file as it was when it was judged. */
typedef struct gw_record_chain {
    const char *file;   /* NULL where there was no chain file */
    const char *sha256; /* of the file; NULL where it could not be read again */
    const char *text;   /* NULL likewise */
} gw_record_chain;

/* What a record holds: everything that reports show, so that each can be made again without the captures. Walks and
 * their readings live as long as the record; `chains` has one entry a walk. */
typedef struct gw_record {
    const char *file;    /* as it was named; NULL when parsed from text */
    int version;         /* that it was written in */
    const char *program; /* that wrote it */
    const char *created; /* "2026-11-25T02:41:46Z"; NULL where the writer did not say */
    gw_walk *walks;
    size_t walk_count;
    gw_record_chain *chains;
    gw_arena *arena; /* owns all above */
} gw_record;

/* What is known beside the walks. */
typedef struct gw_record_options {
    const char *program; /* "gainwalk 0.1.0" */
    const char *created; /* time in ISO 8601, UTC; NULL leaves it out */
    bool force;          /* replace an existing file */
} gw_record_options;

/* Writes the walks as a record into `out`: JSON, linear SI, every number so that it reads back as the same double. A
 * capture's SHA-256 is that of its readings where they have one, else of the file as it is now; null where it cannot be
 * opened any more. */
bool gw_record_write(const gw_walk *const *walks, size_t count, const gw_record_options *options, gw_text *out,
                     gw_error *error);

/* The same into a file, whole or not at all. An existing file is kept unless `force`; a file that is a capture or the
 * chain file of these walks is never written over, not even then. */
bool gw_record_save(const char *path, const gw_walk *const *walks, size_t count, const gw_record_options *options,
                    gw_error *error);

/* Reads a record of this version or an older one. What is damaged, newer or no record is an error that says where in
 * the record, and `*out` is NULL. The caller frees with gw_record_free. `file` may be NULL. */
bool gw_record_load(const char *path, gw_record **out, gw_error *error);
bool gw_record_parse(const char *text, size_t length, const char *file, gw_record **out, gw_error *error);
void gw_record_free(gw_record *record);

/* True when the file begins as a record does ("{"), as opposed to a chain file. False when it cannot be read. */
bool gw_record_recognise(const char *path);

/* SHA-256 (FIPS 180-4) of a file's bytes, in lower-case hexadecimal. */
bool gw_record_sha256(const char *path, char out[GW_SHA256_SIZE], gw_error *error);

/* ---- comparisons ----------------------------------------------------------------------------------- */

typedef enum gw_change_status {
    GW_CHANGE_SAME,           /* no further apart than the uncertainty of the difference, or within the limits both
                                 times (`why` then says so) */
    GW_CHANGE_BETTER,         /* nearer to what is expected, by more than that */
    GW_CHANGE_WORSE,          /* further from it */
    GW_CHANGE_DIFFERENT,      /* apart, but nothing tells which is better */
    GW_CHANGE_NOT_COMPARABLE, /* `why` says */
} gw_change_status;

/* "same", "better", "worse", "different", "not comparable". */
const char *gw_change_name(gw_change_status status);

typedef enum gw_change_key {
    GW_CHANGE_LEVEL,
    GW_CHANGE_GAIN,
    GW_CHANGE_DC,
    GW_CHANGE_THD,
    GW_CHANGE_NOISE,
    GW_CHANGE_HUM,
    GW_CHANGE_KEYS
} gw_change_key;

/* The names of the changes, one a key: "level", "gain", "dc", "thd", "noise", "hum". */
extern const char *const gw_change_keys[GW_CHANGE_KEYS];

/* One figure before and after. Linear, in the figure's own kind. */
typedef struct gw_change {
    gw_change_status status;
    gw_measure_kind kind;
    gw_reading before, after; /* state NONE where there is none */
    double change, u95;       /* after - before, gains and levels as after / before; only when both are values */
    bool has_change;
    const char *why; /* not comparable, or what decided; NULL */
} gw_change;

/* One point (or rail) in both records. */
typedef struct gw_comparison_point {
    const char *name;
    int before, after; /* indexes in the walks; -1: only in the other */
    bool rail;
    gw_status status_before, status_after;
    gw_change changes[GW_CHANGE_KEYS]; /* gain: of the stage that leads here */
    gw_change_status status;           /* of the point: worse if any is, else better if any is, else different, same */
    const char *why;                   /* not comparable as a whole; NULL */
} gw_comparison_point;

typedef struct gw_comparison {
    const gw_walk *before, *after; /* borrowed */
    const char *summary;           /* one sentence that a customer understands */
    gw_strings differences; /* conditions that differ and forbid comparing: "stimulus: sine … before, none after" */
    bool comparable;
    gw_comparison_point *points;
    size_t point_count;
    size_t better, worse, same, different, not_comparable; /* points */
    gw_arena *arena;
} gw_comparison;

/* Sets two walks of the same chain side by side; points are matched by name. Both must outlive `*out`, which the caller
 * frees with gw_comparison_free. A figure is the same when the difference is within the root sum of squares of both
 * expanded uncertainties (scale errors count too: the two need not come from one instrument). */
bool gw_compare_run(const gw_walk *before, const gw_walk *after, gw_comparison **out, gw_error *error);
void gw_comparison_free(gw_comparison *comparison);

/* ---- expectations from known-good units -------------------------------------------------------------- */

/* Limits hold this share of all units like those seen, with this confidence. */
extern const double gw_learn_content, gw_learn_confidence;

/* k of a normal tolerance interval, mean ± k standard deviations (two-sided) or below mean + k standard deviations
 * (one-sided), that holds `content` of the population with `confidence`, from `count` samples. Exact, by numerical
 * integration (ISO 16269-6:2014, annexes; Odeh & Owen 1980; one-sided: the noncentral t distribution). 0 for fewer than
 * two samples. */
double gw_tolerance_factor(size_t count, double content, double confidence, bool two_sided);

/* One expectation, linear SI (gain: a ratio). */
typedef struct gw_learnt {
    bool has;
    double value, low, high; /* of thd and noise only `high` counts */
    size_t samples, units;   /* siblings of a group are samples of one unit */
    const char *why;         /* there is none, or what the limits rest on when it is not the spread; NULL */
} gw_learnt;

typedef struct gw_learnt_point {
    const char *name;
    bool rail;
    long line;                      /* of its section in the chain file */
    gw_learnt gain, dc, thd, noise; /* of a rail only dc */
} gw_learnt_point;

typedef struct gw_lesson {
    gw_learnt_point *points;
    size_t count;
    gw_arena *arena;
} gw_lesson;

/* Learns what the chain's points do in good units: walks of the same chain, points matched by name. Members of a group
 * are samples for each other, but for those that are off. Two samples or more give tolerance intervals (gain in
 * decibels, DC in volts; thd and noise one-sided, in decibels); half a width is at least twice the largest expanded
 * uncertainty, which both the learnt figure and the one to be judged carry. One sample shows no spread: a gain or DC
 * then keeps the tolerance that the chain has for it. The caller frees `*out`; it keeps nothing of chain and walks. */
bool gw_learn_run(const gw_chain *chain, const gw_walk *const *units, size_t count, gw_lesson **out, gw_error *error);
void gw_lesson_free(gw_lesson *lesson);

/* The chain file's text with the expectations put in: lines of the keys that were learnt are replaced, comments say how
 * many units each rests on, all else stays. `from` (may be NULL) names the units in a comment at the top. */
bool gw_lesson_write(const gw_lesson *lesson, const char *text, size_t length, const char *from, gw_text *out,
                     gw_error *error);

#ifdef __cplusplus
}
#endif
#endif
