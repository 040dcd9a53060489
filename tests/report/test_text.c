/* Text: fits the terminal, says what is odd in words, lets nothing steer. */
#include "assert_close.h"

#include "report/invented.h"
#include "report/terminal.h"

#include <stdlib.h>

static char *walk_text(const gw_walk *walk, gw_report_options options) {
    gw_text text = {0};
    gw_error error = {0};
    options.program = "gainwalk 0.1.0";
    assert_true(gw_report_walk_text(&walk, 1, &options, &text, &error));
    return text.data;
}

/* The longest line in columns, colour left out. */
static int widest(const char *text) {
    int most = 0;
    gw_text line = {0};
    for (; *text != '\0'; text++) {
        if (*text == '\x1b') {
            text += strcspn(text, "m");
            continue;
        }
        if (*text != '\n') {
            gw_text_add_char(&line, *text);
            continue;
        }
        int columns = gw_terminal_columns(gw_text_string(&line));
        most = columns > most ? columns : most;
        gw_text_free(&line);
    }
    gw_text_free(&line);
    return most;
}

static void fits_every_width(void **state) {
    (void)state;
    gw_walk *walk = invented_walk();
    walk->points[1].name = "a name of a point that is far too long for its column";
    walk->points[2].what = "\xE6\xBC\xA2\xE5\xAD\x97 wide characters take two columns \xE6\xBC\xA2\xE5\xAD\x97";
    static const int widths[] = {0, 100, 80, 60, 40, 30};
    for (size_t i = 0; i < sizeof widths / sizeof *widths; i++)
        for (int color = 0; color < 2; color++) {
            char *text = walk_text(walk, (gw_report_options){.width = widths[i], .color = color != 0});
            int allowed = widths[i] == 0 ? 100 : widths[i];
            if (widest(text) > allowed)
                fail_msg("%d columns at a width of %d", widest(text), allowed);
            assert_int_equal(strstr(text, "\n  level ") == NULL, allowed == 100); /* a table where it fits */
            free(text);
        }
    invented_free(walk);
}

static void verdict_comes_first_and_oddness_in_words(void **state) {
    (void)state;
    gw_walk *walk = invented_walk();
    char *text = walk_text(walk, (gw_report_options){0});
    assert_int_equal(strncmp(text, "FAULT: between U1-7 and C9", 26), 0);
    assert_null(strchr(text, '\x1b')); /* no colour asked for */
    assert_non_null(strstr(text, "-31.2 dB !"));
    assert_non_null(strstr(text, "OFF: gain"));
    assert_non_null(strstr(text, "unprobed"));
    assert_non_null(strstr(text, "UNREADABLE: no-such.csv"));
    assert_non_null(strstr(text, "follows from 1"));
    assert_non_null(strstr(text, "6.2 mV \xC2\xB1 0.4 mV stood before it"));
    assert_non_null(strstr(text, "coupling capacitor open or dry"));
    assert_non_null(strstr(text, "X2: halves what is left"));
    assert_non_null(strstr(text, "orders 2 to 10"));
    assert_non_null(strstr(text, "AES17"));
    assert_non_null(strstr(text, "local rules"));
    assert_null(strstr(text, "DANGER"));
    free(text);
    text = walk_text(walk, (gw_report_options){.quiet = true});
    assert_null(strstr(text, "Findings"));
    free(text);
    text = walk_text(walk, (gw_report_options){.color = true});
    assert_non_null(strstr(text, "\x1b[1;31mOFF: gain\x1b[0m"));
    free(text);
    invented_free(walk);
}

/* No digit more than the uncertainty allows: 300 µV ± 400 µV is no 300.0 µV, 15.02 V ± 75 mV no 15.020 V. */
static void digits_stop_at_the_uncertainty(void **state) {
    (void)state;
    gw_walk *walk = invented_walk();
    char *text = walk_text(walk, (gw_report_options){0});
    assert_non_null(strstr(text, "15.02 V"));
    assert_null(strstr(text, "15.020"));
    assert_null(strstr(text, "300.0"));
    assert_non_null(strstr(text, "< 0.40 %"));
    assert_non_null(strstr(text, "15 V \xC2\xB1 0.75 V"));
    free(text);
    invented_free(walk);
}

