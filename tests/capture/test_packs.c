/* Columns packed as they were printed, against what the C library reads of the same text: every value to the last bit,
 * from whatever row on, whether it stands in a strip or between two. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "capture/bulk.h"
#include "capture/drawn.h"
#include "capture/packs.h"

enum { ROWS = 9000, COLUMNS = 9, STRIPS = 4, GAP = 37, ALL = STRIPS * (ROWS + GAP), CELL = 32 };

/* A cell of each column: times printed exactly, rounded, and across a change of power; whole codes; volts with minus
 * zeros, and nothing but these; powers that differ from row to row; numbers near the largest that are exact; a span
 * beyond 32 bits. */
static void print_cell(char *out, size_t column, size_t row) {
    double drawn = (double)random_below(1u << 30) * 0x1p-30 - 0.5;
    switch (column) {
    case 0:
        snprintf(out, CELL, "%.8e", 2 + (double)row * 1e-6);
        break;
    case 1:
        snprintf(out, CELL, "%.9f", (double)row / 44100);
        break;
    case 2:
        snprintf(out, CELL, "%.5e", (double)(row + 1) * 1e-6);
        break;
    case 3:
        snprintf(out, CELL, "%d", (int)random_below(256) - 128);
        break;
    case 4:
        snprintf(out, CELL, "%.4f", random_below(7) == 0 ? -0.0 : drawn);
        break;
    case 5:
        snprintf(out, CELL, "-0.00");
        break;
    case 6:
        snprintf(out, CELL, "%.3e", drawn);
        break;
    case 7:
        snprintf(out, CELL, "%s%llu", random_below(2) ? "-" : "", 9007199254740991ULL - random_below(1000));
        break;
    default:
        snprintf(out, CELL, "%.10f", 40 * drawn);
    }
}

static void fill_row(gw_text *text, double (*values)[ALL], size_t row) {
    char cell[CELL];
    for (size_t c = 0; c < COLUMNS; c++) {
        print_cell(cell, c, row);
        values[c][row] = strtod(cell, NULL);
        gw_text_printf(text, "%s%s", c > 0 ? "," : "", cell);
    }
    gw_text_add(text, "\n");
}

static void assert_bits(double one, double other) {
    assert_memory_equal(&one, &other, sizeof one);
}

/* A column of which nothing is known that a number could tell otherwise. */
static gw_bulk_column any_column(double *values, signed char *powers) {
    return (gw_bulk_column){.values = values,
                            .powers = powers,
                            .most = UINT64_MAX,
                            .many = UINT64_MAX,
                            .last = INT_MAX,
                            .decimals_most = INT_MAX};
}

/* Reads a strip both ways: as values, and as whole numbers and powers, which make the same values. */
static void read_strip(const gw_text *text, const gw_printed *printed, double (*values)[ALL], size_t row) {
    static double plain[COLUMNS][ROWS], made[ROWS];
    gw_bulk bulk = {.width = COLUMNS, .separator = ',', .decimal = '.'}, apart = bulk;
    for (size_t c = 0; c < COLUMNS; c++) {
        bulk.columns[c] = any_column(plain[c], NULL);
        apart.columns[c] = any_column(printed[c].wholes, printed[c].powers);
    }
    const char *at = text->data, *again = text->data, *end = text->data + text->length;
    assert_int_equal(gw_bulk_rows(&bulk, &at, end, ROWS), ROWS);
    assert_int_equal(gw_bulk_printed(&apart, &again, end, ROWS), ROWS);
    assert_ptr_equal(at, again);
    for (size_t c = 0; c < COLUMNS; c++) {
        memcpy(made, printed[c].wholes, sizeof made);
        gw_printed_values(&(gw_printed){made, printed[c].powers}, ROWS);
        assert_memory_equal(plain[c], values[c] + row, sizeof plain[c]);
        assert_memory_equal(made, values[c] + row, sizeof made);
    }
}

static double values[COLUMNS][ALL], room[ALL];

/* All strips, with rows between them that stand in the room; returns the bytes that were written. */
static size_t pack_all(gw_packs *packs) {
    static double wholes[COLUMNS][ROWS];
    static signed char powers[COLUMNS][ROWS];
    gw_printed printed[COLUMNS];
    size_t written = 0;
    unsigned char *bytes = malloc(gw_pack_most(COLUMNS, ROWS));
    assert_non_null(bytes);
    for (size_t k = 0; k < STRIPS; k++) {
        gw_text text = {0};
        size_t row = k * (ROWS + GAP);
        for (size_t i = 0; i < ROWS; i++)
            fill_row(&text, values, row + i);
        for (size_t c = 0; c < COLUMNS; c++)
            printed[c] = (gw_printed){wholes[c], powers[c]};
        gw_text_add(&text, "                                ");
        text.length -= 32; /* may be looked at, and is no row */
        read_strip(&text, printed, values, row);
        size_t length = gw_pack_strip(printed, COLUMNS, ROWS, bytes);
        assert_true(length <= gw_pack_most(COLUMNS, ROWS));
        size_t at = gw_packs_reserve(packs, length);
        gw_packs_write(packs, at, bytes, length);
        gw_packs_place(packs, row, ROWS, at);
        written += length;
        for (size_t c = 0; c < COLUMNS; c++)
            for (size_t i = 0; i < GAP; i++)
                values[c][row + ROWS + i] = (double)(row + i) + 0.25;
        gw_text_free(&text);
    }
    free(bytes);
    return written;
}

static void test_round_trip(void **unused) {
    (void)unused;
    static double got[ALL];
    gw_error error = {0};
    gw_packs *packs = gw_packs_new(COLUMNS);
    assert_non_null(packs);
    assert_int_equal(gw_packs_width(packs), COLUMNS);
    size_t written = pack_all(packs);
    assert_true(written < STRIPS * ROWS * COLUMNS * sizeof(double) * 6 / 10); /* three of nine can't be packed */
    for (size_t c = 0; c < COLUMNS; c++) {
        for (size_t i = 0; i < ALL; i++)
            room[i] = i % (ROWS + GAP) < ROWS ? -7 : values[c][i];
        gw_packs_fetch(packs, c, room, 0, ALL, got);
        for (size_t i = 0; i < ALL; i++)
            assert_bits(got[i], values[c][i]);
        for (size_t n = 0; n < 200; n++) {
            size_t first = random_below(ALL), count = random_below(n < 100 ? 50 : (unsigned)(ALL - first) + 1);
            count = count < ALL - first ? count : ALL - first;
            gw_packs_fetch(packs, c, room, first, count, got);
            assert_memory_equal(got, values[c] + first, count * sizeof *got);
        }
    }
    assert_true(gw_packs_good(packs, &error));
    assert_true(gw_packs_good(NULL, &error));
    gw_packs_free(packs);
}

/* What is not there can't be read: that is told. */
static void test_lost(void **unused) {
    (void)unused;
    double got[10];
    gw_error error = {0};
    gw_packs *packs = gw_packs_new(1);
    assert_non_null(packs);
    assert_int_equal(gw_packs_reserve(packs, 100), 0);
    assert_int_equal(gw_packs_reserve(packs, 100), 100);
    gw_packs_place(packs, 0, 10, 0);
    gw_packs_fetch(packs, 0, room, 0, 10, got);
    for (size_t i = 0; i < 10; i++)
        assert_bits(got[i], 0);
    assert_false(gw_packs_good(packs, &error));
    assert_non_null(strstr(error.text, "temporary file"));
    gw_packs_free(packs);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_round_trip), cmocka_unit_test(test_lost)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
