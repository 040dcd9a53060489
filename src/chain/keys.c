/* The keys of a chain file: one table, and the functions that take their values.
 * To add a key: a row, its function, and a row in tests/chain/test_keys.c. */
#include "draft.h"

#include <stdio.h>
#include <string.h>

/* ---- text ----------------------------------------------------------------------------------------- */

/* Nothing behind '=' is as if the key were not there: so a prepared sheet can stay half empty. */
static bool keep_text(gw_chain_draft *draft, const char *text, const char **out) {
    if (text[0] == '\0')
        return true;
    *out = gw_draft_copy(draft, text);
    return *out != NULL;
}

static bool set_title(gw_chain_draft *draft, const char *text) {
    return keep_text(draft, text, &draft->chain->title);
}

static bool set_unit(gw_chain_draft *draft, const char *text) {
    return keep_text(draft, text, &draft->chain->unit);
}

static bool set_note(gw_chain_draft *draft, const char *text) {
    return keep_text(draft, text, &draft->chain->note);
}

static bool set_captures(gw_chain_draft *draft, const char *text) {
    return keep_text(draft, text, &draft->captures);
}

static bool set_what(gw_chain_draft *draft, const char *text) {
    return keep_text(draft, text, &draft->now->point.what);
}

static bool set_capture(gw_chain_draft *draft, const char *text) {
    return keep_text(draft, text, &draft->now->capture);
}

static bool set_channel(gw_chain_draft *draft, const char *text) {
    return keep_text(draft, text, &draft->now->point.channel);
}

static bool set_group(gw_chain_draft *draft, const char *text) {
    return keep_text(draft, text, &draft->now->point.group);
}

static bool set_reference(gw_chain_draft *draft, const char *text) {
    return keep_text(draft, text, &draft->chain->reference);
}

static bool set_after(gw_chain_draft *draft, const char *text) {
    draft->now->after_line = draft->line;
    if (text[0] == '\0')
        return gw_draft_fail(draft, "'after' names no point");
    return keep_text(draft, text, &draft->now->after);
}

/* Free text for the job sheet. */
static bool set_condition(gw_chain_draft *draft, const char *text) {
    if (text[0] == '\0')
        return true;
    if (gw_strings_add(&draft->chain->conditions, draft->key) && gw_strings_add(&draft->chain->conditions, text))
        return true;
    return gw_error_memory(draft->error);
}

/* ---- [chain] -------------------------------------------------------------------------------------- */

static bool set_stimulus(gw_chain_draft *draft, const char *text) {
    if (draft->sweep_line == 0)
        draft->sweep_line = draft->line;
    return gw_stimulus_parse(text, &draft->chain->stimulus, draft->file, draft->line, draft->error) &&
           keep_text(draft, text, &draft->chain->stimulus_text);
}

static bool set_mains(gw_chain_draft *draft, const char *text) {
    return gw_draft_mains(draft, text, &draft->chain->mains_hz);
}

static bool set_sweep(gw_chain_draft *draft, const char *text) {
    draft->sweep_line = draft->line;
    return keep_text(draft, text, &draft->sweep);
}

/* `20 Hz .. 20 kHz` */
static bool read_band(gw_chain_draft *draft, const char *what, const char *text, double *low_hz, double *high_hz) {
    const char *dots = strstr(text, "..");
    char low_text[64];
    gw_quantity low = {0}, high = {0};
    if (dots == NULL || (size_t)(dots - text) >= sizeof low_text)
        return gw_draft_fail(draft, "'%s' needs two frequencies with '..' between (write it like '20 Hz .. 20 kHz')",
                             what);
    snprintf(low_text, sizeof low_text, "%.*s", (int)(dots - text), text);
    if (!gw_draft_quantity(draft, what, low_text, &gw_rule_frequency, &low) ||
        !gw_draft_quantity(draft, what, dots + 2, &gw_rule_frequency, &high))
        return false;
    if (!(low.value < high.value))
        return gw_draft_fail(draft, "'%s' ends below its beginning: '%.80s'", what, text);
    *low_hz = low.value;
    *high_hz = high.value;
    return true;
}

