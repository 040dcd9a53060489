/* Long captures: the readings of the whole from its segments. */
#include "measure/measured.h"
#include "measure/model.h"
#include "measure/segments.h"
#include "measure/tally.h"

#include <string.h>

enum { SEGMENT = 4000, SEGMENTS = 9 };

static const double rate = 10e3;

/* Measures `v` segment by segment, as gw_measure_run does with a capture. */
static gw_readings *whole(const double *v, size_t count, size_t segment) {
    gw_error error = {0};
    gw_readings *out = gw_readings_new(&error);
    assert_non_null(out);
    out->source = (gw_source){.unit = "V", .rate_hz = rate, .samples = count};
    gw_segments *all = gw_segments_new(count, rate, &error);
    assert_non_null(all);
    for (size_t from = 0; from < count; from += segment) {
        size_t n = count - from < segment ? count - from : segment;
        gw_block block = {.volts = v + from, .count = n, .rate_hz = rate};
        assert_true(gw_segments_add(all, &block, measured(v + from, n, rate, 0), &error));
    }
    assert_true(gw_segments_finish(all, out, &error));
    gw_segments_free(all);
    return out;
}

/* The same tone in one fit and in nine: equal to within a fraction of the uncertainty, and as certain. */
static void test_segments_lose_nothing(void **state) {
    (void)state;
    size_t count = (size_t)SEGMENT * SEGMENTS;
    double *v = new_volts(count);
    uint64_t random = 2;
    add_sine(v, count, rate, 1, 331.7, 0.4);
    add_sine(v, count, rate, 0.02, 50, 0.4);
    add_noise(v, count, 0.05, &random);
    for (size_t i = 0; i < count; i++)
        v[i] += 0.2;
    gw_readings *one = measured(v, count, rate, 0), *nine = whole(v, count, SEGMENT);
    static const gw_reading_key keys[] = {GW_DC,    GW_AC_RMS, GW_TOTAL_RMS, GW_FREQUENCY, GW_PITCH, GW_LEVEL,
                                          GW_THD_N, GW_SINAD,  GW_NOISE,     GW_SNR,       GW_HUM};
    for (size_t k = 0; k < sizeof keys / sizeof *keys; k++) {
        double u95 = one->values[keys[k]].u95;
        assert_close(value_of(nine, keys[k]), value_of(one, keys[k]), u95);
        assert_close(nine->values[keys[k]].u95 / u95, 1, 0.8);
    }
    /* the slope of the phase over the whole record: as good as one fit over it */
    assert_close(nine->values[GW_FREQUENCY].u95 / one->values[GW_FREQUENCY].u95, 1, 0.5);
    assert_close(value_of(nine, GW_PEAK_HIGH), value_of(one, GW_PEAK_HIGH), 0);
    assert_close(value_of(nine, GW_PEAK_LOW), value_of(one, GW_PEAK_LOW), 0);
    for (int side = 0; side < 2; side++) {
        gw_reading_key key = side ? GW_PEAK_HIGH : GW_PEAK_LOW;
        assert_close(nine->values[key].u95 / one->values[key].u95, 1, 0.8);
    }
    assert_close(nine->values[GW_DROPOUTS].u95, 0, 0); /* a count */
    assert_close(value_of(nine, GW_CREST), value_of(one, GW_CREST), 0.001);
    assert_int_equal(nine->signal, GW_SIGNAL_SINE);
    gw_readings_free(one);
    gw_readings_free(nine);
    free(v);
}

/* The mean's uncertainty is the scatter over the root of their number (JCGM 100:2008, 4.2.3), be the values ever so
 * near each other, and wherever they were gathered: 5 values 1e-7 apart, s² = 2.5e-14, of which the first ones, or the
 * last, came by themselves. */
static void test_near_values_scatter(void **state) {
    (void)state;
    static const gw_reading_key keys[] = {GW_FREQUENCY, GW_DC};
    for (size_t k = 0; k < 2; k++)
        for (int apart = 0; apart <= 5; apart++) {
            gw_tally all = {0}, rest = {0};
            for (int i = 0; i < 5; i++) {
                gw_reading one = {.state = GW_READING_VALUE, .value = 440 + 1e-7 * i, .u_random = 1e-9};
                gw_tally_add(i < apart ? &all : &rest, keys[k], &one, 1);
            }
            gw_tally_join(&all, &rest);
            gw_reading mean = gw_tally_reading(&all, keys[k]);
            assert_int_equal(mean.state, GW_READING_VALUE);
            assert_close(mean.value, 440 + 2e-7, 1e-12);
            assert_close(mean.u_random, sqrt(2.5e-14 / 5), 1e-12);
        }
}

