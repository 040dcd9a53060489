/* Completions for bash and zsh, from the tables. Neither needs anything but its shell. */
#include "cli.h"

#include <string.h>

enum { WORDS_MAX = 256 };

bool gw_cli_takes_words(const command *of) {
    return strstr(of->usage, "WORD") != NULL;
}

bool gw_cli_takes_shapes(const command *of) {
    return strstr(of->usage, "SHAPE") != NULL;
}

static bool is_choice(const option_info *info) {
    return info->argument != NULL && strchr(info->argument, '|') != NULL;
}

static bool is_file(const option_info *info) {
    return info->argument != NULL && strcmp(info->argument, "FILE") == 0;
}

static bool is_folder(const option_info *info) {
    return info->argument != NULL && strcmp(info->argument, "FOLDER") == 0;
}

/* `one|other` as words with `between` between them. */
static void add_choices(gw_text *out, const char *choices, char between) {
    for (; *choices != '\0'; choices++)
        gw_text_add_char(out, *choices == '|' ? between : *choices);
}

/* Words once each: a name may be a key and a stage kind. */
static void add_explain_words(gw_text *out) {
    const char *words[WORDS_MAX] = {NULL};
    size_t count = gw_cli_explain_words(words, WORDS_MAX);
    for (size_t i = 0; i < count; i++) {
        bool again = false;
        for (size_t k = 0; k < i; k++)
            again = again || strcmp(words[i], words[k]) == 0;
        if (!again)
            gw_text_printf(out, "%s ", words[i]);
    }
}

static void add_shapes(gw_text *out) {
    for (size_t i = 0; i < GW_TEST_SHAPE_COUNT; i++)
        gw_text_printf(out, "%s ", gw_test_shapes[i].name);
}

/* ---- bash ---- */

static bool is_shared(size_t option) {
    for (size_t i = 0; i < OPTION_COUNT; i++)
        if (i != option && strcmp(gw_cli_options[i].name, gw_cli_options[option].name) == 0)
            return true;
    return false;
}

/* Patterns of `command:option`: any command, or those that take it where the name means several things. */
static void bash_patterns(gw_text *out, size_t option, bool *first) {
    bool shared = is_shared(option);
    for (const command *at = gw_cli_commands; at->name != NULL; at++) {
        if (shared && !gw_cli_takes(at, option))
            continue;
        gw_text_printf(out, "%s%s:--%s", *first ? "    " : " | ", shared ? at->name : "*", gw_cli_options[option].name);
        *first = false;
        if (!shared)
            return;
    }
}

/* A case of the options that take the same kind of value. */
static void bash_values(gw_text *out, bool (*is)(const option_info *info), const char *action) {
    bool first = true;
    for (size_t i = 0; i < OPTION_COUNT; i++)
        if (is(&gw_cli_options[i]))
            bash_patterns(out, i, &first);
    if (!first)
        gw_text_printf(out, ") %s; return ;;\n", action);
}

static bool is_other_value(const option_info *info) {
    return info->argument != NULL && !is_choice(info) && !is_file(info) && !is_folder(info);
}

static void bash_options(gw_text *out) {
    gw_text_add(out, "    case $command:$previous in\n");
    for (size_t i = 0; i < OPTION_COUNT; i++)
        if (is_choice(&gw_cli_options[i])) {
            gw_text_printf(out, "    *:--%s) COMPREPLY=($(compgen -W '", gw_cli_options[i].name);
            add_choices(out, gw_cli_options[i].argument, ' ');
            gw_text_add(out, "' -- \"$word\")); return ;;\n");
        }
    bash_values(out, is_file, "compopt -o filenames; mapfile -t COMPREPLY < <(compgen -f -- \"$word\")");
    bash_values(out, is_folder, "compopt -o filenames; mapfile -t COMPREPLY < <(compgen -d -- \"$word\")");
    bash_values(out, is_other_value, "COMPREPLY=()");
    gw_text_add(out, "    esac\n");
}

static void bash_command(gw_text *out, const command *of) {
    gw_text_printf(out, "    %s) options='", of->name);
    for (size_t i = 0; i < OPTION_COUNT; i++)
        if (gw_cli_takes(of, i))
            gw_text_printf(out, "--%s ", gw_cli_options[i].name);
    gw_text_add(out, "'; words='");
    if (gw_cli_takes_words(of))
        add_explain_words(out);
    if (gw_cli_takes_shapes(of))
        add_shapes(out);
    gw_text_printf(out, "'; files=%s ;;\n", gw_cli_takes_words(of) ? "" : "yes");
}

