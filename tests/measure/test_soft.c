/* A test signal that begins softly after the record does, and dies down before it ends: all is read where it is steady,
 * and nothing of it is an event. What begins or ends at once, falls all along or sways is left as it is. The captures
 * are simulated; what is expected is what they are made of. */
#include "measure/measured.h"
#include "trials.h"

#include <string.h>

enum { N = 72000, TRIALS = 60 };
static const double rate = 48000;

/* Ahead, behind: silence, and how long the signal takes; seconds. */
typedef struct ends {
    double silent[2], fades[2];
} ends;

static double gain_at(const ends *of, double time) {
    double end = N / rate - time, gain = 1;
    for (int side = 0; side < 2; side++) {
        double in = (side ? end : time) - of->silent[side];
        if (in < 0)
            return 0;
        if (in < of->fades[side])
            gain *= 0.5 - 0.5 * cos(two_pi / 2 * in / of->fades[side]);
    }
    return gain;
}

/* A sine (kind 0), a square's harmonics, two tones 1 kHz apart; its RMS. */
static double make(double *v, int kind, double hz, const ends *of, uint64_t *random) {
    double power = 0;
    memset(v, 0, N * sizeof *v);
    for (int order = 1; order * hz < 23e3; order += 2) {
        double peak = kind == 0 && order > 1 ? 0 : 0.3 / order, other = kind == 2 ? 10 * hz + 1000 : order * hz;
        if (kind == 2 && order > 1)
            break;
        add_sine(v, N, rate, kind == 2 ? 0.2 : peak, kind == 2 ? 10 * hz : other, 1);
        add_sine(v, N, rate, kind == 2 ? 0.2 : 0, other, 2);
        power += kind == 2 ? 0.04 : 0.5 * peak * peak;
    }
    for (size_t i = 0; i < N; i++)
        v[i] *= gain_at(of, (double)i / rate);
    add_noise(v, N, 3e-5, random);
    return sqrt(power);
}

static bool told(const gw_readings *r, const char *words) {
    for (size_t k = 0; k < r->remarks.count; k++)
        if (strstr(r->remarks.items[k], words))
            return true;
    return false;
}

static void test_read_where_it_is_steady(void **state) {
    (void)state;
    uint64_t random = 91;
    double *v = new_volts(N);
    int held = 0, trials = trials_of(TRIALS);
    for (int t = 0; t < trials; t++) {
        double hz = 300 * pow(5, random_even(&random));
        ends of = {.fades = {0}};
        for (int side = 0; side < 2; side++) {
            of.silent[side] = t % 4 > side ? 0.4 * random_even(&random) : 0;
            of.fades[side] = 0.01 + 0.04 * random_even(&random);
        }
        double level = make(v, t % 3, hz, &of, &random);
        gw_readings *r = measured(v, N, rate, 0);
        assert_close(value_of(r, GW_LEVEL) / level, 1, 1e-3);
        held += fabs(value_of(r, GW_LEVEL) - level) <= r->values[GW_LEVEL].u95;
        assert_int_equal(r->event_count, 0);
        assert_true(told(r, "swells or dies down"));
        assert_false(told(r, "cuts out"));
        if (t % 3 == 0) { /* a plain sine */
            assert_close(value_of(r, GW_AC_RMS) / level, 1, 1e-3);
            assert_in_range(1e6 * r->values[GW_THD].value, 0, 1e6 * 0.02);
            assert_close(value_of(r, GW_NOISE), 3e-5 * sqrt(19980.0 / 24000), 2e-6);
        }
        gw_readings_free(r);
    }
    free(v);
    print_message("level of a signal with soft ends within u95 in %d of %d\n", held, trials);
    assert_in_range(held, trials * 9 / 10, trials);
}

/* A contact that makes late, or breaks: that is an event. */
static void test_what_begins_at_once(void **state) {
    (void)state;
    uint64_t random = 92;
    double *v = new_volts(N);
    for (int t = 0; t < trials_of(TRIALS / 2); t++) {
        ends of = {
            .silent = {t % 2 ? 0 : 0.05 + 0.3 * random_even(&random), t % 2 ? 0.05 + 0.3 * random_even(&random) : 0}};
        double level = make(v, 0, 300 * pow(5, random_even(&random)), &of, &random);
        gw_readings *r = measured(v, N, rate, 0);
        assert_false(told(r, "swells or dies down"));
        assert_true(told(r, "cuts out"));
        assert_int_equal(r->event_count, 1);
        assert_int_equal(r->events[0].kind, GW_EVENT_DROPOUT);
        assert_close(value_of(r, GW_LEVEL) / level, 1, 1e-3);
        gw_readings_free(r);
    }
    free(v);
}

/* A note that dies away, one that swells and fades, a level that steps. */
static void test_what_is_not_steady(void **state) {
    (void)state;
    uint64_t random = 93;
    double *v = new_volts(N);
    for (int t = 0; t < trials_of(TRIALS / 2); t++) {
        ends none = {.fades = {0}};
        double hz = 300 * pow(5, random_even(&random)), rest_s = 0.1 + 0.3 * random_even(&random);
        double step_s = 0.3 * random_even(&random);
        make(v, 0, hz, &none, &random);
        for (size_t i = 0; i < N; i++) {
            double time = (double)i / rate;
            v[i] *= t % 3 == 0   ? time < 0.1 ? 0.5 - 0.5 * cos(two_pi / 2 * time / 0.1) : exp(-(time - 0.1) / rest_s)
                      : t % 3 == 1 ? 0.5 - 0.5 * cos(two_pi * time * (1 + 6 * step_s))
                    : time < 0.1 + step_s ? 0.3
                                          : 1;
        }
        gw_readings *r = measured(v, N, rate, 0);
        assert_false(told(r, "swells or dies down"));
        gw_readings_free(r);
    }
    free(v);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_read_where_it_is_steady),
        cmocka_unit_test(test_what_begins_at_once),
        cmocka_unit_test(test_what_is_not_steady),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
