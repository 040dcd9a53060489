/* How near to the Cramér–Rao bound the estimates come, and how often u95 holds the truth.
 *
 * Sources: the bound is the inverse of the Fisher matrix JᵀJ/σ² of all unknowns of the record (Kay, Fundamentals of
 * Statistical Signal Processing: Estimation Theory, 1993; Rife & Boorstyn 1974; for few cycles Andersson & Händel,
 * "IEEE Standard 1057, Cramér–Rao bound and the parsimony principle"), here by plain sums and Gauss–Jordan
 * elimination. Coverage: JCGM 100. Seeds are fixed: every run draws the same noise. */
#include "measure/measured.h"

#include "measure/fit.h"
#include "trials.h"

#include <string.h>

enum { N = 1000, UNKNOWNS_MAX = 6 };

static const double rate = 434783; /* 1 kHz in 2.3 cycles: a record far too short for the mains */

/* ---- the bound ----------------------------------------------------------------------------------- */

typedef struct wave {
    double cycles, phase;         /* phase at mid-record, turns */
    double third, third_phase;    /* third harmonic, of the fundamental */
    double hum, hum_phase, sigma; /* volts; the fundamental has 1 V peak */
    double dc;
} wave;

static double turns_at(size_t i, double cycles) {
    return cycles * ((double)i - 0.5 * (N - 1)) / N;
}

static void invert(double *a, double *out, size_t n) {
    for (size_t i = 0; i < n * n; i++)
        out[i] = i % (n + 1) == 0 ? 1 : 0;
    for (size_t c = 0; c < n; c++) {
        double pivot = a[c * n + c];
        for (size_t k = 0; k < n; k++) {
            a[c * n + k] /= pivot;
            out[c * n + k] /= pivot;
        }
        for (size_t r = 0; r < n; r++) {
            double factor = a[r * n + c];
            for (size_t k = 0; k < n && r != c; k++) {
                a[r * n + k] -= factor * a[c * n + k];
                out[r * n + k] -= factor * out[c * n + k];
            }
        }
    }
}

/* The errors that the efficient estimator would make with this very noise: (JᵀJ)⁻¹Jᵀn with J at the truth, whose
 * variance is the bound. Compared draw by draw, a few hundred records tell a few per cent of variance. */
typedef struct bound {
    double dc, level, frequency;
} bound;

/* Unknowns: dc, amplitude, phase, cycles, and the third harmonic's two. */
static bound bound_of(const wave *w, const double *noise) {
    size_t n = w->third > 0 ? 6 : 4;
    double fisher[UNKNOWNS_MAX * UNKNOWNS_MAX] = {0}, inverse[UNKNOWNS_MAX * UNKNOWNS_MAX];
    double slope[UNKNOWNS_MAX] = {0}, error[UNKNOWNS_MAX] = {0};
    for (size_t i = 0; i < N; i++) {
        double angle = two_pi * (turns_at(i, w->cycles) + w->phase), by_cycle = two_pi * turns_at(i, 1);
        double third = 3 * two_pi * turns_at(i, w->cycles);
        double j[UNKNOWNS_MAX] = {1, sin(angle), cos(angle), by_cycle * cos(angle), sin(third), cos(third)};
        j[3] += 3 * by_cycle * w->third * cos(third + two_pi * w->third_phase);
        for (size_t a = 0; a < n; a++) {
            slope[a] += j[a] * noise[i];
            for (size_t b = 0; b < n; b++)
                fisher[a * n + b] += j[a] * j[b];
        }
    }
    invert(fisher, inverse, n);
    for (size_t a = 0; a < n; a++)
        for (size_t b = 0; b < n; b++)
            error[a] += inverse[a * n + b] * slope[b];
    return (bound){.dc = error[0], .level = sqrt(0.5) * error[1], .frequency = error[3] * rate / N};
}

