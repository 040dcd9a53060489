/* JSON: names, shapes, units and their order, as promised to whoever reads it. */
#include "assert_close.h"

#include "report/invented.h"

#include <jansson.h>
#include <stdlib.h>

typedef bool walk_report(const gw_walk *const *, size_t, const gw_report_options *, gw_text *, gw_error *);

static json_t *parsed(const gw_text *text) {
    json_error_t fault;
    json_t *root = json_loads(text->data, JSON_REJECT_DUPLICATES, &fault);
    if (root == NULL)
        fail_msg("%d: %s", fault.line, fault.text);
    return root;
}

static json_t *walk_json(const gw_walk *walk) {
    gw_text text = {0};
    gw_error error = {0};
    gw_report_options options = {.program = "gainwalk 0.1.0"};
    assert_true(gw_report_walk_json(&walk, 1, &options, &text, &error));
    json_t *root = parsed(&text);
    gw_text_free(&text);
    return root;
}

/* The members of an object, in their order: "name what status". */
static void assert_keys(json_t *object, const char *expected) {
    gw_text keys = {0};
    const char *key;
    json_t *value;
    json_object_foreach(object, key, value) {
        gw_text_printf(&keys, "%s%s", keys.length > 0 ? " " : "", key);
    }
    assert_string_equal(gw_text_string(&keys), expected);
    gw_text_free(&keys);
}

static json_t *get(json_t *root, const char *path) {
    char step[32];
    while (*path != '\0') {
        size_t length = strcspn(path, "/");
        assert_true(length < sizeof step);
        memcpy(step, path, length);
        step[length] = '\0';
        root = json_is_array(root) ? json_array_get(root, (size_t)atoi(step)) : json_object_get(root, step);
        if (root == NULL)
            fail_msg("no %s", path);
        path += length + (path[length] == '/');
    }
    return root;
}

static const char *text_at(json_t *root, const char *path) {
    return json_string_value(get(root, path));
}

static double number_at(json_t *root, const char *path) {
    assert_true(json_is_number(get(root, path)));
    return json_number_value(get(root, path));
}

static void walk_has_the_promised_shape(void **state) {
    (void)state;
    gw_walk *walk = invented_walk();
    json_t *root = walk_json(walk), *chain = get(root, "chains/0");
    assert_keys(root, "format version program chains");
    assert_string_equal(text_at(root, "format"), "gainwalk-walk");
    assert_int_equal(json_integer_value(get(root, "version")), 1);
    assert_keys(chain, "file title unit points rails stages findings verdict next");
    assert_keys(get(chain, "points/0"), "name what status capture");
    assert_keys(get(chain, "points/5"), "name what status");
    assert_string_equal(text_at(chain, "points/5/status"), "unprobed");
    assert_keys(get(chain, "points/6"), "name status why");
    assert_keys(get(chain, "rails/0"), "name status judged meter");
    assert_keys(get(chain, "stages/1"), "from to kind status gain dc polarity thd_added noise_added hum_added note");
    assert_keys(get(chain, "stages/1/gain"), "value unit u95 expected tolerance status");
    assert_keys(get(chain, "findings/0"), "code from to point status evidence causes confirm follows");
    assert_true(json_is_null(get(chain, "findings/0/follows")));
    assert_int_equal(json_integer_value(get(chain, "findings/1/follows")), 0);
    assert_keys(get(chain, "verdict"), "status code from to point exact summary");
    assert_string_equal(text_at(chain, "verdict/code"), "level-low");
    assert_string_equal(text_at(chain, "verdict/from"), "U1-7");
    assert_true(json_is_true(get(chain, "verdict/exact")));
    assert_string_equal(text_at(chain, "next/0/point"), "X2");
    json_decref(root);
    invented_free(walk);
}

