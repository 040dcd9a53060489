/* How the lines of a chain file are read: comments, line ends, characters, lengths; stimuli; where captures are found.
 */
#include "chain_testing.h"

#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

static void test_comments(void **state) {
    (void)state;
    gw_chain *chain = chain_of("# first\n; second\n  # third\n[point A]   # the input\n"
                               "what = jack#3;tip # not this\n"
                               "\tcapture = a;b.csv ; nor this\n"
                               "   group=voices\n");
    assert_string_equal(chain->points[0].name, "A");
    assert_string_equal(chain->points[0].what, "jack#3;tip");
    assert_string_equal(chain->points[0].capture, "bench/a;b.csv");
    assert_string_equal(chain->points[0].group, "voices");
    gw_chain_free(chain);
}

/* An indented line is a key of its own, not more of the value above. */
static void test_indented_keys(void **state) {
    (void)state;
    gw_chain *chain = chain_of("[point A]\nwhat = x\n    dc = 1 V\n        reach = hard\n");
    assert_string_equal(chain->points[0].what, "x");
    assert_close(chain->points[0].dc.value, 1, 0);
    assert_int_equal(chain->points[0].reach, GW_REACH_HARD);
    gw_chain_free(chain);
}

static void test_line_ends_and_mark(void **state) {
    static const char *const texts[] = {"[chain]\ntitle = t\n[point A]\n[point B]\ndc = 0 V ± 20 mV",
                                        "[chain]\r\ntitle = t\r\n[point A]\r\n[point B]\r\ndc = 0 V ± 20 mV\r\n",
                                        "\xEF\xBB\xBF[chain]\rtitle = t\r[point A]\r[point B]\rdc = 0 V ± 20 mV\r",
                                        "[chain]\ntitle = t\n[point A]\n[point B]\ndc = 0 V \xB1 20 mV\n"};
    (void)state;
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) {
        gw_chain *chain = chain_of(texts[i]);
        assert_string_equal(chain->title, "t");
        assert_int_equal(chain->points[1].line, 4);
        assert_close(chain->points[1].dc.high, 0.02, 1e-15);
        gw_chain_free(chain);
    }
}

/* ISO 8859-1 becomes UTF-8. */
static void test_latin1(void **state) {
    (void)state;
    gw_chain *chain = chain_of("[point A]\nwhat = Ausgang f\xFCr 4 k\xB5\n");
    assert_string_equal(chain->points[0].what, "Ausgang f\xC3\xBCr 4 k\xC2\xB5");
    gw_chain_free(chain);
}

/* Lines of any length stay whole, far beyond the 200 bytes that inih reads at a time. */
static void test_long_lines(void **state) {
    enum { LONG = 100000 };
    (void)state;
    gw_text text = {0};
    gw_text_add(&text, "[point A]\nwhat = ");
    for (int i = 0; i < LONG; i++)
        gw_text_add_char(&text, i % 7 == 0 ? ' ' : i % 11 == 0 ? '[' : (char)('a' + i % 26));
    gw_text_add(&text, "end\ndc = 1 V\n# ");
    for (int i = 0; i < LONG; i++)
        gw_text_add_char(&text, '=');
    gw_text_add(&text, "\n[point B]\n");
    gw_chain *chain = chain_of(gw_text_string(&text));
    assert_int_equal(strlen(chain->points[0].what), LONG + 3 - 1); /* the leading blank goes */
    assert_string_equal(chain->points[0].what + LONG - 1, "end");
    assert_int_equal(chain->points[0].dc.line, 3);
    assert_int_equal(chain->points[1].line, 5);
    gw_chain_free(chain);
    gw_text_free(&text);
}

static void test_sections_in_any_order(void **state) {
    (void)state;
    gw_chain *chain = chain_of("[point A]\n[Rail +9]\n[instrument]\nprobe = 10x\nrate=48 kHz\n[chain]\nmains = 60\n");
    assert_close(chain->points[0].probe, 10, 0);
    assert_close(chain->rails[0].probe, 10, 0);
    assert_close(chain->points[0].rate_hz, 48000, 0);
    assert_close(chain->mains_hz, 60, 0);
    gw_chain_free(chain);
}