/* "DC 0 V, in order" of a capture that cannot see DC would be a lie. */
static void hidden_dc_is_not_shown_as_zero(void **state) {
    (void)state;
    gw_walk *walk = invented_walk();
    gw_readings *readings = (gw_readings *)(uintptr_t)walk->points[4].readings;
    char *text = walk_text(walk, (gw_report_options){0});
    assert_non_null(strstr(text, "10.1 mV"));
    assert_null(strstr(text, "hidden"));
    free(text);
    readings->dc_hidden = true;
    text = walk_text(walk, (gw_report_options){0});
    assert_null(strstr(text, "10.1 mV"));
    assert_non_null(strstr(text, "hidden"));
    free(text);
    walk->points[4].metered = true; /* what a meter says holds */
    walk->points[4].meter_v = 0.0123;
    text = walk_text(walk, (gw_report_options){0});
    assert_non_null(strstr(text, "12.3 mV"));
    assert_null(strstr(text, "hidden"));
    free(text);
    invented_free(walk);
}

/* IEC 61140: above 50 V RMS of AC or 120 V of DC. */
static void danger_is_said_loudly_above_the_limits(void **state) {
    (void)state;
    static const struct {
        double rms, dc, meter;
        bool danger;
    } cases[] = {{49.9, 0, 0, false},  {50.1, 0, 0, true},   {0.1, 119, 0, false},
                 {0.1, -121, 0, true}, {0.1, 0, 119, false}, {0.1, 0, 121, true}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        gw_walk *walk = invented_walk();
        gw_readings *readings = (gw_readings *)(uintptr_t)walk->points[1].readings;
        readings->values[GW_AC_RMS] = invented_value(cases[i].rms, 0.01);
        readings->values[GW_DC] = invented_value(cases[i].dc, 0.01);
        walk->rails[0].meter_v = cases[i].meter;
        char *text = walk_text(walk, (gw_report_options){0});
        assert_int_equal(strstr(text, "DANGER") != NULL, cases[i].danger);
        free(text);
        readings->source.unit = "FS"; /* full scale is no voltage */
        walk->rails[0].metered = false;
        text = walk_text(walk, (gw_report_options){0});
        assert_null(strstr(text, "DANGER"));
        free(text);
        invented_free(walk);
    }
}

static void hostile_text_cannot_steer(void **state) {
    (void)state;
    static const struct {
        const char *text, *shown;
    } cases[] = {
        {"\x1b[2J\x1b]0;owned\x07", "\\x1b[2J\\x1b]0;owned\\x07"},
        {"a\r\nb\tc", "a\\x0d b c"},
        {"\xC2\x9B"
         "31m",
         "\\x9b31m"},                                     /* a control sequence in one character (ECMA-48) */
        {"\xE2\x80\xAEtxt.exe", "\\u202etxt.exe"},        /* right-to-left override */
        {"\xE2\x81\xA6x\xE2\x81\xA9", "\\u2066x\\u2069"}, /* isolates */
        {"caf\xC3\xA9 \xC2\xB5V \xCE\xA9", "caf\xC3\xA9 \xC2\xB5V \xCE\xA9"}, /* text stays text */
        {"\xFF\xC3(", "\xEF\xBF\xBD\xEF\xBF\xBD("},                           /* no UTF-8 */
        {"\xC0\xAF\xED\xA0\x80",
         "\xEF\xBF\xBD\xEF\xBF\xBD\xEF\xBF\xBD\xEF\xBF\xBD\xEF\xBF\xBD"}, /* overlong, surrogate */
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        gw_text clean = {0};
        gw_terminal_clean(cases[i].text, &clean);
        assert_string_equal(gw_text_string(&clean), cases[i].shown);
        gw_text_free(&clean);
    }
    gw_walk *walk = invented_walk();
    const char *evil = "\x1b[2J\xE2\x80\xAE\n\rx";
    walk->title = walk->unit = walk->note = walk->file = evil;
    walk->points[0].name = walk->points[0].what = walk->points[6].why = evil;
    walk->verdict.summary = walk->findings[0].evidence = walk->stages[1].note = evil;
    walk->rails[0].name = walk->next[0].why = evil;
    walk->findings[0].causes[0] = walk->findings[0].confirm = evil;
    gw_strings_add(&walk->remarks, evil);
    char *text = walk_text(walk, (gw_report_options){0});
    assert_null(strchr(text, '\x1b'));
    assert_null(strchr(text, '\r'));
    assert_null(strstr(text, "\xE2\x80\xAE"));
    free(text);
    invented_free(walk);
}

