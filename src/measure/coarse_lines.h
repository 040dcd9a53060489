/* Lines of a spectrum among which a fundamental is looked for, and which of them are the mains'. Private to
 * src/measure/coarse*.c. */
#ifndef GAINWALK_MEASURE_COARSE_LINES_H
#define GAINWALK_MEASURE_COARSE_LINES_H

#include "measure/coarse.h"

/* Cycles a record that a line may be off its place. */
#define GW_LINE_TOLERANCE 0.35

/* The first multiples of the mains, among which hum is for the most part. */
enum { GW_MAINS_LOW = 10 };

typedef struct gw_line_comb {
    double cycles; /* of the fundamental */
    double energy; /* of the lines on it */
    double other;  /* of the lines that are not */
    size_t lines;
} gw_line_comb;

typedef struct gw_line_search {
    const gw_block *block;
    const gw_peaks *peaks;
    double ac_power;  /* of the record */
    double aside;     /* power of the mains' lines that are put aside */
    double steps_rms; /* a line under this may be the converter's own (Widrow & Kollar 2008) */
    double duration_s;
    double mains[2];  /* mains frequencies that may be there, cycles a record; 0 none */
    double placed[2]; /* where they are: nominal, or where a comb of theirs was found beside that */
    bool ignore[GW_PEAKS_MAX];
} gw_line_search;

/* The comb near `cycles`: fundamental refined line by line from the lowest up. */
gw_line_comb gw_comb_at(const gw_line_search *t, double cycles);

/* The strongest line that counts; peaks->count where there is none. */
size_t gw_strongest_line(const gw_line_search *t);

/* Lies the line on one of the first `orders` multiples of the mains? Only where the record is long enough for the
 * question. */
bool gw_on_mains(const gw_line_search *t, double cycles, int orders);

/* Where the mains may be: `mains_hz`, or 50 and 60 Hz where it is 0; `stated` is the stimulus, in cycles a record. */
void gw_mains_set(gw_line_search *t, double mains_hz, double stated);

/* Puts the mains' lines aside where something else is there that could be the signal. True where the mains' lines are
 * taken for the signal, for want of another. */
bool gw_mains_aside(gw_line_search *t, const gw_stimulus *stimulus);

#endif
