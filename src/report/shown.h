/* Figures as they are shown: the model that every format renders. Everything linear becomes per cent or decibels here
 * and nowhere else in this room. */
#ifndef GAINWALK_REPORT_SHOWN_H
#define GAINWALK_REPORT_SHOWN_H

#include "gainwalk/report.h"

/* A figure: a value with its uncertainty, a bound with its reason, or only a reason. In `unit`. */
typedef struct gw_shown {
    gw_reading_state state;
    double value, u95; /* value is the bound where `state` is GW_READING_BELOW */
    const char *unit;
    const char *why; /* never NULL where there is no value */
} gw_shown;

/* A figure against its expectation, in the figure's unit. */
typedef struct gw_shown_judgement {
    gw_shown figure;
    bool has_expected;
    bool limit_only; /* only an upper limit is set: `tolerance` above an expected 0 */
    double expected, tolerance;
    gw_status status;
    const char *how; /* NULL */
} gw_shown_judgement;

/* `capture_unit`: "V", "FS" …; NULL counts as "V". */
/* Says the reading what the one before it in the list does, in a capture without volts? There dBV and dBu are the same.
 */
bool gw_shown_again(gw_reading_key key, const char *capture_unit);
gw_shown gw_shown_reading(gw_reading_key key, const gw_reading *reading, const char *capture_unit);
gw_shown_judgement gw_shown_judge(const gw_judgement *judgement, const char *capture_unit);

/* A reading of a point for tables that judge: a meter's DC beats the capture's, and DC that the capture hides has no
 * value (gw_shown_dc_hidden) where it would pretend to be in order. */
gw_shown gw_shown_at(const gw_walk_point *point, gw_reading_key key);
bool gw_shown_dc_hidden(const gw_walk_point *point);

/* The unit of volts at a point: what its capture is in. */
const char *gw_shown_volts(const gw_walk_point *point);

/* "98.7 mV", "< 0.40 %" or "" where there is none. At most three significant digits, four for frequency and DC of a
 * meter (`digits`). Returns `out`. */
char *gw_shown_print(const gw_shown *shown, int digits, char *out, size_t size);

/* "20.8 ± 1.0 dB", "0 V ± 20 mV", "< 0.5 %"; "" where nothing is expected. Returns `out`. */
char *gw_shown_print_expected(const gw_shown_judgement *judged, char *out, size_t size);

/* A figure that is exact (a setting, a limit): an engineering prefix, no trailing zeros: "20 kHz". Returns `out`. */
char *gw_shown_exact(double value, const char *unit, int digits, char *out, size_t size);

/* From a reference channel to another, as it is shown. */
typedef struct gw_shown_pair {
    const char *why; /* NULL where there is a value */
    double gain_db, gain_u95_db, phase_deg;
    const char *polarity; /* "kept", "flipped", "unknown" */
} gw_shown_pair;
gw_shown_pair gw_shown_from_pair(const gw_pair *pair);

/* The judged figures of a point and of a stage: one table for every format. */
typedef struct gw_judged_field {
    const char *key;  /* as in JSON */
    const char *name; /* for people: "gain", "added noise" */
    size_t offset;    /* of the gw_judgement in its structure */
} gw_judged_field;

extern const gw_judged_field gw_point_fields[]; /* ended by a NULL key */
extern const gw_judged_field gw_stage_fields[];
const gw_judgement *gw_judged_of_point(const gw_walk_point *point, const gw_judged_field *field);
const gw_judgement *gw_judged_of_stage(const gw_walk_stage *stage, const gw_judged_field *field);

/* The stage that leads to point `index`, or NULL. */
const gw_walk_stage *gw_shown_stage_to(const gw_walk *walk, size_t index);

/* Names; NULL where there is none (index -1). */
const char *gw_shown_point(const gw_walk *walk, int index);
const char *gw_shown_rail(const gw_walk *walk, int index);
/* Where a finding is: its point's name, or its rail's. */
const char *gw_shown_place(const gw_walk *walk, int point, int rail);

/* The nearest equal-tempered note, A4 = 440 Hz (ISO 16): "A4", "C#3". "" outside 8 Hz .. 25 kHz. */
char *gw_shown_note(double frequency_hz, char *out, size_t size);

/* Which voltages ask for a louder caution: above 50 V RMS of AC or 120 V of DC (IEC 61140, extra-low voltage). The
 * point's name is put in `*name`. */
bool gw_shown_dangerous(const gw_walk *walk, const char **name, double *volts, bool *ac);
/* The same for one capture. */
bool gw_shown_readings_dangerous(const gw_readings *readings, double *volts, bool *ac);

/* What every report says of its conventions and of safety; lists ended by NULL. */
extern const char *const gw_shown_conventions[];
extern const char *const gw_shown_cautions[];

#endif
