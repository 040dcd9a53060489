/* Passes over the samples with one sinusoid: the inner loops of the fit. Private to src/measure/.
 *
 * Time is counted in samples from the middle of the record, t = i - (n - 1)/2; a frequency is in cycles a sample. */
#ifndef GAINWALK_MEASURE_SWEEP_H
#define GAINWALK_MEASURE_SWEEP_H

#include <stdbool.h>
#include <stddef.h>

/* vector[i] += cosine·cos 2πft + sine·sin 2πft. */
void gw_sweep_add(double *vector, size_t count, double frequency, double cosine, double sine);

/* Σ vector[i]·cos 2πft and Σ vector[i]·sin 2πft. */
void gw_sweep_dot(const double *vector, size_t count, double frequency, double *cosine, double *sine);

/* One of several sinusoids. */
typedef struct gw_sweep {
    double frequency, cosine, sine;
} gw_sweep;

/* As gw_sweep_dot, to the last bit, of several at a time in fewer passes: fills cosine and sine of each. */
void gw_sweep_dot_many(const double *vector, size_t count, gw_sweep *lines, size_t line_count);

/* Lines of the same frequencies over many records of `count` samples: what depends on these alone is made once. NULL
 * when memory is out. */
typedef struct gw_sweeper gw_sweeper;
gw_sweeper *gw_sweeper_new(const gw_sweep *lines, size_t line_count, size_t count);
void gw_sweeper_free(gw_sweeper *sweeper);

/* The same in two steps: room for so many lines, and these lines, as often as they change. */
gw_sweeper *gw_sweeper_room(size_t line_most, size_t count);
void gw_sweeper_set(gw_sweeper *of, const gw_sweep *lines, size_t line_count);

/* Whether it was made for these frequencies and so many samples. NULL was not. */
bool gw_sweeper_serves(const gw_sweeper *of, const gw_sweep *lines, size_t line_count, size_t count);

/* As gw_sweep_dot_many, to the last bit. */
void gw_sweeper_dot(gw_sweeper *of, const double *vector, gw_sweep *lines);

/* Passes over a part of the record: so many samples from sample `at` on, a multiple of that, or what is left. Vectors
 * begin with the part. */
enum { GW_SWEEP_PART = 2048 };

/* Adds the part's products to cosine and sine of each: all parts together are gw_sweeper_dot, to the last bit. */
void gw_sweeper_dot_part(gw_sweeper *of, const double *vector, size_t at, gw_sweep *lines);

/* to[i] = from[i] + offset + the lines; `from` is left as it is, or is `to`. */
void gw_sweeper_apart(gw_sweeper *of, const gw_sweep *lines, const double *from, double offset, size_t at, double *to);

/* to[i] = the lines, whatever it held. */
void gw_sweeper_put(gw_sweeper *of, const gw_sweep *lines, size_t at, double *to);

#endif