/* `noise` (may be NULL) takes what was added. */
static void record_make(const wave *w, double step, double *v, double *noise, uint64_t *random) {
    for (size_t i = 0; i < N; i++) {
        double turn = turns_at(i, w->cycles);
        v[i] = w->dc + sin(two_pi * (turn + w->phase)) + w->third * sin(two_pi * (3 * turn + w->third_phase));
        v[i] += w->hum * sin(two_pi * (turns_at(i, 50 * N / rate) + w->hum_phase));
        double added = w->sigma * random_gauss(random);
        v[i] += added;
        if (noise)
            noise[i] = added;
    }
    if (step > 0)
        quantise(v, N, step);
}

/* ---- the fit's own covariance -------------------------------------------------------------------- */

/* Exact four-parameter bound at N = 1000, 2.3 cycles, A = 1, 40 dB (A²/2σ²), cosine peak at mid-record, from the
 * inverse Fisher matrix; standard deviations: amplitude 3.10920e-4, DC 2.30424e-4, ω 1.23833e-6 rad a sample. */
static void test_covariance_is_the_bound(void **state) {
    (void)state;
    double *v = new_volts(N);
    for (size_t i = 0; i < N; i++)
        v[i] = cos(two_pi * turns_at(i, 2.3));
    gw_fit fit;
    assert_true(gw_fit_begin(&fit, v, NULL, N, NULL));
    fit.base[GW_BASE_SIGNAL] = 2.3 / N;
    fit.base_free[GW_BASE_SIGNAL] = true;
    assert_true(gw_fit_add(&fit, 1, 0, 0, NULL));
    assert_true(gw_fit_solve(&fit, NULL));
    double *inverse = gw_fit_inverse(&fit), sigma = sqrt(0.5e-4);
    assert_int_equal(fit.unknowns, 4);
    assert_close(sigma * sqrt(inverse[0]), 2.30424e-4, 5e-10);
    assert_close(sigma * sqrt(inverse[1 * 4 + 1]), 3.10920e-4, 5e-10);
    size_t at = gw_fit_base_at(&fit, GW_BASE_SIGNAL);
    assert_close(two_pi * sigma * sqrt(inverse[at * 4 + at]), 1.23833e-6, 5e-12);
    free(inverse);
    gw_fit_end(&fit);
    free(v);
}

/* ---- efficiency ---------------------------------------------------------------------------------- */

typedef struct moments {
    double sum, squares, expected;
} moments;

static void moments_add(moments *m, double error, double expected) {
    m->sum += error;
    m->squares += error * error;
    m->expected += expected * expected;
}

typedef struct efficiency_case {
    double cycles, decibels, third;
} efficiency_case;

/* Variance within 10 % of the bound (with few trials four of its own sigmas), bias under a third of a sigma. */
static void moments_check(const moments *m, double trials, const char *what, const efficiency_case *c) {
    double bias = m->sum / trials, variance = m->squares / trials - bias * bias, bound_mean = m->expected / trials;
    print_message("%4.1f cycles %3.0f dB third %3.0f %%: %-9s variance/bound %.3f bias/sigma %+.3f\n", c->cycles,
                  c->decibels, 100 * c->third, what, variance / bound_mean, bias / sqrt(bound_mean));
    assert_close(variance / bound_mean, 1, trials < 400 ? 4 * sqrt(2 / trials) : 0.1);
    assert_close(bias / sqrt(bound_mean), 0, 0.33);
}

