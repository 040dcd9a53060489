/* Records: what is written reads back bit for bit; what is damaged says where. */
#include "assert_close.h"

#include "report/invented.h"
#include "trials.h"

#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

static char *write_record(const gw_walk *walk) {
    gw_text text = {0};
    gw_error error = {0};
    gw_record_options options = {.program = "gainwalk 0.1.0", .created = "2026-11-25T02:41:46Z"};
    assert_true(gw_record_write(&walk, 1, &options, &text, &error));
    return text.data;
}

static gw_record *read_record(const char *text) {
    gw_record *record = NULL;
    gw_error error = {0};
    char message[800];
    if (!gw_record_parse(text, strlen(text), "r.json", &record, &error))
        fail_msg("%s", gw_error_print(&error, message, sizeof message));
    return record;
}

static void assert_same_bits(double one, double other) {
    assert_memory_equal(&one, &other, sizeof one);
}

static void assert_same_reading(const gw_reading *one, const gw_reading *other) {
    assert_int_equal(one->state, other->state);
    assert_same_bits(one->value, other->value);
    assert_same_bits(one->u95, other->u95);
    assert_same_bits(one->u_random, other->u_random);
    assert_same_bits(one->u_scale, other->u_scale);
    if (one->why == NULL)
        assert_null(other->why);
    else
        assert_string_equal(one->why, other->why);
}

static void assert_same_readings(const gw_readings *one, const gw_readings *other) {
    for (int i = 0; i < GW_READING_COUNT; i++)
        assert_same_reading(&one->values[i], &other->values[i]);
    assert_int_equal(one->harmonic_count, other->harmonic_count);
    for (size_t i = 0; i < one->harmonic_count; i++)
        assert_same_bits(one->harmonics[i].phase_rad, other->harmonics[i].phase_rad);
    assert_int_equal(one->waveform.count, other->waveform.count);
    size_t bytes = one->waveform.count * sizeof(double);
    assert_memory_equal(one->waveform.low, other->waveform.low, bytes);
    assert_memory_equal(one->waveform.high, other->waveform.high, bytes);
    assert_null(other->spectrum.low);
    assert_memory_equal(one->spectrum.high, other->spectrum.high, one->spectrum.count * sizeof(double));
    assert_int_equal(one->source.samples, other->source.samples);
    assert_same_bits(one->clues.mains_hz, other->clues.mains_hz);
}

static void round_trip_is_bit_exact(void **state) {
    (void)state;
    gw_walk *walk = invented_walk();
    /* numbers that need all their digits, or have none that JSON knows */
    walk->stages[1].gain.u95 = 0.1 + 0.2;
    walk->stages[1].gain.low = -(double)INFINITY;
    walk->points[0].expected_level_v = 5e-324;
    walk->points[1].expected_level_v = -0.0;
    walk->probes_expected = 1.7976931348623157e308;
    char *text = write_record(walk);
    gw_record *record = read_record(text);
    const gw_walk *back = &record->walks[0];
    assert_int_equal(record->walk_count, 1);
    assert_string_equal(record->created, "2026-11-25T02:41:46Z");
    assert_same_bits(back->stages[1].gain.u95, 0.1 + 0.2);
    assert_same_bits(back->stages[1].gain.low, -(double)INFINITY);
    assert_same_bits(back->points[0].expected_level_v, 5e-324);
    assert_same_bits(back->points[1].expected_level_v, -0.0);
    assert_same_bits(back->probes_expected, 1.7976931348623157e308);
    assert_int_equal(back->point_count, walk->point_count);
    for (size_t i = 0; i < walk->point_count; i++) {
        assert_string_equal(back->points[i].name, walk->points[i].name);
        assert_int_equal(back->points[i].status, walk->points[i].status);
        if (walk->points[i].readings == NULL)
            assert_null(back->points[i].readings);
        else
            assert_same_readings(walk->points[i].readings, back->points[i].readings);
    }
    assert_string_equal(back->findings[0].causes[1], walk->findings[0].causes[1]);
    assert_int_equal(back->findings[0].cause_count, 2);
    assert_int_equal(back->rails[0].metered, 1);
    char *again = write_record(back);
    assert_string_equal(text, again);
    free(text);
    free(again);
    gw_record_free(record);
    invented_free(walk);
}

