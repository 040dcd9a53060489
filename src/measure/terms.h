/* What may lie under a signal in a record too short to tell: a slope, and hum at the mains and twice that, of either
 * mains frequency. Their part of the normal equations, with all that the signal's unknowns can imitate taken out,
 * whether a term is in the model or not. Private to src/measure/. */
#ifndef GAINWALK_MEASURE_TERMS_H
#define GAINWALK_MEASURE_TERMS_H

#include "measure/fit.h"

/* Parts that a term may have. Cosine and sine follow each other. */
enum { GW_PART_DRIFT, GW_PART_MAINS, GW_PART_TWICE = GW_PART_MAINS + 2, GW_PART_NETWORK = GW_PART_TWICE + 2, GW_PARTS };

enum { GW_TERMS_MAX = GW_PARTS + 4 };

typedef struct gw_term {
    int part;
    int network;  /* which of the two mains frequencies it is of; that of the model where it is of none */
    size_t place; /* among the unknowns of the fit; GW_TERM_OUTSIDE: not in the model */
    double value; /* of its coefficient as the model has it */
} gw_term;

#define GW_TERM_OUTSIDE ((size_t)-1)

/* Misfit (rss) by the terms' coefficients x, all other unknowns following: rest - 2·along·x + x·normal·x. */
typedef struct gw_terms {
    gw_term items[GW_TERMS_MAX];
    size_t count;
    double mains[2]; /* cycles a sample; 0: none */
    bool twice;      /* is there to be hum at twice the mains? */
    double normal[GW_TERMS_MAX * GW_TERMS_MAX];
    double along[GW_TERMS_MAX];
    double rest;
    size_t others;   /* unknowns of the fit that are no terms */
    size_t *places;  /* of these among the unknowns */
    double *inverse; /* of their own normal matrix, others² */
    double *lean;    /* how far each moves against a unit of each term, others by count */
} gw_terms;

/* Of a solved fit; `mains` and `twice` of `out` are set by the caller. Where `network` 0 stands in the model, so does
 * mains[0]. False when memory is out or nothing tells the unknowns apart (`out->count` is 0 then). Finish with
 * gw_terms_end. */
bool gw_terms_make(const gw_fit *fit, gw_terms *out, gw_error *error);
void gw_terms_end(gw_terms *terms);

#endif
