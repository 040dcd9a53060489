/* A first guess of what the record holds: the fundamental (and a second tone), near enough for the fit to start.
 * Private to src/measure/. */
#ifndef GAINWALK_MEASURE_COARSE_H
#define GAINWALK_MEASURE_COARSE_H

#include "gainwalk/measure.h"
#include "measure/peaks.h"

/* A stretch of samples and what is known of it. */
/* What an earlier segment of the same capture was found to hold: one tone, far over its noise. */
typedef struct gw_hint {
    double signal;   /* fundamental, cycles a sample; 0: nothing that could be gone on from */
    double variance; /* of what the model left */
} gw_hint;

typedef struct gw_block {
    bool part; /* of a longer capture, of which pictures are made as a whole */
    const double *volts;
    const unsigned char *marks; /* NULL: all present */
    size_t count;
    double rate_hz;
    double step;     /* of the converter; 0 unknown */
    size_t overload; /* samples on the converter's rails, where the file tells; marked ones need not be counted */
    double low_end, high_end; /* of the converter; both 0 unknown */
    const gw_hint *hint;      /* where to begin; NULL: nothing is known */
    gw_shelf *shelf;          /* of the thread that measures it; NULL: none */
} gw_block;

typedef struct gw_coarse {
    double signal; /* fundamental, cycles a sample; 0: none found */
    int order;     /* of the strongest line on it */
    bool repeats;  /* found by its period: as exact as a sample, and no single line leads */
    double second; /* second tone; 0: none */
    bool mains;    /* the strongest lines are the mains' and taken for the signal for want of another */
} gw_coarse;

/* From the lines of the spectrum, where the record holds many cycles; from a search over all frequencies where it holds
 * few. The stimulus, where it states a frequency, settles which line is the signal, but a line must be there.
 * Octaves: of all fundamentals that explain the lines the highest, unless a lower one explains lines more. False when
 * memory is out. */
bool gw_coarse_find(const gw_block *block, const gw_stimulus *stimulus, double mains_hz, gw_coarse *out);

/* The search for few cycles: between `least` and `most` cycles a record. No signal where nothing
 * periodic explains the record. False when memory is out. */
bool gw_search_few(const gw_block *block, double mains_hz, double least, double most, gw_coarse *out);

/* The least delay after which a waveform of any shape repeats, as cycles in the record, between `least` and `most`; 0
 * where none does. False when memory is out. */
bool gw_search_period(const gw_block *block, double least, double most, double *cycles);

#endif
