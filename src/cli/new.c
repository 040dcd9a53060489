/* gainwalk new: a commented chain file to fill in. */
#include "cli.h"

#include <dirent.h>
#include <errno.h>
#include <stdlib.h>
#include <string.h>

static const char *const default_output = "chain.ini";

static bool known_extension(const char *name) {
    const char *dot = strrchr(name, '.');
    for (size_t i = 0; dot != NULL && dot != name && gw_capture_extensions[i] != NULL; i++)
        if (gw_word_equal(dot, gw_capture_extensions[i]))
            return true;
    return false;
}

static int by_name(const void *one, const void *other) {
    return strcmp(*(char *const *)one, *(char *const *)other);
}

/* The captures of a folder, in name order. */
static bool list_captures(const char *folder, gw_strings *out, gw_error *error) {
    DIR *open = opendir(folder);
    if (open == NULL)
        return gw_error_set(error, folder, 0, "cannot be listed: %s", strerror(errno));
    bool fine = true;
    for (struct dirent *entry = readdir(open); fine && entry != NULL; entry = readdir(open))
        if (known_extension(entry->d_name))
            fine = gw_strings_add(out, entry->d_name);
    closedir(open);
    if (!fine)
        return gw_error_memory(error);
    if (out->count == 0)
        return gw_error_set(error, folder, 0, "holds no captures");
    qsort(out->items, out->count, sizeof *out->items, by_name);
    return true;
}

static void add_head(gw_text *out, const char *folder) {
    gw_text_add(out,
                "# A chain for gainwalk: fill in what you know, leave out the rest. Text after ' #' is a comment.\n"
                "# 'gainwalk explain' lists every key and every stage kind.\n\n"
                "[chain]\n"
                "title    =\n"
                "unit     =                          # whatever identifies the piece\n"
                "stimulus = sine 1 kHz 100 mV        # shape, frequency and RMS level that you feed in\n"
                "mains    = 50 Hz\n");
    gw_text_printf(out, "captures = %-28s # folder of the captures, from this file's own\n\n", folder);
    gw_text_add(out, "[instrument]\n"
                     "accuracy = 3 %                      # vertical accuracy of the oscilloscope\n"
                     "# probe      = x10                  # if the captures don't include the probe's factor\n"
                     "# full_scale = 1.95 V               # for WAV: volts at digital full scale\n"
                     "# coupling   = ac                   # if the input hides DC\n");
}

static void add_stage_hint(gw_text *out) {
    gw_text_add(out, "# stage = ");
    for (const gw_stage_kind *row = gw_stage_kinds; row->name != NULL; row++)
        gw_text_printf(out, "%s%s", row == gw_stage_kinds ? "" : " | ", row->name);
    gw_text_add_char(out, '\n');
}

static void add_point(gw_text *out, const char *name, const char *capture, bool first) {
    gw_text_printf(out, "\n[point %s]\nwhat    =\n", name);
    if (capture != NULL)
        gw_text_printf(out, "capture = %s\n", capture);
    if (first)
        return;
    add_stage_hint(out);
    gw_text_add(out, "# gain  = 20 dB ± 1 dB             # stated gain; beats one computed from the stage\n"
                     "# dc    = 0 V ± 20 mV\n");
}

static bool loads(const gw_text *text, const char *path, gw_error *error) {
    if (text->failed)
        return gw_error_memory(error);
    gw_chain *chain = NULL;
    bool fine = gw_chain_parse(gw_text_string(text), text->length, path, &chain, error);
    gw_chain_free(chain);
    return fine;
}

/* A capture's point; its name is the file's without the extension. A name that no chain file can hold, with a bracket
 * or a character that steers, is told as the file's. */
static bool add_capture(gw_text *out, const char *file, bool first, gw_error *error) {
    gw_text name = {0}, alone = {0};
    gw_error why = {0};
    gw_text_add_bytes(&name, file, (size_t)(strrchr(file, '.') - file));
    add_point(&alone, gw_text_string(&name), file, first);
    gw_text_part_free(&alone, &name);
    bool fine = loads(&alone, NULL, &why);
    if (fine)
        gw_text_add(out, gw_text_string(&alone));
    else if (why.text[0] != '\0')
        gw_error_set(error, NULL, 0, "'%s' can't be named in a chain file, give it another name: %s", file, why.text);
    gw_text_part_free(out, &alone);
    return fine;
}

static bool from_folder(gw_text *out, const char *folder, gw_error *error) {
    gw_strings captures = {0};
    bool fine = list_captures(folder, &captures, error);
    if (fine)
        add_head(out, folder);
    for (size_t i = 0; fine && i < captures.count; i++)
        fine = add_capture(out, captures.items[i], i == 0, error);
    gw_strings_free(&captures);
    return fine;
}

static bool make(const arguments *given, gw_text *out, gw_error *error) {
    const char *folder = given->values[OPTION_FROM];
    if (folder != NULL && given->count > 0)
        return gw_error_set(error, NULL, 0, "points and '--from' together: take one of them");
    if (folder != NULL)
        return from_folder(out, folder, error);
    if (given->count == 0)
        return gw_error_set(error, NULL, 0, "no points given, see 'gainwalk new --help'");
    add_head(out, "captures");
    for (size_t i = 0; i < given->count; i++)
        add_point(out, given->words[i], NULL, i == 0);
    return true;
}

int gw_cli_new(const arguments *given) {
    const char *path = given->values[OPTION_OUTPUT] != NULL ? given->values[OPTION_OUTPUT] : default_output;
    gw_text text = {0};
    gw_error error = {0};
    int status = EXIT_IN_ORDER;
    /* what was made must load: a name with a bracket, or one given twice, is told now and not at the bench */
    if (!make(given, &text, &error) || !loads(&text, path, &error))
        status = gw_cli_fail(&error);
    else if (!gw_cli_write(path, &text, given->values[OPTION_FORCE] != NULL))
        status = EXIT_NOT_DONE;
    else if (strcmp(path, "-") != 0)
        gw_cli_note("written: ", path);
    gw_text_free(&text);
    return status;
}
