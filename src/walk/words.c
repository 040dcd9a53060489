/* The words that findings and verdict are made of. Decibels are made here and nowhere else in this room. */
#include "walk/walker.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

static const char *keep(gw_walker *walker, const char *format, va_list list) {
    char text[1024];
    int length = vsnprintf(text, sizeof text, format, list);
    const char *kept = length < 0 ? NULL : gw_arena_string(walker->arena, text);
    if (!kept)
        walker->failed = true;
    return kept ? kept : "";
}

const char *gw_walker_text(gw_walker *walker, const char *format, ...) {
    va_list list;
    va_start(list, format);
    const char *text = keep(walker, format, list);
    va_end(list);
    return text;
}

void gw_walker_remark(gw_walker *walker, const char *format, ...) {
    va_list list;
    va_start(list, format);
    const char *text = keep(walker, format, list);
    va_end(list);
    for (size_t i = 0; i < walker->walk->remarks.count; i++)
        if (strcmp(walker->walk->remarks.items[i], text) == 0)
            return;
    if (!gw_strings_add(&walker->walk->remarks, text))
        walker->failed = true;
}

/* "-0.0" tells nobody anything. */
static double no_minus_zero(double value, double half_step) {
    return fabs(value) < half_step ? 0 : value;
}

char *gw_words_db(double ratio, char *out, size_t size) {
    char number[32];
    if (!(fabs(ratio) > 0))
        snprintf(out, size, "no signal");
    else
        snprintf(out, size, "%s dB",
                 gw_number_fixed(no_minus_zero(gw_db_from_ratio(ratio), 0.05), 1, number, sizeof number));
    return out;
}

char *gw_words_db_range(double value, double low, double high, char *out, size_t size) {
    char middle[32], up[32], down[32];
    double above = gw_db_from_ratio(high / value), under = low > 0 ? gw_db_from_ratio(value / low) : 99;
    gw_number_fixed(no_minus_zero(gw_db_from_ratio(value), 0.05), 1, middle, sizeof middle);
    gw_number_fixed(above, 1, up, sizeof up);
    gw_number_fixed(under, 1, down, sizeof down);
    if (strcmp(up, down) == 0)
        snprintf(out, size, "%s ± %s dB", middle, up);
    else
        snprintf(out, size, "%s dB +%s -%s dB", middle, up, down);
    return out;
}

char *gw_words_volts(double value_v, double u95_v, const char *unit, char *out, size_t size) {
    return gw_quantity_print(value_v, u95_v, unit, u95_v > 0 ? 4 : 3, out, size);
}

/* Both with one prefix and as many decimals as two figures of the uncertainty: "0.4 ± 1.2 mV". */
char *gw_words_pm(double value, double u95, const char *unit, char *out, size_t size) {
    static const struct {
        double factor;
        const char *prefix;
    } prefixes[] = {{1e3, "k"}, {1, ""}, {1e-3, "m"}, {1e-6, "µ"}, {1e-9, "n"}};
    double larger = fmax(fabs(value), u95);
    size_t i = larger > 0 ? 0U : 1U;
    while (larger > 0 && i + 1 < sizeof prefixes / sizeof prefixes[0] && larger < 0.9995 * prefixes[i].factor)
        i++;
    double shown_u95 = u95 / prefixes[i].factor;
    int decimals = shown_u95 > 0 ? (int)fmin(6, fmax(0, 1 - floor(log10(shown_u95)))) : 3;
    char number[32], within[32];
    gw_number_fixed(no_minus_zero(value / prefixes[i].factor, 0.5 * pow(10, -decimals)), decimals, number,
                    sizeof number);
    gw_number_fixed(shown_u95, decimals, within, sizeof within);
    snprintf(out, size, "%s ± %s %s%s", number, within, prefixes[i].prefix, unit);
    return out;
}

char *gw_words_percent(double ratio, char *out, size_t size) {
    char number[32];
    gw_number_print(100 * ratio, 2, number, sizeof number);
    snprintf(out, size, "%s %%", number);
    return out;
}

const char *gw_words_unit(const gw_readings *readings) {
    return readings && readings->source.unit ? readings->source.unit : "V";
}

const char *gw_words_name(const gw_walker *walker, int point) {
    return point < 0 ? "the source" : walker->nodes[point].point->name;
}

static const char *gain_evidence(gw_walker *walker, const char *what, const gw_judgement *j) {
    char value[48], expected[128] = "", within[64] = "";
    gw_words_db(j->value, value, sizeof value);
    if (j->below && j->value > 0) { /* a bound: in whole decibels, upwards */
        char number[32];
        gw_number_fixed(ceil(gw_db_from_ratio(j->value)), 0, number, sizeof number);
        snprintf(value, sizeof value, "%s dB", number);
    } else if (j->value > 0 && j->u95 > 0) {
        char number[32];
        gw_number_fixed(gw_db_from_ratio(1 + j->u95 / j->value), 1, number, sizeof number);
        snprintf(within, sizeof within, " (± %s)", number);
    }
    if (!j->has_expected)
        return gw_walker_text(walker, "%s %s%s%s", what, j->below ? "below " : "", value, within);
    gw_words_db_range(j->expected, j->low, j->high, expected, sizeof expected);
    return gw_walker_text(walker, "%s %s%s%s, expected %s", what, j->below ? "below " : "", value, within, expected);
}

static const char *volts_evidence(gw_walker *walker, const char *what, const gw_judgement *j, const char *unit) {
    char value[96], limit[96];
    gw_words_pm(j->value, j->u95, unit, value, sizeof value);
    if (j->below)
        gw_quantity_print(j->value, 0, unit, 2, value, sizeof value);
    if (!j->has_expected)
        return gw_walker_text(walker, "%s %s%s", what, j->below ? "below " : "", value);
    if (j->expected == 0 && j->low >= 0) {
        gw_quantity_print(j->high, 0, unit, 3, limit, sizeof limit);
        return gw_walker_text(walker, "%s %s%s, limit %s", what, j->below ? "below " : "", value, limit);
    }
    gw_words_pm(j->expected, (j->high - j->low) / 2, unit, limit, sizeof limit);
    return gw_walker_text(walker, "%s %s, expected %s", what, value, limit);
}

static const char *percent_evidence(gw_walker *walker, const char *what, const gw_judgement *j) {
    char value[32], limit[32];
    gw_words_percent(j->value, value, sizeof value);
    gw_words_percent(j->high, limit, sizeof limit);
    return gw_walker_text(walker, j->has_expected ? "%s %s%s, limit %s" : "%s %s%s", what, j->below ? "below " : "",
                          value, limit);
}

const char *gw_words_evidence(gw_walker *walker, const char *what, const gw_judgement *judgement, const char *unit) {
    switch (judgement->kind) {
    case GW_JUDGE_GAIN:
        return gain_evidence(walker, what, judgement);
    case GW_JUDGE_PERCENT:
        return percent_evidence(walker, what, judgement);
    case GW_JUDGE_HERTZ:
        return volts_evidence(walker, what, judgement, "Hz");
    default:
        return volts_evidence(walker, what, judgement, unit);
    }
}
