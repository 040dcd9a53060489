/* gainwalk(1), from the tables of commands, options, readings, findings and test signals. */
#include "roff.h"

#include <string.h>

static void add_option(gw_text *out, size_t option) {
    const option_info *info = &gw_cli_options[option];
    gw_text name = {0};
    gw_text_printf(&name, "--%s", info->name);
    gw_roff_item(out, gw_text_string(&name), info->argument, info->meaning);
    gw_text_part_free(out, &name);
}

static void add_command(gw_text *out, const command *of) {
    gw_text line = {0};
    gw_text_printf(&line, "gainwalk %s %s", of->name, of->usage);
    gw_roff_subsection(out, gw_text_string(&line));
    gw_text_part_free(out, &line);
    gw_text_printf(&line, "%c%s.",
                   of->summary[0] >= 'a' && of->summary[0] <= 'z' ? of->summary[0] - 32 : of->summary[0],
                   of->summary + 1);
    gw_roff_paragraph(out, gw_text_string(&line));
    gw_text_part_free(out, &line);
    gw_roff_text(out, of->details);
    for (size_t i = 0; i < OPTION_JOBS; i++)
        if ((of->options & WITH(i)) != 0)
            add_option(out, i);
    gw_roff_paragraph(out, "Example:");
    gw_roff_example(out, of->example);
}

static void add_commands(gw_text *out) {
    gw_roff_section(out, "COMMANDS");
    for (const command *at = gw_cli_commands; at->name != NULL; at++)
        if (!at->hidden)
            add_command(out, at);
    gw_roff_section(out, "OPTIONS OF EVERY COMMAND");
    gw_roff_paragraph(
        out, "Options may stand anywhere behind the command; -- ends them. A value follows behind a blank or =.");
    for (size_t i = OPTION_JOBS; i < OPTION_COUNT; i++)
        add_option(out, i);
}

static void add_readings(gw_text *out) {
    gw_roff_section(out, "READINGS");
    gw_roff_paragraph(out, "Each comes with its expanded uncertainty (95 %), as an upper bound, or with the reason why "
                           "the capture does not support it.");
    for (size_t i = 0; i < GW_READING_COUNT; i++) {
        const gw_reading_info *row = &gw_reading_infos[i];
        gw_text kind = {0};
        gw_text_printf(&kind, "(%s%s%s)", row->name, row->unit != NULL && *row->unit != '\0' ? ", " : "",
                       row->unit != NULL ? row->unit : "");
        gw_roff_item(out, row->key, gw_text_string(&kind), row->meaning);
        gw_text_part_free(out, &kind);
        if (row->source != NULL)
            gw_roff_line(out, "Source: ", row->source);
    }
}

static void add_findings(gw_text *out) {
    gw_roff_section(out, "FINDINGS");
    for (size_t i = 0; i < GW_FINDING_COUNT; i++) {
        const gw_finding_info *row = &gw_finding_infos[i];
        gw_roff_item(out, row->code, NULL, row->meaning);
        for (size_t k = 0; k < GW_CAUSES_MAX && row->causes[k].cause != NULL; k++) {
            gw_text line = {0};
            gw_text_printf(&line, "%s (check: %s)", row->causes[k].cause, row->causes[k].confirm);
            gw_roff_line(out, "Likely: ", gw_text_string(&line));
            gw_text_part_free(out, &line);
        }
        if (row->lookalikes != NULL)
            gw_roff_line(out, "Looks alike: ", row->lookalikes);
    }
}

static void add_shapes(gw_text *out) {
    gw_roff_section(out, "TEST SIGNALS");
    for (size_t i = 0; i < GW_TEST_SHAPE_COUNT; i++) {
        const gw_test_shape_info *row = &gw_test_shapes[i];
        gw_roff_item(out, row->name, NULL, row->meaning);
        if (row->source != NULL)
            gw_roff_line(out, "Source: ", row->source);
    }
}

static void add_surroundings(gw_text *out) {
    gw_roff_section(out, "EXIT STATUS");
    gw_roff_item(out, "0", NULL, "every judged thing is in order");
    gw_roff_item(out, "1", NULL, "a fault was found");
    gw_roff_item(out, "2", NULL, "the job could not be done: usage, or a file that cannot be read or written");
    gw_roff_item(out, "3", NULL, "not in order for certain: unsure, or points unprobed");
    gw_roff_paragraph(out, "Of several chains the gravest counts: 2, then 1, then 3, then 0.");
    gw_roff_section(out, "ENVIRONMENT");
    gw_roff_item(out, "NO_COLOR", NULL, "set and not empty: no colours, unless --color always");
    gw_roff_item(out, "TMPDIR", NULL,
                 "where standard input and long captures are kept while they are read (default /tmp)");
    gw_roff_section(out, "CAUTIONS");
    gw_roff_paragraph(
        out, "Opened equipment can hurt. Switch off, unplug and discharge the capacitors before touching anything; an "
             "oscilloscope's clip is mains earth and belongs on no live chassis and no bridged or floating output; "
             "disconnect loudspeakers before feeding test signals. Leave work on the mains or above extra-low voltage "
             "to qualified people, by the local rules.");
    gw_roff_section(out, "SEE ALSO");
    gw_roff_paragraph(out, "gainwalk-chain(5)");
}

static void add_synopsis(gw_text *out) {
    for (const command *at = gw_cli_commands; at->name != NULL; at++) {
        if (at->hidden)
            continue;
        gw_text_printf(out, "%s\\fBgainwalk %s\\fR ", at == gw_cli_commands ? "" : ".br\n", at->name);
        gw_roff_text(out, at->usage);
        gw_text_add_char(out, '\n');
    }
}

void gw_cli_manual(gw_text *out) {
    gw_roff_begin(out, "gainwalk", 1, "find the stage of an analogue audio chain where the signal goes wrong");
    gw_roff_section(out, "SYNOPSIS");
    add_synopsis(out);
    gw_roff_section(out, "DESCRIPTION");
    gw_roff_paragraph(
        out,
        "Captures taken at successive test points of a signal chain (CSV from an oscilloscope, WAV from a sound card) "
        "are measured, each stage is compared with what it ought to do, and one line says where the signal first "
        "goes wrong. What each stage ought to do stands in a chain file, see gainwalk-chain(5). A file named - is "
        "standard input or standard output.");
    add_commands(out);
    add_readings(out);
    add_findings(out);
    add_shapes(out);
    add_surroundings(out);
}