void gw_cli_completion_bash(gw_text *out) {
    gw_text_add(out, "# bash completion of gainwalk, made by 'gainwalk pages bash'\n"
                     "_gainwalk() {\n"
                     "    local word=${COMP_WORDS[COMP_CWORD]} previous=${COMP_WORDS[COMP_CWORD-1]}\n"
                     "    local command=${COMP_WORDS[1]} options= words= files=\n"
                     "    COMPREPLY=()\n"
                     "    if [ \"$COMP_CWORD\" -eq 1 ]; then\n"
                     "        COMPREPLY=($(compgen -W '");
    for (const command *at = gw_cli_commands; at->name != NULL; at++)
        if (!at->hidden)
            gw_text_printf(out, "%s ", at->name);
    gw_text_add(out, "--help --version' -- \"$word\"))\n        return\n    fi\n");
    bash_options(out);
    gw_text_add(out, "    case $command in\n");
    for (const command *at = gw_cli_commands; at->name != NULL; at++)
        if (!at->hidden)
            bash_command(out, at);
    gw_text_add(
        out, "    esac\n"
             "    case $word in\n"
             "    -*) COMPREPLY=($(compgen -W \"$options\" -- \"$word\")); return ;;\n"
             "    esac\n"
             "    [ -z \"$files\" ] || { compopt -o filenames; mapfile -t COMPREPLY < <(compgen -f -- \"$word\"); }\n"
             "    [ -z \"$words\" ] || COMPREPLY+=($(compgen -W \"$words\" -- \"$word\"))\n"
             "} 2>/dev/null\n"
             "complete -F _gainwalk gainwalk\n");
}

/* ---- zsh ---- */

/* Text inside single quotes and a specification's brackets. */
static void zsh_text(gw_text *out, const char *text) {
    for (; *text != '\0'; text++)
        if (*text == '\'')
            gw_text_add(out, "'\\''");
        else if (*text == ':' || *text == '[' || *text == ']' || *text == '\\')
            gw_text_printf(out, "\\%c", *text);
        else
            gw_text_add_char(out, *text);
}

static void zsh_option(gw_text *out, const option_info *info) {
    gw_text_printf(out, " \\\n            '--%s%s[", info->name, info->argument != NULL ? "=" : "");
    zsh_text(out, info->meaning);
    gw_text_add_char(out, ']');
    if (info->argument != NULL) {
        gw_text_add_char(out, ':');
        if (is_choice(info)) {
            gw_text_printf(out, "%s:(", info->name);
            add_choices(out, info->argument, ' ');
            gw_text_add_char(out, ')');
        } else {
            zsh_text(out, info->argument);
            gw_text_add(out, is_file(info) ? ":_files" : is_folder(info) ? ":_files -/" : ": ");
        }
    }
    gw_text_add_char(out, '\'');
}

static void zsh_command(gw_text *out, const command *of) {
    gw_text_printf(out, "    %s)\n        _arguments -S", of->name);
    for (size_t i = 0; i < OPTION_COUNT; i++)
        if (gw_cli_takes(of, i))
            zsh_option(out, &gw_cli_options[i]);
    gw_text_add(out, " \\\n            '*: :");
    if (gw_cli_takes_words(of) || gw_cli_takes_shapes(of)) {
        gw_text_add(out, gw_cli_takes_words(of) ? "(" : "{ compadd ");
        if (gw_cli_takes_words(of))
            add_explain_words(out);
        else
            add_shapes(out);
        gw_text_add(out, gw_cli_takes_words(of) ? ")" : "; _files }");
    } else
        gw_text_add(out, "_files");
    gw_text_add(out, "' ;;\n");
}

void gw_cli_completion_zsh(gw_text *out) {
    gw_text_add(out, "#compdef gainwalk\n# zsh completion of gainwalk, made by 'gainwalk pages zsh'\n"
                     "_gainwalk() {\n"
                     "    local -a commands\n"
                     "    commands=(\n");
    for (const command *at = gw_cli_commands; at->name != NULL; at++)
        if (!at->hidden) {
            gw_text_printf(out, "        '%s:", at->name);
            zsh_text(out, at->summary);
            gw_text_add(out, "'\n");
        }
    gw_text_add(out, "    )\n"
                     "    if (( CURRENT == 2 )); then\n"
                     "        _describe command commands\n"
                     "        return\n"
                     "    fi\n"
                     "    local command=$words[2]\n"
                     "    shift words\n"
                     "    (( CURRENT-- ))\n"
                     "    case $command in\n");
    for (const command *at = gw_cli_commands; at->name != NULL; at++)
        if (!at->hidden)
            zsh_command(out, at);
    gw_text_add(out, "    esac\n}\n_gainwalk \"$@\"\n");
}