/* 440 Hz in the first half, 1.1 kHz in the other: no frequency in between is told. */
static void test_two_frequencies_have_no_mean(void **state) {
    (void)state;
    size_t count = (size_t)SEGMENT * 4;
    double *v = new_volts(count);
    uint64_t random = 9;
    add_sine(v, count / 2, rate, 1, 440, 0.4);
    add_sine(v + count / 2, count / 2, rate, 1, 1100, 0.4);
    add_noise(v, count, 0.001, &random);
    gw_readings *r = whole(v, count, SEGMENT);
    assert_int_equal(r->signal, GW_SIGNAL_SINE);
    assert_int_equal(r->values[GW_FREQUENCY].state, GW_READING_NONE);
    assert_int_equal(r->values[GW_PITCH].state, GW_READING_NONE);
    assert_non_null(r->values[GW_FREQUENCY].why);
    assert_close(value_of(r, GW_LEVEL), sqrt(0.5), 1e-4);
    gw_readings_free(r);
    free(v);
}

/* The signal is gone for 40 ms over the end of a segment, and once within one: two dropouts, each whole. */
static void test_dropout_over_a_seam(void **state) {
    (void)state;
    static const size_t ahead[] = {4, 100, 200, 300, 396}; /* samples of it before the seam, of 400 */
    size_t count = (size_t)SEGMENT * 3;
    for (size_t k = 0; k < sizeof ahead / sizeof *ahead; k++) {
        double *v = new_volts(count);
        uint64_t random = 8 + k;
        size_t first = SEGMENT - ahead[k], other = 2 * SEGMENT + 1700;
        add_sine(v, count, rate, 1, 331.7, 0.4);
        memset(v + first, 0, 400 * sizeof *v);
        memset(v + other, 0, 400 * sizeof *v);
        add_noise(v, count, 1e-3, &random);
        gw_readings *r = whole(v, count, SEGMENT);
        assert_close(value_of(r, GW_DROPOUTS), 2, 0);
        assert_int_equal(r->event_count, 2);
        for (size_t e = 0; e < 2; e++) {
            assert_int_equal(r->events[e].kind, GW_EVENT_DROPOUT);
            assert_close(r->events[e].start_s, (double)(e ? other : first) / rate, 0.004);
            assert_close(r->events[e].length_s, 400 / rate, 0.006);
        }
        gw_readings_free(r);
        free(v);
    }
}

/* A dropout in the midst of a segment, and one that the next segment begins with, are two: the signal was there between
 * them. So are one that lasts to the end of its segment and one in the midst of the next. */
static void test_dropouts_apart_stay_two(void **state) {
    (void)state;
    enum { LENGTH = 400 };
    static const size_t first[] = {1700, SEGMENT - LENGTH}, other[] = {SEGMENT, SEGMENT + 1700};
    size_t count = (size_t)SEGMENT * 2;
    for (size_t k = 0; k < 2; k++) {
        double *v = new_volts(count);
        uint64_t random = 18 + k;
        add_sine(v, count, rate, 1, 331.7, 0.4);
        memset(v + first[k], 0, LENGTH * sizeof *v);
        memset(v + other[k], 0, LENGTH * sizeof *v);
        add_noise(v, count, 1e-3, &random);
        gw_readings *r = whole(v, count, SEGMENT);
        assert_close(value_of(r, GW_DROPOUTS), 2, 0);
        assert_int_equal(r->event_count, 2);
        for (size_t e = 0; e < 2; e++) {
            assert_close(r->events[e].start_s, (double)(e ? other[k] : first[k]) / rate, 0.004);
            assert_close(r->events[e].length_s, LENGTH / rate, 0.006);
        }
        gw_readings_free(r);
        free(v);
    }
}

/* A note that dies away little by little until its segment ends, and is back 0.1 s later, was played so; one that is
 * switched off for the same 0.1 s where a segment begins has cut out once. */
static void test_gone_with_a_seam(void **state) {
    (void)state;
    size_t count = (size_t)SEGMENT * 3, gone = 1000, fade = 2000;
    for (int slowly = 0; slowly < 2; slowly++) {
        double *v = new_volts(count);
        uint64_t random = 14;
        add_sine(v, count, rate, 1, 331.7, 0.4);
        for (size_t i = 0; slowly && i < fade; i++)
            v[SEGMENT - fade + i] *= 1 - (double)i / (double)fade;
        memset(v + SEGMENT, 0, gone * sizeof *v);
        add_noise(v, count, 1e-3, &random);
        gw_readings *r = whole(v, count, SEGMENT);
        assert_close(value_of(r, GW_DROPOUTS), slowly ? 0 : 1, 0);
        assert_int_equal(r->event_count, slowly ? 0 : 1);
        gw_readings_free(r);
        free(v);
    }
}