static bool set_band(gw_chain_draft *draft, const char *text) {
    return read_band(draft, "band", text, &draft->chain->band_low_hz, &draft->chain->band_high_hz);
}

static bool set_decision(gw_chain_draft *draft, const char *text) {
    static const char *const words[] = {"guarded", "simple", NULL};
    size_t index = 0;
    if (!gw_draft_word(draft, "decision", text, words, &index))
        return false;
    draft->chain->simple_decision = index == 1;
    return true;
}

/* ---- [instrument], and the same for one point ------------------------------------------------------ */

static bool read_full_scale(gw_chain_draft *draft, const char *text, double *out) {
    static const gw_value_rule rule = {
        .dimension = GW_DIM_VOLT, .most = 1e6, .peak_to_peak = true, .no_decibel = true, .example = "1.95 V"};
    gw_quantity read = {0};
    if (!gw_draft_quantity(draft, "full_scale", text, &rule, &read))
        return false;
    *out = read.peak_to_peak ? read.value / 2 : read.value;
    return true;
}

static bool read_coupling(gw_chain_draft *draft, const char *text, bool *out) {
    static const char *const words[] = {"dc", "ac", NULL};
    size_t index = 0;
    if (!gw_draft_word(draft, "coupling", text, words, &index))
        return false;
    *out = index == 1;
    return true;
}

static bool set_instrument_accuracy(gw_chain_draft *draft, const char *text) {
    return gw_draft_accuracy(draft, text, &draft->chain->accuracy);
}

static bool set_instrument_probe(gw_chain_draft *draft, const char *text) {
    return gw_draft_probe(draft, text, &draft->probe);
}

static bool set_instrument_full_scale(gw_chain_draft *draft, const char *text) {
    return read_full_scale(draft, text, &draft->full_scale_v);
}

/* `tone.wav is 1 V` */
static bool set_calibrate(gw_chain_draft *draft, const char *text) {
    static const gw_value_rule rule = {.dimension = GW_DIM_VOLT, .most = 1e6, .peak_to_peak = true, .example = "1 V"};
    static const char word[] = " is ";
    const char *at = NULL;
    for (const char *next = strstr(text, word); next != NULL; next = strstr(next + 1, word))
        at = next;
    if (at == NULL || at == text)
        return gw_error_set(draft->error, draft->file, draft->line,
                            "calibrate names no file and level, such as 'tone.wav is 1 V': '%s'", text);
    gw_quantity level = {0};
    if (!gw_draft_quantity(draft, "calibrate", at + sizeof word - 1, &rule, &level))
        return false;
    /* the peak-to-peak figure of a sine */
    draft->chain->calibrate_v = level.peak_to_peak ? level.value / 2.8284271247461903 : level.value;
    draft->chain->calibrate_line = draft->line;
    draft->calibrate = gw_arena_copy(draft->arena, text, (size_t)(at - text));
    return draft->calibrate != NULL || gw_error_memory(draft->error);
}

static bool set_instrument_coupling(gw_chain_draft *draft, const char *text) {
    return read_coupling(draft, text, &draft->ac_coupled);
}

static bool set_zero(gw_chain_draft *draft, const char *text) {
    static const gw_value_rule rule = {
        .dimension = GW_DIM_VOLT, .most = 1e6, .least_allowed = true, .no_decibel = true, .example = "5 mV"};
    gw_quantity read = {0};
    if (!gw_draft_quantity(draft, "zero", text, &rule, &read))
        return false;
    draft->chain->zero_v = read.value;
    return true;
}

static const gw_value_rule rate_rule = {.dimension = GW_DIM_HERTZ, .least = 1e-6, .most = 1e12, .example = "48 kHz"};

