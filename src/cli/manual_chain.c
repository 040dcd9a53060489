/* gainwalk-chain(5), from the tables of keys and stage kinds. */
#include "roff.h"

#include <string.h>

static const char example[] = "[chain]\n"
                              "title    = Tarn spring echo, dry path\n"
                              "stimulus = sine 1 kHz 100 mV\n"
                              "captures = captures\n"
                              "\n"
                              "[instrument]\n"
                              "accuracy = 3 %\n"
                              "\n"
                              "[point J1]\n"
                              "what = input jack, tip\n"
                              "\n"
                              "[point U1-7]\n"
                              "stage = noninverting rf=47k rg=4k7\n"
                              "dc    = 0 V ± 50 mV\n"
                              "\n"
                              "[point C9]\n"
                              "stage = coupling c=10u load=47k    # blocks DC\n"
                              "\n"
                              "[rail +15]\n"
                              "reading = 15.02 V ± 0.5 %\n"
                              "dc      = 15 V ± 5 %\n";

static void add_form(gw_text *out) {
    gw_roff_section(out, "DESCRIPTION");
    gw_roff_paragraph(
        out, "A chain file tells gainwalk(1) what the stages of a signal chain ought to do. It is plain text in "
             "UTF-8: sections in square brackets, and lines of key = value. Text behind a blank and # or ; "
             "is a comment.");
    gw_roff_paragraph(
        out, "[chain] and [instrument] hold what is common. Each [point NAME] is a test point, in the order of "
             "the signal; it follows the one above it unless 'after' names another, so that a chain can "
             "branch. Each [rail NAME] is a supply. A point without a capture is allowed: the stages "
             "around it are then judged together.");
    gw_roff_section(out, "VALUES");
    gw_roff_paragraph(out,
                      "A number with a prefix and a unit (100 mV, 1 kHz), or a code of IEC 60062 (4k7, 2R2, 100n). "
                      "Levels in V, mV, Vpp, dBV or dBu; V is RMS. Gains in dB or as a factor (x10, 0.5). Expected "
                      "values take a tolerance, ± or +- (20 dB ± 1 dB, 15 V ± 5 %); limits are written < 0.5 %.");
}

static void add_keys(gw_text *out, const char *section, const char *title) {
    gw_roff_subsection(out, title);
    for (const gw_chain_key *row = gw_chain_keys; row->key != NULL; row++) {
        if (strstr(row->section, section) == NULL)
            continue;
        gw_text sample = {0};
        gw_text_printf(&sample, "= %s", row->example);
        gw_roff_item(out, row->key, gw_text_string(&sample), row->meaning);
        gw_text_part_free(out, &sample);
    }
}

static void add_kind(gw_text *out, const gw_stage_kind *row) {
    static const char *const paths[] = {
        [GW_DC_PASSES] = "passes", [GW_DC_UNKNOWN] = "passes, sign not known", [GW_DC_BLOCKED] = "blocked"};
    gw_text parts = {0};
    for (size_t i = 0; i < GW_STAGE_PARTS && row->parts[i].name != NULL; i++)
        gw_text_printf(&parts, row->parts[i].required ? "%s%s=" : "%s[%s=]", i > 0 ? " " : "", row->parts[i].name);
    gw_roff_item(out, row->name, gw_text_string(&parts), row->meaning);
    gw_text_part_free(out, &parts);
    for (size_t i = 0; i < GW_STAGE_PARTS && row->parts[i].name != NULL; i++) {
        gw_text_printf(&parts, "%s: ", row->parts[i].name);
        gw_roff_line(out, gw_text_string(&parts), row->parts[i].meaning);
        gw_text_part_free(out, &parts);
    }
    if (row->formula != NULL)
        gw_roff_line(out, "Expected gain: ", row->formula);
    gw_roff_line(out, "DC: ", paths[row->dc]);
    if (row->source != NULL)
        gw_roff_line(out, "Source: ", row->source);
}

void gw_cli_manual_chain(gw_text *out) {
    gw_roff_begin(out, "gainwalk-chain", 5, "chain files of gainwalk");
    add_form(out);
    gw_roff_section(out, "KEYS");
    add_keys(out, "chain", "[chain]");
    add_keys(out, "instrument", "[instrument]");
    add_keys(out, "point", "[point NAME]");
    add_keys(out, "rail", "[rail NAME]");
    gw_roff_section(out, "STAGE KINDS");
    gw_roff_paragraph(out,
                      "What 'stage' takes: a kind, then its parts as name=value; tol=5 % states the tolerance of the "
                      "parts of any kind. Parts in brackets may be left out.");
    for (const gw_stage_kind *row = gw_stage_kinds; row->name != NULL; row++)
        add_kind(out, row);
    gw_roff_section(out, "EXAMPLE");
    gw_roff_example(out, example);
    gw_roff_section(out, "SEE ALSO");
    gw_roff_paragraph(out, "gainwalk(1)");
}
