/* Long captures: segment by segment, fitted where they show something new. Private to src/measure/.
 *
 * Every sample is looked at; the fit, which takes a hundred times as long, is made of the first segments, of one in
 * each stretch of the rest, and of all that show anything that a fitted one of their stretch does not. */
#ifndef GAINWALK_MEASURE_STRETCHES_H
#define GAINWALK_MEASURE_STRETCHES_H

#include "measure/block.h"
#include "measure/segments.h"

/* What one thread works with. */
typedef struct gw_desk {
    double *volts;
    unsigned char *marks;
    gw_shelf *shelf;
    gw_sweepers sweepers;
    gw_measure_kept *kept; /* where the shelf goes back */
} gw_desk;

bool gw_desk_make(gw_desk *out, size_t count, const gw_measure_options *options, gw_error *error);
void gw_desk_end(gw_desk *desk);

/* The block of `count` samples that `desk` holds. */
gw_block gw_desk_block(const gw_capture *capture, const gw_channel *channel, const gw_desk *desk, size_t count);

/* One channel of a long capture, whose segments are of equal length, so that no short rest is left. */
typedef struct gw_track {
    const gw_capture *capture;
    size_t index; /* of the channel */
    const gw_measure_options *options;
    gw_readings *whole; /* what comes of it in the end */
    uint64_t parts;     /* segments */
    gw_hint hint;       /* what the first segment was found to hold; others begin from it (gw_hinted_from) */
} gw_track;

/* Segments of a stretch at most, of which one is fitted at least. */
enum { GW_STRETCH_MAX = 256 };

/* The first segment that begins from what is known. Of many, the second one need not wait for that, so that two threads
 * have something to do at once. */
uint64_t gw_hinted_from(const gw_track *track);

/* What comes next of a stretch. */
typedef enum gw_stretch_phase {
    GW_STRETCH_FIT,  /* the segment `fitted` is fitted */
    GW_STRETCH_LOOK, /* those behind it are looked at, several at a time */
    GW_STRETCH_REST, /* each that is left is fitted, several at a time */
    GW_STRETCH_DONE
} gw_stretch_phase;

/* A stretch on its way: a state that units of work are handed out of and come back to. What comes of it rests neither
 * on their order nor on who does them. */
typedef struct gw_stretch {
    uint64_t from; /* its first segment */
    size_t count;
    gw_segment *segments;
    bool settled[GW_STRETCH_MAX];
    gw_stretch_phase phase;
    size_t fitted;      /* the one fitted last, or next */
    gw_outline outline; /* of it */
    size_t next, away;  /* the first segment not handed out yet; units handed out and not back */
    size_t fruitless;   /* fitted ones that none was like */
    gw_error error;     /* the earliest segment's */
    size_t error_at;
} gw_stretch;

/* Segments `from` to `to` of a stretch: to be fitted, one, or looked at. */
typedef struct gw_unit {
    bool fit;
    size_t from, to;
    gw_outline outline; /* of what was fitted */
    gw_error error;
} gw_unit;

/* Where each stretch of `parts` segments ends: the first ones are short, for the first segment is all that is known
 * then; they grow with what lies before them. NULL when memory is out; the caller frees. */
uint64_t *gw_stretch_ends(uint64_t parts, size_t *count);

bool gw_stretch_begin(gw_stretch *out, uint64_t from, uint64_t to, gw_error *error);
void gw_stretch_end(gw_stretch *stretch);

/* Hands out the next unit; false where there is none until another comes back, or at all. */
bool gw_stretch_give(gw_stretch *stretch, gw_unit *out);

/* Whether the next unit is one to fit. */
bool gw_stretch_fits(const gw_stretch *stretch);

/* Called as soon as the first segment of all has told what the others begin from. */
typedef void gw_hint_known(void *to, gw_hint hint);

/* Does a unit. Different units of a stretch may be done at a time. */
void gw_unit_do(gw_unit *unit, const gw_track *track, gw_stretch *stretch, gw_desk *desk, gw_hint_known *known,
                void *to);

/* Takes a unit back. */
void gw_stretch_take(gw_stretch *stretch, const gw_unit *unit);

/* Adds a stretch that is done to those before it: in their order, so that nothing depends on which was done first. */
bool gw_stretch_gather(gw_stretch *stretch, const gw_track *track, gw_desk *desk, gw_segments *all, gw_error *error);

#endif
