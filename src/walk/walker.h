/* The walk's own workings: what its files share while one chain is judged. Private to src/walk/. */
#ifndef GAINWALK_WALK_WALKER_H
#define GAINWALK_WALK_WALKER_H

#include "gainwalk/walk.h"

/* A figure on its way to a judgement: linear, with what is random and what is the instrument's scale kept apart, so
 * that a ratio can cancel what both sides share. `random` and `scale` are relative standard uncertainties. */
typedef struct gw_figure {
    bool has;
    bool below; /* value is an upper bound */
    double value;
    double random, scale;
} gw_figure;

/* Gaps in a signal, as the picture of its waveform shows them; times from the first sample. */
typedef struct gw_cuts {
    size_t count;
    double start_s, length_s; /* of the first */
    double level_v;           /* of a sine that is there between them, RMS */
    double level_random;      /* … its relative standard uncertainty */
    double dc_v;              /* DC between them, where it goes in them as well; 0 where it stays */
} gw_cuts;

/* DC that slides away with nothing fed in. */
typedef struct gw_slide {
    double volts_a_second;
    double low_v, high_v; /* lowest and highest mean over a period of the mains */
    double scale;         /* relative standard uncertainty of both */
} gw_slide;

/* One point while it is judged. */
typedef struct gw_node {
    const gw_point *point;
    const gw_probe *probe;
    const gw_readings *readings;  /* NULL unless read */
    const gw_readings *reference; /* NULL without one */
    int depth;                    /* stages between it and the chain's first point */
    int from;                     /* nearest usable point before it; -1 */
    bool usable;                  /* its reading may be built upon */
    bool doubted;                 /* the capture, not the stage, is wrong (probe-suspect) */
    bool poor;                    /* the capture's level cannot be used (clipped in the recorder, overloaded …) */
    bool hidden_poor;             /* poor for its signal only: its DC is good */
    bool unclipped_next;          /* clipped here, but not at the next point: the screen did it */
    bool detected;                /* the stimulus is there, at whatever level */
    bool strange;                 /* a steady tone that is not the stimulus stands where it should be */
    bool dead;                    /* the stimulus is missing for certain, or far under what it should be */
    bool hidden;                  /* it is not seen, but the capture could hide it */
    bool slides;                  /* its DC slides away, out of its limits */
    bool below_dead;              /* a usable point before it is dead */
    bool tied;                    /* of a source that changes: its level was taken to the reference channel's */
    gw_figure level;              /* of the stimulus */
    gw_cuts cuts;                 /* gaps, where the readings themselves made nothing of them */
    double frequency_hz;          /* of what it carries; 0 unknown */
} gw_node;

/* What should happen between two points, over all the stages between. */
typedef struct gw_span {
    int from, to, across;       /* from -1: the source itself */
    bool gain_known;            /* every stage on the way has an expected gain */
    double gain;                /* ratio */
    double near_low, near_high; /* spreads added as root sum of squares (linear for two or fewer) */
    double far_low, far_high;   /* spreads added linearly */
    bool phase_known;
    double phase_rad;
    bool blocks;      /* some stage on the way blocks DC */
    bool last_blocks; /* the last one does */
    bool dc_known;    /* the DC to come is known, `dc` with its limits */
    double dc, dc_low, dc_high;
    double dc_gain;   /* of what passes; 0 where blocked or unknown */
    bool dc_unknown;  /* some stage passes DC with unknown sign or size */
    bool passive;     /* nothing on the way needs a rail */
    const char *kind; /* of the last stage; "several"; NULL */
    const char *how;  /* where the gain's expectation comes from */
} gw_span;

