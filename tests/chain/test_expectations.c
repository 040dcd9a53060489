/* What a chain file makes one expect: stated beats computed, defaults where nothing is said, and where each came from.
 */
#include "chain_testing.h"

/* The chain of the manual's first example. */
static const char tarn[] = "[chain]\n"
                           "title    = Tarn spring echo, dry path\n"
                           "unit     = 0417                        # whatever identifies the piece; free text\n"
                           "note     = customer reports no output\n"
                           "stimulus = sine 1 kHz 100 mV           # shape, frequency, RMS level\n"
                           "mains    = 50 Hz\n"
                           "captures = captures                    ; folder, relative to this file\n"
                           "band     = 20 Hz .. 20 kHz\n"
                           "complaint = no output\n"
                           "parts = \n"
                           "\n"
                           "[instrument]\n"
                           "accuracy   = 3 %\n"
                           "probe      = x10\n"
                           "full_scale = 1.95 V\n"
                           "reference  = 1\n"
                           "coupling   = dc\n"
                           "zero       = 5 mV\n"
                           "\n"
                           "[point J1]\n"
                           "what    = input jack, tip\n"
                           "capture = 01-input.csv\n"
                           "channel = 1\n"
                           "\n"
                           "[point U1-7]\n"
                           "stage = noninverting rf=47k rg=4k7     # stage kind\n"
                           "dc    = 0 V ± 20 mV\n"
                           "thd   = < 0.5 %\n"
                           "reach = awkward\n"
                           "\n"
                           "[point C9]\n"
                           "stage = coupling c=10u load=47k\n"
                           "probe = x1\n"
                           "coupling = ac\n"
                           "accuracy = 1 %\n"
                           "\n"
                           "[point VOL]\n"
                           "stage = pot position=50 % taper=audio\n"
                           "suspect = 3\n"
                           "\n"
                           "[point SEND]\n"
                           "after = U1-7\n"
                           "gain  = -6 dB ± 1 dB\n"
                           "group = sends\n"
                           "\n"
                           "[rail +15]\n"
                           "capture = rail-p15.csv\n"
                           "dc      = 15 V ± 5 %\n"
                           "ripple  = < 5 mV\n"
                           "reading = 15.02 V ± 0.5 %\n";

static void test_the_whole_example(void **state) {
    (void)state;
    gw_chain *chain = chain_of(tarn);
    assert_string_equal(chain->title, "Tarn spring echo, dry path");
    assert_string_equal(chain->unit, "0417");
    assert_string_equal(chain->note, "customer reports no output");
    assert_int_equal(chain->stimulus.shape, GW_SHAPE_SINE);
    assert_close(chain->stimulus.frequency_hz, 1000, 0);
    assert_close(chain->stimulus.level_v, 0.1, 1e-15);
    assert_string_equal(chain->stimulus_text, "sine 1 kHz 100 mV");
    assert_close(chain->mains_hz, 50, 0);
    assert_close(chain->band_low_hz, 20, 0);
    assert_close(chain->band_high_hz, 20000, 0);
    assert_string_equal(chain->folder, "bench/captures");
    assert_close(chain->accuracy, 0.03, 1e-15);
    assert_close(chain->zero_v, 5e-3, 1e-15);
    assert_string_equal(chain->reference, "1");
    assert_close(chain->reference_probe, 10, 0);
    assert_false(chain->simple_decision);
    assert_int_equal(chain->conditions.count, 2); /* an empty line of the job sheet is none */
    assert_string_equal(chain->conditions.items[0], "complaint");
    assert_string_equal(chain->conditions.items[1], "no output");
    assert_int_equal(chain->point_count, 5);
    assert_int_equal(chain->rail_count, 1);
    gw_chain_free(chain);
}

static void test_points_of_the_example(void **state) {
    (void)state;
    gw_chain *chain = chain_of(tarn);
    const gw_point *points = chain->points;
    assert_string_equal(points[0].name, "J1");
    assert_string_equal(points[0].what, "input jack, tip");
    assert_string_equal(points[0].capture, "bench/captures/01-input.csv");
    assert_true(points[0].capture_stated);
    assert_string_equal(points[0].channel, "1");
    assert_int_equal(points[0].after, -1);
    assert_int_equal(points[0].line, 20);
    assert_close(points[0].probe, 10, 0);
    assert_close(points[0].accuracy, 0.03, 1e-15);
    assert_close(points[0].full_scale_v, 1.95, 1e-15);
    assert_false(points[0].ac_coupled);
    assert_null(points[1].capture);
    assert_int_equal(points[1].after, 0);
    assert_int_equal(points[1].reach, GW_REACH_AWKWARD);
    assert_true(points[1].thd.stated);
    assert_close(points[1].thd.limit, 0.005, 1e-15);
    assert_close(points[2].probe, 1, 0);
    assert_close(points[2].accuracy, 0.01, 1e-15);
    assert_true(points[2].ac_coupled);
    assert_close(points[3].suspect, 3 * gw_stage_kind_find("pot")->suspect, 1e-12);
    assert_int_equal(points[4].after, 1);
    assert_string_equal(points[4].group, "sends");
    assert_false(points[4].has_stage);
    gw_chain_free(chain);
}

