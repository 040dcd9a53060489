#include "gainwalk/base.h"

#include "base/unicode.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Room for `more` bytes and the NUL behind them. */
static bool text_reserve(gw_text *text, size_t more) {
    if (text->failed)
        return false;
    if (more >= SIZE_MAX / 4 || text->length >= SIZE_MAX / 4) {
        text->failed = true;
        return false;
    }
    size_t needed = text->length + more + 1;
    if (needed <= text->capacity)
        return true;
    size_t capacity = text->capacity < 128 ? 128 : text->capacity;
    while (capacity < needed)
        capacity *= 2;
    char *data = realloc(text->data, capacity);
    if (data == NULL) {
        text->failed = true;
        return false;
    }
    text->data = data;
    text->capacity = capacity;
    return true;
}

void gw_text_add_bytes(gw_text *text, const char *bytes, size_t length) {
    if (!text_reserve(text, length))
        return;
    if (length > 0)
        memcpy(text->data + text->length, bytes, length);
    text->length += length;
    text->data[text->length] = '\0';
}

void gw_text_add(gw_text *text, const char *string) {
    gw_text_add_bytes(text, string, strlen(string));
}

void gw_text_add_char(gw_text *text, char character) {
    gw_text_add_bytes(text, &character, 1);
}

void gw_text_printf(gw_text *text, const char *format, ...) {
    va_list arguments;
    va_start(arguments, format);
    int length = vsnprintf(NULL, 0, format, arguments);
    va_end(arguments);
    if (length < 0) {
        text->failed = true;
        return;
    }
    if (!text_reserve(text, (size_t)length))
        return;
    va_start(arguments, format);
    vsnprintf(text->data + text->length, (size_t)length + 1, format, arguments);
    va_end(arguments);
    text->length += (size_t)length;
}

void gw_text_free(gw_text *text) {
    if (text == NULL)
        return;
    free(text->data);
    *text = (gw_text){0};
}

void gw_text_part_free(gw_text *out, gw_text *part) {
    out->failed |= part->failed;
    gw_text_free(part);
}

const char *gw_text_string(const gw_text *text) {
    return text->data != NULL ? text->data : "";
}

bool gw_array_grow(void **items, size_t count, size_t *capacity, size_t size) {
    if (count < *capacity)
        return true;
    size_t wanted = *capacity < 8 ? 8 : *capacity * 2;
    if (size == 0 || wanted <= *capacity || wanted > SIZE_MAX / size)
        return false;
    void *grown = realloc(*items, wanted * size);
    if (grown == NULL)
        return false;
    *items = grown;
    *capacity = wanted;
    return true;
}

bool gw_strings_add(gw_strings *list, const char *string) {
    char *copy = GW_GROW(list->items, list->count, list->capacity) ? strdup(string) : NULL;
    if (copy == NULL) {
        list->failed = true;
        return false;
    }
    list->items[list->count++] = copy;
    return true;
}

bool gw_strings_printf(gw_strings *list, const char *format, ...) {
    va_list arguments;
    va_start(arguments, format);
    int length = vsnprintf(NULL, 0, format, arguments);
    va_end(arguments);
    bool room = length >= 0 && GW_GROW(list->items, list->count, list->capacity);
    char *text = room ? malloc((size_t)length + 1) : NULL;
    if (text == NULL) {
        list->failed = true;
        return false;
    }
    va_start(arguments, format);
    vsnprintf(text, (size_t)length + 1, format, arguments);
    va_end(arguments);
    list->items[list->count++] = text;
    return true;
}

void gw_strings_free(gw_strings *list) {
    if (list == NULL)
        return;
    for (size_t i = 0; i < list->count; i++)
        free(list->items[i]);
    free(list->items);
    *list = (gw_strings){0};
}

bool gw_text_visible(const char **text, char out[12]) {
    uint32_t code = gw_unicode_next(text);
    if (code == 0)
        return false;
    if (code == '\n' || code == '\t')
        snprintf(out, 12, " ");
    else if (!gw_unicode_steers(code))
        gw_unicode_put(code, out);
    else
        snprintf(out, 12, code < 0x100 ? "\\x%02x" : "\\u%04x", (unsigned)code);
    return true;
}
