/* The joint least-squares fit: DC, drift, and sinusoids whose frequencies are whole multiples of up to three base
 * frequencies (the signal's, a second tone's, the mains'), each base known or fitted along.
 *
 *     v(t) = dc + drift·t + Σ a·cos 2πft + b·sin 2πft,   f = Σ multiple[g]·base[g]
 *
 * This is the four-parameter sine fit of IEEE Std 1057 generalised; Gauss–Newton in double precision on normal
 * equations whose sinusoidal part is known in closed form (Dirichlet kernels over the runs of present samples), while
 * the right-hand side is always taken from the true residual: so the solution is the least-squares one, but for steps
 * that would gain less than 1e-8 of a sample's variance, however well the equations are conditioned. Private to
 * src/measure/. */
#ifndef GAINWALK_MEASURE_FIT_H
#define GAINWALK_MEASURE_FIT_H

#include "gainwalk/base.h"
#include "measure/slow.h"
#include "measure/spectrum.h"
#include "measure/sums.h"
#include "measure/sweep.h"

enum { GW_BASE_SIGNAL, GW_BASE_SECOND, GW_BASE_MAINS, GW_BASES, GW_SPECIALS = GW_BASES + 1, GW_SPECIAL_DRIFT = -1 };

typedef struct gw_sinusoid {
    int multiple[GW_BASES];
    double cosine, sine; /* a, b at mid-record */
    double ridge;        /* prior precision of a and b in units of one sample's; 0: none */
} gw_sinusoid;

/* Consecutive samples that are present. */
typedef struct gw_run {
    size_t start, length;
} gw_run;

/* Which samples are present, as sums are made of (presence.h). */
typedef struct gw_presence gw_presence;

typedef struct gw_fit {
    /* what is fitted; borrowed */
    const double *values;
    const unsigned char *marks; /* NULL: all present */
    size_t count;
    gw_shelf *shelf; /* borrowed; NULL: none */
    /* the model */
    double base[GW_BASES];    /* cycles a sample; 0: not in the model */
    bool base_free[GW_BASES]; /* fitted along */
    bool has_drift;
    double dc, drift;   /* at mid-record; a sample */
    double drift_ridge; /* prior precision of the drift, likewise */
    /* prior precision of a base, in units of one sample's, about a place that it is known to be near; 0: none */
    double base_ridge[GW_BASES], base_near[GW_BASES];
    gw_sinusoid *lines;
    size_t line_count, line_capacity;
    gw_sweep *sweeps;    /* room for what the lines are handed on as, twice line_capacity */
    gw_sweeper *sweeper; /* for line_capacity */
    /* the solution */
    double *residual;      /* count values, 0 where a sample is not present */
    size_t present;        /* samples that are */
    size_t unknowns;       /* dc, drift, a and b of every line, free bases: in this order */
    double total;          /* Σ values² of the samples present */
    double rss;            /* Σ residual² */
    double *factor;        /* Cholesky factor of the normal matrix, unknowns² */
    double residual_total; /* Σ residual */
    /* columns that are no plain sinusoid: drift, then ∂/∂base of the free ones */
    double *special; /* room for a part of each, GW_SWEEP_PART */
    size_t special_count;
    int special_of[GW_SPECIALS]; /* each one's base, or GW_SPECIAL_DRIFT */
    gw_column_sums special_sums[GW_SPECIALS];
    double special_with[GW_SPECIALS][GW_SPECIALS]; /* Σ column·column, of a later and an earlier one */
    gw_slow *slow;                                 /* of the residual, for low frequencies; NULL for a short record */
    gw_presence *presence;                         /* NULL: no holes all over the record */
    gw_run *runs;
    size_t run_count;
    gw_error *error; /* borrowed: where a question that returns no success tells that memory is out */
    bool solved;
    bool started; /* coefficients and bases stand near a solution: the next solve goes on from there */
} gw_fit;

/* Prepares an empty model (DC alone) over `count` samples. False when memory is out. gw_fit_end frees. */
bool gw_fit_begin(gw_fit *fit, const double *values, const unsigned char *marks, size_t count, gw_error *error);
void gw_fit_end(gw_fit *fit);

/* Adds a line at multiples of the bases, its coefficients zero. False when memory is out. */
bool gw_fit_add(gw_fit *fit, int signal, int second, int mains, gw_error *error);
void gw_fit_remove(gw_fit *fit, size_t line);
/* Takes a base out that no line stands on any more. */
void gw_fit_base_remove(gw_fit *fit, int base);
/* Index of the line with these multiples; line_count where there is none. */
size_t gw_fit_find(const gw_fit *fit, int signal, int second, int mains);

/* Frequency of a line, cycles a sample. */
double gw_fit_frequency(const gw_fit *fit, const gw_sinusoid *line);

/* Solves for everything linear with the bases as they are (unless `started`), then refines with the free bases.
 * `fit->solved` is false afterwards where the unknowns can't be told apart. False only when memory is out. */
bool gw_fit_solve(gw_fit *fit, gw_error *error);

/* As gw_fit_solve, bases held. */
bool gw_fit_solve_linear(gw_fit *fit, gw_error *error);

/* Where an unknown stands: of the line's cosine (its sine is next), of a free base. */
size_t gw_fit_line_at(const gw_fit *fit, size_t line);
size_t gw_fit_base_at(const gw_fit *fit, int base);

/* What one more sinusoid would bring to a solved fit. */
typedef struct gw_candidate {
    double drop;         /* of rss, with all other unknowns free to follow */
    double cosine, sine; /* its coefficients then */
    double share;        /* of it that the present model can't imitate, 0..1 (the least eigenvalue, re n/2) */
    double cc, cs, ss;   /* its own normal matrix, with all that the model can imitate taken out */
    double c, s;         /* its right-hand side */
} gw_candidate;

gw_candidate gw_fit_candidate(const gw_fit *fit, double frequency);

/* The same with the residual's products with its cosine and sine known already. */
gw_candidate gw_fit_candidate_of(const gw_fit *fit, double frequency, double c, double s);

/* The same at `count` multiples of the signal's base, up to `GW_AT_ONCE` of them, with the sums at its multiples known
 * (gw_gram_against_order); `cosines` and `sines` are the residual's products with each multiple. False when memory is
 * out. */
enum { GW_AT_ONCE = 4 };
struct gw_moments;
bool gw_fit_candidates(const gw_fit *fit, const struct gw_moments *known, size_t known_count, const int *orders,
                       size_t count, const double *cosines, const double *sines, gw_candidate *out);

/* Slope that the record has beside the model, a sample, and its variance over that of one sample: what a drift column
 * would be given. Of a model with drift, its own. */
void gw_fit_slope(const gw_fit *fit, double *slope, double *variance);

/* Products of a drift column that is not in the model with every unknown's, and with itself. */
void gw_fit_drift_against(const gw_fit *fit, double *products, double *own);

/* How much every unknown moves (unknowns values each) for a cosine, a sine of unit size that is in the record but not
 * in the model. */
void gw_fit_leaning(const gw_fit *fit, double frequency, double *by_cosine, double *by_sine);

/* The inverse of the normal matrix (unknowns², the caller frees): times σ² the covariance. NULL when memory is out. */
double *gw_fit_inverse(const gw_fit *fit);

/* Nothing is left but the arithmetic's own rounding. */
bool gw_fit_exact(const gw_fit *fit);

/* Residual variance of one sample, corrected for the fitted unknowns; 0 when nothing is left over. */
double gw_fit_variance(const gw_fit *fit);

#endif