static void test_variance_is_at_the_bound(void **state) {
    (void)state;
    static const efficiency_case cases[] = {{1.5, 20, 0}, {1.5, 60, 0},  {2.3, 20, 0},   {2.3, 100, 0},
                                            {5.2, 40, 0}, {20.4, 20, 0}, {2.3, 40, 0.1}, {10.3, 60, 0.1}};
    const int trials = trials_of(400);
    double *v = new_volts(N), *noise = new_volts(N);
    for (size_t k = 0; k < sizeof cases / sizeof *cases; k++) {
        uint64_t random = 20 + k;
        moments dc = {0}, level = {0}, frequency = {0};
        for (int t = 0; t < trials; t++) {
            wave w = {.cycles = cases[k].cycles, .third = cases[k].third, .dc = 0.3};
            w.phase = random_even(&random);
            w.third_phase = random_even(&random);
            w.sigma = sqrt(0.5) * gw_ratio_from_db(-cases[k].decibels);
            record_make(&w, 0, v, noise, &random);
            gw_readings *r = measured(v, N, rate, 0);
            bound b = bound_of(&w, noise);
            moments_add(&dc, value_of(r, GW_DC) - w.dc, b.dc);
            moments_add(&level, value_of(r, GW_LEVEL) - sqrt(0.5), b.level);
            moments_add(&frequency, value_of(r, GW_FREQUENCY) - w.cycles * rate / N, b.frequency);
            gw_readings_free(r);
        }
        moments_check(&dc, trials, "dc", &cases[k]);
        moments_check(&level, trials, "level", &cases[k]);
        moments_check(&frequency, trials, "frequency", &cases[k]);
    }
    free(v);
    free(noise);
}

/* ---- coverage ------------------------------------------------------------------------------------ */

typedef struct coverage_case {
    const char *name;
    double cycles, decibels, third, hum, step;
    bool noise_dominates;
} coverage_case;

typedef struct tally {
    int values, held, belows, bounded;
} tally;

/* What the readings should show. Peaks: of the waveform without its noise. */
static void truth_of(const wave *w, double truth[GW_READING_COUNT]) {
    double low = INFINITY, high = -INFINITY;
    for (size_t i = 0; i < N; i++) {
        double turn = turns_at(i, w->cycles);
        double v = w->dc + sin(two_pi * (turn + w->phase)) + w->third * sin(two_pi * (3 * turn + w->third_phase)) +
                   w->hum * sin(two_pi * (turns_at(i, 50 * N / rate) + w->hum_phase));
        low = fmin(low, v);
        high = fmax(high, v);
    }
    double fundamental = 0.5, third = 0.5 * w->third * w->third, hum = 0.5 * w->hum * w->hum;
    double noise = w->sigma * w->sigma, band_low = rate / N, band = (20e3 - band_low) / (rate / 2);
    double ac = fundamental + third + hum + noise;
    double rest = (3 * w->cycles * rate / N < 20e3 ? third : 0) + noise * band;
    truth[GW_DC] = w->dc;
    truth[GW_AC_RMS] = sqrt(ac);
    truth[GW_TOTAL_RMS] = sqrt(ac + w->dc * w->dc);
    truth[GW_PEAK_HIGH] = high;
    truth[GW_PEAK_LOW] = low;
    truth[GW_PEAK_TO_PEAK] = high - low;
    truth[GW_CREST] = fmax(high - w->dc, w->dc - low) / sqrt(ac);
    truth[GW_FREQUENCY] = w->cycles * rate / N;
    truth[GW_LEVEL] = sqrt(fundamental);
    truth[GW_LEVEL_DBV] = truth[GW_LEVEL_DBU] = truth[GW_LEVEL];
    truth[GW_THD] = w->third;
    truth[GW_THD_N] = sqrt(rest / (rest + fundamental));
    truth[GW_SINAD] = sqrt(fundamental / (third + hum + noise));
    truth[GW_NOISE] = sqrt(noise * band);
    truth[GW_SNR] = sqrt(fundamental / (noise * band));
    truth[GW_HUM] = sqrt(hum);
}

static const gw_reading_key covered[] = {GW_DC,           GW_AC_RMS, GW_TOTAL_RMS, GW_PEAK_HIGH, GW_PEAK_LOW,
                                         GW_PEAK_TO_PEAK, GW_CREST,  GW_FREQUENCY, GW_LEVEL,     GW_THD,
                                         GW_THD_N,        GW_SINAD,  GW_NOISE,     GW_SNR};