/* A report made from a record is the report made from the walk. */
static void reports_come_out_alike(void **state) {
    (void)state;
    gw_walk *walk = invented_walk();
    char *text = write_record(walk);
    gw_record *record = read_record(text);
    gw_report_options options = {.program = "gainwalk 0.1.0"};
    gw_error error = {0};
    const gw_walk *both[] = {walk, &record->walks[0]};
    gw_text reports[2][2] = {0};
    for (int i = 0; i < 2; i++) {
        assert_true(gw_report_walk_text(&both[i], 1, &options, &reports[i][0], &error));
        assert_true(gw_report_walk_json(&both[i], 1, &options, &reports[i][1], &error));
    }
    for (int k = 0; k < 2; k++)
        assert_string_equal(reports[0][k].data, reports[1][k].data);
    for (int i = 0; i < 4; i++)
        gw_text_free(&reports[i / 2][i % 2]);
    free(text);
    gw_record_free(record);
    invented_free(walk);
}

/* Replaces the first `old` of a record with `fresh` and expects reading to fail with `wanted` in its message. */
static void expect_refused(const char *text, const char *old, const char *fresh, const char *wanted) {
    const char *place = strstr(text, old);
    assert_non_null(place);
    gw_text changed = {0};
    gw_text_add_bytes(&changed, text, (size_t)(place - text));
    gw_text_add(&changed, fresh);
    gw_text_add(&changed, place + strlen(old));
    gw_record *record = (gw_record *)1;
    gw_error error = {0};
    char message[800];
    assert_false(gw_record_parse(changed.data, changed.length, "r.json", &record, &error));
    assert_null(record);
    gw_error_print(&error, message, sizeof message);
    if (strstr(message, wanted) == NULL)
        fail_msg("'%s' is not in '%s'", wanted, message);
    gw_text_free(&changed);
}

static void damage_is_told_with_its_place(void **state) {
    (void)state;
    gw_walk *walk = invented_walk();
    char *text = write_record(walk);
    expect_refused(text, "gainwalk-record", "gainwalk-walk", "no record");
    expect_refused(text, "\"version\": 2", "\"version\": 3", "newer program");
    expect_refused(text, "\"version\": 2", "\"version\": 0", "version");
    expect_refused(text, "\"name\": \"J1\"", "\"name\": null", "chains[0].points[0].name");
    expect_refused(text, "\"name\": \"J1\",", "", "chains[0].points[0].name\xE2\x80\x99 is missing");
    expect_refused(text, "\"state\": \"value\"", "\"state\": \"guess\"", "values.dc.state");
    expect_refused(text, "\"count\": 400", "\"count\": 399", "waveform.low");
    expect_refused(text, "\"after\": -1", "\"after\": 0", "points[0].after");
    expect_refused(text, "\"samples\": 5000", "\"samples\": -5", "samples");
    expect_refused(text, "\"channel\": 1", "\"channel\": \"1\"", "channel");
    expect_refused(text, "\"follows\": 0", "\"follows\": 7", "findings[1].follows");
    expect_refused(text, "\"value\": 0.0021", "\"value\": true", "values.dc.value");
    expect_refused(text, "\"chains\"", "\"program\"", "duplicate");
    free(text);
    invented_free(walk);
}