/* 20 dB ± 1 dB is a ratio of 10 between 8.913 and 11.22. */
static void gains_are_in_decibels(void **state) {
    (void)state;
    gw_walk *walk = invented_walk();
    walk->stages[0].gain = (gw_judgement){.kind = GW_JUDGE_GAIN,
                                          .has_value = true,
                                          .value = 2,
                                          .u95 = 0.1,
                                          .has_expected = true,
                                          .expected = 10,
                                          .low = 8.9125093813,
                                          .high = 11.2201845430,
                                          .status = GW_OFF};
    walk->stages[1].gain =
        (gw_judgement){.kind = GW_JUDGE_GAIN, .has_value = true, .below = true, .value = 0.001, .why = "no signal"};
    walk->stages[2].gain = (gw_judgement){.kind = GW_JUDGE_GAIN, .has_value = true, .value = 0, .u95 = 0};
    walk->stages[2].thd_added = (gw_judgement){.kind = GW_JUDGE_PERCENT,
                                               .has_value = true,
                                               .value = 0.02,
                                               .u95 = 0.001,
                                               .has_expected = true,
                                               .high = 0.005,
                                               .status = GW_OFF};
    json_t *root = walk_json(walk), *stages = get(root, "chains/0/stages");
    assert_close(number_at(stages, "0/gain/value"), 6.0206, 1e-4);
    assert_close(number_at(stages, "0/gain/u95"), 0.4238, 1e-4); /* 20 lg 1.05 */
    assert_close(number_at(stages, "0/gain/expected"), 20, 1e-6);
    assert_close(number_at(stages, "0/gain/tolerance"), 1, 1e-6);
    assert_string_equal(text_at(stages, "0/gain/unit"), "dB");
    assert_keys(get(stages, "1/gain"), "below unit why status");
    assert_close(number_at(stages, "1/gain/below"), -60, 1e-9);
    assert_keys(get(stages, "2/gain"), "unit why status"); /* no minus infinity */
    assert_close(number_at(stages, "2/thd_added/value"), 2, 1e-9);
    assert_close(number_at(stages, "2/thd_added/tolerance"), 0.5, 1e-9);
    json_decref(root);
    invented_free(walk);
}

static void events_stand_with_their_times(void **state) {
    (void)state;
    gw_event events[] = {{GW_EVENT_DROPOUT, 0.0171, 0.005, 0},
                         {GW_EVENT_CRACKLE, 0.0003, 0.0001, -0.4},
                         {GW_EVENT_STEP, 0.012, 0, 0.25}};
    gw_readings *readings = invented_readings("01-input.csv", 0.1, 0.0021);
    const gw_readings *both[] = {readings};
    gw_report_capture captures[] = {{.file = "01-input.csv", .readings = both, .readings_count = 1}};
    gw_text text = {0};
    gw_error error = {0};
    readings->events = events;
    readings->event_count = 3;
    assert_true(gw_report_measure_json(captures, 1, NULL, &text, &error));
    json_t *root = parsed(&text), *told = get(root, "captures/0/events");
    assert_int_equal(json_array_size(told), 3);
    assert_keys(get(told, "0"), "kind start_s length_s");
    assert_string_equal(text_at(told, "0/kind"), "dropout");
    assert_close(number_at(told, "0/start_s"), 0.0171, 1e-12);
    assert_close(number_at(told, "0/length_s"), 0.005, 1e-12);
    assert_keys(get(told, "1"), "kind start_s length_s size unit");
    assert_string_equal(text_at(told, "1/kind"), "crackle");
    assert_close(number_at(told, "1/size"), -0.4, 1e-12);
    assert_string_equal(text_at(told, "2/kind"), "step");
    assert_close(number_at(told, "2/start_s"), 0.012, 1e-12);
    assert_string_equal(text_at(told, "2/unit"), "V");
    json_decref(root);
    gw_text_free(&text);
    /* and for people */
    assert_true(gw_report_measure_text(captures, 1, NULL, &text, &error));
    assert_non_null(strstr(gw_text_string(&text), "event: dropout at 17.10 ms, for 5.00 ms"));
    assert_non_null(strstr(gw_text_string(&text), "event: crackle at 300.0 \xC2\xB5s, by -400 mV"));
    assert_non_null(strstr(gw_text_string(&text), "event: step at 12.00 ms, by 250 mV"));
    gw_text_free(&text);
    invented_free_readings(readings);
}

/* Equal temperament with A4 = 440 Hz (ISO 16); the frequencies are those of the usual table of notes, here from memory.
 */
static void pitches_have_their_notes(void **state) {
    (void)state;
    static const struct {
        double frequency_hz;
        const char *note;
    } table[] = {{440, "A4"}, {261.626, "C4"}, {82.407, "E2"}, {4186.009, "C8"}, {46.249, "F#1"}, {7.9, NULL}};
    for (size_t k = 0; k < sizeof table / sizeof *table; k++) {
        gw_readings *readings = invented_readings("a.csv", 0.1, 0.0021);
        readings->values[GW_FREQUENCY] = invented_value(table[k].frequency_hz, 0.001);
        readings->values[GW_PITCH] = invented_value(0, 0.1);
        const gw_readings *both[] = {readings};
        gw_report_capture captures[] = {{.file = "a.csv", .readings = both, .readings_count = 1}};
        gw_text text = {0};
        gw_error error = {0};
        assert_true(gw_report_measure_json(captures, 1, NULL, &text, &error));
        json_t *root = parsed(&text), *pitch = get(root, "captures/0/readings/pitch");
        assert_keys(pitch, table[k].note ? "value unit u95 note" : "value unit u95");
        if (table[k].note)
            assert_string_equal(text_at(pitch, "note"), table[k].note);
        json_decref(root);
        gw_text_free(&text);
        invented_free_readings(readings);
    }
}