static void test_blanks_in_stages(void **state) {
    static const char *const stages[] = {
        "noninverting rf=47k rg=4k7 tol=5%", "noninverting  rf = 47k   rg= 4k7 tol =5 %",
        "noninverting tol=5 % rg=4k7 rf=47 k", "noninverting rf=47 kohm rg=4.7 k tol=5\t%"};
    (void)state;
    for (size_t i = 0; i < sizeof stages / sizeof *stages; i++) {
        gw_chain *chain = chain_with_stage(stages[i], "none");
        const gw_stage *stage = &chain->points[1].stage;
        assert_close(stage->parts[0], 47000, 1e-9);
        assert_close(stage->parts[1], 4700, 1e-9);
        assert_close(stage->tolerance[0], 0.05, 1e-15);
        assert_close(stage->tolerance[1], 0.05, 1e-15);
        assert_string_equal(stage->text, stages[i]);
        gw_chain_free(chain);
    }
}

/* ---- stimuli --------------------------------------------------------------------------------------- */

static void test_stimuli(void **state) {
    static const struct {
        const char *text;
        gw_shape shape;
        double frequency_hz, second_hz, level_v;
    } rows[] = {
        {"sine 1 kHz 100 mV", GW_SHAPE_SINE, 1000, 0, 0.1},
        {"sine 1kHz 100mV", GW_SHAPE_SINE, 1000, 0, 0.1},
        {"  SINE   100 mV 1 kHz  ", GW_SHAPE_SINE, 1000, 0, 0.1},
        {"sine 440 Hz", GW_SHAPE_SINE, 440, 0, 0},
        {"sine 1 kHz -10 dBV", GW_SHAPE_SINE, 1000, 0, 0.31622776601683794},
        {"sine 1 kHz 2.8284271247461903 Vpp", GW_SHAPE_SINE, 1000, 0, 1}, /* sqrt 8 */
        {"sine 1 kHz 1 V rms", GW_SHAPE_SINE, 1000, 0, 1},
        {"periodic 110 Hz 1 V", GW_SHAPE_PERIODIC, 110, 0, 1},
        {"two-tone 7 kHz 60 Hz 1 V", GW_SHAPE_TWO_TONE, 60, 7000, 1},
        {"noise 100 mV", GW_SHAPE_NOISE, 0, 0, 0.1},
        {"none", GW_SHAPE_NONE, 0, 0, 0},
        {"unknown", GW_SHAPE_UNKNOWN, 0, 0, 0},
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        gw_stimulus stimulus;
        gw_error error = {0};
        assert_true(gw_stimulus_parse(rows[i].text, &stimulus, NULL, 0, &error));
        assert_int_equal(stimulus.shape, rows[i].shape);
        assert_close(stimulus.frequency_hz, rows[i].frequency_hz, 1e-9);
        assert_close(stimulus.second_hz, rows[i].second_hz, 1e-9);
        assert_close(stimulus.level_v, rows[i].level_v, 1e-12);
    }
}

static void test_bad_stimuli(void **state) {
    static const struct {
        const char *text, *says;
    } rows[] = {{"sine 1 kHz 2 kHz", "more frequencies"},
                {"sine 1 V 2 V", "two levels"},
                {"sine 0 Hz", "makes no sense"},
                {"sine -1 kHz", "makes no sense"},
                {"sine 1 kHz 0 V", "makes no sense"},
                {"sine 1", "takes hertz and volts, not '1'"},
                {"sine 1 kohm", "takes hertz and volts"},
                {"sine fast", "takes hertz and volts, not 'fast'"},
                {"noise 1 kHz", "'noise' has no frequency"},
                {"none 1 V", "'none' has no level"},
                {"periodic 1 kHz 1 Vpp", "volts RMS"},
                {"two-tone 60 Hz 1 V", "two different frequencies"},
                {"two-tone 60 Hz 60 Hz", "two different frequencies"},
                {"saw 110 Hz", "write 'periodic'"},
                {"1 kHz 1 V", "'stimulus' cannot be '1'"},
                {"sine a b c d e f g h i j k l m n o", "too many words"}};
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        gw_stimulus stimulus;
        gw_error error = {0};
        if (gw_stimulus_parse(rows[i].text, &stimulus, "f.ini", 7, &error) || strstr(error.text, rows[i].says) == NULL)
            fail_msg("of '%s' it said '%s'", rows[i].text, error.text);
        assert_int_equal(error.line, 7);
    }
}