static void several_chains_have_a_line_each(void **state) {
    (void)state;
    gw_walk *walk = invented_walk();
    const gw_walk *walks[] = {walk, walk};
    gw_text text = {0};
    gw_error error = {0};
    gw_report_options options = {.quiet = true};
    assert_true(gw_report_walk_text(walks, 2, &options, &text, &error));
    assert_int_equal(strncmp(text.data, "tarn.ini  FAULT: ", 17), 0);
    assert_non_null(strstr(text.data + 17, "\ntarn.ini  FAULT: "));
    gw_text_free(&text);
    invented_free(walk);
}

static void peek_says_what_was_understood(void **state) {
    (void)state;
    gw_channel channel = {.number = 1,
                          .name = "IN1",
                          .unit = "V",
                          .step = 0.008,
                          .first = {-0.4, 0},
                          .first_marks = {0, GW_SAMPLE_MISSING},
                          .first_count = 2,
                          .has_range = true,
                          .min = -0.4,
                          .max = 0.4,
                          .missing = 1};
    gw_capture capture = {.file = "a.csv",
                          .rate_hz = 10000,
                          .rate_from = "time column",
                          .samples = 6,
                          .channels = &channel,
                          .channel_count = 1};
    gw_strings_add(&capture.remarks, "announces 2500 samples, holds 3");
    gw_report_capture both[] = {{.file = "a.csv", .capture = &capture},
                                {.file = "b.csv", .error = "b.csv:7: a spectrum, not a waveform"}};
    gw_text text = {0};
    gw_error error = {0};
    assert_true(gw_report_peek_text(both, 2, NULL, &text, &error));
    assert_non_null(strstr(text.data, "6 samples at 10 kHz (time column)"));
    assert_non_null(strstr(text.data, "channel 1  IN1: -400 mV .. 400 mV, step 8 mV, 1 missing"));
    assert_non_null(strstr(text.data, "begins -400 mV, missing"));
    assert_non_null(strstr(text.data, "note: announces 2500 samples, holds 3"));
    assert_non_null(strstr(text.data, "cannot be read: b.csv:7: a spectrum, not a waveform"));
    gw_text_free(&text);
    gw_strings_free(&capture.remarks);
}

/* A capture in full scale has one level in decibels, not one in dBV and the same in dBu; of a hundred harmonics a
 * person reads the first. */
static void measure_says_nothing_twice_and_no_hundred_lines(void **state) {
    (void)state;
    enum { ALL = 100, SHOWN = 30 };
    gw_harmonic harmonics[ALL];
    for (int k = 0; k < ALL; k++)
        harmonics[k] = (gw_harmonic){.order = k + 1, .rms = 0.5 / (k + 1), .u95 = 1e-6, .resolved = true};
    gw_readings readings = {.source = {.file = "a.wav", .channel = 1, .unit = "FS"}, .signal = GW_SIGNAL_PERIODIC};
    const gw_reading level = {.state = GW_READING_VALUE, .value = 0.5, .u95 = 1e-4};
    readings.values[GW_LEVEL] = readings.values[GW_LEVEL_DBV] = readings.values[GW_LEVEL_DBU] = level;
    readings.harmonics = harmonics;
    readings.harmonic_count = ALL;
    const gw_readings *of_one[] = {&readings};
    gw_report_capture one = {.file = "a.wav", .readings = of_one, .readings_count = 1};
    gw_text text = {0};
    gw_error error = {0};
    assert_true(gw_report_measure_text(&one, 1, NULL, &text, &error));
    const char *first = strstr(text.data, "dBFS");
    assert_non_null(first);
    assert_null(strstr(strchr(first, '\n'), "\nlevel"));
    assert_non_null(strstr(text.data, "; 70 more"));
    assert_null(strstr(text.data, "31: "));
    readings.harmonic_count = SHOWN;
    readings.source.unit = "V";
    gw_text_free(&text);
    text = (gw_text){0};
    assert_true(gw_report_measure_text(&one, 1, NULL, &text, &error));
    assert_non_null(strstr(text.data, "dBu"));
    assert_null(strstr(text.data, " more"));
    gw_text_free(&text);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(fits_every_width),
        cmocka_unit_test(measure_says_nothing_twice_and_no_hundred_lines),
        cmocka_unit_test(verdict_comes_first_and_oddness_in_words),
        cmocka_unit_test(digits_stop_at_the_uncertainty),
        cmocka_unit_test(hidden_dc_is_not_shown_as_zero),
        cmocka_unit_test(danger_is_said_loudly_above_the_limits),
        cmocka_unit_test(hostile_text_cannot_steer),
        cmocka_unit_test(several_chains_have_a_line_each),
        cmocka_unit_test(peek_says_what_was_understood),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
