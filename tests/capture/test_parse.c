/* Cells of text: numbers exact to the last bit beside the C library, and everything that is no number. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "assert_close.h"
#include "capture/cell.h"

static const gw_format point = {.separator = ',', .decimal = '.'}, comma = {.separator = ';', .decimal = ','};

/* splitmix64 (Steele, Lea, Flood 2014), a fixed seed */
static uint64_t next_random(uint64_t *state) {
    uint64_t z = *state += UINT64_C(0x9E3779B97F4A7C15);
    z = (z ^ z >> 30) * UINT64_C(0xBF58476D1CE4E5B9);
    z = (z ^ z >> 27) * UINT64_C(0x94D049BB133111EB);
    return z ^ z >> 31;
}

static gw_cell parse(const char *text, gw_format format) {
    gw_cell cell;
    gw_cell_parse(text, strlen(text), format, &cell);
    return cell;
}

static uint64_t bits_of(double value) {
    uint64_t bits;
    memcpy(&bits, &value, sizeof bits);
    return bits;
}

/* The tests run in the C locale, where strtod reads the same form. */
static void check_exact(const char *text) {
    double expected = strtod(text, NULL);
    gw_cell cell = parse(text, point);
    bool overload = fabs(expected) >= GW_OVERLOAD_LEAST;
    if (cell.kind != (overload ? GW_CELL_OVERLOAD : GW_CELL_NUMBER) ||
        (!overload && bits_of(cell.value) != bits_of(expected)))
        fail_msg("'%s' is %.17g, kind %d; strtod says %.17g", text, cell.value, cell.kind, expected);
    char with_comma[256];
    snprintf(with_comma, sizeof with_comma, "%s", text);
    char *sign = strchr(with_comma, '.');
    if (sign == NULL || sign[1] < '0' || sign[1] > '9')
        return;
    *sign = ',';
    gw_cell other = parse(with_comma, comma);
    if (other.kind != cell.kind || bits_of(other.value) != bits_of(cell.value))
        fail_msg("'%s' is %.17g with a decimal comma, %.17g with a point", text, other.value, cell.value);
}

static void test_random_doubles(void **state) {
    (void)state;
    uint64_t seed = 20, bits;
    char text[64];
    for (int i = 0; i < 200000; i++) {
        double value;
        bits = next_random(&seed);
        memcpy(&value, &bits, sizeof value);
        if (!isfinite(value))
            continue;
        snprintf(text, sizeof text, "%.*e", (int)(bits % 20), value);
        check_exact(text);
    }
}

/* As captures print them: few digits, small exponents, leading zeros. */
static void test_random_prints(void **state) {
    (void)state;
    static const char *const forms[] = {"%.6f", "%.9f", "%.17g", "%+.3E", "%012.5f", "%.0f", "%.15f", "%.19g"};
    uint64_t seed = 7;
    char text[96];
    for (int i = 0; i < 400000; i++) {
        double value = ldexp((double)(int64_t)next_random(&seed), -50 - (int)(next_random(&seed) % 30));
        snprintf(text, sizeof text, forms[i % 8], value);
        check_exact(text);
    }
}

/* Digit strings of every length, with points anywhere and exponents of every size. */
static void test_random_digits(void **state) {
    (void)state;
    uint64_t seed = 99;
    for (int i = 0; i < 300000; i++) {
        char text[96];
        size_t length = 1 + next_random(&seed) % 30, sign = next_random(&seed) % 2, at = 0;
        size_t dot = next_random(&seed) % (length + 1);
        if (sign)
            text[at++] = '-';
        for (size_t digit = 0; digit < length; digit++) {
            if (digit == dot)
                text[at++] = '.';
            text[at++] = (char)('0' + next_random(&seed) % 10);
        }
        text[at] = '\0';
        if (next_random(&seed) % 2)
            snprintf(text + at, sizeof text - at, "e%d", (int)(next_random(&seed) % 80) - 40);
        check_exact(text);
    }
}

