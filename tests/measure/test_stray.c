/* A tone that is no part of the signal joins its model, or not. What is expected is what the records are made of. */
#include "measure/beside.h"
#include "measure/measured.h"

/* A sine, its frequency taken for `off` cycles of the record more than it is, and a tone of four times its size: does
 * the tone join? */
static bool joins(const double *v, size_t n, double cycles, double off) {
    gw_model model = {.tone = true};
    const gw_block block = {.volts = v, .count = n, .rate_hz = 48e3};
    const gw_stimulus unknown = {.shape = GW_SHAPE_UNKNOWN};
    gw_error error = {0};
    assert_true(gw_fit_begin(&model.fit, v, NULL, n, &error));
    model.fit.base[GW_BASE_SIGNAL] = (cycles + off) / (double)n;
    model.fit.base_free[GW_BASE_SIGNAL] = true;
    assert_true(gw_fit_add(&model.fit, 1, 0, 0, &error));
    assert_true(gw_fit_solve_linear(&model.fit, &error));
    assert_true(model.fit.solved);
    model.fit.base_free[GW_BASE_SIGNAL] = true;
    assert_true(gw_stray_beside(&model, &block, &unknown, &error));
    assert_int_equal(model.fit.line_count, model.stray ? 2 : 1);
    if (model.stray) {
        assert_close(model.fit.base[GW_BASE_SIGNAL] * (double)n, cycles, 0.01);
        assert_close(model.fit.base[GW_BASE_SECOND] * (double)n, 90.4, 0.01);
    }
    bool stray = model.stray;
    gw_model_end(&model);
    return stray;
}

/* A tone that joins must leave the signal the line of the spectrum that it is: with it the frequency becomes right, by
 * a part of a line; where it would go elsewhere, the tone was no tone beside this signal. */
static void a_tone_that_joins_moves_the_signal_by_no_line(void **state) {
    (void)state;
    enum { SAMPLES = 2000 };
    static const double little[] = {-0.4, -0.2, 0.1, 0.3, 0.4}, much[] = {-0.8, -0.6, 0.6, 0.8};
    uint64_t random = 61;
    double *v = new_volts(SAMPLES);
    add_sine(v, SAMPLES, SAMPLES, 0.25, 31.2, 0.7);
    add_sine(v, SAMPLES, SAMPLES, 1, 90.4, 1.9);
    add_noise(v, SAMPLES, 1e-3, &random);
    for (size_t k = 0; k < sizeof little / sizeof *little; k++)
        assert_true(joins(v, SAMPLES, 31.2, little[k]));
    for (size_t k = 0; k < sizeof much / sizeof *much; k++)
        assert_false(joins(v, SAMPLES, 31.2, much[k]));
    free(v);
}

/* A tone of half the size of a signal of few cycles joins while the model holds nothing but the fundamental; whoever
 * asks later, with a harmonic in the model, gets the model back as it was. */
static void a_tone_joins_the_fundamental_alone(void **state) {
    (void)state;
    enum { SAMPLES = 2000 };
    const gw_stimulus unknown = {.shape = GW_SHAPE_UNKNOWN};
    uint64_t random = 62;
    double *v = new_volts(SAMPLES);
    add_sine(v, SAMPLES, SAMPLES, 1, 5.3, 0.7);
    add_sine(v, SAMPLES, SAMPLES, 0.5, 18.2, 1.9);
    add_noise(v, SAMPLES, 1e-3, &random);
    for (size_t lines = 1; lines <= 2; lines++) {
        gw_model model = {.tone = true};
        const gw_block block = {.volts = v, .count = SAMPLES, .rate_hz = 48e3};
        gw_error error = {0};
        assert_true(gw_fit_begin(&model.fit, v, NULL, SAMPLES, &error));
        model.fit.base[GW_BASE_SIGNAL] = 5.3 / SAMPLES;
        model.fit.base_free[GW_BASE_SIGNAL] = true;
        for (size_t k = 1; k <= lines; k++)
            assert_true(gw_fit_add(&model.fit, (int)k, 0, 0, &error));
        assert_true(gw_fit_solve(&model.fit, &error));
        assert_true(model.fit.solved);
        assert_true(gw_stray_join(&model, &block, &unknown, &error));
        assert_int_equal(model.stray, lines == 1);
        assert_int_equal(model.fit.line_count, 2);
        assert_close(model.fit.base[GW_BASE_SECOND] * SAMPLES, lines == 1 ? 18.2 : 0, 0.01);
        gw_model_end(&model);
    }
    free(v);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_tone_that_joins_moves_the_signal_by_no_line),
        cmocka_unit_test(a_tone_joins_the_fundamental_alone),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
