/* Quantities as schematics write them. Codes: IEC 60062:2016/AMD1:2019 examples; levels: sqrt(0.6) V for 0 dBu
 * (1 mW in 600 ohm), as tabulated. */
#include "assert_close.h"

#include "gainwalk/base.h"

#include <string.h>

static void letter_codes_of_iec_60062(void **state) {
    (void)state;
    static const struct {
        const char *code;
        double value;
    } rows[] = {
        {"4K7", 4700},
        {"4k7", 4700},
        {"2R2", 2.2},
        {"R47", 0.47},
        {"470R", 470},
        {"47K3", 47300},
        {"4M7", 4.7e6},
        {"1K0", 1000},
        {"R10", 0.1},
        {"2M2", 2.2e6},
        {"10p", 1e-11},
        {"4n7", 4.7e-9},
        {"1u0", 1e-6},
        {"2n2", 2.2e-9},
        {"10u", 1e-5},
        {"100n", 1e-7},
        {"5L1", 0.0051},
        {"1F0", 1},
        {"47k", 47000},
        {"4\xC2\xB5"
         "7",
         4.7e-6},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        gw_quantity got = {0};
        gw_error error = {0};
        if (!gw_quantity_parse(rows[i].code, &got, NULL, 0, &error))
            fail_msg("%s: %s", rows[i].code, error.text);
        assert_close(got.value, rows[i].value, 0);
    }
}

static void units_and_levels(void **state) {
    (void)state;
    static const struct {
        const char *text;
        double value;
        gw_dimension dimension;
        double tolerance;
    } rows[] = {
        {"100 mV", 0.1, GW_DIM_VOLT, 0},
        {"1.95V", 1.95, GW_DIM_VOLT, 0},
        {" 2 Vpp ", 2, GW_DIM_VOLT, 0},
        {"1 Vp", 2, GW_DIM_VOLT, 0},
        {"0 dBu", 0.774596669, GW_DIM_VOLT, 1e-9}, /* L01 */
        {"+4 dBu", 1.227653, GW_DIM_VOLT, 1e-6},   /* L03 */
        {"-10dBV", 0.316228, GW_DIM_VOLT, 1e-6},   /* L04 */
        {"1 kHz", 1000, GW_DIM_HERTZ, 0},
        {"997Hz", 997, GW_DIM_HERTZ, 0},
        {"50 %", 0.5, GW_DIM_PERCENT, 0},
        {"-6 dB", -6, GW_DIM_DECIBEL, 0},
        {"x10", 10, GW_DIM_NONE, 0},
        {"10x", 10, GW_DIM_NONE, 0},
        {"\xC3\x97 0.5", 0.5, GW_DIM_NONE, 0},
        {"22 \xC2\xB5s", 22e-6, GW_DIM_SECOND, 0},
        {"10 k\xCE\xA9", 10000, GW_DIM_OHM, 0},
        {"10uF", 1e-5, GW_DIM_FARAD, 0},
        {"100 ohm", 100, GW_DIM_OHM, 0},
        {"4k7\xCE\xA9", 4700, GW_DIM_OHM, 0},
        {"-5e-3 V", -0.005, GW_DIM_VOLT, 0},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        gw_quantity got = {0};
        gw_error error = {0};
        if (!gw_quantity_parse(rows[i].text, &got, NULL, 0, &error))
            fail_msg("%s: %s", rows[i].text, error.text);
        assert_close(got.value, rows[i].value, rows[i].tolerance);
        assert_int_equal(got.dimension, rows[i].dimension);
        assert_int_equal(got.peak_to_peak, strstr(rows[i].text, "Vp") != NULL);
    }
}

static void nonsense_is_refused_with_its_place(void **state) {
    (void)state;
    static const char *const rows[] = {"",     "abc",   "k",      "10 Xz", "x",   "x10 V", "1e999 V", "5 %%",
                                       "4k7k", "--5 V", "10 mdB", "nan V", "inf", "1 2 V", "0x10 V",  "9999 dBV"};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        gw_quantity got = {.value = 7};
        gw_error error = {0};
        if (gw_quantity_parse(rows[i], &got, "a.ini", 3, &error))
            fail_msg("'%s' was taken for %g", rows[i], got.value);
        assert_int_equal(error.line, 3);
        assert_string_equal(error.file, "a.ini");
        assert_close(got.value, 7, 0);
    }
}

static void tolerances(void **state) {
    (void)state;
    gw_tolerance got = {0};
    gw_error error = {0};
    assert_true(gw_tolerance_parse("100 mV \xC2\xB1 5 %", &got, NULL, 0, &error));
    assert_close(got.nominal.value, 0.1, 0);
    assert_true(got.has_tolerance);
    assert_close(got.tolerance.value, 0.05, 0);
    assert_int_equal(got.tolerance.dimension, GW_DIM_PERCENT);
    assert_true(gw_tolerance_parse("20dB+-1dB", &got, NULL, 0, &error));
    assert_close(got.tolerance.value, 1, 0);
    assert_true(gw_tolerance_parse("15 V", &got, NULL, 0, &error));
    assert_false(got.has_tolerance);
    assert_false(gw_tolerance_parse("15 V +- -1 V", &got, "c.ini", 9, &error));
    assert_string_equal(error.text, "negative tolerance in '15 V +- -1 V'");
    gw_error_clear(&error);
    assert_false(gw_tolerance_parse("15 V +-", &got, "c.ini", 9, &error));
}

static void people_see_no_more_than_is_known(void **state) {
    (void)state;
    static const struct {
        double value, uncertainty;
        const char *unit;
        int digits;
        const char *expected;
    } rows[] = {
        {0.0987654, 0.0004, "V", 6, "98.8 mV"}, {0.0987654, 0.003, "V", 6, "99 mV"},
        {0.0987654, 0.0014, "V", 6, "98.8 mV"}, {15.02, 0.075, "V", 4, "15.02 V"},
        {0.0002, 0.001, "V", 4, "0.2 mV"},      {1000, 0, "Hz", 4, "1.000 kHz"},
        {0.9999999, 0, "V", 3, "1.00 V"},       {0, 0.001, "V", 4, "0.0 mV"},
        {20.7321, 0.37, "dB", 4, "20.7 dB"},    {-31.2, 0.26, "dB", 4, "-31.2 dB"},
        {4.7e-9, 0, "F", 2, "4.7 nF"},          {3.2e-6, 2e-7, "V", 3, "3.2 \xC2\xB5V"},
        {0.0001, 0, "%", 3, "0.000100 %"},
    };
    char text[64];
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        assert_string_equal(
            gw_quantity_print(rows[i].value, rows[i].uncertainty, rows[i].unit, rows[i].digits, text, sizeof text),
            rows[i].expected);
}

static void decibels(void **state) {
    (void)state;
    assert_close(gw_db_from_ratio(1 / gw_dbu_reference_v), 2.2184874961635637, 1e-12); /* L02: 1 V in dBu */
    assert_close(gw_db_from_ratio(-10), 20, 1e-12);
    assert_close(gw_ratio_from_db(20.8279), 11, 1e-4); /* R-nondb */
    assert_close(gw_ratio_from_db(-6.0206), 0.5, 1e-6);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(letter_codes_of_iec_60062),          cmocka_unit_test(units_and_levels),
        cmocka_unit_test(nonsense_is_refused_with_its_place), cmocka_unit_test(tolerances),
        cmocka_unit_test(people_see_no_more_than_is_known),   cmocka_unit_test(decibels),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