static bool set_instrument_rate(gw_chain_draft *draft, const char *text) {
    gw_quantity read = {0};
    bool good = gw_draft_quantity(draft, "rate", text, &rate_rule, &read);
    draft->rate_hz = read.value;
    return good;
}

static bool set_rate(gw_chain_draft *draft, const char *text) {
    gw_quantity read = {0};
    bool good = gw_draft_quantity(draft, "rate", text, &rate_rule, &read);
    draft->now->point.rate_hz = read.value;
    return good;
}

static bool set_accuracy(gw_chain_draft *draft, const char *text) {
    draft->now->accuracy_stated = true;
    return gw_draft_accuracy(draft, text, &draft->now->point.accuracy);
}

static bool set_probe(gw_chain_draft *draft, const char *text) {
    draft->now->probe_stated = true;
    return gw_draft_probe(draft, text, &draft->now->point.probe);
}

static bool set_full_scale(gw_chain_draft *draft, const char *text) {
    draft->now->full_scale_stated = true;
    return read_full_scale(draft, text, &draft->now->point.full_scale_v);
}

static bool set_coupling(gw_chain_draft *draft, const char *text) {
    draft->now->coupling_stated = true;
    return read_coupling(draft, text, &draft->now->point.ac_coupled);
}

/* ---- [point], [rail] ------------------------------------------------------------------------------- */

static bool set_stage(gw_chain_draft *draft, const char *text) {
    draft->now->stage_line = draft->line;
    draft->now->point.has_stage = true;
    return gw_draft_stage(draft, text, &draft->now->point.stage);
}

static bool set_gain(gw_chain_draft *draft, const char *text) {
    return gw_draft_gain(draft, "gain", text, &draft->now->gain);
}

static bool set_response(gw_chain_draft *draft, const char *text) {
    return read_band(draft, "response", text, &draft->now->point.flat_low_hz, &draft->now->point.flat_high_hz);
}

static const gw_value_rule dc_rule = {
    .dimension = GW_DIM_VOLT, .least = -1e6, .most = 1e6, .no_decibel = true, .example = "0 V ± 20 mV"};

/* `< 20 mV` is 0 V ± 20 mV. */
static bool read_dc_limit(gw_chain_draft *draft, const char *text) {
    static const gw_value_rule rule = {.dimension = GW_DIM_VOLT, .most = 1e6, .no_decibel = true, .example = "< 20 mV"};
    gw_limit limit = {0};
    if (!gw_draft_limit(draft, "dc", text, &rule, &limit))
        return false;
    draft->now->dc = (gw_stated){.given = true, .has_tolerance = true, .low = -limit.limit, .high = limit.limit};
    draft->now->dc.line = draft->line;
    return true;
}

static bool set_dc(gw_chain_draft *draft, const char *text) {
    if (text[0] == '<')
        return read_dc_limit(draft, text);
    return gw_draft_stated(draft, "dc", text, &dc_rule, false, &draft->now->dc);
}

static bool set_reading(gw_chain_draft *draft, const char *text) {
    return gw_draft_stated(draft, "reading", text, &dc_rule, false, &draft->now->meter);
}

static bool set_level(gw_chain_draft *draft, const char *text) {
    static const gw_value_rule rule = {
        .dimension = GW_DIM_VOLT, .most = 1e6, .peak_to_peak = true, .example = "775 mV ± 2 dB"};
    return gw_draft_stated(draft, "level", text, &rule, true, &draft->now->level);
}

static bool set_frequency(gw_chain_draft *draft, const char *text) {
    return gw_draft_stated(draft, "frequency", text, &gw_rule_frequency, false, &draft->now->frequency);
}

static bool set_thd(gw_chain_draft *draft, const char *text) {
    static const gw_value_rule rule = {.dimension = GW_DIM_PERCENT, .decibel_ratio = true, .example = "< 0.5 %"};
    if (!gw_draft_limit(draft, "thd", text, &rule, &draft->now->point.thd))
        return false;
    double limit = draft->now->point.thd.limit;
    return (limit > 0 && limit <= 10) || gw_draft_fail(draft, "'thd' makes no sense as '%.80s'", text);
}

