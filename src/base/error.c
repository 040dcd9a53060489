#include "gainwalk/base.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

/* Cuts text that ran into the end of its buffer at the last whole UTF-8 character. */
static void cut_at_character(char *text, size_t size) {
    size_t length = strlen(text);
    if (length + 1 < size)
        return;
    size_t start = length;
    while (start > 0 && ((unsigned char)text[start - 1] & 0xC0) == 0x80)
        start--;
    if (start == 0)
        return;
    unsigned char lead = (unsigned char)text[start - 1];
    size_t wanted = lead >= 0xF0 ? 3 : lead >= 0xE0 ? 2 : lead >= 0xC0 ? 1 : 0;
    if (length - start < wanted)
        text[start - 1] = '\0';
}

bool gw_error_set(gw_error *error, const char *file, long line, const char *format, ...) {
    if (error == NULL || error->set)
        return false;
    error->set = true;
    error->line = line;
    snprintf(error->file, sizeof error->file, "%s", file != NULL ? file : "");
    cut_at_character(error->file, sizeof error->file);
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(error->text, sizeof error->text, format, arguments);
    va_end(arguments);
    cut_at_character(error->text, sizeof error->text);
    return false;
}

bool gw_error_memory(gw_error *error) {
    return gw_error_set(error, NULL, 0, "out of memory");
}

void gw_error_clear(gw_error *error) {
    if (error != NULL)
        *error = (gw_error){0};
}

char *gw_error_print(const gw_error *error, char *out, size_t size) {
    if (size == 0)
        return out;
    out[0] = '\0';
    if (error == NULL || !error->set)
        return out;
    if (error->file[0] != '\0' && error->line > 0)
        snprintf(out, size, "%s:%ld: %s", error->file, error->line, error->text);
    else if (error->file[0] != '\0')
        snprintf(out, size, "%s: %s", error->file, error->text);
    else
        snprintf(out, size, "%s", error->text);
    cut_at_character(out, size);
    return out;
}