typedef struct gw_walker {
    const gw_chain *chain;
    gw_walk *walk;
    gw_arena *arena;
    gw_node *nodes; /* one a point */
    int *order;     /* point indexes, each behind the one it follows */
    int *path;      /* room for as many indexes, for whoever walks from one point to another */
    size_t count;
    gw_walk_stage *stage_of; /* one a point: the stage that leads to it; from -1 where there is none */
    gw_span *span_of;        /* likewise */
    gw_finding *findings;    /* grows; moved to the walk at the end */
    size_t finding_count, finding_capacity;
    double frequency_hz; /* of the stimulus: stated, or as the first live point has it; 0 unknown */
    gw_shape shape;      /* of the stimulus: stated, or as the first live point has it */
    bool wanders;        /* what is fed in is not stated, and changes from capture to capture */
    bool dc_hidden_all;  /* every capture reads DC as exactly 0 */
    bool failed;         /* memory is out; results are then thrown away */
} gw_walker;

/* ---- text (words.c) ---- */
/* printf into the walk's arena; "" and `failed` when memory is out. */
const char *gw_walker_text(gw_walker *walker, const char *format, ...) GW_PRINTF(2, 3);
void gw_walker_remark(gw_walker *walker, const char *format, ...) GW_PRINTF(2, 3);
/* "-31.2 dB"; one decimal, no minus before zero. `out` holds 32 bytes or more. */
char *gw_words_db(double ratio, char *out, size_t size);
/* A number of decibels with its half width: "0.0 ± 1.0 dB" from linear limits. */
char *gw_words_db_range(double value, double low, double high, char *out, size_t size);
char *gw_words_volts(double value_v, double u95_v, const char *unit, char *out, size_t size);
char *gw_words_pm(double value, double u95, const char *unit, char *out, size_t size);
char *gw_words_percent(double ratio, char *out, size_t size);
const char *gw_words_unit(const gw_readings *readings); /* "V", "FS" … */
/* A finding's evidence for one judged figure: "gain -31.2 ± 0.4 dB, expected 0.0 ± 1.0 dB". */
const char *gw_words_evidence(gw_walker *walker, const char *what, const gw_judgement *judgement, const char *unit);
const char *gw_words_name(const gw_walker *walker, int point); /* "the source" for -1 */

/* ---- judging (judge.c) ---- */
/* Sets the status: inside the limits by more than `u95` is OK, outside by more OFF, else UNSURE (JCGM 106:2012,
 * ILAC-G8:09/2019, guard band w = U). With `simple`, inside is OK whatever the uncertainty, and outside is OFF once it
 * is further out than `resolution` (simple acceptance, ILAC-G8:09/2019, 4.2.1). */
gw_status gw_judge_range(double value, double u95, double low, double high, bool simple, double resolution);
/* The same with only an upper limit; `below`: the value is an upper bound. */
gw_status gw_judge_limit(double value, double u95, bool below, double limit, bool simple, double resolution);
gw_status gw_status_worse(gw_status one, gw_status other);
gw_figure gw_figure_of(const gw_reading *reading);
double gw_figure_u95(const gw_figure *figure);        /* relative, coverage factor 2 */
double gw_figure_random_u95(const gw_figure *figure); /* relative, without the scale */
/* to / from, the scale cancelled where both come from channels of one file. */
gw_figure gw_figure_ratio(const gw_figure *to, const gw_figure *from, bool common_scale);
/* What was added to `from` to give `to`, in power: sqrt(to² - from²), 0 where there is less. */
double gw_rest(double to, double from);
double gw_reading_or(const gw_readings *readings, gw_reading_key key, double fallback);
bool gw_reading_has(const gw_readings *readings, gw_reading_key key);

/* ---- layout (layout.c) ---- */
bool gw_layout_init(gw_walker *walker, const gw_probe *points);
/* Nearest usable point before each, and the stages between: again whenever a capture came into doubt. */
void gw_layout_link(gw_walker *walker);
gw_span gw_layout_span(const gw_walker *walker, int from, int to);
/* The point that a stage is judged from; NULL where there is none. */
const gw_node *gw_layout_input(const gw_walker *walker, int point);
bool gw_layout_same_file(const gw_walker *walker, int one, int other);
bool gw_layout_is_before(const gw_walker *walker, int earlier, int later); /* earlier on the way to later, or equal */
/* AC coupling, declared or evident: a sound card that reads next to nothing tells nothing. */
bool gw_layout_dc_hidden(const gw_walker *walker, const gw_readings *readings);
bool gw_layout_near_rail(const gw_walker *walker, const gw_readings *readings); /* DC beyond 80 % of a stated rail */
/* DC at a point as it may be built upon: a meter's beats the capture's. False where it is hidden or not read. `*step_v`
 * is the capture's (0 for a meter). */