/* ---- captures in a folder --------------------------------------------------------------------------- */

static void make_file(const char *folder, const char *name, const char *text) {
    char path[300];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *file = fopen(path, "w");
    assert_non_null(file);
    assert_true(fputs(text, file) >= 0);
    assert_int_equal(fclose(file), 0);
}

static void check_capture(const gw_point *point, const char *folder, const char *file) {
    char path[300];
    snprintf(path, sizeof path, "%s/%s", folder, file);
    assert_string_equal(point->capture, path);
}

static void test_captures_are_found_by_name(void **state) {
    char folder[] = "/tmp/gainwalk-chain-XXXXXX";
    static const char *const names[] = {"J1.CSV", "U1.csv", "U1.wav", "+15.wav", "U1-7x.csv", "stated.csv", "J2.note"};
    (void)state;
    assert_non_null(mkdtemp(folder));
    char captures[100], path[200];
    snprintf(captures, sizeof captures, "%s/caps", folder);
    assert_int_equal(mkdir(captures, 0700), 0);
    for (size_t i = 0; i < sizeof names / sizeof *names; i++)
        make_file(captures, names[i], "");
    make_file(folder, "tarn.ini",
              "[chain]\ncaptures = caps\n[point J1]\n[point U1]\n[point U1-7]\n[point J2]\n"
              "[point S]\ncapture = missing.csv\n[rail +15]\n");
    snprintf(path, sizeof path, "%s/tarn.ini", folder);
    gw_chain *chain = NULL;
    gw_error error = {0};
    assert_true(gw_chain_load(path, &chain, &error));
    check_capture(&chain->points[0], captures, "J1.CSV");
    check_capture(&chain->points[1], captures, "U1.csv"); /* the first of the known extensions */
    assert_null(chain->points[2].capture);
    assert_null(chain->points[3].capture);
    check_capture(&chain->points[4], captures, "missing.csv"); /* stated: whether it is there shows when it is read */
    check_capture(&chain->rails[0], captures, "+15.wav");
    assert_false(chain->points[0].capture_stated);
    assert_true(chain->points[4].capture_stated);
    make_file(captures, "U1-7.csv", ""); /* it arrives later */
    assert_true(gw_chain_find_captures(chain, &error));
    check_capture(&chain->points[2], captures, "U1-7.csv");
    gw_chain_free(chain);
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        snprintf(path, sizeof path, "%s/%s", captures, names[i]);
        unlink(path);
    }
    snprintf(path, sizeof path, "%s/U1-7.csv", captures);
    unlink(path);
    rmdir(captures);
    snprintf(path, sizeof path, "%s/tarn.ini", folder);
    unlink(path);
    rmdir(folder);
}

/* ---- the table of keys ------------------------------------------------------------------------------ */

/* Each example of the table is good, in each of its sections. */
static void test_examples_of_all_keys(void **state) {
    static const char *const sections[] = {"chain", "instrument", "point", "rail"};
    (void)state;
    size_t tried = 0;
    for (const gw_chain_key *row = gw_chain_keys; row->key != NULL; row++)
        for (size_t i = 0; i < 4; i++) {
            if (strstr(row->section, sections[i]) == NULL)
                continue;
            char text[400];
            snprintf(text, sizeof text, "[point U1-7]\n[%s%s]\n%s = %s\n", sections[i], i >= 2 ? " X" : "", row->key,
                     row->example);
            gw_chain_free(chain_of(text));
            tried++;
            assert_true(strlen(row->meaning) > 5);
        }
    assert_true(tried >= 50);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_comments),
        cmocka_unit_test(test_indented_keys),
        cmocka_unit_test(test_line_ends_and_mark),
        cmocka_unit_test(test_latin1),
        cmocka_unit_test(test_long_lines),
        cmocka_unit_test(test_sections_in_any_order),
        cmocka_unit_test(test_blanks_in_stages),
        cmocka_unit_test(test_stimuli),
        cmocka_unit_test(test_bad_stimuli),
        cmocka_unit_test(test_captures_are_found_by_name),
        cmocka_unit_test(test_examples_of_all_keys),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
