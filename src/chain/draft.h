/* A chain while it is being read: what each section said, before points are linked and expectations resolved. */
#ifndef GAINWALK_CHAIN_DRAFT_H
#define GAINWALK_CHAIN_DRAFT_H

#include "gainwalk/chain.h"

enum { GW_CHAIN_KEYS_MAX = 80, GW_POINTS_MAX = 2000, GW_NAME_MAX = 40 };

typedef enum gw_section {
    GW_SECTION_NONE,
    GW_SECTION_CHAIN,
    GW_SECTION_INSTRUMENT,
    GW_SECTION_POINT,
    GW_SECTION_RAIL
} gw_section;

/* A figure as it stands in the file. `low` and `high` are meaningful with a tolerance only. */
typedef struct gw_stated {
    bool given, has_tolerance;
    bool peak_to_peak; /* volts peak to peak; value and limits are */
    double value, low, high;
    int sign; /* of a gain: its value is a magnitude */
    long line;
} gw_stated;

typedef struct gw_draft_point {
    gw_point point; /* gain, dc, level, frequency, after and capture are filled by gw_draft_resolve */
    const char *capture, *after;
    long after_line, stage_line;
    gw_stated gain, dc, level, frequency, meter;
    double suspect; /* factor; 0 not stated */
    bool probe_stated, accuracy_stated, full_scale_stated, coupling_stated;
} gw_draft_point;

typedef struct gw_chain_draft {
    const char *file;
    long line;       /* of what is being read */
    gw_error *error; /* never NULL while a chain is read: `fault` */
    gw_error fault;
    gw_chain *chain;
    gw_arena *arena; /* the chain's */
    gw_section section;
    long section_line;
    const char *key;              /* being read */
    long seen[GW_CHAIN_KEYS_MAX]; /* line of each key in this section; 0 not seen */
    long chain_line, instrument_line;
    gw_draft_point *points, *rails; /* growing arrays, freed by gw_draft_free */
    size_t point_count, point_capacity, rail_count, rail_capacity;
    gw_draft_point *now; /* of the section being read */
    /* what [instrument] says for all sections */
    double probe, full_scale_v, rate_hz;
    bool ac_coupled;
    const char *captures;  /* folder as written */
    const char *calibrate; /* file as written */
    const char *sweep;     /* likewise */
    long sweep_line;       /* of it, or of a stimulus that is a sweep */
} gw_chain_draft;

/* Fills the draft's error with its file and the current line. Returns false. */
bool gw_draft_fail(const gw_chain_draft *draft, const char *format, ...) GW_PRINTF(2, 3);
/* A copy in the chain's arena; NULL (and the error set) when memory is out. */
const char *gw_draft_copy(const gw_chain_draft *draft, const char *text);

/* ---- values.c -------------------------------------------------------------------------------------- */

/* What a figure may be. Zeroed limits mean none. */
typedef struct gw_value_rule {
    gw_dimension dimension;
    bool bare;          /* a number without unit will do */
    double least, most; /* most 0: none */
    bool least_allowed; /* the value may be `least` itself */
    bool peak_to_peak;  /* volts may be peak to peak */
    bool no_decibel;    /* dBV and dBu make no sense here */
    bool decibel_ratio; /* for ratios: decibels will do */
    bool no_zero;
    const char *example;
} gw_value_rule;

/* Reads one figure for `what` ("dc", "rf") by its rule. */
bool gw_draft_quantity(const gw_chain_draft *draft, const char *what, const char *text, const gw_value_rule *rule,
                       gw_quantity *out);
/* The same with a tolerance, if one is written: in per cent, decibels (for gains and levels), or the figure's own unit.
 */
bool gw_draft_stated(const gw_chain_draft *draft, const char *what, const char *text, const gw_value_rule *rule,
                     bool decibel_tolerance, gw_stated *out);
bool gw_draft_gain(const gw_chain_draft *draft, const char *what, const char *text, gw_stated *out);
/* `< x`, or x. */
bool gw_draft_limit(const gw_chain_draft *draft, const char *what, const char *text, const gw_value_rule *rule,
                    gw_limit *out);
/* One of a list of words ended by NULL; its index. */
bool gw_draft_word(const gw_chain_draft *draft, const char *what, const char *text, const char *const *words,
                   size_t *index);
/* "; did you mean 'x'?" or "", in `out`. */
const char *gw_draft_hint(const char *word, const char *const *known, char *out, size_t size);

bool gw_draft_probe(const gw_chain_draft *draft, const char *text, double *out);
bool gw_draft_accuracy(const gw_chain_draft *draft, const char *text, double *out);
bool gw_draft_mains(const gw_chain_draft *draft, const char *text, double *out);

extern const gw_value_rule gw_rule_frequency;

/* ---- stage_text.c ---------------------------------------------------------------------------------- */

/* Reads `noninverting rf=47k rg=4k7 tol=5 %`. */
bool gw_draft_stage(const gw_chain_draft *draft, const char *text, gw_stage *out);

/* ---- utf8.c ---------------------------------------------------------------------------------------- */

bool gw_utf8_is(const char *text, size_t length);
/* Adds ISO 8859-1, as older editors write '±' and 'µ', in UTF-8. */
void gw_utf8_from_latin1(gw_text *out, const char *text, size_t length);
/* Drops the bytes that are no part of a whole character: what is left where a text was cut. In place. */
void gw_utf8_clean(char *text);

/* ---- ini.c ----------------------------------------------------------------------------------------- */

/* Reads the sections and keys of a chain file's text into the draft. */
bool gw_draft_read(gw_chain_draft *draft, const char *text, size_t length);

/* ---- sections.c ------------------------------------------------------------------------------------ */

bool gw_draft_open_section(gw_chain_draft *draft, const char *header, long line);
bool gw_draft_set_key(gw_chain_draft *draft, const char *key, const char *text);
bool gw_draft_add_point(gw_chain_draft *draft, bool rail, const char *name);

/* ---- links.c, resolve.c ---------------------------------------------------------------------------- */

/* Finds the point before each, puts the points into the order of the signal. */
bool gw_draft_link(gw_chain_draft *draft);
/* Makes the chain's points from the draft's, with all that is expected at them. */
bool gw_draft_resolve(gw_chain_draft *draft);

/* An empty chain and its draft. `file` may be NULL. False when memory is out. */
bool gw_draft_start(gw_chain_draft *draft, const char *file);
/* Links and resolves a draft that is `good` so far, hands over the chain or frees it and tells why, ends the draft. */
bool gw_draft_finish(gw_chain_draft *draft, bool good, gw_chain **out, gw_error *error);

#endif