bool gw_layout_dc(const gw_walker *walker, int point, gw_reading *out, double *step_v);
/* DC of such a record, and what its step may be; false for any other record. */
bool gw_layout_flat_dc(const gw_readings *readings, gw_reading *dc, double *step_v);
bool gw_layout_is_flat(const gw_readings *readings);     /* every sample is the same, and the step not known */
double gw_layout_flat_step(const gw_readings *readings); /* what the step may be there */
/* Gain that the stages between are expected to have at a frequency, relative to that at the stimulus; 1 where no
 * stage is known to change with frequency. */
double gw_layout_tilt(const gw_walker *walker, int from, int to, double frequency_hz);

/* ---- one job each ---- */
/* stimulus.c: the shape and frequency fed in: as stated, else as the first point shows them that has more than mains */
void gw_stimulus_find(gw_walker *walker);

/* wander.c: a source that changes, as music does. Its level is all there is but DC, or what the cross-spectrum with the
 * reference channel makes of that; a gain between captures made one after the other is off for certain only so. */
void gw_wander_find(gw_walker *walker);
void gw_wander_level(gw_node *node);
gw_figure gw_wander_reference(const gw_node *node);
void gw_wander_doubt(const gw_walker *walker, const gw_span *span, gw_judgement *gain);
void gw_levels_find(gw_walker *walker);             /* levels.c: is the stimulus there, and how large */
bool gw_level_is_comb(const gw_readings *readings); /* a sine, or any other periodic signal */
bool gw_level_is_mains(const gw_walker *walker, double frequency_hz); /* mains or twice the mains */
/* Both tones that are fed in, as stated or as the first capture shows them that has them; false where none does. */
bool gw_level_pair(const gw_walker *walker, double pair_hz[2]);
/* A frequency that two tones make together in a stage that bends, up to the fifth order. */
bool gw_level_is_product(const double pair_hz[2], double frequency_hz, double reach_hz);
/* Level in the reference channel; not `has` where there is none. */
gw_figure gw_level_reference(const gw_walker *walker, const gw_node *node);
bool gw_level_hums(const gw_readings *readings); /* mains is most of what there is */
/* cuts.c: gaps in what is nothing steady as a whole, of the DC or of a sine; false where there are none */
bool gw_cuts_take(gw_walker *walker, gw_node *node, const gw_node *before, double fed_hz, bool of_dc);
void gw_cuts_look(gw_walker *walker, gw_node *node,
                  const gw_node *before); /* gaps in what was read as a signal, if it was */
void gw_levels_death(gw_walker *walker);  /* where it is lost, by what should arrive */
void gw_levels_expect(gw_walker *walker); /* what should arrive at each point, for the report */
double gw_level_tilt(const gw_walker *walker, const gw_span *span); /* broad.c: gain over the whole signal re that at
                                                                       one frequency */
