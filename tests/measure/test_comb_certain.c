/* Whether a line, or a comb of them, is a tone, asked of a fit of these lines alone. */
#include "assert_close.h"
#include "measure/certain.h"
#include "signals.h"

enum { N = 4000, ORDERS = 10, FUNDAMENTAL = 16 };

/* Is a comb of ten lines, the first a little the strongest, a tone, with another of `beside` times their strength
 * half-way between the first two? In noise 34 dB under each line. */
static bool certain(double beside, uint64_t *seed) {
    double *v = new_volts(N);
    for (int order = 1; order <= ORDERS; order++)
        add_sine(v, N, N, order == 1 ? 1.2 : 1, order * FUNDAMENTAL, 0.4 * order * order);
    add_sine(v, N, N, beside, 1.5 * FUNDAMENTAL, 1);
    add_noise(v, N, 0.014, seed);
    gw_error error = {0};
    gw_model model = {.tone = true};
    assert_true(gw_fit_begin(&model.fit, v, NULL, N, &error));
    model.fit.base[GW_BASE_SIGNAL] = (double)FUNDAMENTAL / N;
    for (int order = 1; order <= ORDERS; order++)
        assert_true(gw_fit_add(&model.fit, order, 0, 0, &error));
    assert_true(gw_fit_solve_linear(&model.fit, &error));
    bool is = gw_tone_certain(&model);
    gw_model_end(&model);
    free(v);
    return is;
}

/* What lies between a comb's lines must be far less than they are. A line three times as high as each of them, at one
 * of ten half-way places, makes 0.9 of a line's power the mean there: the comb is not what the record holds. A tenth as
 * high it is a tone beside a comb. */
static void a_comb_stands_out_of_what_lies_between_its_lines(void **state) {
    (void)state;
    uint64_t seed = 81;
    for (int t = 0; t < 5; t++) {
        assert_true(certain(0, &seed));
        assert_true(certain(0.1, &seed));
        assert_false(certain(3, &seed));
    }
}

/* Is a line of 200 cycles a tone, with lines `beside` times as high at each of the eight frequencies next to it on one
 * side (`side` -1: below, 1: above)? In noise 26 dB under it. */
static bool alone(double beside, int side, uint64_t *seed) {
    enum { CYCLES = 200, BESIDE = 8 };
    double *v = new_volts(N);
    add_sine(v, N, N, 1, CYCLES, 0.4);
    for (int k = 1; k <= BESIDE; k++)
        add_sine(v, N, N, beside, CYCLES + side * k, 1.3 * k * k);
    add_noise(v, N, 0.035, seed);
    gw_error error = {0};
    gw_model model = {.tone = true};
    assert_true(gw_fit_begin(&model.fit, v, NULL, N, &error));
    model.fit.base[GW_BASE_SIGNAL] = (double)CYCLES / N;
    assert_true(gw_fit_add(&model.fit, 1, 0, 0, &error));
    assert_true(gw_fit_solve_linear(&model.fit, &error));
    bool is = gw_tone_certain(&model);
    gw_model_end(&model);
    free(v);
    return is;
}

/* A tone holds half of the power that lies near it, at least, on whichever side: next to eight lines of half its height
 * it holds 1 of 1 + 8/4, and is the highest place of a hump of noise; next to eight of a tenth it holds 1 of 1.08. */
static void a_line_at_the_edge_of_a_hump_is_no_tone(void **state) {
    (void)state;
    uint64_t seed = 82;
    for (int side = -1; side <= 1; side += 2) {
        assert_true(alone(0, side, &seed));
        assert_true(alone(0.1, side, &seed));
        assert_false(alone(0.5, side, &seed));
    }
}

/* Is a comb of ten lines 20 cycles apart a tone, where hum takes what lies beside them, but for `open` places of six a
 * line? Four more lines stand next to its first, so that the comb as a whole must tell; all are whole numbers of
 * cycles, and keep apart. */
static bool certain_beside_hum(int open, uint64_t *seed) {
    enum { APART = 20, HUM = 2 };
    double *v = new_volts(N);
    for (int order = 1; order <= ORDERS; order++)
        add_sine(v, N, N, order == 1 ? 1.2 : 1, order * APART, 0.4 * order * order);
    for (int k = 1; k <= 7; k += 2)
        add_sine(v, N, N, 0.8, APART + k, 1.3 * k);
    add_noise(v, N, 0.014, seed);
    gw_error error = {0};
    gw_model model = {.tone = true};
    assert_true(gw_fit_begin(&model.fit, v, NULL, N, &error));
    model.fit.base[GW_BASE_SIGNAL] = (double)APART / N;
    model.fit.base[GW_BASE_MAINS] = (double)HUM / N;
    for (int order = 1; order <= ORDERS; order++)
        assert_true(gw_fit_add(&model.fit, order, 0, 0, &error));
    for (int at = 6; open < 6 && at <= ORDERS * APART + APART / 2; at += HUM) {
        /* half-way between two lines is beside both: every other such place leaves each line one */
        bool half = at % APART == APART / 2, left = half && (open == 2 || at / APART % 2 == 1);
        if (at % APART >= 6 && at % APART <= 14 && !left)
            assert_true(gw_fit_add(&model.fit, 0, 0, at / HUM, &error));
    }
    assert_true(gw_fit_solve_linear(&model.fit, &error));
    bool is = gw_tone_certain(&model);
    gw_model_end(&model);
    free(v);
    return is;
}

/* A line re what n places beside it hold is n/(n - 1) on average where all are noise (the mean of the inverse of n
 * exponential variables' sum): two tell, and of a single one chance makes any ratio, however high. */
static void one_place_beside_each_line_tells_nothing(void **state) {
    (void)state;
    uint64_t seed = 83;
    for (int t = 0; t < 3; t++) {
        assert_true(certain_beside_hum(6, &seed));
        assert_true(certain_beside_hum(2, &seed));
        assert_false(certain_beside_hum(1, &seed));
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_comb_stands_out_of_what_lies_between_its_lines),
        cmocka_unit_test(a_line_at_the_edge_of_a_hump_is_no_tone),
        cmocka_unit_test(one_place_beside_each_line_tells_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