/* Ties and neighbours of ties between doubles, smallest and largest numbers. 2^53 + 1 and the like are halfway; the
 * others are the hard cases of Paxson 1991, "A Program for Testing IEEE Decimal-Binary Conversion", table 3 and 4. */
static void test_hard_cases(void **state) {
    (void)state;
    static const char *const cases[] = {"9007199254740993",
                                        "9007199254740992",
                                        "9007199254740991",
                                        "9007199254740993.0000000001",
                                        "18014398509481986",
                                        "18014398509481990",
                                        "0.500000000000000166533453693773481063544750213623046875",
                                        "1.00000000000000011102230246251565",
                                        "1.00000000000000011102230246251564",
                                        "5e-324",
                                        "2.4703282292062328e-324",
                                        "2.2250738585072011e-308",
                                        "2.2250738585072014e-308",
                                        "9e-265",
                                        "85e-037",
                                        "623e+20",
                                        "3571e-10",
                                        "81661e-153",
                                        "920657e-023",
                                        "4603285e-024",
                                        "87575437e-309",
                                        "245540327e-122",
                                        "6138508175e-30",
                                        "83356057653e-193",
                                        "619534293513e+010",
                                        "2335141086879e+08",
                                        "36167929443327e-15",
                                        "609610927149051e-255",
                                        "3743626360493413e-165",
                                        "94080055902682397e-242",
                                        "899810892172646163e+0",
                                        "7120190517612959703e+12",
                                        "8834809e-0",
                                        "11111111111111111111",
                                        "0.1",
                                        "0.3",
                                        "1e22",
                                        "1e23",
                                        "123456789012345678",
                                        "999999999999999999e-18",
                                        "0.000000000000000000000000000000000000001",
                                        "00000000000000000000000000000000000001.5",
                                        "-0",
                                        "-0.0",
                                        "0e5"};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++)
        check_exact(cases[i]);
}

static void test_no_numbers(void **state) {
    (void)state;
    static const char *const cases[] = {
        "INFO", "nan scope", "0x10",      "E5",    "e",        "1e",           "1e+",     "--1",
        "1-2",  "1.2.3",     "1,2",       "12 34", "1 E5",     "abc",          "1.5.",    "+",
        ".",    "1e5e5",     "5furlong",  "1_000", "0b1",      "1.2e3.4",      "Infinit", "O L",
        "#",    "1/2",       "10:00:00x", "10:00", "10:61:00", "10:00:00.5 V", "(1)"};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++)
        if (parse(cases[i], point).kind != GW_CELL_TEXT)
            fail_msg("'%s' is taken for a value", cases[i]);
    assert_int_equal(parse("1,", comma).kind, GW_CELL_TEXT);
    assert_int_equal(parse("1.5", comma).kind, GW_CELL_TEXT);
    assert_int_equal(parse("1,234", point).kind, GW_CELL_TEXT);
}

typedef struct loose {
    const char *text;
    bool comma;
    double value;
    gw_unit_kind unit;
} loose;

