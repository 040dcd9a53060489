/* One sine by least squares: against the normal equations summed plainly, for records of any length and with gaps. */
#include "assert_close.h"
#include "gainwalk/capture.h"
#include "measure/signals.h"
#include "measure/sine.h"

enum { LONGEST = 3001 };
static const size_t lengths[] = {16, 255, 256, 257, 1000, LONGEST};
enum { LENGTHS = sizeof lengths / sizeof *lengths };

typedef struct record {
    double x[LONGEST];
    unsigned char marks[LONGEST];
    size_t n;
    double omega, c, s;
} record;

/* A sine in noise; where there are gaps, what stands in them is no number. */
static void make(record *r, size_t n, bool gaps, uint64_t *seed) {
    r->n = n;
    r->omega = two_pi * (3.3 + 20 * random_even(seed)) / (double)n;
    r->c = random_gauss(seed);
    r->s = random_gauss(seed);
    for (size_t i = 0; i < n; i++) {
        double angle = r->omega * ((double)i - 0.5 * (double)(n - 1));
        r->marks[i] = gaps && (i % 7 == 3 || i == n - 1) ? GW_SAMPLE_MISSING : GW_SAMPLE_PRESENT;
        r->x[i] = r->marks[i] ? (double)NAN : r->c * cos(angle) + r->s * sin(angle) + 0.01 * random_gauss(seed);
    }
}

/* Sums over the samples that are there. */
typedef struct plain {
    long double cc, cs, ss, xc, xs, xt; /* t: the rest's product with time (s cos - c sin) */
} plain;

static plain sums_of(const record *r, const gw_sine *at, bool rest) {
    plain p = {0};
    for (size_t i = 0; i < r->n; i++) {
        long double time = (long double)i - 0.5L * (long double)(r->n - 1), c = cosl(at->omega * time),
                    s = sinl(at->omega * time);
        if (r->marks[i] != GW_SAMPLE_PRESENT)
            continue;
        long double x = rest ? r->x[i] - at->c * c - at->s * s : r->x[i];
        p.cc += c * c, p.cs += c * s, p.ss += s * s;
        p.xc += x * c, p.xs += x * s, p.xt += x * time * (at->s * c - at->c * s);
    }
    return p;
}

static void step_is_least_squares(void **state) {
    (void)state;
    static record r;
    uint64_t seed = 71;
    for (int k = 0; k < 2 * LENGTHS; k++) {
        make(&r, lengths[k / 2], k % 2, &seed);
        gw_sine at = {.omega = r.omega};
        gw_sine_step(r.x, k % 2 ? r.marks : NULL, r.n, &at, false);
        plain p = sums_of(&r, &at, false);
        long double determinant = p.cc * p.ss - p.cs * p.cs;
        assert_close(at.c, (double)((p.ss * p.xc - p.cs * p.xs) / determinant), 1e-11);
        assert_close(at.s, (double)((p.cc * p.xs - p.cs * p.xc) / determinant), 1e-11);
        assert_close(at.omega, r.omega, 0);
    }
}

/* At the least squares the rest has no product with what any of the three would add. */
static void fit_leaves_nothing_to_add(void **state) {
    (void)state;
    static record r;
    uint64_t seed = 72;
    for (int k = 0; k < 2 * LENGTHS; k++) {
        make(&r, lengths[k / 2], k % 2, &seed);
        double near = r.omega + 0.3 / (double)r.n, peak = hypot(r.c, r.s);
        gw_sine at = gw_sine_fit(r.x, k % 2 ? r.marks : NULL, r.n, near, two_pi / (double)r.n);
        plain p = sums_of(&r, &at, true);
        assert_close((double)p.xc / (double)r.n, 0, 1e-9 * peak);
        assert_close((double)p.xs / (double)r.n, 0, 1e-9 * peak);
        assert_close((double)p.xt / ((double)r.n * (double)r.n), 0, 1e-9 * peak * peak);
        /* four standard deviations by the Cramer-Rao bound (Rife & Boorstyn 1974) */
        double eta = peak * peak / 2e-4, n = (double)r.n * (k % 2 ? 0.85 : 1);
        assert_close(at.omega, r.omega, 4 * sqrt(12 / (eta * n * n * n)) + 1e-12);
    }
}

static void one_out_of_reach_is_not_followed(void **state) {
    (void)state;
    static record r;
    uint64_t seed = 73;
    make(&r, 1000, false, &seed);
    double away = r.omega + 3 * two_pi / 1000, reach = 0.5 * two_pi / 1000;
    gw_sine at = gw_sine_fit(r.x, NULL, r.n, away, reach);
    assert_close(at.omega, away, reach);
}

static void subtracted(void **state) {
    (void)state;
    static record r, before;
    uint64_t seed = 74;
    for (int k = 0; k < 2 * LENGTHS; k++) {
        make(&r, lengths[k / 2], k % 2, &seed);
        before = r;
        gw_sine what = {r.omega, r.c, r.s};
        gw_sine_subtract(r.x, k % 2 ? r.marks : NULL, r.n, what);
        for (size_t i = 0; i < r.n; i++) {
            double angle = r.omega * ((double)i - 0.5 * (double)(r.n - 1));
            if (r.marks[i] == GW_SAMPLE_PRESENT)
                assert_close(r.x[i], before.x[i] - r.c * cos(angle) - r.s * sin(angle), 1e-12);
            else
                assert_true(isnan(r.x[i]));
        }
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(step_is_least_squares),
        cmocka_unit_test(fit_leaves_nothing_to_add),
        cmocka_unit_test(one_out_of_reach_is_not_followed),
        cmocka_unit_test(subtracted),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