static void readings_come_in_three_shapes(void **state) {
    (void)state;
    static const char *const all = "dc ac_rms total_rms peak_high peak_low peak_to_peak crest frequency pitch level "
                                   "level_dbv level_dbu thd thd_n sinad noise noise_a noise_density hum snr clip_high "
                                   "clip_low dropouts drift";
    gw_readings *readings = invented_readings("01-input.csv", 0.1, 0.0021);
    const gw_readings *both[] = {readings};
    gw_report_capture captures[] = {{.file = "01-input.csv", .readings = both, .readings_count = 1},
                                    {.file = "b.csv", .error = "b.csv:7: a spectrum"}};
    gw_text text = {0};
    gw_error error = {0};
    assert_true(gw_report_measure_json(captures, 2, NULL, &text, &error));
    json_t *root = parsed(&text), *capture = get(root, "captures/0");
    assert_string_equal(text_at(root, "format"), "gainwalk-measure");
    assert_keys(
        capture,
        "file channel channel_name rate_hz samples duration_s step_v band_hz signal remarks readings harmonics tones "
        "events");
    assert_keys(get(capture, "readings"), all);
    assert_keys(get(capture, "readings/dc"), "value unit u95");
    assert_keys(get(capture, "readings/thd"), "below unit why");
    assert_keys(get(capture, "readings/pitch"), "unit why");
    assert_close(number_at(capture, "readings/thd/below"), 0.4, 1e-12);
    assert_string_equal(text_at(capture, "readings/thd/unit"), "%");
    assert_close(number_at(capture, "readings/level_dbv/value"), -20, 1e-9);
    assert_int_equal(json_array_size(get(capture, "harmonics")), 2); /* the second is not resolved */
    assert_keys(get(capture, "harmonics/0"), "order rms unit u95 phase_deg");
    assert_close(number_at(capture, "harmonics/0/phase_deg"), 14.3239, 1e-3);
    assert_keys(get(capture, "tones/0"), "frequency_hz rms unit kind");
    assert_string_equal(text_at(capture, "tones/0/kind"), "mains");
    assert_keys(get(root, "captures/1"), "file error");
    json_decref(root);
    gw_text_free(&text);
    invented_free_readings(readings);
}

static void full_scale_has_its_own_units(void **state) {
    (void)state;
    gw_readings *readings = invented_readings("a.wav", 0.1, 0);
    readings->source.unit = "FS";
    const gw_readings *one[] = {readings};
    gw_report_capture capture = {.file = "a.wav", .readings = one, .readings_count = 1};
    gw_text text = {0};
    gw_error error = {0};
    assert_true(gw_report_measure_json(&capture, 1, NULL, &text, &error));
    json_t *root = parsed(&text), *values = get(root, "captures/0/readings");
    assert_string_equal(text_at(values, "level/unit"), "FS");
    assert_string_equal(text_at(values, "level_dbv/unit"), "dBFS");
    assert_string_equal(text_at(values, "noise_density/unit"), "FS/\xE2\x88\x9AHz");
    assert_close(number_at(values, "level_dbv/value"), -16.9897, 1e-4); /* AES17: a full-scale sine is 0 dBFS */
    json_decref(root);
    gw_text_free(&text);
    invented_free_readings(readings);
}