/* What every segment says is told once, and what only the last one says is told too, in the order it came in. */
static void test_remarks_of_all_once(void **state) {
    (void)state;
    static const char *said[][2] = {{"bench", NULL}, {"bench", NULL}, {"bench", "lamp"}};
    double *v = new_volts(SEGMENT);
    gw_error error = {0};
    gw_readings *out = gw_readings_new(&error);
    gw_segments *all = gw_segments_new(3 * SEGMENT, rate, &error);
    assert_non_null(out);
    assert_non_null(all);
    out->source = (gw_source){.unit = "V", .rate_hz = rate, .samples = 3 * SEGMENT};
    add_sine(v, SEGMENT, rate, 1, 331.7, 0.4);
    gw_block block = {.volts = v, .count = SEGMENT, .rate_hz = rate};
    size_t other = 0; /* remarks of the sine itself */
    for (int k = 0; k < 3; k++) {
        gw_readings *part = measured(v, SEGMENT, rate, 0);
        other = part->remarks.count;
        for (int i = 0; i < 2 && said[k][i]; i++)
            assert_true(gw_strings_add(&part->remarks, said[k][i]));
        assert_true(gw_segments_add(all, &block, part, &error));
    }
    assert_true(gw_segments_finish(all, out, &error));
    assert_int_equal(out->remarks.count, other + 2);
    assert_string_equal(out->remarks.items[other], "bench");
    assert_string_equal(out->remarks.items[other + 1], "lamp");
    gw_segments_free(all);
    gw_readings_free(out);
    free(v);
}

/* 40 mV of hum at twice the mains, DC that steps up by 0.3 V in three of nine segments: all steps count, hum is what it
 * is in each, and the instrument's accuracy is that of one range. */
static void test_clues_and_accuracy_of_all(void **state) {
    (void)state;
    size_t count = (size_t)SEGMENT * SEGMENTS;
    double *v = new_volts(count);
    uint64_t random = 12;
    gw_error error = {0};
    const gw_measure_options options = {.accuracy = 0.03, .mains_hz = 50};
    add_sine(v, count, rate, 1, 331.7, 0.4);
    add_sine(v, count, rate, 0.04, 100, 1);
    add_noise(v, count, 1e-3, &random);
    for (size_t i = 0; i < count; i++)
        v[i] += 5 + 0.3 * ((i > 5800) + (i > 18200) + (i > 30000));
    gw_readings *out = gw_readings_new(&error);
    assert_non_null(out);
    out->source = (gw_source){.unit = "V", .rate_hz = rate, .samples = count};
    gw_segments *all = gw_segments_new(count, rate, &error);
    for (size_t from = 0; from < count; from += SEGMENT) {
        gw_block block = {.volts = v + from, .count = SEGMENT, .rate_hz = rate};
        assert_true(gw_segments_add(all, &block, measured_with(v + from, SEGMENT, rate, 0, &options), &error));
    }
    assert_true(gw_segments_finish(all, out, &error));
    assert_close(out->clues.step_count, 3, 0);
    assert_close(out->clues.hum_twice_v, 0.04 / sqrt(2), 2e-3);
    assert_close(out->clues.hum_mains_v, 0, 2e-3);
    static const gw_reading_key keys[] = {GW_DC, GW_LEVEL, GW_PEAK_HIGH, GW_PEAK_LOW};
    for (size_t k = 0; k < sizeof keys / sizeof *keys; k++) {
        const gw_reading *r = &out->values[keys[k]];
        assert_close(r->u_scale / (0.03 / sqrt(3) * fabs(r->value)), 1, 0.05); /* a rectangle of ±3 % */
    }
    assert_close(value_of(out, GW_PEAK_HIGH), 5.9 + 1.04, 0.05);
    gw_segments_free(all);
    gw_readings_free(out);
    free(v);
}

/* Phases at every 0.4 s of 331.7 Hz: the frequency is their slope. It is lost where a segment's own frequency leaves
 * more than a quarter turn open until the next, and where a phase is more than a quarter turn off. */