/* A reading that an older program did not know has a reason in place of a value. */
static void older_records_lack_what_came_later(void **state) {
    (void)state;
    gw_walk *walk = invented_walk();
    char *text = write_record(walk);
    for (char *at = text; (at = strstr(at, "\"sinad\": {")) != NULL;)
        memcpy(at, "\"later\"", 7);
    gw_record *record = read_record(text);
    const gw_readings *readings = record->walks[0].points[0].readings;
    assert_int_equal(readings->values[GW_SINAD].state, GW_READING_NONE);
    assert_string_equal(readings->values[GW_SINAD].why, "not in this record");
    assert_int_equal(readings->values[GW_DC].state, GW_READING_VALUE);
    free(text);
    gw_record_free(record);
    invented_free(walk);
}

/* Cut anywhere, a record is refused and nothing is lost or read past its end. */
static void truncation_is_refused(void **state) {
    (void)state;
    gw_walk *walk = invented_walk();
    char *text = write_record(walk);
    size_t length = strlen(text);
    for (size_t cut = 0; cut + 2 < length; cut += 1 + length / (size_t)trials_of(97)) {
        gw_record *record = NULL;
        gw_error error = {0};
        assert_false(gw_record_parse(text, cut, "r.json", &record, &error));
        assert_true(error.set);
    }
    free(text);
    invented_free(walk);
}

static void write_file(const char *path, const char *text) {
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    fputs(text, file);
    assert_int_equal(fclose(file), 0);
}

/* FIPS 180-4 example "abc" (NIST, SHA-256 examples); the empty message likewise. */
static void hashes_are_those_of_the_standard(void **state) {
    (void)state;
    char path[] = "/tmp/gainwalk-hash-XXXXXX", hash[GW_SHA256_SIZE];
    gw_error error = {0};
    close(mkstemp(path));
    assert_true(gw_record_sha256(path, hash, &error));
    assert_string_equal(hash, "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
    write_file(path, "abc");
    assert_true(gw_record_sha256(path, hash, &error));
    assert_string_equal(hash, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    unlink(path);
    assert_false(gw_record_sha256(path, hash, &error));
    assert_string_equal(error.file, path);
}

static void saving_keeps_what_is_there(void **state) {
    (void)state;
    char folder[] = "/tmp/gainwalk-record-XXXXXX";
    assert_non_null(mkdtemp(folder));
    char *path = gw_path_join(folder, "r.json"), *capture = gw_path_join(folder, "c.csv");
    gw_walk *walk = invented_walk();
    const gw_walk *walks[] = {walk};
    write_file(capture, "abc");
    ((gw_readings *)(uintptr_t)walk->points[0].readings)->source.file = capture;
    gw_record_options options = {.program = "gainwalk 0.1.0"};
    gw_error error = {0};
    assert_true(gw_record_save(path, walks, 1, &options, &error));
    assert_true(gw_record_recognise(path));
    assert_false(gw_record_recognise(capture));
    gw_record *record = NULL;
    assert_true(gw_record_load(path, &record, &error));
    assert_string_equal(record->walks[0].points[0].readings->source.sha256,
                        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    gw_record_free(record);
    assert_false(gw_record_save(path, walks, 1, &options, &error)); /* it exists */
    gw_error_clear(&error);
    options.force = true;
    assert_true(gw_record_save(path, walks, 1, &options, &error));
    assert_false(gw_record_save(capture, walks, 1, &options, &error)); /* never over a capture */
    char hash[GW_SHA256_SIZE];
    assert_true(gw_record_sha256(capture, hash, NULL));
    assert_string_equal(hash, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    unlink(path);
    unlink(capture);
    rmdir(folder);
    free(path);
    free(capture);
    invented_free(walk);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(round_trip_is_bit_exact),
        cmocka_unit_test(reports_come_out_alike),
        cmocka_unit_test(damage_is_told_with_its_place),
        cmocka_unit_test(truncation_is_refused),
        cmocka_unit_test(older_records_lack_what_came_later),
        cmocka_unit_test(hashes_are_those_of_the_standard),
        cmocka_unit_test(saving_keeps_what_is_there),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