static void test_rail_of_the_example(void **state) {
    (void)state;
    gw_chain *chain = chain_of(tarn);
    const gw_point *rail = &chain->rails[0];
    assert_string_equal(rail->name, "+15");
    assert_true(rail->rail);
    assert_int_equal(rail->after, -1);
    assert_close(rail->probe, 10, 0);
    assert_close(rail->dc.value, 15, 0);
    assert_close(rail->dc.low, 14.25, 1e-12);
    assert_close(rail->dc.high, 15.75, 1e-12);
    assert_close(rail->ripple.limit, 5e-3, 1e-15);
    assert_true(rail->metered);
    assert_close(rail->meter_v, 15.02, 1e-12);
    assert_close(rail->meter_u95_v, 2 * 0.0751 / 1.7320508075688772, 1e-12); /* rectangular: a/sqrt 3, times 2 */
    gw_chain_free(chain);
}

/* A gain's limits in decibels re its value. */
static void check_limits(const gw_expected *gain, double value_db, double low_db, double high_db, double tolerance) {
    assert_close(decibels(gain->value), value_db, tolerance);
    assert_close(decibels(gain->low / gain->value), low_db, tolerance);
    assert_close(decibels(gain->high / gain->value), high_db, tolerance);
}

static gw_chain *chain_with_gain(const char *gain, const char *stage) {
    char text[400];
    snprintf(text, sizeof text, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\n%s%s\n%s%s\n",
             stage != NULL ? "stage = " : "", stage != NULL ? stage : "", gain != NULL ? "gain = " : "",
             gain != NULL ? gain : "");
    return chain_of(text);
}

static void test_stated_gains(void **state) {
    static const struct {
        const char *text;
        double value_db, low_db, high_db;
        int polarity;
    } rows[] = {
        {"20 dB ± 1 dB", 20, -1, 1, 0},
        {"20 dB", 20, -1, 1, 0},                           /* ±1 dB where nothing is said */
        {"x10 ± 5 %", 20, -0.4455278942, 0.4237859814, 0}, /* 20 lg 0.95, 20 lg 1.05 */
        {"10 +- 1", 20, -0.9151498112, 0.8278537032, 0},   /* 20 lg 0.9, 20 lg 1.1 */
        {"0.5", -6.0205999133, -1, 1, 0},
        {"-6 dB +/- 0.5 dB", -6, -0.5, 0.5, 0},
        {"50 %", -6.0205999133, -1, 1, 0},
        {"-10", 20, -1, 1, -1}, /* a minus before a ratio: inverting */
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        gw_chain *chain = chain_with_gain(rows[i].text, NULL);
        const gw_expected *gain = &chain->points[1].gain;
        assert_int_equal(gain->origin, GW_ORIGIN_STATED);
        assert_int_equal(gain->line, 5 + 1);
        check_limits(gain, rows[i].value_db, rows[i].low_db, rows[i].high_db, 1e-9);
        assert_int_equal(chain->points[1].polarity, rows[i].polarity);
        gw_chain_free(chain);
    }
}

static void test_computed_gain_is_a_decibel_or_its_spread(void **state) {
    (void)state;
    gw_chain *chain = chain_with_gain(NULL, "noninverting rf=100k rg=10k tol=5 %");
    check_limits(&chain->points[1].gain, 20.8278537032, -1, 1, 1e-9);
    assert_int_equal(chain->points[1].gain.origin, GW_ORIGIN_COMPUTED);
    assert_string_equal(chain->points[1].gain.how, "1 + rf/rg, ±1 dB by default");
    gw_chain_free(chain);
    chain = chain_with_gain(NULL, "noninverting rf=100k rg=10k tol=10 %"); /* closed form, as in test_stages.c */
    check_limits(&chain->points[1].gain, 20.8278537032, -1.5692799307, 1.5982353359, 1e-9);
    assert_string_equal(chain->points[1].gain.how, "1 + rf/rg, worst case of its parts");
    gw_chain_free(chain);
    chain = chain_with_gain(NULL, "pot position=50 %"); /* controls: 1.5 to 3 dB (common practice) */
    check_limits(&chain->points[1].gain, -6.0205999133, -1.5, 1.5, 1e-9);
    gw_chain_free(chain);
}