static void test_phase_that_keeps_in_step(void **state) {
    (void)state;
    static const struct {
        double off_hz, u_hz, jump;
        bool lost;
    } cases[] = {{0.01, 0.01, 0, false}, {0.01, 0.5, 0, true}, {0.01, 0.01, 2.2, true},
                 {0.3, 0.5, 2.2, true},  {0.3, 0.1, 0, false}, {0.01, 0.01, 1, false}};
    for (size_t c = 0; c < sizeof cases / sizeof *cases; c++) {
        gw_phase_tally tally = {0};
        double hz, u;
        for (int k = 0; k < 9; k++) {
            double time = 0.4 * k, phase = fmod(two_pi * 331.7 * time, two_pi) + (k == 5 ? cases[c].jump : 0);
            gw_phase_add(&tally, time, phase, 1e-3, 331.7 + cases[c].off_hz * (k % 2 ? 1 : -1), cases[c].u_hz);
        }
        assert_int_equal(!gw_phase_frequency(&tally, &hz, &u), cases[c].lost);
        if (!cases[c].lost && cases[c].jump == 0)
            assert_close(hz, 331.7, 1e-4);
    }
}

/* Values of 1, 2, 3 and 4 V, two of them gathered apart from the other two: the mean is 2.5 V, and its standard
 * uncertainty their deviation over the root of four, √(5/3 / 4) (JCGM 100, 4.2.3). */
static void test_tallies_that_join(void **state) {
    (void)state;
    gw_tally halves[2] = {{0}, {0}};
    for (int k = 0; k < 4; k++)
        gw_tally_add(&halves[k / 2], GW_DC, &(gw_reading){.state = GW_READING_VALUE, .value = k + 1}, 1);
    gw_tally_join(&halves[0], &halves[1]);
    gw_reading dc = gw_tally_reading(&halves[0], GW_DC);
    assert_int_equal(dc.state, GW_READING_VALUE);
    assert_close(dc.value, 2.5, 1e-12);
    assert_close(dc.u_random, sqrt(5.0 / 12), 1e-12);
}

/* Level against time follows a signal that is switched off, and the readings say what most of the record shows. */
static void test_level_against_time(void **state) {
    (void)state;
    size_t count = (size_t)SEGMENT * SEGMENTS, off = count * 2 / 3;
    double *v = new_volts(count);
    uint64_t random = 2;
    add_sine(v, off, rate, 1, 331.7, 0.4);
    add_noise(v, count, 0.01, &random);
    gw_readings *r = whole(v, count, SEGMENT);
    assert_int_equal(r->signal, GW_SIGNAL_SINE);
    assert_close(value_of(r, GW_LEVEL), sqrt(0.5), 1e-3);
    assert_close(value_of(r, GW_AC_RMS), sqrt(0.5 * 2 / 3 + 1e-4), 1e-3);
    assert_true(r->level_count > 100);
    const gw_level_point *first = &r->levels[10], *last = &r->levels[r->level_count - 10];
    assert_close(first->rms_v, sqrt(0.5), 0.05);
    assert_close(last->rms_v, 0.01, 0.004);
    assert_close(last->time_s, (double)count / rate, 0.1);
    assert_int_equal(r->waveform.count, 720);
    gw_readings_free(r);
    free(v);
}

/* A frequency that wanders has no phase to follow: the mean, with its scatter. */
static void test_wandering_frequency(void **state) {
    (void)state;
    size_t count = (size_t)SEGMENT * SEGMENTS;
    double *v = new_volts(count), turn = 0;
    for (size_t i = 0; i < count; i++) {
        turn += (330 + 3 * sin(two_pi * (double)i / (double)count)) / rate;
        v[i] = sin(two_pi * turn);
    }
    gw_readings *r = whole(v, count, SEGMENT);
    assert_close(value_of(r, GW_FREQUENCY), 330, r->values[GW_FREQUENCY].u95);
    assert_true(r->values[GW_FREQUENCY].u95 > 0.5);
    gw_readings_free(r);
    free(v);
}

enum { HINTED = 24000 };

/* A segment as it may come behind one of 440 Hz. */
typedef struct behind {
    const char *about;
    double amplitude, frequency_hz, second_v, second_hz, noise_v;
    size_t gap; /* samples without any signal */
} behind;

static void fill_behind(const behind *b, double *v) {
    uint64_t random = 9;
    memset(v, 0, HINTED * sizeof *v);
    add_sine(v, HINTED, rate, b->amplitude, b->frequency_hz, 0.7);
    add_sine(v, HINTED, rate, b->second_v, b->second_hz, 0.2);
    memset(v + HINTED / 3, 0, b->gap * sizeof *v);
    add_noise(v, HINTED, b->noise_v, &random);
}

/* What the segment before was found to hold is gone on from only where a search would have found the same: model by
 * model, beside a search. */
