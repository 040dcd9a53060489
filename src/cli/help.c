#include "cli.h"

#include <string.h>

enum { NAME_COLUMNS = 26 };

static void add_padded(gw_text *out, const char *text, size_t columns) {
    gw_text_add(out, text);
    for (size_t at = strlen(text); at < columns; at++)
        gw_text_add_char(out, ' ');
}

static void add_option(gw_text *out, size_t option) {
    const option_info *info = &gw_cli_options[option];
    gw_text name = {0};
    gw_text_printf(&name, "--%s%s%s", info->name, info->argument != NULL ? " " : "",
                   info->argument != NULL ? info->argument : "");
    gw_text_add(out, "  ");
    add_padded(out, gw_text_string(&name), NAME_COLUMNS);
    gw_text_printf(out, " %s\n", info->meaning);
    gw_text_part_free(out, &name);
}

static void add_common(gw_text *out) {
    for (size_t i = OPTION_JOBS; i < OPTION_COUNT; i++)
        add_option(out, i);
}

static void command_help(const command *of, gw_text *out) {
    gw_text_printf(out, "gainwalk %s %s\n\n%s\n%s\n", of->name, of->usage, of->summary, of->details);
    for (size_t i = 0; i < OPTION_JOBS; i++)
        if ((of->options & WITH(i)) != 0)
            add_option(out, i);
    add_common(out);
    gw_text_printf(out, "\nExample:\n  %s\n", of->example);
}

void gw_cli_help(const command *of, gw_text *out) {
    if (of != NULL) {
        command_help(of, out);
        return;
    }
    gw_text_add(out,
                "gainwalk finds the stage of an analogue audio chain where the signal goes wrong, from captures taken\n"
                "at successive test points.\n\n");
    for (const command *at = gw_cli_commands; at->name != NULL; at++) {
        if (at->hidden)
            continue;
        gw_text_add(out, "  gainwalk ");
        add_padded(out, at->name, NAME_COLUMNS - 9);
        gw_text_printf(out, " %s\n", at->summary);
    }
    gw_text_add(out, "\nOptions of every command:\n");
    add_common(out);
    gw_text_add(out,
                "\nExit status: 0 in order, 1 a fault was found, 2 the job could not be done, 3 unsure or incomplete.\n"
                "'gainwalk COMMAND --help' tells more of one command.\n");
}
