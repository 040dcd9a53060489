/* Sums of one sinusoid over the present samples, in closed form run by run, or looked up. */
#include "measure/moments.h"

#include "measure/presence.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>

static const double pi = 3.14159265358979323846;

/* Over `length` consecutive samples centred on 0, u = -(m - 1)/2 … (m - 1)/2: Σ e^{i2πfu} = sin πmf / sin πf (the
 * Dirichlet kernel) and Σ u·sin 2πfu, its derivative over -2π. */
typedef struct kernel {
    double sum, moment;
} kernel;

/* Below this angle the derivative's two halves cancel, and three terms of its series in f do better: 1e-12 either way.
 */
static const double least_angle = 0.05;

static kernel kernel_at(size_t samples, double frequency) {
    /* e^{i2πu} is 1 or, for an even number of samples (u half-odd), -1: frequencies count from the nearest whole one */
    double length = (double)samples, whole = floor(frequency + 0.5), f = frequency - whole;
    double sign = (int64_t)whole % 2 != 0 && samples % 2 == 0 ? -1 : 1;
    double squares = length * (length * length - 1) / 12;
    double turn = length * f, angle = pi * turn;
    if (fabs(angle) < least_angle) {
        double w = 2 * pi * f, l2 = length * length;
        double fourths = squares * (3 * l2 - 7) / 20, sixths = squares * (3 * l2 * l2 - 18 * l2 + 31) / 112;
        double sum = length - w * w / 2 * (squares - w * w / 12 * (fourths - w * w / 30 * sixths));
        return (kernel){sign * sum, sign * w * (squares - w * w / 6 * (fourths - w * w / 20 * sixths))};
    }
    turn -= 2 * floor(turn / 2 + 0.5);
    double c = cos(pi * turn), s = sin(pi * turn), below = sin(pi * f), beside = cos(pi * f);
    return (kernel){sign * s / below, sign * (s * beside - length * c * below) / (2 * below * below)};
}

/* ---- records of very many runs: holes all over them ------------------------------------------------ */

/* Kernels are looked up, and a run's middle is turned to from that of the run before. */
enum { SHORT = 64, STEPS = 2 * SHORT, EXACT_RUN_EVERY = 16 };

typedef struct lookup {
    kernel kernels[SHORT];     /* of runs of so many samples */
    double c[STEPS], s[STEPS]; /* of so many half samples */
} lookup;

static void lookup_fill(lookup *out, double frequency) {
    for (size_t k = 0; k < SHORT; k++)
        out->kernels[k] = kernel_at(k, frequency);
    double half = 0.5 * frequency;
    for (size_t k = 0; k < STEPS; k++) {
        double turn = half * (double)k;
        turn -= floor(turn);
        out->c[k] = cos(2 * pi * turn);
        out->s[k] = sin(2 * pi * turn);
    }
}

/* Where the middle of a run stands, in half samples from that of the record. */
static int64_t middle_of(const gw_fit *fit, const gw_run *run) {
    return (int64_t)(2 * run->start + run->length) - (int64_t)fit->count;
}

static void moments_of_many(const gw_fit *fit, double frequency, gw_moments *out) {
    lookup known;
    lookup_fill(&known, frequency);
    double c = 1, s = 0;
    int64_t before = INT64_MIN / 2;
    for (size_t k = 0; k < fit->run_count; k++) {
        const gw_run *run = &fit->runs[k];
        int64_t here = middle_of(fit, run), step = here - before;
        before = here;
        if (k % EXACT_RUN_EVERY == 0 || step >= STEPS) {
            double turn = 0.5 * frequency * (double)here;
            turn -= floor(turn);
            c = cos(2 * pi * turn);
            s = sin(2 * pi * turn);
        } else {
            double turned = c * known.c[step] - s * known.s[step];
            s = s * known.c[step] + c * known.s[step];
            c = turned;
        }
        kernel own = run->length < SHORT ? known.kernels[run->length] : kernel_at(run->length, frequency);
        double centre = 0.5 * (double)here;
        out->c += c * own.sum;
        out->s += s * own.sum;
        out->tc += c * centre * own.sum - s * own.moment;
        out->ts += s * centre * own.sum + c * own.moment;
    }
}

void gw_moments_of(const gw_fit *fit, double frequency, gw_moments *out) {
    *out = (gw_moments){0};
    if (fit->presence && gw_presence_sums(fit->presence, fit, frequency, out))
        return;
    if (fit->run_count >= GW_MANY_RUNS) {
        moments_of_many(fit, frequency, out);
        return;
    }
    double middle = 0.5 * (double)(fit->count - 1);
    for (size_t k = 0; k < fit->run_count; k++) {
        const gw_run *run = &fit->runs[k];
        kernel here = kernel_at(run->length, frequency);
        double centre = (double)run->start + 0.5 * (double)(run->length - 1) - middle;
        double turn = frequency * centre;
        turn -= floor(turn + 0.5);
        double c = centre != 0 ? cos(2 * pi * turn) : 1, s = centre != 0 ? sin(2 * pi * turn) : 0;
        out->c += c * here.sum;
        out->s += s * here.sum;
        out->tc += c * centre * here.sum - s * here.moment;
        out->ts += s * centre * here.sum + c * here.moment;
    }
}

/* cos and sin of whole multiples of an angle, given in turns: one after the other by rotation, exact every so often. */
typedef struct multiples {
    double turns, c, s, step_c, step_s;
} multiples;

enum { EXACT_EVERY = 16 };

static multiples multiples_of(double turns) {
    turns -= floor(turns);
    return (multiples){.turns = turns, .c = 1, .step_c = cos(2 * pi * turns), .step_s = sin(2 * pi * turns)};
}

static void multiple_next(multiples *m, size_t order) {
    double c = m->c * m->step_c - m->s * m->step_s;
    m->s = m->s * m->step_c + m->c * m->step_s;
    m->c = c;
    if (order % EXACT_EVERY)
        return;
    double turns = m->turns * (double)order;
    turns -= floor(turns);
    m->c = cos(2 * pi * turns);
    m->s = sin(2 * pi * turns);
}

/* Nearer than so many cycles a record to a whole frequency the kernel's own way is taken: there it divides by little.
 */
static const double least_off = 8;

/* One run about its middle: with whole multiples of half the angles the kernel's formula needs no sign of its own. */
static void orders_fill(const gw_fit *fit, double frequency, size_t count, gw_moments *out) {
    double length = (double)fit->count;
    multiples over = multiples_of(0.5 * length * frequency), single = multiples_of(0.5 * frequency);
    for (size_t k = 0; k < count; k++) {
        double at = (double)k * frequency, off = at - floor(at + 0.5);
        if (k > 0) {
            multiple_next(&over, k);
            multiple_next(&single, k);
        }
        double c = over.c, s = over.s, below = single.s, beside = single.c;
        double least = at < 0.5 ? least_angle / pi : least_off;
        kernel here = fabs(length * off) < least
                          ? kernel_at(fit->count, at)
                          : (kernel){s / below, (s * beside - length * c * below) / (2 * below * below)};
        out[k] = (gw_moments){.c = here.sum, .ts = here.moment};
    }
}

void gw_moments_orders(const gw_fit *fit, double frequency, size_t count, gw_moments *out) {
    if (fit->run_count == 1 && fit->present == fit->count) {
        orders_fill(fit, frequency, count, out);
        return;
    }
    for (size_t k = 0; k < count; k++)
        gw_moments_of(fit, (double)k * frequency, &out[k]);
}
