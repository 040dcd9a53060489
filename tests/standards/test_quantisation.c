/* Sines through ideal quantisers.
 *
 * Sources: SINAD = 6.0206 N + 1.7609 dB (Bennett 1948; IEEE Std 1241); undithered sines of one second at 48 kHz, peak
 * 2^(N-1) - 1 steps, phase 0, rounded: THD over orders 2..10 and SINAD by transforms of the whole record; the mechanism
 * (errors of a tone that divides the sample rate fall on its harmonics): IEEE Std 1057 and 1241, coherent sampling. */
#include "measure/measured.h"

#include <string.h>

enum { N = 48000 };

static gw_readings *quantised(int bits, double frequency) {
    double *v = new_volts(N);
    add_sine(v, N, N, ldexp(1, bits - 1) - 1, frequency, 0);
    quantise(v, N, 1);
    gw_readings *r = measured(v, N, N, 1);
    free(v);
    return r;
}

static void test_sinad(void **state) {
    (void)state;
    static const double cases[][3] = {{8, 1000, 50.02}, {8, 997, 49.95}, {16, 1000, 97.94}, {16, 997, 98.07}};
    for (size_t k = 0; k < 4; k++) {
        gw_readings *r = quantised((int)cases[k][0], cases[k][1]);
        assert_close(gw_db_from_ratio(value_of(r, GW_SINAD)), 6.0206 * cases[k][0] + 1.7609, 0.3);
        assert_close(gw_db_from_ratio(value_of(r, GW_SINAD)), cases[k][2], 0.02);
        gw_readings_free(r);
    }
}

static bool speaks_of(const gw_readings *r, const char *word) {
    for (size_t k = 0; k < r->remarks.count; k++)
        if (strstr(r->remarks.items[k], word))
            return true;
    return false;
}

/* Root sum of squares of the table's orders 2..10, re the fundamental, decibels: as found, whether or not it is shown.
 */
static double lines_db(const gw_readings *r) {
    double power = 0;
    for (size_t k = 1; k < 10; k++)
        power += r->harmonics[k].rms * r->harmonics[k].rms;
    return gw_db_from_ratio(sqrt(power) / r->harmonics[0].rms);
}

/* 1 kHz at 48 kHz: the lines hold the steps' error, which must neither be called distortion nor stay unsaid. 997 Hz is
 * free of it. */
static void test_tone_that_divides_the_rate(void **state) {
    (void)state;
    static const double cases[][2] = {{8, -54.52}, {16, -103.74}};
    for (size_t k = 0; k < 2; k++) {
        gw_readings *r = quantised((int)cases[k][0], 1000);
        assert_close(lines_db(r), cases[k][1], 0.02);
        assert_int_equal(r->values[GW_THD].state, GW_READING_BELOW);
        assert_true(gw_db_from_ratio(r->values[GW_THD].value) > cases[k][1]);
        assert_true(speaks_of(r, "divides the sample rate"));
        gw_readings_free(r);
        r = quantised((int)cases[k][0], 997);
        assert_int_equal(r->values[GW_THD].state, GW_READING_BELOW);
        assert_false(speaks_of(r, "divides the sample rate"));
        gw_readings_free(r);
    }
}

/* Nearly a part of the sample rate: within a record the samples sweep over one to five steps, so that their errors are
 * neither alike nor independent (IEEE Std 1057: coherent sampling). u95 holds for 95 of 100 levels at least. */
static void test_tone_that_nearly_divides_the_rate(void **state) {
    (void)state;
    enum { SHORT = 2000, TRIALS = 200 };
    static const int parts[] = {4, 5, 8, 10, 20};
    uint64_t random = 7;
    int held = 0;
    for (int t = 0; t < TRIALS; t++) {
        double v[SHORT] = {0}, peak = 5 + 25 * random_even(&random), part = parts[t % 5];
        double swept = 1 + 4 * random_even(&random), slip = swept / (two_pi * peak * SHORT / part);
        add_sine(v, SHORT, 1, peak, (1 + slip) / part, two_pi * random_even(&random));
        double dc = random_even(&random);
        for (size_t i = 0; i < SHORT; i++)
            v[i] += dc;
        quantise(v, SHORT, 1);
        gw_readings *r = measured(v, SHORT, 1e5, 1);
        held += fabs(value_of(r, GW_LEVEL) - peak / sqrt(2)) <= r->values[GW_LEVEL].u95;
        gw_readings_free(r);
    }
    print_message("level of a nearly coherent tone: u95 held %d of %d\n", held, TRIALS);
    assert_in_range(held, TRIALS * 95 / 100, TRIALS);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_sinad),
        cmocka_unit_test(test_tone_that_divides_the_rate),
        cmocka_unit_test(test_tone_that_nearly_divides_the_rate),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