enum { COVERED = sizeof covered / sizeof *covered };

static void trial_count(const coverage_case *c, uint64_t *random, double *v, tally tallies[COVERED]) {
    wave w = {.cycles = c->cycles * (1 + 0.1 * (random_even(random) - 0.5)), .third = c->third, .hum = c->hum};
    w.phase = random_even(random);
    w.third_phase = random_even(random);
    w.hum_phase = random_even(random);
    w.dc = 0.3 + c->step * random_even(random);
    w.sigma = sqrt(0.5) * gw_ratio_from_db(-c->decibels);
    record_make(&w, c->step, v, NULL, random);
    gw_readings *r = measured(v, N, rate, c->step);
    double truth[GW_READING_COUNT] = {0};
    truth_of(&w, truth);
    for (size_t k = 0; k < COVERED; k++) {
        const gw_reading *reading = &r->values[covered[k]];
        if (reading->state == GW_READING_VALUE) {
            tallies[k].values++;
            tallies[k].held += fabs(reading->value - truth[covered[k]]) <= reading->u95;
        } else if (reading->state == GW_READING_BELOW) {
            tallies[k].belows++;
            tallies[k].bounded += truth[covered[k]] <= reading->value;
        }
    }
    gw_readings_free(r);
}

/* SINAD is the record's, steps included (IEEE Std 1057): where those dominate there is no other truth to compare. A
 * reading seen too seldom tells nothing. */
static void tally_check(const coverage_case *c, gw_reading_key key, const tally *t, int trials) {
    if (key == GW_SINAD && c->step > 0)
        return;
    double allowance = 3 * sqrt(0.95 * 0.05 / trials); /* of sampling */
    if (t->values > trials / 5) {
        double share = (double)t->held / t->values;
        print_message("%-24s %-12s %5.1f %%\n", c->name, gw_reading_infos[key].key, 100 * share);
        assert_true(share > 0.93 - allowance);
        if (c->noise_dominates)
            assert_true(share < 0.985 + allowance);
    }
    if (t->belows > trials / 5)
        assert_true((double)t->bounded / t->belows > 0.93 - allowance);
}

static void test_u95_holds_the_truth(void **state) {
    (void)state;
    static const coverage_case cases[] = {
        {"noise 40 dB", 2.3, 40, 0, 0, 0, true},
        {"noise 20 dB, 1.6 cycles", 1.6, 20, 0, 0, 0, true},
        {"third harmonic 10 %", 2.3, 40, 0.1, 0, 0, true},
        {"third harmonic, 12 cycles", 12, 50, 0.1, 0, 0, true},
        {"20 codes, noise", 2.3, 25, 0, 0, 0.1, true},
        {"20 codes", 2.3, 60, 0, 0, 0.1, false},
        {"20 codes, many cycles", 20, 60, 0, 0, 0.1, false},
        {"8 bits", 4.3, 70, 0, 0, 2.0 / 254, false},
        {"hum unresolved", 2.3, 50, 0, 0.05, 0, false},
        {"hum unresolved, third", 2.3, 50, 0.1, 0.1, 0, false},
    };
    const int trials = trials_of(250);
    double *v = new_volts(N);
    for (size_t c = 0; c < sizeof cases / sizeof *cases; c++) {
        uint64_t random = 300 + c;
        tally tallies[COVERED];
        memset(tallies, 0, sizeof tallies);
        for (int t = 0; t < trials; t++)
            trial_count(&cases[c], &random, v, tallies);
        for (size_t k = 0; k < COVERED; k++)
            tally_check(&cases[c], covered[k], &tallies[k], trials);
    }
    free(v);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_covariance_is_the_bound),
        cmocka_unit_test(test_variance_is_at_the_bound),
        cmocka_unit_test(test_u95_holds_the_truth),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
