/* The vote on separator and decimal sign, which spares formats that cannot win, against reading the text in all of them
 * one after the other. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <stdlib.h>
#include <string.h>

#include "capture/drawn.h"
#include "capture/table.h"
#include "capture/vote.h"
#include "trials.h"

/* In the order that decides between equals. */
static const gw_format formats[] = {
    {.separator = '\t', .decimal = '.'}, {.separator = '\t', .decimal = ','},
    {.separator = ';', .decimal = '.'},  {.separator = ';', .decimal = ','},
    {.separator = ',', .decimal = '.'},  {.separator = ' ', .decimal = '.'},
    {.separator = ' ', .decimal = ','},  {.separator = ',', .decimal = '.', .quoted_comma = true},
};

/* More rows win, and of as many those of several columns. */
static size_t plain_vote(const gw_script *script, gw_format *format) {
    size_t most = 0;
    bool best_wide = false;
    for (size_t i = 0; i < sizeof formats / sizeof *formats; i++) {
        gw_table table;
        gw_error error = {0};
        assert_true(gw_table_read(&table, script, formats[i], NULL, 0, script->length, 0, &error));
        size_t rows = table.rows - (table.short_rows < table.rows ? table.short_rows : 0);
        bool wide = table.width > 1;
        if (rows > most || (rows == most && rows > 0 && wide && !best_wide)) {
            *format = formats[i];
            most = rows;
            best_wide = wide;
        }
        gw_table_free(&table);
    }
    return most;
}

static void judge(const char *text, size_t length) {
    char *bytes = malloc(length + GW_SCRIPT_PAD);
    gw_script script = {.path = "text", .bytes = bytes, .length = length};
    gw_vote vote;
    gw_error error = {0};
    gw_format wanted = {0};
    assert_non_null(bytes);
    memcpy(bytes, text, length);
    memset(bytes + length, 0, GW_SCRIPT_PAD);
    assert_true(gw_vote_take(&vote, &script, &error));
    if (!vote.beside) { /* that one is not put to the vote */
        assert_int_equal(vote.rows, plain_vote(&script, &wanted));
        assert_int_equal(vote.format.separator, wanted.separator);
        assert_int_equal(vote.format.decimal, wanted.decimal);
        assert_int_equal(vote.format.quoted_comma, wanted.quoted_comma);
    }
    free(bytes);
}

static void add_number(gw_text *text, char decimal, bool quoted) {
    if (quoted)
        gw_text_add_char(text, '"');
    gw_text_printf(text, "%s%u", random_below(3) ? "" : "-", random_below(40));
    if (random_below(8))
        gw_text_printf(text, "%c%03u", decimal, random_below(1000));
    if (quoted)
        gw_text_add_char(text, '"');
}

static void add_other(gw_text *text) {
    static const char *const lines[] = {
        "",    "Time (s),CH1 (V)", "a;b",   "1", "2,5", "3.5;4.5", "OL",   "nan", "# 1 2 3", "x,1,2", "1 2", "\t",
        "7;8", "1,2,3,4,5,6",      "12:30", "-", "1;",  ",,",      "s,V,V"};
    gw_text_add(text, lines[random_below(sizeof lines / sizeof *lines)]);
}

/* Blocks of rows in one way of writing or another, with lines of any kind above, between and in them. */
static void add_block(gw_text *text, const char *end_of_line) {
    static const char separators[] = {'\t', ';', ',', ' '};
    char separator = separators[random_below(4)], decimal = random_below(2) ? '.' : ',';
    unsigned columns = 1 + random_below(3), rows = random_below(60), odd = random_below(3) ? 0 : 20;
    bool quoted = random_below(6) == 0;
    for (unsigned row = 0; row < rows; row++) {
        if (odd && random_below(odd) == 0)
            add_other(text);
        else
            for (unsigned column = 0; column < columns; column++) {
                if (column > 0)
                    gw_text_add_char(text, separator);
                add_number(text, decimal, quoted);
            }
        gw_text_add(text, end_of_line);
    }
}

static void any_text(void **unused) {
    (void)unused;
    enum { TEXTS = 2000 };
    static const char *const ends[] = {"\n", "\r\n", "\r"};
    for (int t = trials_of(TEXTS); t > 0; t--) {
        gw_text text = {0};
        const char *end = ends[random_below(3)];
        for (unsigned blocks = 1 + random_below(3); blocks > 0; blocks--) {
            for (unsigned others = random_below(6); others > 0; others--) {
                add_other(&text);
                gw_text_add(&text, end);
            }
            add_block(&text, end);
        }
        gw_text_add(&text, end);
        judge(text.data, text.length);
        gw_text_free(&text);
    }
}

/* One line that is a whole column: there a text has more rows than lines. */
static void a_column_in_a_line(void **unused) {
    (void)unused;
    gw_text text = {0};
    for (int row = 0; row < 300; row++)
        gw_text_printf(&text, "%d;x\n1;2\n", row);
    for (int value = 0; value < 2 * GW_COLUMNS_MAX; value++)
        gw_text_printf(&text, "%s%d.5", value ? "\t" : "", value);
    gw_text_add(&text, "\n");
    for (int row = 0; row < 500; row++)
        gw_text_printf(&text, "%d;2\n", row % 7);
    judge(text.data, text.length);
    gw_text_free(&text);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(any_text),
        cmocka_unit_test(a_column_in_a_line),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