void gw_doubts_find(gw_walker *walker);                             /* doubts.c: poor captures, probe errors */
void gw_doubts_report(gw_walker *walker);                           /* … as findings */
void gw_doubts_unbend(gw_walker *walker);                           /* shape errors that are gone at the next point */
void gw_gains_judge(gw_walker *walker);                             /* gains.c */
gw_judgement gw_gain_between(const gw_walker *walker, const gw_span *span);
bool gw_gain_source(const gw_walker *walker, int to, gw_judgement *out);           /* against the stated stimulus */
bool gw_slide_find(gw_walker *walker, const gw_readings *readings, gw_slide *out); /* slide.c */
void gw_dc_judge(gw_walker *walker);                                               /* dc.c */
void gw_coupling_note(gw_walker *walker, int point, const gw_judgement *dc);       /* coupling.c */
bool gw_dc_all_zero(const gw_walker *walker);                            /* AC coupling that nobody declared */
bool gw_level_same(double one_hz, double other_hz, double within);       /* two frequencies, within a share */
double gw_floor_noise(const gw_walker *walker, const gw_readings *here); /* floor.c: the most that is its own; volts */
void gw_shape_judge(gw_walker *walker);                                  /* shape.c: THD, noise, hum */
double gw_shape_hum(const gw_walker *walker, const gw_readings *readings); /* without what is the signal's own */
/* marks.c: impulses or steps, three or more, all at multiples of half a period of the mains from each other */
bool gw_marks_in_step(const gw_walker *walker, const gw_readings *readings);
void gw_marks_judge(gw_walker *walker);            /* marks.c: clipping, tones, dropouts, crackle, point by point */
void gw_tones_judge(gw_walker *walker, int point); /* tones.c, of one point */
/* mains.c: whether a line is one of the mains'. Where hum stands in the capture its comb goes on as far as a
 * rectifier's does; without it there is no more to it than its first lines. And where nothing tells of the mains, as
 * where the signal lies beside it: one of the first multiples of 50 or 60 Hz. */
bool gw_mains_holds(const gw_walker *walker, const gw_readings *readings, double frequency_hz);
bool gw_mains_may_hold(const gw_walker *walker, double frequency_hz);
/* Hum, with the lines of the mains that the fit has as tones of their own; volts RMS. */
double gw_mains_hum(const gw_walker *walker, const gw_readings *readings);
/* Hum of one point whose signal stands on a line of the mains, by the others; `gain` to it, `whole` its signal, volts.
 */
void gw_mains_judge(gw_walker *walker, int point, double gain, double whole);
/* A line that stands on a harmonic by chance: bending makes no such harmonic without those beside it. */
bool gw_tone_is_lone(const gw_readings *readings, const gw_harmonic *line);
void gw_clipping_judge(gw_walker *walker, int point); /* clip.c, of one point */
/* Of a waveform with a shape of its own: has the next point, to which all its harmonics pass alike, the peaks that are
 * cut here? */
bool gw_clipping_is_undone(const gw_walker *walker, int point, int next);
double gw_outline_swing(const gw_readings *readings); /* peak to peak of its first ten harmonics together; volts */
void gw_tilt_judge(gw_walker *walker);                /* tilt.c: highs lost, lows lost */
void gw_sweep_judge(gw_walker *walker);               /* sweep.c: the same, and corners, from a sweep */
void gw_phase_judge(gw_walker *walker);               /* phase.c: polarity */
void gw_pitch_judge(gw_walker *walker);               /* pitch.c: frequency */
double gw_rail_mains(const gw_readings *readings);
void gw_rail_parts(const gw_readings *readings, double *once, double *twice); /* ripple at mains, at twice the mains */
void gw_rails_judge(gw_walker *walker, const gw_probe *rails);
void gw_groups_judge(gw_walker *walker);
void gw_branches_join(gw_walker *walker); /* branches.c: one fault before a branching, seen in both branches */
void gw_follows_mark(gw_walker *walker);  /* follows.c: which finding follows from which */
void gw_rank_causes(gw_walker *walker);   /* rank.c */
void gw_verdict_reach(gw_walker *walker); /* verdict.c */
void gw_verdict_say(gw_walker *walker);
void gw_next_choose(gw_walker *walker); /* next.c */

/* ---- findings (findings.c, finding.c) ---- */
/* A new finding at `to`, coming from `from`; NULL when memory is out. Valid until the next one is added. */
gw_finding *gw_finding_add(gw_walker *walker, gw_finding_code code, gw_status status, int from, int to);
/* The first finding of that kind at a point, or -1. */
int gw_finding_at(const gw_walker *walker, gw_finding_code code, int point);
bool gw_finding_is_doubt(gw_finding_code code);
void gw_findings_sort(gw_walker *walker); /* in the order of the signal, rails first */

#endif