static void test_stated_beats_computed_and_tells_both(void **state) {
    (void)state;
    gw_chain *chain = chain_with_gain("20 dB ± 2 dB", "noninverting rf=100k rg=10k");
    check_limits(&chain->points[1].gain, 20, -2, 2, 1e-9);
    assert_int_equal(chain->points[1].gain.origin, GW_ORIGIN_STATED);
    assert_string_equal(chain->points[1].gain.how, "stated; computed 20.83 dB from 1 + rf/rg");
    gw_chain_free(chain);
    chain =
        chain_with_gain("20 dB", "noninverting rf=100k rg=10k tol=10 %"); /* the spread, for it is larger than 1 dB */
    check_limits(&chain->points[1].gain, 20, -1.5692799307, 1.5982353359, 1e-9);
    gw_chain_free(chain);
    chain = chain_with_gain("-8", "noninverting rf=70k rg=10k"); /* the stated sign counts too */
    assert_int_equal(chain->points[1].polarity, -1);
    gw_chain_free(chain);
}

static void test_gain_at_the_stimulus_frequency(void **state) {
    (void)state;
    /* at its corner of 15.9155 Hz a high-pass is down by 3.0103 dB */
    gw_chain *chain = chain_of("[chain]\nstimulus = sine 15.915494309189533 Hz 1 V\n[point A]\n[point B]\n"
                               "stage = coupling c=1u load=10k\n");
    check_limits(&chain->points[1].gain, -3.010299956639812, -1, 1, 1e-9);
    gw_expected mid = gw_point_gain_at(&chain->points[1], 0);
    assert_close(decibels(mid.value), 0, 1e-6);
    gw_expected twice = gw_point_gain_at(&chain->points[1], 2 * 15.915494309189533);
    assert_close(decibels(twice.value), -0.9691001300805642, 1e-9);
    assert_close(decibels(twice.high / twice.value), 1, 1e-9);
    gw_chain_free(chain);
    chain = chain_of("[point A]\n[point B]\nstage = coupling c=1u load=10k source=10k\n");
    check_limits(&chain->points[1].gain, -6.0205999133, -1, 1, 1e-6); /* mid-band: half is lost in the source */
    gw_chain_free(chain);
}

static void test_an_amp_without_gain_is_not_judged(void **state) {
    (void)state;
    gw_chain *chain = chain_with_gain(NULL, "amp");
    assert_int_equal(chain->points[1].gain.origin, GW_ORIGIN_NONE);
    assert_int_equal(chain->points[0].gain.origin, GW_ORIGIN_NONE);
    gw_chain_free(chain);
}