/* How captures write numbers; the values are what is written. */
static void test_loose_numbers(void **state) {
    (void)state;
    static const loose cases[] = {
        {"  1.5  ", false, 1.5, 0},
        {"+1.5", false, 1.5, 0},
        {"+ 1.5", false, 1.5, 0},
        {"- 1.5", false, -1.5, 0},
        {"\u22121,5", true, -1.5, 0},
        {"\u2013 1,5", true, -1.5, 0},
        {"-00.1232", false, -.1232, 0},
        {".5", false, .5, 0},
        {"5.", false, 5, 0},
        {"1.5D-01", false, .15, 0},
        {"1.5d+2", false, 150, 0},
        {"\"1,234.5\"", false, 1234.5, 0},
        {"\"1,234,567\"", false, 1234567, 0},
        {"\"1.234,5\"", true, 1234.5, 0},
        {"'2.5'", false, 2.5, 0},
        {"500us", false, 500e-6, GW_UNIT_SECOND},
        {"1.25 mV", false, .00125, GW_UNIT_VOLT},
        {"3 \u00b5s", false, 3e-6, GW_UNIT_SECOND},
        {"3 \u03bcs", false, 3e-6, GW_UNIT_SECOND},
        {"3 \xb5s", false, 3e-6, GW_UNIT_SECOND},
        {"2 kV", false, 2000, GW_UNIT_VOLT},
        {"2MV", false, 2e6, GW_UNIT_VOLT},
        {"\u00a01.5\u00a0", false, 1.5, 0},
        {"1.5\u202fV", false, 1.5, GW_UNIT_VOLT},
        {"23:59:59.5", false, 86399.5, GW_UNIT_SECOND},
        {"00:00:01,25", true, 1.25, GW_UNIT_SECOND},
        {"2024-03-01 10:00:00", false, 36000, GW_UNIT_SECOND},
        {"01.03.2024 10:00:00,5", true, 36000.5, GW_UNIT_SECOND},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        gw_cell cell = parse(cases[i].text, cases[i].comma ? comma : point);
        if (cell.kind != GW_CELL_NUMBER || cell.unit != cases[i].unit)
            fail_msg("'%s' is kind %d, unit %d", cases[i].text, cell.kind, cell.unit);
        assert_close(cell.value, cases[i].value, 1e-15 * fabs(cases[i].value));
    }
}

static void test_marks(void **state) {
    (void)state;
    static const char *const over[] = {"inf",  "-Infinity", "\u221e", "-\u221e",  "\u2212\u221e", "OL",       "+OL",
                                       "over", "****",      "9.9E37", "-9.9e+37", "1e400",        "Overload", "\"OL\""};
    static const char *const missing[] = {"NaN", "-", "---", "n/a", "N/A", "-nan", "\u2014\u2014"};
    for (size_t i = 0; i < sizeof over / sizeof *over; i++)
        if (parse(over[i], point).kind != GW_CELL_OVERLOAD)
            fail_msg("'%s' is no overload", over[i]);
    for (size_t i = 0; i < sizeof missing / sizeof *missing; i++)
        if (parse(missing[i], point).kind != GW_CELL_MISSING)
            fail_msg("'%s' is not missing", missing[i]);
    assert_int_equal(parse("", point).kind, GW_CELL_EMPTY);
    assert_int_equal(parse("  \t ", point).kind, GW_CELL_EMPTY);
    assert_int_equal(parse("\"\"", point).kind, GW_CELL_EMPTY);
    assert_int_equal(parse("9.7e37", point).kind, GW_CELL_NUMBER);
}

/* Digits as printed: what the rate's uncertainty and the step rest on. */
static void test_digits(void **state) {
    (void)state;
    static const struct {
        const char *text;
        int digits, last, decimals;
    } cases[] = {{"-5.00", 3, -2, 2}, {"4.00E-15", 3, -17, 2}, {"-1.0000001e-03", 8, -10, 7},
                 {"0.001", 1, -3, 3}, {"0.000", 0, -3, 3},     {"120", 3, 0, 0},
                 {"500us", 3, -6, 0}, {"1.50 mV", 3, -5, 2},   {"000.000100000000", 9, -12, 12}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        gw_cell cell = parse(cases[i].text, point);
        assert_int_equal(cell.digits, cases[i].digits);
        assert_int_equal(cell.last, cases[i].last);
        assert_int_equal(cell.decimals, cases[i].decimals);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_random_doubles), cmocka_unit_test(test_random_prints),
        cmocka_unit_test(test_random_digits),  cmocka_unit_test(test_hard_cases),
        cmocka_unit_test(test_no_numbers),     cmocka_unit_test(test_loose_numbers),
        cmocka_unit_test(test_marks),          cmocka_unit_test(test_digits),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
