/* Parts of half periods that are missing, asked of a model that is known: at one phase they are the waveform's. */
#include "assert_close.h"
#include "measure/cutouts.h"
#include "signals.h"

enum { PERIOD = 120, PERIODS = 40, N = PERIOD * PERIODS, CUTS = 5, LENGTH = 36, EVENTS = 32 };
static const double rate = 48000;

/* How many cut-outs are told of a sine with five of them, of three tenths of a period each, about a crest that comes
 * `crest` samples after a period of the record begins; `later` samples later, where that is possible, from each to the
 * next. Where they are is checked. */
static size_t cuts_told(size_t crest, size_t later) {
    static const size_t periods[CUTS] = {4, 11, 17, 26, 33};
    double *v = new_volts(N);
    gw_error error = {0};
    gw_model model = {.tone = true, .robust_v = 1e-3};
    gw_event events[EVENTS];
    uint64_t random = 43;
    size_t count = 0;
    for (size_t i = 0; i < N; i++)
        v[i] = cos(two_pi * ((double)i - (double)crest) / PERIOD);
    assert_true(gw_fit_begin(&model.fit, v, NULL, N, &error));
    model.fit.base[GW_BASE_SIGNAL] = 1.0 / PERIOD;
    assert_true(gw_fit_add(&model.fit, 1, 0, 0, &error) && gw_fit_solve_linear(&model.fit, &error));
    for (size_t k = 0; k < CUTS; k++)
        for (size_t i = 0; i < LENGTH; i++)
            v[periods[k] * PERIOD + crest + k * later + i - LENGTH / 2] = 0;
    add_noise(v, N, 1e-3, &random);
    for (size_t i = 0; i < N; i++)
        model.fit.residual[i] = v[i] - cos(two_pi * ((double)i - (double)crest) / PERIOD);
    assert_true(gw_cutouts_find(&model, v, NULL, rate, events, EVENTS, &count));
    for (size_t k = 0; k < count && count == CUTS; k++) {
        assert_close(events[k].start_s * rate, (double)(periods[k] * PERIOD + crest + k * later - LENGTH / 2), 3);
        assert_close(events[k].length_s * rate, LENGTH, 4);
    }
    gw_model_end(&model);
    free(v);
    return count;
}

/* Whatever the phase is: from crest to crest it is the same, wherever the record begins. */
static void parts_at_one_phase_are_the_waveforms_own(void **state) {
    (void)state;
    for (size_t crest = 0; crest < PERIOD; crest += 15)
        assert_int_equal(cuts_told(crest, 0), 0);
}

/* A quarter of a half period further each time: they are anywhere in the waveform, and what is missing is cut out. */
static void parts_at_any_phase_are_cuts(void **state) {
    (void)state;
    for (size_t crest = 0; crest < PERIOD; crest += 15)
        assert_int_equal(cuts_told(crest, PERIOD / 8), CUTS);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(parts_at_one_phase_are_the_waveforms_own),
        cmocka_unit_test(parts_at_any_phase_are_cuts),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
