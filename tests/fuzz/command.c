/* Command lines, one word a line: options, values, and what the commands that write nothing but standard output make
 * of them. Names of files to write never reach a command. */
#include "fuzz.h"

#include "cli/cli.h"

enum { WORDS_MAX = 64 };

static size_t split(char *text, char **words) {
    size_t count = 1; /* the program's own name */
    words[0] = (char[]){"gainwalk"};
    for (char *at = text; at != NULL && count < WORDS_MAX; count++) {
        char *end = strchr(at, '\n');
        if (end != NULL)
            *end = '\0';
        words[count] = at;
        at = end != NULL ? end + 1 : NULL;
    }
    return count;
}

static const command *command_of(const char *name) {
    for (const command *at = gw_cli_commands; at->name != NULL; at++)
        if (strcmp(at->name, name) == 0)
            return at;
    return NULL;
}

static void ask_figures(const arguments *given) {
    bench extra;
    int jobs = 0;
    gw_error error = {0}, other = {0}, third = {0};
    gw_chain *chain = NULL;
    if (!gw_cli_bench(given, &extra, &error))
        must_tell(&error);
    if (!gw_cli_jobs(given, &jobs, &other))
        must_tell(&other);
    MUST(other.set || (jobs >= 1 && jobs <= 256));
    if (!gw_cli_plain_chain(given, &chain, &third))
        must_tell(&third);
    gw_chain_free(chain);
}

/* The commands that read no file, with everything taken away that names one. */
static void run_harmless(arguments *given) {
    given->values[OPTION_OUTPUT] = gw_cli_takes(given->command, OPTION_OUTPUT) ? "-" : NULL;
    given->values[OPTION_FROM] = NULL;
    const char *name = given->command->name;
    if (strcmp(name, "explain") == 0 || strcmp(name, "new") == 0 || strcmp(name, "pages") == 0)
        (void)given->command->run(given);
    if (strcmp(name, "tone") != 0 || given->count == 0)
        return;
    given->values[OPTION_LENGTH] = "5ms";
    given->words[given->count - 1] = "/nowhere/fuzz.wav";
    MUST(given->command->run(given) == EXIT_NOT_DONE);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length) {
    char *words[WORDS_MAX + 1] = {NULL};
    char *text = string_of(bytes, length);
    size_t count = split(text, words);
    const command *of = count > 1 ? command_of(words[1]) : NULL;
    arguments given = {0};
    gw_error error = {0};
    if (of != NULL && gw_cli_parse(of, (int)count, words, 2, &given, &error)) {
        ask_figures(&given);
        run_harmless(&given);
    } else if (of != NULL)
        must_tell(&error);
    free(given.words);
    free(given.list);
    free(text);
    return 0;
}
