#include "report/csv.h"

#include "base/unicode.h"

#include <string.h>

static void separate(gw_csv *csv) {
    if (csv->inside)
        gw_text_add_char(csv->out, ',');
    csv->inside = true;
}

/* Cells that begin like this are run by spreadsheets (OWASP, CSV injection). */
static bool like_formula(const char *text) {
    text += strspn(text, " ");
    return *text != '\0' && strchr("=+-@|%\t\r", *text) != NULL;
}

static bool needs_quotes(const char *text) {
    return text[strcspn(text, ",;\"'\n\r\t")] != '\0' || *text == ' ';
}

void gw_csv_text(gw_csv *csv, const char *text) {
    separate(csv);
    if (text == NULL || *text == '\0')
        return;
    bool formula = like_formula(text), quotes = formula || needs_quotes(text);
    if (quotes)
        gw_text_add_char(csv->out, '"');
    if (formula)
        gw_text_add_char(csv->out, '\'');
    for (uint32_t code; (code = gw_unicode_next(&text)) != 0;) {
        char bytes[5];
        if (code == '"')
            gw_text_add(csv->out, "\"\"");
        else if (code == '\n' || code == '\t')
            gw_text_add_char(csv->out, ' ');
        else if (!gw_unicode_steers(code))
            gw_text_add_bytes(csv->out, bytes, gw_unicode_put(code, bytes));
    }
    if (quotes)
        gw_text_add_char(csv->out, '"');
}

void gw_csv_number(gw_csv *csv, double value) {
    char number[40];
    separate(csv);
    gw_text_add(csv->out, gw_number_print(value, 10, number, sizeof number));
}

void gw_csv_empty(gw_csv *csv) {
    separate(csv);
}

void gw_csv_shown(gw_csv *csv, const gw_shown *shown) {
    char number[40];
    if (shown->state == GW_READING_VALUE) {
        gw_csv_number(csv, shown->value);
        gw_csv_number(csv, shown->u95);
        return;
    }
    separate(csv);
    if (shown->state == GW_READING_BELOW)
        gw_text_printf(csv->out, "<%s", gw_number_print(shown->value, 10, number, sizeof number));
    separate(csv);
}

void gw_csv_heading(gw_csv *csv, const char *name, const char *unit) {
    gw_text heading = {0};
    gw_text_add(&heading, name);
    if (*unit != '\0')
        gw_text_printf(&heading, " (%s)", unit);
    gw_csv_text(csv, gw_text_string(&heading));
    gw_text_part_free(csv->out, &heading);
}

void gw_csv_headings(gw_csv *csv, const char *name, const char *unit) {
    gw_text second = {0};
    gw_csv_heading(csv, name, unit);
    gw_text_printf(&second, "%s u95", name);
    gw_csv_heading(csv, gw_text_string(&second), unit);
    gw_text_part_free(csv->out, &second);
}

const char *gw_csv_unit(gw_reading_key key, const char *unit) {
    return gw_reading_infos[key].show == GW_SHOW_VOLTS ? unit : gw_reading_unit(key, unit);
}

void gw_csv_end(gw_csv *csv) {
    gw_text_add(csv->out, "\r\n");
    csv->inside = false;
}
