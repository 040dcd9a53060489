/* Whether two walks were made alike enough to be compared. */
#include "record/compare.h"

#include <ctype.h>
#include <math.h>
#include <string.h>

/* A condition, what it counts as where it is not stated, and which figures it spoils when it differs. */
typedef struct condition {
    const char *key, *unstated;
    bool spoils[GW_CHANGE_KEYS]; /* level gain dc thd noise hum */
    const char *why;
} condition;

static const condition conditions[] = {
    {"stimulus", "not stated", {true, true, false, true, true, false}, "the stimulus differs"},
    {"band", "20 Hz .. 20 kHz", {false, false, false, true, true, false}, "the band differs"},
    {"probe", "x1", {true, true, true, true, true, true}, "the probe differs"},
    {"coupling", "dc", {false, false, true, false, false, false}, "the coupling differs"},
};

static const char *stated(const gw_walk *walk, const condition *which) {
    for (size_t i = 0; i + 1 < walk->conditions.count; i += 2)
        if (gw_word_equal(walk->conditions.items[i], which->key))
            return walk->conditions.items[i + 1];
    if (strcmp(which->key, "stimulus") == 0 && walk->stimulus != NULL)
        return walk->stimulus;
    return which->unstated;
}

/* Equal but for blanks and case: "1 kHz" is "1kHz". */
static bool alike(const char *one, const char *other) {
    for (;;) {
        one += strspn(one, " \t");
        other += strspn(other, " \t");
        if (tolower((unsigned char)*one) != tolower((unsigned char)*other))
            return false;
        if (*one == '\0')
            return true;
        one++, other++;
    }
}

bool gw_compare_conditions(gw_comparison *comparison, gw_obstacles *out, gw_error *error) {
    comparison->comparable = true;
    for (size_t i = 0; i < sizeof conditions / sizeof *conditions; i++) {
        const char *before = stated(comparison->before, &conditions[i]);
        const char *after = stated(comparison->after, &conditions[i]);
        if (alike(before, after))
            continue;
        comparison->comparable = false;
        if (!gw_strings_printf(&comparison->differences, "%s: %s before, %s after", conditions[i].key, before, after))
            return gw_error_memory(error);
        for (int key = 0; key < GW_CHANGE_KEYS; key++)
            if (conditions[i].spoils[key] && out->spoils[key] == NULL)
                out->spoils[key] = conditions[i].why;
    }
    return true;
}
