/* Figures of a chain file: what each key may be, and one clear error where it isn't. */
#include "draft.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

static const char *const dimension_names[] = {
    [GW_DIM_NONE] = "a bare number", [GW_DIM_VOLT] = "volts",     [GW_DIM_HERTZ] = "hertz",
    [GW_DIM_SECOND] = "seconds",     [GW_DIM_OHM] = "ohms",       [GW_DIM_FARAD] = "farads",
    [GW_DIM_HENRY] = "henries",      [GW_DIM_AMPERE] = "amperes", [GW_DIM_PERCENT] = "per cent",
    [GW_DIM_DECIBEL] = "decibels",
};

const gw_value_rule gw_rule_frequency = {.dimension = GW_DIM_HERTZ, .bare = true, .most = 1e9, .example = "1 kHz"};

bool gw_draft_fail(const gw_chain_draft *draft, const char *format, ...) {
    char text[sizeof(((gw_error *)0)->text)];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    gw_utf8_clean(text);
    return gw_error_set(draft->error, draft->file, draft->line, "%s", text);
}

const char *gw_draft_copy(const gw_chain_draft *draft, const char *text) {
    const char *copy = gw_arena_string(draft->arena, text);
    if (copy == NULL)
        gw_error_memory(draft->error);
    return copy;
}

const char *gw_draft_hint(const char *word, const char *const *known, char *out, size_t size) {
    const char *nearest = gw_word_nearest(word, known);
    if (nearest != NULL)
        snprintf(out, size, "; did you mean '%s'?", nearest);
    else
        out[0] = '\0';
    return out;
}

/* ---- one figure ----------------------------------------------------------------------------------- */

static bool right_dimension(const gw_value_rule *rule, const gw_quantity *read) {
    if (read->dimension == rule->dimension)
        return true;
    if (read->dimension == GW_DIM_DECIBEL)
        return rule->decibel_ratio;
    if (rule->dimension == GW_DIM_NONE && rule->decibel_ratio && read->dimension == GW_DIM_PERCENT)
        return true;
    return read->dimension == GW_DIM_NONE && (rule->bare || (rule->dimension == GW_DIM_VOLT && read->value == 0));
}

static bool in_range(const gw_value_rule *rule, double value) {
    if (rule->most == 0)
        return true;
    if (value < rule->least || value > rule->most)
        return false;
    return value > rule->least || rule->least_allowed;
}

static bool check_quantity(const gw_chain_draft *draft, const char *what, const char *text, const gw_value_rule *rule,
                           const gw_quantity *read) {
    if (!right_dimension(rule, read))
        return gw_draft_fail(draft, "'%s' takes %s%s, not %s: '%.80s' (write it like '%s')", what,
                             dimension_names[rule->dimension], rule->decibel_ratio ? " or decibels" : "",
                             dimension_names[read->dimension], text, rule->example);
    if (read->peak_to_peak && !rule->peak_to_peak)
        return gw_draft_fail(draft, "'%s' cannot be a peak value: '%.80s' (write it like '%s')", what, text,
                             rule->example);
    if (rule->no_decibel && strstr(text, "dB") != NULL)
        return gw_draft_fail(draft, "'%s' cannot be in decibels: '%.80s' (write it like '%s')", what, text,
                             rule->example);
    if (!in_range(rule, read->value) || (rule->no_zero && read->value == 0))
        return gw_draft_fail(draft, "'%s' makes no sense as '%.80s' (write it like '%s')", what, text, rule->example);
    return true;
}

bool gw_draft_quantity(const gw_chain_draft *draft, const char *what, const char *text, const gw_value_rule *rule,
                       gw_quantity *out) {
    gw_error fault = {0};
    gw_quantity read = {0};
    if (!gw_quantity_parse(text, &read, NULL, 0, &fault))
        return gw_draft_fail(draft, "%s for '%s' (write it like '%s')", fault.text, what, rule->example);
    if (!check_quantity(draft, what, text, rule, &read))
        return false;
    if (read.dimension == GW_DIM_DECIBEL && rule->dimension != GW_DIM_DECIBEL)
        read = (gw_quantity){.value = gw_ratio_from_db(read.value), .dimension = rule->dimension};
    *out = read;
    return true;
}

