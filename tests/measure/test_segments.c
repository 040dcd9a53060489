/* Long captures: the readings of the whole from its segments. */
#include "measure/measured.h"
#include "measure/segments.h"

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
                                          GW_THD_N, GW_SINAD,  GW_NOISE,     GW_NOISE_A,   GW_SNR,   GW_HUM};
    for (size_t k = 0; k < sizeof keys / sizeof *keys; k++) {
        double u95 = one->values[keys[k]].u95;
        assert_close(value_of(nine, keys[k]), value_of(one, keys[k]), u95);
        assert_close(nine->values[keys[k]].u95 / u95, 1, 0.8);
    }
    /* the slope of the phase over the whole record: as good as one fit over it */
    assert_close(nine->values[GW_FREQUENCY].u95 / one->values[GW_FREQUENCY].u95, 1, 0.5);
    assert_close(value_of(nine, GW_PEAK_HIGH), value_of(one, GW_PEAK_HIGH), 0);
    assert_close(value_of(nine, GW_PEAK_LOW), value_of(one, GW_PEAK_LOW), 0);
    assert_close(value_of(nine, GW_CREST), value_of(one, GW_CREST), 0.001);
    assert_int_equal(nine->signal, GW_SIGNAL_SINE);
    gw_readings_free(one);
    gw_readings_free(nine);
    free(v);
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

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_segments_lose_nothing),
        cmocka_unit_test(test_level_against_time),
        cmocka_unit_test(test_wandering_frequency),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
