/* Rows read many at a time, against the same rows read cell by cell: values to the last bit, and all that is told of
 * the columns. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "capture/bulk.h"
#include "capture/drawn.h"
#include "gainwalk/capture.h"

/* How a table's cells are written. */
typedef struct style {
    const char *name, *number, *end_of_line;
    char separator, decimal;
    unsigned odd; /* one row in so many holds something else; 0: none does */
} style;

static void add_odd_cell(gw_text *text) {
    static const char *const cells[] = {"",
                                        "1.5 mV",
                                        "nan",
                                        "OL",
                                        "\"2.25\"",
                                        "x",
                                        "1e400",
                                        "1.00000000000000000001",
                                        "+.5",
                                        "-0",
                                        "123456789",
                                        "1e-30",
                                        " 7.5 ",
                                        "0.1e0001",
                                        "9.9e37",
                                        "12.",
                                        "-",
                                        "--3",
                                        "1.2.3",
                                        "5e",
                                        "1e+",
                                        "9007199254740993",
                                        "3,4,5",
                                        "0.30000000000000004",
                                        "18446744073709551617"};
    gw_text_add(text, cells[random_below(sizeof cells / sizeof *cells)]);
}

static void add_cell(const style *s, gw_text *text, unsigned row, unsigned column) {
    char number[64];
    double value = column == 0 ? row * 1e-6 : (double)random_below(20001) * 1e-3 - 10;
    snprintf(number, sizeof number, s->number, value);
    for (char *at = number; *at != '\0'; at++)
        *at = *at == '.' ? s->decimal : *at;
    gw_text_add(text, number);
}

static void make_text(const style *s, unsigned rows, unsigned columns, gw_text *text) {
    *text = (gw_text){0};
    gw_text_add(text, "some heading\n");
    for (unsigned row = 0; row < rows; row++) {
        bool odd = s->odd > 0 && random_below(s->odd) == 0;
        unsigned at = random_below(columns), width = odd && random_below(5) == 0 ? columns - 1 : columns;
        for (unsigned c = 0; c < width; c++) {
            if (c > 0)
                gw_text_printf(text, "%c", s->separator);
            if (odd && c == at)
                add_odd_cell(text);
            else
                add_cell(s, text, row, c);
        }
        gw_text_add(text, s->end_of_line);
    }
}

/* `plain`: cell by cell. A list of columns beside the data, though there are none, makes sure of that. */
static gw_table read_table(const style *s, const gw_text *text, bool unended, bool plain) {
    static const unsigned char none[GW_COLUMNS_MAX];
    gw_text padded = {0};
    gw_error error = {0};
    gw_table table = {0};
    gw_text_printf(&padded, "%s%*s", gw_text_string(text), GW_SCRIPT_PAD, "");
    gw_script script = {.path = "text", .bytes = padded.data, .length = text->length, .unended = unended};
    gw_format format = {.separator = s->separator, .decimal = s->decimal};
    assert_true(gw_table_read(&table, &script, format, plain ? none : NULL, 0, script.length, 0, &error));
    gw_text_free(&padded);
    return table;
}

static void check_column(const gw_column *a, const gw_column *b, size_t rows) {
    assert_memory_equal(a->values, b->values, rows * sizeof(double));
    for (size_t i = 0; i < rows; i++)
        assert_int_equal(a->marks != NULL ? a->marks[i] : GW_SAMPLE_PRESENT,
                         b->marks != NULL ? b->marks[i] : GW_SAMPLE_PRESENT);
    assert_int_equal(a->numbers, b->numbers);
    assert_int_equal(a->missing, b->missing);
    assert_int_equal(a->overload, b->overload);
    assert_int_equal(a->empty, b->empty);
    assert_int_equal(a->units, b->units);
    assert_int_equal(a->digits, b->digits);
    assert_int_equal(a->last, b->last);
    assert_int_equal(a->decimals_least, b->decimals_least);
    assert_int_equal(a->decimals_most, b->decimals_most);
    assert_int_equal(a->exponent_least, b->exponent_least);
}

static void check_same(const gw_table *a, const gw_table *b) {
    assert_int_equal(a->rows, b->rows);
    assert_int_equal(a->width, b->width);
    assert_int_equal(a->start, b->start);
    assert_int_equal(a->end, b->end);
    assert_int_equal(a->short_rows, b->short_rows);
    assert_int_equal(a->raw_least, b->raw_least);
    assert_int_equal(a->others, b->others);
    assert_int_equal(a->cut, b->cut);
    for (size_t c = 0; c < a->width; c++)
        check_column(&a->columns[c], &b->columns[c], a->rows);
}

static const style styles[] = {
    {"plain", "%.4f", "\n", ',', '.', 0},
    {"exponents", "%.8e", "\r\n", ',', '.', 0},
    {"shortest", "%.9g", "\n", '\t', '.', 0},
    {"commas", "%.3f", "\n", ';', ',', 0},
    {"blanks", " %8.3f ", "\n", ',', '.', 0},
    {"signs", "%+.5f", "\r", ',', '.', 0},
    {"seventeen", "%.17g", "\n", ',', '.', 0},
    {"odd", "%.4f", "\n", ',', '.', 300},
    {"very odd", "%.9g", "\n", ',', '.', 20},
    {"odd commas", "%.3f", "\n", ';', ',', 100},
    {"odd exponents", "%.6e", "\r\n", '\t', '.', 150},
    {"whole", "%.0f", "\n", ',', '.', 500},
};

static void test_same_as_cell_by_cell(void **unused) {
    (void)unused;
    for (size_t k = 0; k < sizeof styles / sizeof *styles; k++)
        for (unsigned columns = 1; columns <= 5; columns += 2)
            for (int again = 0; again < 6; again++) {
                gw_text text;
                make_text(&styles[k], 200 + random_below(3000), columns, &text);
                if (again % 2 == 1) /* a last line without an end, perhaps cut in a number */
                    text.data[text.length -= random_below(7)] = '\0';
                bool unended = text.data[text.length - 1] != '\n' && text.data[text.length - 1] != '\r';
                if (unended)
                    gw_text_add(&text, "\n");
                gw_table many = read_table(&styles[k], &text, unended, false),
                         one = read_table(&styles[k], &text, unended, true);
                check_same(&many, &one);
                gw_table_free(&many);
                gw_table_free(&one);
                gw_text_free(&text);
            }
}

/* That most rows are read many at a time: else the test above would say nothing. */
static void test_many(void **unused) {
    (void)unused;
    static const char text[] = "0.5,1.25\n-0.25,3.00e1\n\n0.75,-2.5\n1.0000,7\n9,9\n";
    double values[2][8];
    gw_bulk bulk = {.width = 2, .separator = ',', .decimal = '.'};
    for (int c = 0; c < 2; c++)
        bulk.columns[c] =
            (gw_bulk_column){.values = values[c], .most = 1000, .many = 100, .last = 0, .decimals_most = 3};
    const char *at = text;
    assert_int_equal(gw_bulk_rows(&bulk, &at, text + sizeof text - 1, 8), 3);
    assert_ptr_equal(at, strstr(text, "\n1.0000"));
    static const double right[2][3] = {{0.5, -0.25, 0.75}, {1.25, 30, -2.5}};
    assert_memory_equal(values[0], right[0], sizeof right[0]);
    assert_memory_equal(values[1], right[1], sizeof right[1]);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_same_as_cell_by_cell), cmocka_unit_test(test_many)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