/* ---- with a tolerance ----------------------------------------------------------------------------- */

static bool tolerance_fits(const gw_tolerance *read, bool decibel_tolerance) {
    if (read->tolerance.dimension == GW_DIM_PERCENT)
        return true;
    if (read->tolerance.dimension == GW_DIM_DECIBEL)
        return decibel_tolerance;
    return read->tolerance.dimension == read->nominal.dimension &&
           read->tolerance.peak_to_peak == read->nominal.peak_to_peak;
}

/* Limits of a figure that is already linear; `value` may be negative where it is no gain. */
static void set_limits(const gw_quantity *tolerance, gw_stated *out) {
    double size = fabs(out->value), by = tolerance->value;
    if (tolerance->dimension == GW_DIM_DECIBEL) {
        double factor = gw_ratio_from_db(by);
        out->low = out->value < 0 ? out->value * factor : out->value / factor;
        out->high = out->value < 0 ? out->value / factor : out->value * factor;
        return;
    }
    if (tolerance->dimension == GW_DIM_PERCENT)
        by *= size;
    out->low = out->value - by;
    out->high = out->value + by;
}

static bool check_tolerance(const gw_chain_draft *draft, const char *what, const char *text, const gw_stated *out,
                            bool positive) {
    if (!isfinite(out->low) || !isfinite(out->high) || !(out->high > out->low))
        return gw_draft_fail(draft, "'%s' has a tolerance that leaves no room: '%.80s'", what, text);
    if (positive && out->low < 0)
        return gw_draft_fail(draft, "'%s' has a tolerance that reaches below nothing: '%.80s'", what, text);
    return true;
}

static bool parse_tolerance(const gw_chain_draft *draft, const char *what, const char *text, const char *example,
                            gw_tolerance *read) {
    gw_error fault = {0};
    if (!gw_tolerance_parse(text, read, NULL, 0, &fault))
        return gw_draft_fail(draft, "%s for '%s' (write it like '%s')", fault.text, what, example);
    return true;
}

bool gw_draft_stated(const gw_chain_draft *draft, const char *what, const char *text, const gw_value_rule *rule,
                     bool decibel_tolerance, gw_stated *out) {
    gw_tolerance read = {0};
    if (!parse_tolerance(draft, what, text, rule->example, &read) ||
        !check_quantity(draft, what, text, rule, &read.nominal))
        return false;
    if (read.nominal.dimension == GW_DIM_NONE)
        read.nominal.dimension = rule->dimension; /* a bare number where that will do */
    *out = (gw_stated){.given = true, .value = read.nominal.value, .peak_to_peak = read.nominal.peak_to_peak};
    out->line = draft->line;
    out->has_tolerance = read.has_tolerance;
    if (!read.has_tolerance)
        return true;
    if (!tolerance_fits(&read, decibel_tolerance))
        return gw_draft_fail(draft, "'%s' cannot have a tolerance in %s: '%.80s' (write it like '%s')", what,
                             dimension_names[read.tolerance.dimension], text, rule->example);
    set_limits(&read.tolerance, out);
    return check_tolerance(draft, what, text, out, rule->least >= 0 && rule->most > 0);
}

/* ---- gains ---------------------------------------------------------------------------------------- */

static const gw_value_rule gain_rule = {.dimension = GW_DIM_NONE,
                                        .bare = true,
                                        .decibel_ratio = true,
                                        .no_zero = false,
                                        .example = "20 dB ± 1 dB' or 'x10 ± 5 %"};

/* Smallest and largest gain that anyone would call one. */
static const double gain_least = 1e-9, gain_most = 1e9;