static gw_chain *chain_with_line(const char *line) {
    char text[300];
    snprintf(text, sizeof text, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\n%s\n", line);
    return chain_of(text);
}

static void check_dc(const char *line, gw_origin origin, double value, double low, double high) {
    gw_chain *chain = chain_with_line(line);
    const gw_expected *dc = &chain->points[1].dc;
    assert_int_equal(dc->origin, origin);
    assert_close(dc->value, value, 1e-12);
    assert_close(dc->low, low, 1e-12);
    assert_close(dc->high, high, 1e-12);
    assert_int_equal(dc->how != NULL, origin != GW_ORIGIN_NONE);
    gw_chain_free(chain);
}

static void test_dc(void **state) {
    (void)state;
    check_dc("stage = coupling c=1u load=10k", GW_ORIGIN_DEFAULT, 0, -0.01, 0.01);
    check_dc("stage = amp blocks-dc", GW_ORIGIN_DEFAULT, 0, -0.01, 0.01);
    check_dc("stage = transformer ratio=1", GW_ORIGIN_DEFAULT, 0, -0.01, 0.01);
    check_dc("stage = follower", GW_ORIGIN_NONE, 0, 0, 0);
    check_dc("dc = 4.5 V ± 10 %", GW_ORIGIN_STATED, 4.5, 4.05, 4.95);
    check_dc("dc = 4.5 V", GW_ORIGIN_STATED, 4.5, 4.05, 4.95);
    check_dc("dc = 0", GW_ORIGIN_STATED, 0, -0.01, 0.01);
    check_dc("dc = -1.2 V +- 100 mV", GW_ORIGIN_STATED, -1.2, -1.3, -1.1);
    check_dc("dc = -10 V ± 10 %", GW_ORIGIN_STATED, -10, -11, -9);
    check_dc("dc = < 20 mV", GW_ORIGIN_STATED, 0, -0.02, 0.02);
    check_dc("stage = coupling c=1u load=10k\ndc = 0 V ± 50 mV", GW_ORIGIN_STATED, 0, -0.05, 0.05);
}

static void check_level(const char *line, double value, double low, double high) {
    gw_chain *chain = chain_with_line(line);
    const gw_expected *level = &chain->points[1].level;
    assert_close(level->value, value, 1e-9 * value);
    assert_close(level->low, low, 1e-9 * value);
    assert_close(level->high, high, 1e-9 * value);
    gw_chain_free(chain);
}

static void test_level(void **state) {
    (void)state;
    check_level("level = 775 mV ± 2 dB", 0.775, 0.775 / 1.2589254117941673, 0.775 * 1.2589254117941673);
    check_level("level = 1 V", 1, 0.8912509381337456, 1.1220184543019633); /* ±1 dB */
    check_level("level = 2.8284271247461903 Vpp ± 10 %", 1, 0.9, 1.1);     /* a sine: peak to peak over sqrt 8 */
    check_level("level = 0 dBV ± 10 %", 1, 0.9, 1.1);
    /* sqrt 0.6 V times 10^(4/20) (0 dBu is 1 mW in 600 ohm) */
    check_level("level = +4 dBu ± 10 %", 1.2276529879838797, 0.9 * 1.2276529879838797, 1.1 * 1.2276529879838797);
}

static void test_limits(void **state) {
    (void)state;
    gw_chain *chain = chain_with_line("thd = < -40 dB\nnoise = <= 1 mV\nhum = 250 uV");
    assert_close(chain->points[1].thd.limit, 0.01, 1e-12);
    assert_close(chain->points[1].noise.limit, 1e-3, 1e-15);
    assert_close(chain->points[1].hum.limit, 250e-6, 1e-15);
    assert_int_equal(chain->points[1].hum.line, 7);
    gw_chain_free(chain);
}

static void test_frequency(void **state) {
    (void)state;
    gw_chain *chain = chain_with_line("frequency = 440 Hz ± 1 %");
    assert_close(chain->points[0].frequency.value, 1000, 0); /* the stimulus, ±2 % */
    assert_close(chain->points[0].frequency.low, 980, 1e-9);
    assert_int_equal(chain->points[0].frequency.origin, GW_ORIGIN_DEFAULT);
    assert_close(chain->points[1].frequency.value, 440, 0);
    assert_close(chain->points[1].frequency.high, 444.4, 1e-9);
    assert_int_equal(chain->points[1].frequency.origin, GW_ORIGIN_STATED);
    gw_chain_free(chain);
}

/* Points are put into the order of the signal; the file's order stays where it is one. */
static void test_order_of_the_signal(void **state) {
    (void)state;
    gw_chain *chain = chain_of("[point in]\n[point out]\nafter = mid\n[point mid]\nafter = in\n[point tap]\n");
    static const char *const names[] = {"in", "mid", "tap", "out"};
    static const int after[] = {-1, 0, 1, 1};
    assert_int_equal(chain->point_count, 4);
    for (int i = 0; i < 4; i++) {
        assert_string_equal(chain->points[i].name, names[i]);
        assert_int_equal(chain->points[i].after, after[i]);
    }
    gw_chain_free(chain);
}

static void test_defaults_of_an_instrument(void **state) {
    (void)state;
    gw_chain *chain = chain_of("[point A]\n");
    assert_true(chain->accuracy < 0);
    assert_true(chain->points[0].accuracy < 0);
    assert_close(chain->points[0].probe, 1, 0);
    assert_close(chain->points[0].full_scale_v, 0, 0);
    assert_string_equal(chain->folder, "bench");
    assert_null(chain->reference);
    assert_null(chain->stimulus_text);
    assert_int_equal(chain->stimulus.shape, GW_SHAPE_UNKNOWN);
    gw_chain_free(chain);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_the_whole_example),
        cmocka_unit_test(test_points_of_the_example),
        cmocka_unit_test(test_rail_of_the_example),
        cmocka_unit_test(test_stated_gains),
        cmocka_unit_test(test_computed_gain_is_a_decibel_or_its_spread),
        cmocka_unit_test(test_stated_beats_computed_and_tells_both),
        cmocka_unit_test(test_gain_at_the_stimulus_frequency),
        cmocka_unit_test(test_an_amp_without_gain_is_not_judged),
        cmocka_unit_test(test_dc),
        cmocka_unit_test(test_level),
        cmocka_unit_test(test_limits),
        cmocka_unit_test(test_frequency),
        cmocka_unit_test(test_order_of_the_signal),
        cmocka_unit_test(test_defaults_of_an_instrument),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