static bool read_volt_limit(gw_chain_draft *draft, const char *text, gw_limit *out) {
    static const gw_value_rule rule = {.dimension = GW_DIM_VOLT, .most = 1e6, .no_zero = true, .example = "< 5 mV"};
    return gw_draft_limit(draft, draft->key, text, &rule, out);
}

static bool set_noise(gw_chain_draft *draft, const char *text) {
    return read_volt_limit(draft, text, &draft->now->point.noise);
}

static bool set_hum(gw_chain_draft *draft, const char *text) {
    return read_volt_limit(draft, text, &draft->now->point.hum);
}

static bool set_ripple(gw_chain_draft *draft, const char *text) {
    return read_volt_limit(draft, text, &draft->now->point.ripple);
}

static bool set_reach(gw_chain_draft *draft, const char *text) {
    static const char *const words[] = {"easy", "awkward", "hard", NULL};
    size_t index = 0;
    if (!gw_draft_word(draft, "reach", text, words, &index))
        return false;
    draft->now->point.reach = (gw_reach)index;
    return true;
}

static bool set_suspect(gw_chain_draft *draft, const char *text) {
    static const gw_value_rule rule = {.dimension = GW_DIM_NONE, .bare = true, .most = 1e6, .example = "3"};
    gw_quantity read = {0};
    if (!gw_draft_quantity(draft, "suspect", text, &rule, &read))
        return false;
    draft->now->suspect = read.value;
    return true;
}

/* ---- the table ------------------------------------------------------------------------------------- */