bool gw_draft_gain(const gw_chain_draft *draft, const char *what, const char *text, gw_stated *out) {
    gw_tolerance read = {0};
    if (!parse_tolerance(draft, what, text, gain_rule.example, &read) ||
        !check_quantity(draft, what, text, &gain_rule, &read.nominal))
        return false;
    double value = read.nominal.value;
    bool decibels = read.nominal.dimension == GW_DIM_DECIBEL;
    if (decibels)
        value = gw_ratio_from_db(value);
    if (!(fabs(value) >= gain_least && fabs(value) <= gain_most))
        return gw_draft_fail(draft, "'%s' makes no sense as '%.80s' (write it like '%s')", what, text,
                             gain_rule.example);
    *out = (gw_stated){.given = true, .value = fabs(value), .sign = value < 0 ? -1 : 1, .line = draft->line};
    out->has_tolerance = read.has_tolerance;
    if (!read.has_tolerance)
        return true;
    if (!tolerance_fits(&read, true))
        return gw_draft_fail(draft, "'%s' cannot have a tolerance in %s: '%.80s' (write it like '%s')", what,
                             dimension_names[read.tolerance.dimension], text, gain_rule.example);
    set_limits(&read.tolerance, out);
    return check_tolerance(draft, what, text, out, true);
}

/* ---- limits, words -------------------------------------------------------------------------------- */

bool gw_draft_limit(const gw_chain_draft *draft, const char *what, const char *text, const gw_value_rule *rule,
                    gw_limit *out) {
    static const char *const marks[] = {"<=", "\xE2\x89\xA4", "<"};
    for (size_t i = 0; i < sizeof marks / sizeof *marks; i++)
        if (strncmp(text, marks[i], strlen(marks[i])) == 0) {
            text += strlen(marks[i]);
            break;
        }
    gw_quantity read = {0};
    if (!gw_draft_quantity(draft, what, text, rule, &read))
        return false;
    *out = (gw_limit){.stated = true, .limit = read.value, .line = draft->line};
    return true;
}

bool gw_draft_word(const gw_chain_draft *draft, const char *what, const char *text, const char *const *words,
                   size_t *index) {
    gw_text list = {0};
    for (size_t i = 0; words[i] != NULL; i++) {
        if (gw_word_equal(words[i], text)) {
            *index = i;
            gw_text_free(&list);
            return true;
        }
        gw_text_printf(&list, "%s%s", i > 0 ? ", " : "", words[i]);
    }
    char hint[64];
    gw_draft_fail(draft, "'%s' cannot be '%.80s': it is one of %s%s", what, text, gw_text_string(&list),
                  gw_draft_hint(text, words, hint, sizeof hint));
    gw_text_free(&list);
    return false;
}

/* ---- figures that the command line takes too ------------------------------------------------------ */

bool gw_draft_probe(const gw_chain_draft *draft, const char *text, double *out) {
    static const gw_value_rule rule = {.dimension = GW_DIM_NONE, .bare = true, .decibel_ratio = true, .example = "x10"};
    gw_quantity read = {0};
    if (!gw_draft_quantity(draft, "probe", text, &rule, &read))
        return false;
    if (!(read.value >= 1e-6 && read.value <= 1e6) || strchr(text, '%') != NULL)
        return gw_draft_fail(draft, "'probe' makes no sense as '%.80s' (write it like 'x10')", text);
    *out = read.value;
    return true;
}

bool gw_draft_accuracy(const gw_chain_draft *draft, const char *text, double *out) {
    static const gw_value_rule rule = {
        .dimension = GW_DIM_PERCENT, .most = 0.5, .least_allowed = true, .example = "3 %"};
    gw_quantity read = {0};
    if (!gw_draft_quantity(draft, "accuracy", text, &rule, &read))
        return false;
    *out = read.value;
    return true;
}

bool gw_draft_mains(const gw_chain_draft *draft, const char *text, double *out) {
    static const gw_value_rule rule = {
        .dimension = GW_DIM_HERTZ, .bare = true, .least = 10, .most = 1000, .example = "50 Hz"};
    gw_quantity read = {0};
    if (!gw_draft_quantity(draft, "mains", text, &rule, &read))
        return false;
    *out = read.value;
    return true;
}
