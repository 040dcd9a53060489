/* CSV and HTML: text stays text, figures stand where they should. (The pages are opened in a browser elsewhere.) */
#include "assert_close.h"

#include "report/csv.h"
#include "report/html.h"
#include "report/invented.h"

#include <stdlib.h>

typedef bool walk_report(const gw_walk *const *, size_t, const gw_report_options *, gw_text *, gw_error *);

static char *made(walk_report *report, const gw_walk *walk) {
    gw_text text = {0};
    gw_error error = {0};
    gw_report_options options = {.program = "gainwalk 0.1.0"};
    assert_true(report(&walk, 1, &options, &text, &error));
    return text.data;
}

static void csv_cells_never_become_formulas(void **state) {
    (void)state;
    /* leading characters: OWASP, CSV injection; quoting: RFC 4180 section 2 */
    static const struct {
        const char *text, *cell;
    } cases[] = {{"=1+1", "\"'=1+1\""},
                 {"+15", "\"'+15\""},
                 {"-15", "\"'-15\""},
                 {"@SUM(A1)", "\"'@SUM(A1)\""},
                 {"  =x", "\"'  =x\""},
                 {"plain", "plain"},
                 {"a,b", "\"a,b\""},
                 {"a\"b", "\"a\"\"b\""},
                 {"a\nb", "\"a b\""},
                 {"\x1b[2J\xE2\x80\xAEx", "[2Jx"},
                 {NULL, ""},
                 {"\t=x", "\"' =x\""}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        gw_text text = {0};
        gw_csv csv = {.out = &text};
        gw_csv_text(&csv, cases[i].text);
        assert_string_equal(gw_text_string(&text), cases[i].cell);
        gw_text_free(&text);
    }
}

static size_t cells_of(const char *line) {
    size_t count = 1;
    bool quoted = false;
    for (; *line != '\0' && *line != '\r'; line++) {
        quoted = quoted != (*line == '"');
        count += *line == ',' && !quoted;
    }
    return count;
}

static void csv_has_one_row_a_point(void **state) {
    (void)state;
    gw_walk *walk = invented_walk();
    char *text = made(gw_report_walk_csv, walk);
    assert_int_equal(strncmp(text, "chain,title,", 12), 0);
    assert_non_null(strstr(text, ",gain (dB),gain u95 (dB),"));
    assert_non_null(strstr(text, ",DC (V),DC u95 (V),"));
    assert_non_null(strstr(text, "\"'+15\",rail,"));
    assert_non_null(strstr(text, "<0.4"));
    size_t rows = 0, cells = cells_of(text);
    for (const char *line = text; *line != '\0'; line = strstr(line, "\r\n") + 2, rows++)
        assert_int_equal(cells_of(line), cells);
    assert_int_equal(rows, 1 + INVENTED_POINTS + 1);
    free(text);
    invented_free(walk);
}

static void csv_says_full_scale_where_it_is(void **state) {
    (void)state;
    gw_walk *walk = invented_walk();
    for (size_t i = 0; i < walk->point_count; i++)
        if (walk->points[i].readings != NULL)
            ((gw_readings *)(uintptr_t)walk->points[i].readings)->source.unit = "FS";
    char *text = made(gw_report_walk_csv, walk);
    assert_non_null(strstr(text, ",level (FS),"));
    free(text);
    ((gw_readings *)(uintptr_t)walk->points[0].readings)->source.unit = "V";
    text = made(gw_report_walk_csv, walk);
    assert_non_null(strstr(text, ",level (V or FS),"));
    free(text);
    invented_free(walk);
}

static void comparison_csv_has_equal_rows(void **state) {
    (void)state;
    gw_walk *walk = invented_walk();
    gw_comparison *comparison = NULL;
    gw_error error = {0};
    gw_text text = {0};
    assert_true(gw_compare_run(walk, walk, &comparison, &error));
    const gw_comparison *one[] = {comparison};
    assert_true(gw_report_compare_csv(one, 1, NULL, &text, &error));
    size_t cells = cells_of(text.data);
    for (const char *line = text.data; *line != '\0'; line = strstr(line, "\r\n") + 2)
        assert_int_equal(cells_of(line), cells);
    gw_text_free(&text);
    gw_comparison_free(comparison);
    invented_free(walk);
}

static void html_text_is_escaped(void **state) {
    (void)state;
    gw_text text = {0};
    gw_html_format(&text, "<p title=\"%s\">%s</p>", "\" onclick='x'", "<b>&amp;\x1b\xE2\x80\xAE");
    assert_string_equal(gw_text_string(&text),
                        "<p title=\"&quot; onclick=&#39;x&#39;\">&lt;b&gt;&amp;amp;\\x1b\\u202e</p>");
    gw_text_free(&text);
}

