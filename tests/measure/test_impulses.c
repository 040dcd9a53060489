/* Whether what is missing of a sine was cut out of it, or taken away by impulses: made marks and residuals. */
#include "assert_close.h"
#include "gainwalk/capture.h"
#include "measure/cutouts.h"
#include "measure/signals.h"

enum { N = 3000, PERIOD = 50, MARGIN = 25 };

typedef struct record {
    double volts[N];
    unsigned char marks[N];
} record;

static void add_gap(record *r, size_t first, size_t samples) {
    for (size_t i = first; i < first + samples; i++)
        r->marks[i] = GW_SAMPLE_MISSING;
}

/* A sine of 1 V fitted beside the gaps. */
static bool are_impulses(const record *r) {
    gw_model model = {.tone = true};
    assert_true(gw_fit_begin(&model.fit, r->volts, r->marks, N, NULL));
    model.fit.base[GW_BASE_SIGNAL] = 1.0 / PERIOD;
    assert_true(gw_fit_add(&model.fit, 1, 0, 0, NULL));
    assert_true(gw_fit_solve(&model.fit, NULL));
    assert_true(model.fit.solved);
    bool are = gw_cutouts_are_impulses(&model, r->marks, MARGIN);
    gw_fit_end(&model.fit);
    return are;
}

static record *record_new(void) {
    record *r = calloc(1, sizeof *r);
    assert_non_null(r);
    for (size_t i = 0; i < N; i++)
        r->marks[i] = GW_SAMPLE_PRESENT;
    add_sine(r->volts, N, PERIOD, 1, 1, 0.3);
    return r;
}

/* Impulses of half the sine's peak all over the record, two of which met it so that it seems gone for a few samples;
 * and the same gaps with no impulse anywhere. */
static void gaps_among_impulses_are_impulses(void **state) {
    (void)state;
    record *r = record_new();
    add_gap(r, 1000, 2 * MARGIN + 10);
    add_gap(r, 2000, 2 * MARGIN + 10);
    assert_false(are_impulses(r));
    for (size_t k = 0; k < 3; k++)
        r->volts[300 + 1000 * k] += k % 2 ? -0.5 : 0.5;
    assert_true(are_impulses(r));
    free(r);
}

/* No impulse takes a sine away for longer than a period; and fewer impulses than gaps don't explain them all. */
static void a_long_gap_or_one_too_many_is_none(void **state) {
    (void)state;
    record *r = record_new();
    for (size_t k = 0; k < 3; k++)
        r->volts[300 + 1000 * k] += 0.5;
    add_gap(r, 1000, 2 * MARGIN + PERIOD);
    assert_true(are_impulses(r));
    add_gap(r, 1000, 2 * MARGIN + PERIOD + 2);
    assert_false(are_impulses(r));
    free(r);
    r = record_new();
    r->volts[300] += 0.5;
    r->volts[302] -= 0.5; /* the same one rings */
    add_gap(r, 1000, 2 * MARGIN + 10);
    assert_true(are_impulses(r));
    add_gap(r, 2000, 2 * MARGIN + 10);
    assert_false(are_impulses(r));
    free(r);
}

/* Where nothing is missing there is nothing to tell. */
static void without_a_gap_there_is_no_answer(void **state) {
    (void)state;
    record *r = record_new();
    r->volts[300] += 0.5;
    assert_false(are_impulses(r));
    free(r);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(gaps_among_impulses_are_impulses),
        cmocka_unit_test(a_long_gap_or_one_too_many_is_none),
        cmocka_unit_test(without_a_gap_there_is_no_answer),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
