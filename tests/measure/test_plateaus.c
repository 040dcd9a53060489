/* Levels that follow one another in a record: parts with and without the signal, and a level that changes once. */
#include "captured.h"
#include "measure/plateaus.h"
#include "measured.h"

#include <string.h>

enum { N = 32000 };

static const double rate = 32e3;

/* A level that is the signal's own, read beside the parts without it, is of one kind; that of all parts together, whose
 * power is as much less as parts are gone, is mixed. Without any part gone nothing is mixed. */
static void a_level_of_all_parts_is_mixed(void **state) {
    (void)state;
    const double peak = 0.02, power = peak * peak / 2;
    double powers[GW_LASTING_PARTS];
    for (size_t gone = 0; gone <= GW_LASTING_PARTS - 1; gone++) {
        for (size_t k = 0; k < GW_LASTING_PARTS; k++)
            powers[k] = k < gone ? 0 : power;
        double share = (double)(GW_LASTING_PARTS - gone) / GW_LASTING_PARTS;
        assert_false(gw_lasting_mixed(powers, peak / sqrt(2)));
        if (gone == 0 || gone >= GW_LASTING_PARTS / 3)
            assert_int_equal(gw_lasting_mixed(powers, sqrt(power * share)), gone > 0);
    }
}

/* A level lasts from where its first part begins to where its last one ends: of segments of 3200 samples, 32 parts of
 * 100 each, one whole and the first eight parts of the next at one level, then the rest at a third of it. */
static void a_level_lasts_until_the_next_begins(void **state) {
    (void)state;
    enum { SEGMENT = 100 * GW_LASTING_PARTS, LOUD = 8 };
    double loud[GW_LASTING_PARTS], falls[GW_LASTING_PARTS];
    static gw_lasting all;
    all = (gw_lasting){0};
    for (size_t k = 0; k < GW_LASTING_PARTS; k++) {
        loud[k] = 0.5;
        falls[k] = k < LOUD ? 0.5 : 0.5 / 9;
    }
    gw_lasting_add(&all, 0, SEGMENT, loud);
    gw_lasting_add(&all, SEGMENT, SEGMENT, falls);
    assert_int_equal(all.count, 2);
    assert_int_equal(all.plateaus[0].first, 0);
    assert_int_equal(all.plateaus[0].end, SEGMENT + 100 * LOUD);
    assert_int_equal(all.plateaus[1].first, SEGMENT + 100 * LOUD);
    assert_int_equal(all.plateaus[1].end, 2 * SEGMENT);
}

/* Parts of 100 samples: the signal, nothing, the signal; `before` and `after` are its levels re `level` beside the gap,
 * and 24 parts of it at `level` follow. Where the first gap found begins; 0 without one. */
static uint64_t gap_begin(double level, double before, double after) {
    enum { SEGMENT = 100 * GW_LASTING_PARTS };
    double powers[2][GW_LASTING_PARTS];
    static gw_lasting all;
    all = (gw_lasting){0};
    for (size_t k = 0; k < GW_LASTING_PARTS; k++) {
        double share = k < 12 ? before : k < 20 ? 0 : after;
        powers[0][k] = level * level * share * share;
        powers[1][k] = level * level;
    }
    gw_lasting_add(&all, 0, SEGMENT, powers[0]);
    gw_lasting_add(&all, SEGMENT, SEGMENT, powers[1]);
    gw_gap gap = {0};
    return gw_gap_next(&all, &gap) ? gap.before->end : 0;
}

/* A gap has the signal on both sides of it, as high as usual, be that 3 mV or 30 V; beside less than 80 % of it nothing
 * is told. */
static void a_gap_has_the_signal_on_either_side(void **state) {
    (void)state;
    static const double levels[] = {3e-3, 0.5, 30};
    for (size_t k = 0; k < sizeof levels / sizeof *levels; k++) {
        assert_int_equal(gap_begin(levels[k], 1, 1), 1200);
        assert_int_equal(gap_begin(levels[k], 0.6, 1), 0);
        assert_int_equal(gap_begin(levels[k], 1, 0.6), 0);
    }
}

/* 1 V peak, and 0.5 V from the middle on. */
static gw_capture *halved(double *v) {
    memset(v, 0, N * sizeof *v);
    add_sine(v, N / 2, rate, 1, 1000, 0);
    add_sine(v + N / 2, N / 2, rate, 0.5, 1000, 0);
    return capture_of(v, v, N, (unsigned)rate);
}

/* Does what is told of the whole piece hold the change, if `dropouts` were found in it? */
static bool change_told(const gw_capture *capture, const double *v, double dropouts) {
    gw_error error = {0};
    gw_readings *out = gw_readings_new(&error);
    assert_non_null(out);
    out->source.unit = "V";
    out->signal = GW_SIGNAL_SINE;
    out->values[GW_FREQUENCY] = (gw_reading){.state = GW_READING_VALUE, .value = 1000};
    out->values[GW_DROPOUTS] = (gw_reading){.state = GW_READING_VALUE, .value = dropouts};
    gw_block block = {.volts = v, .count = N, .rate_hz = rate};
    assert_true(gw_lasting_of_piece(capture, 0, &block, out, &error));
    bool told = false;
    for (size_t k = 0; k < out->remarks.count; k++)
        told = told || strstr(out->remarks.items[k], "and stays so");
    assert_close(out->values[GW_DROPOUTS].value, dropouts, 0);
    gw_readings_free(out);
    return told;
}

/* A level that goes down and stays so is told of a piece in which nothing was gone. Where something was, the same parts
 * may lie beside a contact that breaks, and no level "stays so". */
static void a_change_is_told_where_nothing_was_gone(void **state) {
    (void)state;
    double *v = new_volts(N);
    gw_capture *capture = halved(v);
    assert_true(change_told(capture, v, 0));
    assert_false(change_told(capture, v, 1));
    assert_false(change_told(capture, v, 3));
    gw_capture_free(capture);
    free(v);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_level_of_all_parts_is_mixed),
        cmocka_unit_test(a_level_lasts_until_the_next_begins),
        cmocka_unit_test(a_gap_has_the_signal_on_either_side),
        cmocka_unit_test(a_change_is_told_where_nothing_was_gone),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