/* Every text that comes from outside, made hostile. */
static void make_hostile(gw_walk *walk, const char *evil) {
    walk->title = walk->unit = walk->note = walk->file = walk->stimulus = evil;
    for (size_t i = 0; i < walk->point_count; i++) {
        gw_readings *readings = (gw_readings *)(uintptr_t)walk->points[i].readings;
        walk->points[i].name = walk->points[i].what = walk->points[i].why = evil;
        if (readings == NULL)
            continue;
        readings->source.file = readings->source.channel_name = readings->source.sha256 = evil;
        gw_strings_add(&readings->remarks, evil);
        for (int k = 0; k < GW_READING_COUNT; k++)
            readings->values[k].why = evil;
    }
    for (size_t i = 0; i < walk->stage_count; i++)
        walk->stages[i].note = walk->stages[i].gain.how = walk->stages[i].gain.why = evil;
    for (size_t i = 0; i < walk->finding_count; i++)
        walk->findings[i].evidence = walk->findings[i].confirm = walk->findings[i].causes[0] = evil;
    walk->verdict.summary = walk->next[0].why = walk->rails[0].name = evil;
    gw_strings_add(&walk->conditions, evil);
    gw_strings_add(&walk->conditions, evil);
    gw_strings_add(&walk->remarks, evil);
}

static size_t count_of(const char *text, const char *part) {
    size_t count = 0;
    for (; (text = strstr(text, part)) != NULL; text += strlen(part))
        count++;
    return count;
}

static void html_lets_no_markup_in(void **state) {
    (void)state;
    gw_walk *walk = invented_walk();
    make_hostile(walk, "</title></style><script>x</script><img src=//x onerror=x>\"'`\x1b\xE2\x80\xAE");
    gw_text text = {0};
    gw_error error = {0};
    gw_comparison *comparison = NULL;
    assert_true(gw_compare_run(walk, walk, &comparison, &error));
    const gw_comparison *one[] = {comparison};
    assert_true(gw_report_compare_html(one, 1, NULL, &text, &error));
    assert_null(strstr(text.data, "<script"));
    assert_null(strstr(text.data, "<img"));
    assert_null(strchr(text.data, '\x1b'));
    assert_null(strstr(text.data, "\xE2\x80\xAE"));
    assert_int_equal(count_of(text.data, "</title>"), 1);
    assert_int_equal(count_of(text.data, "</style>"), 1);
    assert_true(count_of(text.data, "&lt;script&gt;") > 20);
    gw_text_free(&text);
    gw_comparison_free(comparison);
    invented_free(walk);
}

static void html_stands_alone(void **state) {
    (void)state;
    gw_walk *walk = invented_walk();
    char *text = made(gw_report_walk_html, walk);
    static const char *const never[] = {"<script", "http:", "https:", "url(",   "@import",
                                        "<link",   "<img",  "src=",   " style="};
    for (size_t i = 0; i < sizeof never / sizeof *never; i++)
        if (strstr(text, never[i]) != NULL)
            fail_msg("'%s' in the page", never[i]);
    assert_non_null(strstr(text, "default-src 'none'; style-src 'sha256-"));
    assert_non_null(strstr(text, "<html lang=\"en\">"));
    assert_non_null(strstr(text, "<data value=\"0.0021\">2.1 mV</data>"));
    assert_non_null(strstr(text, "fault here"));
    assert_non_null(strstr(text, "Job sheet"));
    assert_non_null(strstr(text, "no output, hum only")); /* a free-text key */
    assert_non_null(strstr(text, "prefers-color-scheme:dark"));
    assert_non_null(strstr(text, "@media print"));
    free(text);
    invented_free(walk);
}

/* The highest place that the waveform's curve reaches (smallest y of its path). */
static double top_of_curve(const char *page) {
    const char *at = strstr(page, "class=\"curve\" d=\"");
    assert_non_null(at);
    double top = 1e9, y = 0;
    for (at += 17; *at != 'Z'; at++) {
        size_t used;
        if (*at == ',' && gw_number_prefix(at + 1, strlen(at + 1), &y, &used) && y < top)
            top = y;
    }
    return top;
}

/* One column in a thousand that stands out is drawn as high wherever it lies. */
static void peaks_survive_the_drawing(void **state) {
    (void)state;
    enum { COLUMNS = 1000 };
    static double low[COLUMNS], high[COLUMNS];
    gw_walk *walk = invented_walk();
    gw_readings *readings = (gw_readings *)(uintptr_t)walk->points[0].readings;
    readings->waveform = (gw_trace){.count = COLUMNS, .end = 1, .low = low, .high = high};
    double first = 0;
    for (size_t i = 0; i < COLUMNS; i += 37) {
        high[i] = 1;
        char *text = made(gw_report_walk_html, walk);
        double top = top_of_curve(text);
        first = i == 0 ? top : first;
        assert_close(top, first, 0.01);
        free(text);
        high[i] = 0;
    }
    assert_true(first < 40); /* near the top of a picture of 150 */
    invented_free(walk);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(csv_cells_never_become_formulas),
        cmocka_unit_test(csv_has_one_row_a_point),
        cmocka_unit_test(csv_says_full_scale_where_it_is),
        cmocka_unit_test(comparison_csv_has_equal_rows),
        cmocka_unit_test(html_text_is_escaped),
        cmocka_unit_test(html_lets_no_markup_in),
        cmocka_unit_test(html_stands_alone),
        cmocka_unit_test(peaks_survive_the_drawing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
