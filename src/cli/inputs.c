/* Inputs of a long job: listed in a file, shared out among several runs. */
#include "cli.h"

#include <stdlib.h>
#include <string.h>

enum { SHARDS_MAX = 1000000 };

static const size_t list_limit = (size_t)1 << 30;

static bool read_list(arguments *given, const char *path, size_t *length, gw_error *error) {
    if (!gw_cli_is_standard(path))
        return gw_file_read(path, list_limit, &given->list, length, error);
    gw_text text = {0};
    if (!gw_cli_input_text(list_limit, &text, error)) {
        gw_text_free(&text);
        return false;
    }
    gw_text_add(&text, "");
    given->list = text.data != NULL ? text.data : calloc(1, 1);
    *length = text.length;
    return given->list != NULL || gw_error_memory(error);
}

/* Ends every line of the list where it stands. A name may hold blanks; a CR before the line's end is none of it, nor is
 * the mark of UTF-8 that some editors put before the first one. */
static bool add_listed(arguments *given, const char *path, size_t length, gw_error *error) {
    size_t most = 1;
    if (memchr(given->list, '\0', length) != NULL)
        return gw_error_set(error, path, 0, "not a list of inputs: zero bytes stand in it");
    for (const char *at = given->list; (at = strchr(at, '\n')) != NULL; at++)
        most++;
    const char **words = realloc(given->words, (given->count + most + 1) * sizeof *words);
    if (words == NULL)
        return gw_error_memory(error);
    given->words = words;
    char *first = given->list + (strncmp(given->list, "\xEF\xBB\xBF", 3) == 0 ? 3 : 0);
    for (char *at = first, *end; at != NULL && *at != '\0'; at = end) {
        end = strchr(at, '\n');
        size_t here = end != NULL ? (size_t)(end - at) : strlen(at);
        end = end != NULL ? end + 1 : NULL;
        here -= here > 0 && at[here - 1] == '\r';
        at[here] = '\0';
        if (here > 0)
            words[given->count++] = at;
    }
    return true;
}

/* `2/8`: of eight shards the second. */
static bool read_shard(arguments *given, const char *text, gw_error *error) {
    char *end = NULL;
    bool digits = strspn(text, "0123456789/") == strlen(text) && text[0] != '/';
    unsigned long shard = digits ? strtoul(text, &end, 10) : 0, shards = 0;
    if (shard > 0 && *end == '/' && end[1] != '\0')
        shards = strtoul(end + 1, &end, 10);
    if (shards == 0 || *end != '\0' || shard > shards || shards > SHARDS_MAX)
        return gw_error_set(error, NULL, 0, "not a shard such as '2/8': '%s'", text);
    given->shard = shard;
    given->shards = shards;
    return true;
}

bool gw_cli_gather(arguments *given, gw_error *error) {
    const char *path = given->values[OPTION_LIST], *shard = given->values[OPTION_SHARD];
    size_t length = 0;
    given->shard = given->shards = 1;
    if (path != NULL && !(read_list(given, path, &length, error) && add_listed(given, path, length, error)))
        return false;
    if (path != NULL && given->count == 0)
        return gw_error_set(error, path, 0, "no inputs are listed");
    if (shard == NULL)
        return true;
    if (!read_shard(given, shard, error))
        return false;
    size_t kept = 0;
    for (size_t i = given->shard - 1; i < given->count; i += given->shards)
        given->words[kept++] = given->words[i];
    given->count = kept;
    return true;
}