static void test_hints(void **state) {
    (void)state;
    static const behind cases[] = {
        {"first", 1, 440.3, 0, 0, 1e-3, 0},
        {"the same", 1, 440.3, 0, 0, 1e-3, 0},
        {"with a harmonic", 1, 440.3, 0.01, 880.6, 1e-3, 0},
        {"with a weak one", 1, 440.3, 5e-5, 2201.5, 1e-3, 0},
        {"with hum", 1, 440.3, 0.01, 50, 1e-3, 0},
        {"softer", 0.1, 440.3, 0, 0, 1e-3, 0},
        {"gone", 0, 440.3, 0, 0, 1e-3, 0},
        {"an octave lower", 1, 220.15, 0, 0, 1e-3, 0},
        {"with a part an octave lower", 1, 440.3, 0.004, 220.15, 1e-3, 0},
        {"with a second tone", 1, 440.3, 0.7, 573.1, 1e-3, 0},
        {"another note", 1, 493.9, 0, 0, 1e-3, 0},
        {"a little sharper", 1, 440.4, 0, 0, 1e-3, 0},
        {"sharper", 1, 440.7, 0, 0, 1e-3, 0},
        {"noisier", 1, 440.3, 0, 0, 3e-3, 0},
        {"interrupted", 1, 440.3, 0, 0, 1e-3, 900},
    };
    double *v = new_volts(HINTED);
    gw_hint hint = {0};
    gw_stimulus unknown = {0};
    gw_error error = {0};
    for (size_t k = 0; k < sizeof cases / sizeof *cases; k++) {
        gw_model searched, hinted;
        fill_behind(&cases[k], v);
        gw_block block = {.volts = v, .count = HINTED, .rate_hz = rate};
        assert_true(gw_model_build(&block, &unknown, 0, &searched, &error));
        if (k == 0) {
            hint = gw_model_hint(&searched);
            assert_close(hint.signal * rate, 440.3, 1e-3);
        }
        block.hint = &hint;
        assert_true(gw_model_build(&block, &unknown, 0, &hinted, &error));
        bool same = hinted.tone == searched.tone && hinted.two_tone == searched.two_tone &&
                    hinted.fit.line_count == searched.fit.line_count && hinted.fit.has_drift == searched.fit.has_drift;
        if (!same)
            fail_msg("%s: %zu lines, with a hint %zu", cases[k].about, searched.fit.line_count, hinted.fit.line_count);
        assert_close(hinted.fit.base[0] * HINTED, searched.fit.base[0] * HINTED, 1e-8);
        assert_close(hinted.fit.dc, searched.fit.dc, 1e-10);
        assert_close(hinted.variance / searched.variance, 1, 1e-9);
        gw_model_end(&searched);
        gw_model_end(&hinted);
    }
    free(v);
}

/* Nothing is gone on from where there is no plain tone far over the noise, nor enough of it. */
static void test_no_hints(void **state) {
    (void)state;
    static const behind cases[] = {{"noisy", 1, 440.3, 0, 0, 0.02, 0},
                                   {"two tones", 1, 440.3, 0.7, 573.1, 1e-3, 0},
                                   {"slow", 1, 7.1, 0, 0, 1e-3, 0},
                                   {"noise", 0, 440.3, 0, 0, 1e-3, 0}};
    double *v = new_volts(HINTED);
    gw_stimulus unknown = {0};
    gw_error error = {0};
    for (size_t k = 0; k < sizeof cases / sizeof *cases; k++) {
        gw_model model;
        fill_behind(&cases[k], v);
        gw_block block = {.volts = v, .count = HINTED, .rate_hz = rate};
        assert_true(gw_model_build(&block, &unknown, 0, &model, &error));
        assert_close(gw_model_hint(&model).signal, 0, 0);
        gw_model_end(&model);
    }
    free(v);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_segments_lose_nothing),
        cmocka_unit_test(test_near_values_scatter),
        cmocka_unit_test(test_two_frequencies_have_no_mean),
        cmocka_unit_test(test_dropout_over_a_seam),
        cmocka_unit_test(test_dropouts_apart_stay_two),
        cmocka_unit_test(test_gone_with_a_seam),
        cmocka_unit_test(test_remarks_of_all_once),
        cmocka_unit_test(test_tallies_that_join),
        cmocka_unit_test(test_level_against_time),
        cmocka_unit_test(test_clues_and_accuracy_of_all),
        cmocka_unit_test(test_phase_that_keeps_in_step),
        cmocka_unit_test(test_wandering_frequency),
        cmocka_unit_test(test_hints),
        cmocka_unit_test(test_no_hints),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
