/* The stimulus: `sine 1 kHz 100 mV`, `two-tone 60 Hz 7 kHz 1 V`, `none`. */
#include "draft.h"

#include <stdio.h>
#include <string.h>

static const char *const shapes[] = {
    [GW_SHAPE_UNKNOWN] = "unknown",   [GW_SHAPE_SINE] = "sine",
    [GW_SHAPE_PERIODIC] = "periodic", [GW_SHAPE_TWO_TONE] = "two-tone",
    [GW_SHAPE_NOISE] = "noise",       [GW_SHAPE_NONE] = "none",
    [GW_SHAPE_SWEEP] = "sweep",       NULL,
};

/* Shapes by other names, all periodic. */
static const char *const periodic_names[] = {"square", "triangle", "saw", "sawtooth", "pulse", "ramp", NULL};

static const double root_eight = 2.8284271247461903; /* peak to peak over RMS of a sine */

enum { WORDS_MAX = 12, WORD_SIZE = 64 };

typedef struct words {
    char word[WORDS_MAX][WORD_SIZE];
    size_t count;
} words;

static bool is_blank(char character) {
    return character == ' ' || character == '\t';
}

static bool split(const char *text, words *out) {
    out->count = 0;
    for (;;) {
        while (is_blank(*text))
            text++;
        size_t length = 0;
        while (text[length] != '\0' && !is_blank(text[length]))
            length++;
        if (length == 0)
            return true;
        if (out->count == WORDS_MAX || length >= WORD_SIZE)
            return false;
        snprintf(out->word[out->count++], WORD_SIZE, "%.*s", (int)length, text);
        text += length;
    }
}

static bool find_shape(const gw_chain_draft *draft, const char *word, gw_shape *out) {
    for (size_t i = 0; periodic_names[i] != NULL; i++)
        if (gw_word_equal(periodic_names[i], word))
            return gw_draft_fail(draft, "'stimulus' has no shape '%s': write 'periodic' for any repeating shape", word);
    size_t index = 0;
    if (!gw_draft_word(draft, "stimulus", word, shapes, &index))
        return false;
    *out = (gw_shape)index;
    return true;
}

/* Hertz or volts from one word, or from a number and the unit behind it; how many words it took, 0 for none. */
static size_t read_figure(const words *all, size_t at, gw_quantity *out) {
    char both[2 * WORD_SIZE];
    gw_error ignored = {0};
    if (at + 1 < all->count) {
        snprintf(both, sizeof both, "%s %s", all->word[at], all->word[at + 1]);
        if (gw_quantity_parse(both, out, NULL, 0, &ignored))
            return 2;
    }
    gw_error_clear(&ignored);
    return gw_quantity_parse(all->word[at], out, NULL, 0, &ignored) ? 1 : 0;
}

static bool take_frequency(const gw_chain_draft *draft, double value, gw_stimulus *out) {
    if (!(value > 0 && value <= gw_rule_frequency.most))
        return gw_draft_fail(draft, "'stimulus' has a frequency that makes no sense");
    if (out->shape != GW_SHAPE_SINE && out->shape != GW_SHAPE_PERIODIC && out->shape != GW_SHAPE_TWO_TONE)
        return gw_draft_fail(draft, "'stimulus' of shape '%s' has no frequency", shapes[out->shape]);
    if (out->frequency_hz == 0) {
        out->frequency_hz = value;
        return true;
    }
    if (out->shape != GW_SHAPE_TWO_TONE || out->second_hz > 0)
        return gw_draft_fail(draft, "'stimulus' has more frequencies than shape '%s' takes", shapes[out->shape]);
    out->second_hz = value;
    return true;
}

static bool take_level(const gw_chain_draft *draft, const gw_quantity *read, gw_stimulus *out) {
    if (!(read->value > 0 && read->value <= 1e6))
        return gw_draft_fail(draft, "'stimulus' has a level that makes no sense");
    if (out->shape == GW_SHAPE_NONE || out->shape == GW_SHAPE_UNKNOWN)
        return gw_draft_fail(draft, "'stimulus' of shape '%s' has no level", shapes[out->shape]);
    if (out->level_v > 0)
        return gw_draft_fail(draft, "'stimulus' has two levels");
    if (read->peak_to_peak && out->shape != GW_SHAPE_SINE)
        return gw_draft_fail(draft, "'stimulus' of shape '%s' needs its level in volts RMS", shapes[out->shape]);
    out->level_v = read->peak_to_peak ? read->value / root_eight : read->value;
    return true;
}

static bool take_figures(const gw_chain_draft *draft, const words *all, gw_stimulus *out) {
    for (size_t at = 1; at < all->count;) {
        gw_quantity read = {0};
        size_t took = read_figure(all, at, &read);
        if (took > 0 && read.dimension == GW_DIM_HERTZ) {
            if (!take_frequency(draft, read.value, out))
                return false;
        } else if (took > 0 && read.dimension == GW_DIM_VOLT) {
            if (!take_level(draft, &read, out))
                return false;
        } else if (at < 2 || !gw_word_equal(all->word[at], "rms")) {
            return gw_draft_fail(
                draft, "'stimulus' takes hertz and volts, not '%s' (write it like 'sine 1 kHz 100 mV')", all->word[at]);
        }
        at += took > 0 ? took : 1;
    }
    return true;
}

static bool check_tones(const gw_chain_draft *draft, gw_stimulus *out) {
    if (out->shape != GW_SHAPE_TWO_TONE || out->frequency_hz == 0)
        return true;
    if (out->second_hz == 0 || out->second_hz == out->frequency_hz)
        return gw_draft_fail(draft, "'stimulus' of shape 'two-tone' needs two different frequencies");
    if (out->second_hz < out->frequency_hz) {
        double lower = out->second_hz;
        out->second_hz = out->frequency_hz;
        out->frequency_hz = lower;
    }
    return true;
}

bool gw_stimulus_parse(const char *text, gw_stimulus *out, const char *file, long line, gw_error *error) {
    gw_chain_draft draft = {.file = file, .line = line, .error = error};
    gw_stimulus read = {0};
    words all;
    if (!split(text, &all))
        return gw_draft_fail(&draft, "'stimulus' has too many words (write it like 'sine 1 kHz 100 mV')");
    if (all.count == 0)
        return gw_draft_fail(&draft, "'stimulus' is empty (write it like 'sine 1 kHz 100 mV')");
    if (!find_shape(&draft, all.word[0], &read.shape) || !take_figures(&draft, &all, &read) ||
        !check_tones(&draft, &read))
        return false;
    *out = read;
    return true;
}