static void peek_shows_missing_samples_as_null(void **state) {
    (void)state;
    gw_channel channel = {.number = 1,
                          .name = "IN1",
                          .unit = "V",
                          .first = {-0.4, 0, 0.1},
                          .first_marks = {0, GW_SAMPLE_MISSING, 0},
                          .first_count = 3,
                          .has_range = true,
                          .min = -0.4,
                          .max = 0.4,
                          .missing = 1};
    gw_capture capture = {.file = "a.csv",
                          .rate_hz = 10000,
                          .samples = 6,
                          .has_start = true,
                          .start_s = -0.0002,
                          .channels = &channel,
                          .channel_count = 1};
    gw_report_capture shown[] = {{.file = "a.csv", .capture = &capture},
                                 {.file = "b.csv", .error = "b.csv:7: a spectrum"}};
    gw_text text = {0};
    gw_error error = {0};
    assert_true(gw_report_peek_json(shown, 2, NULL, &text, &error));
    json_t *root = parsed(&text);
    assert_keys(get(root, "captures/0"), "file rate_hz samples start_s channels ignored remarks");
    assert_keys(get(root, "captures/0/channels/0"), "number name unit first min max missing overload");
    assert_close(number_at(root, "captures/0/channels/0/first/0"), -0.4, 0);
    assert_true(json_is_null(get(root, "captures/0/channels/0/first/1")));
    assert_keys(get(root, "captures/1"), "file error");
    json_decref(root);
    gw_text_free(&text);
}

/* Every number reads back as the same double, in as few digits as that takes. */
static void numbers_are_the_shortest_that_read_back(void **state) {
    (void)state;
    static const struct {
        double value;
        const char *text;
    } cases[] = {{0.1, "\"rate_hz\": 0.1,"},
                 {0.1 + 0.2, "\"rate_hz\": 0.30000000000000004,"},
                 {250000, "\"rate_hz\": 250000.0,"},
                 {1.0 / 3, "\"rate_hz\": 0.3333333333333333,"}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        gw_readings *readings = invented_readings("a.csv", 0.1, 0);
        readings->source.rate_hz = cases[i].value;
        const gw_readings *one[] = {readings};
        gw_report_capture capture = {.file = "a.csv", .readings = one, .readings_count = 1};
        gw_text text = {0};
        gw_error error = {0};
        assert_true(gw_report_measure_json(&capture, 1, NULL, &text, &error));
        if (strstr(text.data, cases[i].text) == NULL)
            fail_msg("no %s", cases[i].text);
        gw_text_free(&text);
        invented_free_readings(readings);
    }
}

static void hostile_text_stays_text(void **state) {
    (void)state;
    gw_walk *walk = invented_walk();
    walk->title = "\"}],\x1b[2J\xE2\x80\xAE\\\n\xC2\x9B\xFF";
    gw_text text = {0};
    gw_error error = {0};
    const gw_walk *one[] = {walk};
    assert_true(gw_report_walk_json(one, 1, NULL, &text, &error));
    assert_null(strchr(text.data, '\x1b'));
    assert_null(strstr(text.data, "\xE2\x80\xAE"));
    assert_null(strstr(text.data, "\xC2\x9B"));
    json_t *root = parsed(&text);
    assert_string_equal(text_at(root, "chains/0/title"), "\"}],\x1b[2J\xE2\x80\xAE\\\n\xC2\x9B\xEF\xBF\xBD");
    json_decref(root);
    gw_text_free(&text);
    invented_free(walk);
}

static void comparison_has_its_shape(void **state) {
    (void)state;
    gw_walk *before = invented_walk(), *after = invented_walk();
    gw_comparison *made = NULL;
    gw_error error = {0};
    gw_text text = {0};
    assert_true(gw_compare_run(before, after, &made, &error));
    const gw_comparison *one[] = {made};
    assert_true(gw_report_compare_json(one, 1, NULL, &text, &error));
    json_t *root = parsed(&text), *comparison = get(root, "comparisons/0");
    assert_string_equal(text_at(root, "format"), "gainwalk-compare");
    assert_keys(comparison, "summary comparable differences before after counts points");
    assert_keys(get(comparison, "points/1/changes"), "level gain dc thd noise hum");
    assert_keys(get(comparison, "points/1/changes/gain"), "status before after change");
    assert_string_equal(text_at(comparison, "points/1/changes/gain/change/unit"), "dB");
    assert_close(number_at(comparison, "points/1/changes/gain/change/value"), 0, 1e-12);
    json_decref(root);
    gw_text_free(&text);
    gw_comparison_free(made);
    invented_free(before);
    invented_free(after);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(walk_has_the_promised_shape),
        cmocka_unit_test(gains_are_in_decibels),
        cmocka_unit_test(events_stand_with_their_times),
        cmocka_unit_test(pitches_have_their_notes),
        cmocka_unit_test(readings_come_in_three_shapes),
        cmocka_unit_test(full_scale_has_its_own_units),
        cmocka_unit_test(peek_shows_missing_samples_as_null),
        cmocka_unit_test(numbers_are_the_shortest_that_read_back),
        cmocka_unit_test(hostile_text_stays_text),
        cmocka_unit_test(comparison_has_its_shape),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