const gw_chain_key gw_chain_keys[] = {
    {"chain", "title", "Tarn spring echo, dry path", "what the chain is", set_title},
    {"chain", "unit", "0417", "what identifies the piece", set_unit},
    {"chain", "note", "customer reports no output", "free text, shown in reports", set_note},
    {"chain", "stimulus", "sine 1 kHz 100 mV",
     "what is fed in: shape (sine, periodic, two-tone, noise, sweep, none, unknown), frequency, RMS level",
     set_stimulus},
    {"chain", "sweep", "sweep.wav",
     "a sweep is fed in, and this is the file that was played; where the reference channel holds it, 'stimulus = "
     "sweep' will do",
     set_sweep},
    {"chain", "mains", "50 Hz", "mains frequency; found out where not stated", set_mains},
    {"chain", "captures", "captures",
     "folder of the captures, relative to this file; where not stated, captures/ if there is one, else the file's own "
     "folder",
     set_captures},
    {"chain", "band", "20 Hz .. 20 kHz", "band of noise and THD+N", set_band},
    {"chain", "decision", "guarded",
     "guarded: within the uncertainty of a limit is unsure; simple: the value alone decides", set_decision},
    {"chain", "customer", "by the door, Tuesday", "job sheet: whose it is", set_condition},
    {"chain", "technician", "M.", "job sheet: who measured", set_condition},
    {"chain", "date", "2026-03-09", "job sheet: when", set_condition},
    {"chain", "job", "117", "job sheet: number", set_condition},
    {"chain", "complaint", "no output since it was moved", "job sheet: as the customer tells it", set_condition},
    {"chain", "history", "dropped once, fuse changed", "job sheet: what is known from before", set_condition},
    {"chain", "warmup", "20 min", "job sheet: how long it was on", set_condition},
    {"chain", "controls", "volume 5, tone middle", "job sheet: where the controls stood", set_condition},
    {"chain", "load", "8 ohm dummy", "job sheet: what the output fed", set_condition},
    {"chain", "cautions", "live chassis, isolation transformer", "job sheet: what to mind with this piece",
     set_condition},
    {"chain", "found", "C9 open", "job sheet: the fault", set_condition},
    {"chain", "confirmed", "bridged with a new one: signal back", "job sheet: how it was confirmed", set_condition},
    {"chain", "parts", "C9 10u 35V", "job sheet: parts replaced", set_condition},
    {"chain", "result", "in order, returned", "job sheet: outcome", set_condition},
    {"instrument", "accuracy", "3 %", "vertical accuracy, either way; 3 % for CSV, 0 for WAV where not stated",
     set_instrument_accuracy},
    {"instrument", "probe", "x10", "factor to apply to captures that don't include it", set_instrument_probe},
    {"instrument", "full_scale", "1.95 V", "volts (peak) at digital full scale, WAV", set_instrument_full_scale},
    {"instrument", "calibrate", "tone.wav is 1 V",
     "a capture of a known level (RMS), taken through the same probe or pad, instead of full_scale", set_calibrate},
    {"instrument", "reference", "1", "channel that holds the stimulus in every capture", set_reference},
    {"instrument", "coupling", "dc", "ac: the captures hide DC, so DC is not judged", set_instrument_coupling},
    {"instrument", "zero", "5 mV", "the instrument's own DC error, either way", set_zero},
    {"instrument", "rate", "48 kHz", "sample rate of captures that give none", set_instrument_rate},
    {"instrument", "instrument", "8-bit storage scope", "job sheet: what was measured with", set_condition},
    {"point rail", "what", "input jack, tip", "what the point is", set_what},
    {"point rail", "capture", "01-input.csv", "its capture; a file named after the point where not stated",
     set_capture},
    {"point rail", "channel", "1", "channel of the capture, number or name in its heading", set_channel},
    {"point rail", "probe", "x1", "as in [instrument], for this one", set_probe},
    {"point rail", "accuracy", "1 %", "as in [instrument], for this one", set_accuracy},
    {"point rail", "full_scale", "1.95 V", "as in [instrument], for this one", set_full_scale},
    {"point rail", "coupling", "ac", "as in [instrument], for this one", set_coupling},
    {"point rail", "rate", "48 kHz", "as in [instrument], for this one", set_rate},
    {"point rail", "reading", "15.02 V ± 0.5 %", "DC read from a meter, instead of a capture or beside it",
     set_reading},
    {"point", "after", "U1-7", "the point before it; the one above where not stated", set_after},
    {"point", "stage", "noninverting rf=47k rg=4k7 tol=5 %", "the stage that leads here", set_stage},
    {"point", "gain", "-6 dB ± 1 dB", "its expected gain; beats the computed one", set_gain},
    {"point rail", "dc", "0 V ± 20 mV", "expected DC here", set_dc},
    {"point", "response", "30 Hz .. 15 kHz",
     "where the stage stays within 3 dB of its gain, judged from a sweep; where not stated, the stage's values tell",
     set_response},
    {"point", "level", "775 mV ± 2 dB", "expected level here", set_level},
    {"point", "frequency", "440 Hz ± 1 %", "expected frequency here", set_frequency},
    {"point", "thd", "< 0.5 %", "limit of THD here", set_thd},
    {"point", "noise", "< 1 mV", "limit of noise here, volts RMS in the band", set_noise},
    {"point", "hum", "< 1 mV", "limit of hum here, volts RMS", set_hum},
    {"rail", "ripple", "< 5 mV", "limit of ripple, volts RMS at the mains frequency and its multiples", set_ripple},
    {"point rail", "reach", "awkward", "what probing here costs: easy, awkward or hard", set_reach},
    {"point", "suspect", "3", "how many times likelier to be at fault than its kind usually is", set_suspect},
    {"point", "group", "voices", "like points, compared with each other", set_group},
    {NULL, NULL, NULL, NULL, NULL},
};

_Static_assert(sizeof gw_chain_keys / sizeof *gw_chain_keys <= GW_CHAIN_KEYS_MAX, "more keys than are kept track of");
